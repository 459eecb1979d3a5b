// Marks that keep their size on the screen, drawn over the picture in the view's frame.

const SVG = "http://www.w3.org/2000/svg";

export function make(name, attributes = {}, text = "") {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text) element.textContent = text;
  return element;
}

// A layer of marks: `draw(unit)` gives its elements anew whenever the view changes; unit: a screen pixel in the view.
export class Marks {
  constructor(stage, name, draw) {
    this.stage = stage;
    this.group = make("g", { class: `marks ${name}` });
    this.draw = draw;
    stage.svg.append(this.group);
    stage.on("change", () => this.show());
  }

  show() { this.group.replaceChildren(...this.draw(1 / this.stage.scale())); }
}

export function cross(at, unit, kind = "") {
  const [arm, gap] = [11 * unit, 3 * unit];
  const lines = [[-1, 0], [1, 0], [0, -1], [0, 1]].map(([dx, dy]) =>
    `M${at.x + dx * gap} ${at.y + dy * gap}L${at.x + dx * arm} ${at.y + dy * arm}`).join("");
  return ["halo", "ink"].map((part) => make("path", {
    d: lines, class: `${part} ${kind}`, "stroke-width": (part === "halo" ? 4.5 : 1.8) * unit,
  }));
}

export function line(points, unit, kind = "", closed = false) {
  const d = `M${points.map((p) => `${p.x} ${p.y}`).join("L")}${closed ? "Z" : ""}`;
  return ["halo", "ink"].map((part) => make("path", {
    d, class: `${part} ${kind}`, "stroke-width": (part === "halo" ? 4.5 : 1.8) * unit,
  }));
}

export function ring(at, radius, unit, kind = "") {
  return ["halo", "ink"].map((part) => make("circle", {
    cx: at.x, cy: at.y, r: radius, class: `${part} ${kind}`, "stroke-width": (part === "halo" ? 4.5 : 1.8) * unit,
  }));
}

export function word(at, text, unit, dy = -16) {
  return make("text", {
    x: at.x, y: at.y + dy * unit, "font-size": 15 * unit, "stroke-width": 4.5 * unit, class: "word",
  }, text);
}
