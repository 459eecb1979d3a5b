// Layers of a frame on one another: fetched before they are needed and kept as pictures, so that they can be shown
// whether the desk answers or not.
const FADE_MS = 400;

// All layers of a plan; loaded: called with {loaded, wanted} as they come.
export class Pictures {
  constructor(loaded) {
    this.loaded = loaded;
    this.kept = new Map();   // address -> ImageBitmap
    this.fetching = null;
  }

  async keep(plan) {
    if (this.fetching) { this.after = plan; return; }
    this.fetching = this.#fetch(plan);
    await this.fetching;
    this.fetching = null;
    if (this.after) { const next = this.after; this.after = null; await this.keep(next); }
  }

  async #fetch(plan) {
    const wanted = [...new Set(itemsOf(plan).flatMap((item) => item.layers.map((layer) => layer.url)))];
    for (const url of [...this.kept.keys()]) if (!wanted.includes(url)) this.kept.delete(url);
    for (const url of wanted) {
      if (this.kept.has(url)) continue;
      try {
        const answer = await fetch(url);
        if (answer.ok) this.kept.set(url, await createImageBitmap(await answer.blob()));
      } catch { break; }   // asked again with the next plan
      this.loaded({ loaded: this.kept.size, wanted: wanted.length });
    }
    this.loaded({ loaded: this.kept.size, wanted: wanted.length });
  }
}

export const itemsOf = (plan) => [...plan.items, ...(plan.spare ? [plan.spare] : [])];

// The layers to show as {url, alt}, of what `onAir` says.
export function layersOf(plan, shown) {
  const item = shown && itemsOf(plan).find((one) => one.id === shown.item);
  return item ? item.layers.filter((layer) => shown.layers.includes(layer.name)) : [];
}

export class Stage {
  constructor(element, pictures) {
    this.element = element;
    this.pictures = pictures;
    this.canvases = new Map();   // address -> canvas
  }

  show(layers) {
    const urls = layers.map((layer) => layer.url);
    for (const [url, canvas] of this.canvases) {
      if (urls.includes(url)) continue;
      this.canvases.delete(url);
      canvas.classList.remove("shown");
      setTimeout(() => canvas.remove(), FADE_MS);
    }
    urls.forEach((url, k) => {
      const picture = this.pictures.kept.get(url);
      if (!picture) return;
      const canvas = this.canvases.get(url) || this.#drawn(picture, url);
      canvas.style.zIndex = String(k);
    });
  }

  #drawn(picture, url) {
    const canvas = document.createElement("canvas");
    canvas.width = picture.width;
    canvas.height = picture.height;
    canvas.getContext("2d").drawImage(picture, 0, 0);
    this.canvases.set(url, canvas);
    this.element.append(canvas);
    requestAnimationFrame(() => requestAnimationFrame(() => canvas.classList.add("shown")));
    return canvas;
  }
}
