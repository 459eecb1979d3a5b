// The picture as sent, upright, as the eye sees it, south up: asked of the desk once, then switched at once. The names of
// each come in three sizes of text, so that they stay readable, and grow more, as one zooms in.

const SIZES = [1, 0.55, 0.3];
const LEAST_PX = 12; // of text on the screen
const WAIT_MS = 150; // after the last step of a zoom

const parse = (markup) => {
  const text = `<svg xmlns="http://www.w3.org/2000/svg">${markup}</svg>`;
  return [...new DOMParser().parseFromString(text, "image/svg+xml").documentElement.childNodes];
};

export class Views {
  constructor(stage, tell) {
    this.stage = stage;
    this.tell = tell;
    this.drawn = stage.svg.querySelector(".drawn");
    this.name = "sent";
    this.changed = () => {};
    const { x, y, w, h } = stage.home;
    this.sentFrame = { box: [x, y, w, h], matrix: [1, 0, 0, 1, 0, 0], words: "" };
    this.keepSent();
    document.addEventListener("change", (event) => {
      if (event.target.name === "view") this.choose(event.target.value);
    });
    stage.on("change", () => {
      clearTimeout(this.waiting);
      this.waiting = setTimeout(() => this.#fit(), WAIT_MS);
    });
  }

  // What stands in the page is the picture as sent, at the ordinary size; what else was laid out is of an older placement.
  keepSent() {
    this.size = 1;
    this.fontPx = null;
    this.kept = new Map([["sent 1", { ...this.sentFrame, nodes: [...this.drawn.childNodes] }]]);
  }

  radios() { return [...document.querySelectorAll("input[name=view]")]; }

  next() {
    const radios = this.radios();
    if (!radios.length) return;
    const at = radios.findIndex((radio) => radio.checked);
    this.choose(radios[(at + 1) % radios.length].value);
  }

  async #ask(name, size) {
    const key = `${name} ${size}`;
    if (!this.kept.has(key)) {
      const { kept } = this;
      const address = this.radios().find((radio) => radio.value === name)?.dataset.view;
      const answer = await fetch(`${address}&text=${size}`, { headers: { Accept: "application/json" } });
      const told = await answer.json();
      if (!told.matrix) throw new Error(told.notice || "This view cannot be shown now.");
      this.fontPx = told.font_px;
      kept.set(key, { ...told, nodes: parse(told.markup) });
    }
    return this.kept.get(key);
  }

  async choose(name) {
    this.wanted = name;
    let layout;
    try {
      layout = await this.#ask(name, 1);
    } catch (error) {
      this.tell(error.message);
      this.#mark(this.name);
      return;
    }
    if (this.wanted !== name || !layout) return; // another was chosen meanwhile
    this.name = name;
    this.size = 1;
    this.#mark(name);
    this.drawn.replaceChildren(...layout.nodes);
    this.stage.setFrame(layout.box, layout.matrix);
    this.stage.svg.classList.toggle("laid", name !== "sent");
    this.stage.svg.dataset.view = name;
    this.tell(layout.words || "");
    this.changed();
  }

  // The smallest text that is large enough at this zoom.
  async #fit() {
    if (!this.radios().length || !this.drawn.childElementCount) return;
    if (this.fontPx === null) {
      if (this.stage.zoom() < 1.3) return; // as the page has it
      await this.#ask(this.name, SIZES[1]).catch(() => null);
      if (this.fontPx === null) return;
    }
    const onScreen = this.fontPx * this.stage.scale();
    const size = SIZES.filter((one) => one === 1 || one * onScreen >= LEAST_PX).at(-1);
    if (size === this.size) return;
    const { name } = this;
    const layout = await this.#ask(name, size).catch(() => null);
    if (!layout || name !== this.name) return;
    this.size = size;
    this.drawn.replaceChildren(...layout.nodes);
  }

  #mark(name) {
    const radio = this.radios().find((one) => one.value === name);
    if (radio) radio.checked = true;
  }
}
