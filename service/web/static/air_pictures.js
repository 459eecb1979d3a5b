// The layers of a plan, fetched before they are needed: kept as they came for the whole rundown, whether the desk answers
// or not, and as pictures for what stands near. What is wanted first is fetched first.
import { viewsOf } from "./air_steps.js";

export const itemsOf = (plan) => [...plan.items, ...(plan.spare ? [plan.spare] : [])];
const layersIn = (item) => viewsOf(item).flatMap((view) => view.layers);

export class Pictures {
  // loaded: called with {loaded, wanted} as they come, and when one has become a picture
  constructor(loaded) {
    this.loaded = loaded;
    this.files = new Map();      // address -> Blob
    this.bitmaps = new Map();    // address -> ImageBitmap, of what stands near
    this.drawing = new Set();
    this.order = [];
    this.near = new Set();
    this.fetching = false;
  }

  // The plan as it is now; item: what stands on air. Answers when all is there that can be.
  async keep(plan, item) {
    const items = itemsOf(plan), at = Math.max(plan.items.findIndex((one) => one.id === item), 0);
    const here = plan.items.slice(at, at + 2), before = plan.items.slice(Math.max(at - 1, 0), at), spare = plan.spare ? [plan.spare] : [];
    const close = [...here, ...before, ...spare];
    this.order = [...new Set([...close, ...items].flatMap(layersIn).map((layer) => layer.url))];
    this.near = new Set(close.flatMap(layersIn).map((layer) => layer.url));
    for (const url of [...this.files.keys()]) if (!this.order.includes(url)) this.files.delete(url);
    for (const [url, bitmap] of [...this.bitmaps]) {
      if (!this.near.has(url)) { this.bitmaps.delete(url); bitmap.close(); }
    }
    for (const url of this.near) this.#draw(url);
    if (!this.fetching) await this.#fetch();
  }

  async #fetch() {
    this.fetching = true;
    for (let url; (url = this.order.find((one) => !this.files.has(one)));) {
      try {
        const answer = await fetch(url);
        if (!answer.ok) { this.order = this.order.filter((one) => one !== url); continue; }   // asked again with the next plan
        const file = await answer.blob();
        if (this.order.includes(url)) this.files.set(url, file);
      } catch { break; }
      await this.#draw(url);
      this.#told();
    }
    this.fetching = false;
    this.#told();
  }

  async #draw(url) {
    const file = this.files.get(url);
    if (!file || !this.near.has(url) || this.bitmaps.has(url) || this.drawing.has(url)) return;
    this.drawing.add(url);
    const bitmap = await createImageBitmap(file).catch(() => null);
    this.drawing.delete(url);
    if (!bitmap) return;
    if (this.near.has(url)) this.bitmaps.set(url, bitmap); else bitmap.close();
    this.#told();
  }

  #told() {
    this.loaded({ loaded: this.order.filter((url) => this.files.has(url)).length, wanted: this.order.length });
  }
}
