// What lies under the pointer, or by what name: its facts, and how well it is seen in this very picture.
import { Marks, ring, word } from "./picture_marks.js";

const LEADING = 60; // what one would point at first is meant however small it is shown
const REACH_PX = 8; // on the screen, beside a small feature
const AREAS = /^(sea|ocean|lake|bay|marsh|plain)/;

const before = (a, b) => {
  const k = a.findIndex((value, j) => value !== b[j]);
  return k >= 0 && a[k] < b[k];
};

export class Features {
  constructor(stage, box) {
    this.stage = stage;
    this.box = box;
    this.rows = [];
    this.shown = null;
    this.fixed = false; // searched or tapped: a passing pointer does not take it away
    this.marks = new Marks(stage, "found", (unit) => this.#ring(unit));
  }

  async load() {
    try {
      const answer = await fetch(this.stage.svg.dataset.features, { headers: { Accept: "application/json" } });
      const { columns, rows } = await answer.json();
      this.rows = rows.map((row) => Object.fromEntries(columns.map((name, k) => [name, row[k]])));
    } catch {
      this.rows = []; // the page goes on without
    }
    return this.rows;
  }

  // What is meant by a point: of the features that are large enough at this zoom, or lead, one on whose ground it is, the
  // smallest; else the nearest; a sea only where there is nothing else.
  at(point) {
    const scale = this.stage.scale();
    let best = null;
    for (const [rank, row] of this.rows.entries()) {
      const leads = rank < LEADING;
      const area = AREAS.test(row.kind);
      if (!leads && !area && row.radius * scale < (row.seen >= 0.5 ? 2.5 : 5)) continue;
      const away = Math.hypot(point.x - row.x, point.y - row.y);
      if (away > Math.max(row.radius, area ? 0 : REACH_PX / scale)) continue;
      const inside = away <= row.radius;
      const order = [area ? 1 : 0, inside ? 0 : 1, inside ? row.radius : away];
      if (!best || before(order, best.order)) best = { row, order };
    }
    return best && best.row;
  }

  hover(point) {
    if (this.fixed) return;
    this.show(point && this.at(point));
  }

  tap(point) {
    const found = this.at(point);
    this.fixed = Boolean(found) && found !== (this.fixed ? this.shown : null);
    this.show(this.fixed ? found : null);
  }

  named(text) {
    const wanted = text.trim().toLowerCase();
    if (!wanted) return null;
    const means = (row) => [row.name, row.meaning].map((name) => name.toLowerCase());
    return this.rows.find((row) => means(row).includes(wanted))
      ?? this.rows.find((row) => means(row).some((name) => name.startsWith(wanted))) ?? null;
  }

  go(row) {
    this.fixed = true;
    this.stage.svg.scrollIntoView({ block: "nearest" });
    const wanted = 90 / Math.max(row.radius, 1) / this.stage.scale() * this.stage.zoom();
    this.stage.showPoint(row, Math.min(Math.max(wanted, 1.5), 6));
    this.show(row);
  }

  show(row) {
    if (row === this.shown) return;
    this.shown = row;
    this.marks.show();
    this.box.hidden = !row;
    if (!row) return;
    const part = (name, text, kind) => {
      const element = document.createElement(name);
      element.textContent = text;
      if (kind) element.className = kind;
      return element;
    };
    const km = row.size_km < 10 ? row.size_km.toFixed(1) : Math.round(row.size_km);
    const head = part("p", row.name, "name");
    if (row.meaning) head.append(" ", part("i", row.meaning));
    this.box.replaceChildren(head, part("p", `${row.kind}, ${km} km`, "what"),
      part("p", `${row.light}; ${row.seen_words}`, row.seen >= 0.5 ? "light" : "light faint"));
  }

  #ring(unit) {
    const row = this.shown;
    if (!row) return [];
    const at = this.stage.fromPicture(row);
    if (AREAS.test(row.kind)) return [word(at, row.name, unit, 5)];
    return ring(at, Math.max(row.radius, 6 * unit), unit, row.seen >= 0.5 ? "" : "faint");
  }
}
