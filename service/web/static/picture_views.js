// The picture as sent, upright, as the eye sees it, south up: asked of the desk once, then switched at once.

const parse = (markup) => {
  const text = `<svg xmlns="http://www.w3.org/2000/svg">${markup}</svg>`;
  return [...new DOMParser().parseFromString(text, "image/svg+xml").documentElement.childNodes];
};

export class Views {
  constructor(stage, tell) {
    this.stage = stage;
    this.tell = tell;
    this.drawn = stage.svg.querySelector(".drawn");
    this.kept = new Map();
    this.keepSent();
    this.name = "sent";
    this.changed = () => {};
    document.addEventListener("change", (event) => {
      if (event.target.name === "view") this.choose(event.target.value);
    });
  }

  // After a correction: what was laid out is of an older placement.
  keepSent() {
    const { x, y, w, h } = this.sentHome ??= { ...this.stage.home };
    this.kept = new Map([["sent", { box: [x, y, w, h], matrix: [1, 0, 0, 1, 0, 0], words: "",
      nodes: [...this.drawn.childNodes] }]]);
  }

  radios() { return [...document.querySelectorAll("input[name=view]")]; }

  next() {
    const radios = this.radios();
    if (!radios.length) return;
    const at = radios.findIndex((radio) => radio.checked);
    const wanted = radios[(at + 1) % radios.length];
    wanted.checked = true;
    this.choose(wanted.value);
  }

  async choose(name) {
    this.wanted = name;
    let layout = this.kept.get(name);
    if (!layout) {
      const address = this.radios().find((radio) => radio.value === name)?.dataset.view;
      try {
        const answer = await fetch(address, { headers: { Accept: "application/json" } });
        const told = await answer.json();
        if (!told.matrix) throw new Error(told.notice || "This view cannot be shown now.");
        layout = { ...told, nodes: parse(told.markup) };
        this.kept.set(name, layout);
      } catch (error) {
        this.tell(error.message);
        this.#mark(this.name);
        return;
      }
    }
    if (this.wanted !== name) return; // another was chosen meanwhile
    this.name = name;
    this.#mark(name);
    this.drawn.replaceChildren(...layout.nodes);
    this.stage.setFrame(layout.box, layout.matrix);
    this.stage.svg.classList.toggle("laid", name !== "sent");
    this.tell(layout.words || "");
    this.changed();
  }

  #mark(name) {
    const radio = this.radios().find((one) => one.value === name);
    if (radio) radio.checked = true;
  }
}
