// Correcting by hand: the circle of the edge, named points, left and right; sent to the desk, which places it again.
import { Marks, cross, ring, word } from "./picture_marks.js";

export class Correct {
  constructor(stage, tell, done) {
    this.stage = stage;
    this.tell = tell;
    this.done = done; // after a correction was kept
    this.bench = document.getElementById("bench");
    this.find = (id) => document.getElementById(id);
    this.pins = [];
    this.circle = null;
    this.marks = new Marks(stage, "correct", (unit) => this.#draw(unit));
    stage.grips.push((point, reach) => this.#gripPin(point, reach), (point, reach) => this.#gripCircle(point, reach));
    this.find("circle-on").addEventListener("change", () => this.#switchCircle());
    for (const key of ["x", "y", "radius"]) {
      this.find(`circle-${key}`).addEventListener("input", () => this.#typedCircle());
    }
    this.find("place-again").addEventListener("click", () => this.send());
    this.find("clear-marks").addEventListener("click", () => this.clear());
    this.find("pin-name").addEventListener("keydown", (event) => {
      if (event.key !== "Enter") return;
      event.preventDefault();
      stage.svg.focus(); // the point is set there: by a click, or by Enter under the cross
      this.tell(`Click ${event.target.value || "the feature"} in the picture, or bring it under the cross and press Enter.`);
    });
    this.remember();
  }

  // What stands already is where one goes on from.
  remember() {
    const { circle, pins } = JSON.parse(this.bench.dataset.marks || "{}");
    this.pins = (pins?.pins ?? []).map(([name, x, y]) => ({ name, x, y }));
    this.circle = circle ?? null;
    this.sent = { circle: JSON.stringify(this.circle), pins: JSON.stringify(this.pins) };
    this.find("circle-on").checked = Boolean(this.circle);
    for (const radio of this.bench.querySelectorAll("input[name=hand]")) radio.checked = radio.value === "";
    this.#list();
  }

  async begin() {
    this.active = true;
    this.bench.hidden = false;
    this.tell("");
    this.#list();
    const names = this.find("pin-names");
    if (!names.childElementCount) {
      const answer = await fetch(this.bench.dataset.names).catch(() => null);
      const known = answer?.ok ? await answer.json() : [];
      names.replaceChildren(...known.map((name) => new Option(name, name)));
    }
  }

  end() {
    this.active = false;
    this.bench.hidden = true;
    this.marks.show();
  }

  clear() {
    const had = this.pins.length > 0 || Boolean(this.circle);
    this.pins = [];
    this.circle = null;
    this.find("circle-on").checked = false;
    this.#list();
    return had;
  }

  back() {
    if (!this.pins.length) return false;
    this.pins.pop();
    this.#list();
    return true;
  }

  tap(point) {
    const input = this.find("pin-name");
    const name = input.value.trim();
    if (!name) {
      this.tell("Name the feature first, then click it.");
      input.focus();
      return;
    }
    this.pins = [...this.pins.filter((pin) => pin.name.toLowerCase() !== name.toLowerCase()), { name, ...point }];
    input.value = "";
    this.tell(this.pins.length < 2 && !this.circle ? "Now name another, far from this one." : "");
    this.#list();
  }

  // The bench's fields and marks as they are now.
  #list() {
    this.find("pins").replaceChildren(...this.pins.map((pin, k) => {
      const item = document.createElement("li");
      const remove = document.createElement("button");
      remove.type = "button";
      remove.textContent = "Remove";
      remove.setAttribute("aria-label", `Remove ${pin.name}`);
      remove.addEventListener("click", () => {
        this.pins.splice(k, 1);
        this.#list();
      });
      item.append(pin.name, remove);
      return item;
    }));
    for (const key of ["x", "y", "radius"]) {
      const input = this.find(`circle-${key}`);
      input.disabled = !this.circle;
      if (document.activeElement !== input) input.value = this.circle ? Math.round(this.circle[key]) : "";
    }
    this.marks.show();
  }

  #switchCircle() {
    if (!this.find("circle-on").checked) {
      this.circle = null;
    } else {
      const [x, y, radius] = (this.stage.svg.dataset.disc ?? "").split(" ").map(Number);
      const centre = this.stage.toPicture(this.stage.centre());
      const size = 0.35 * Math.min(this.stage.view.w, this.stage.view.h);
      this.circle = radius ? { x, y, radius } : { ...centre, radius: size };
    }
    this.#list();
  }

  #typedCircle() {
    const [x, y, radius] = ["x", "y", "radius"].map((key) => this.find(`circle-${key}`).valueAsNumber);
    if (Number.isFinite(x) && Number.isFinite(y) && radius > 0) this.circle = { x, y, radius };
    this.marks.show();
  }

  #gripPin(point, reach) {
    if (!this.active) return null;
    const pin = this.pins.find((p) => Math.hypot(p.x - point.x, p.y - point.y) < reach);
    return pin ? { move: (to) => { Object.assign(pin, to); this.#list(); } } : null;
  }

  #gripCircle(point, reach) {
    if (!this.active || !this.circle) return null;
    const { x, y, radius } = this.circle;
    const away = Math.hypot(point.x - x, point.y - y);
    if (Math.abs(away - radius) < reach) {
      return { move: (to) => {
        this.circle.radius = Math.max(Math.hypot(to.x - x, to.y - y) + radius - away, 2);
        this.#list();
      } };
    }
    if (away > Math.max(1.6 * reach, 0.12 * radius)) return null; // the rest of the disc moves the picture
    return { move: (to) => {
      Object.assign(this.circle, { x: x + to.x - point.x, y: y + to.y - point.y });
      this.#list();
    } };
  }

  async send() {
    const hand = this.bench.querySelector("input[name=hand]:checked").value;
    const body = { seen: this.bench.dataset.seen };
    // what stands already is not decided a second time
    if (this.circle && JSON.stringify(this.circle) !== this.sent.circle) body.circle = this.circle;
    if (this.pins.length && JSON.stringify(this.pins) !== this.sent.pins) body.pins = this.pins;
    if (hand) body.mirrored = hand === "true";
    const button = this.find("place-again");
    button.disabled = true;
    this.tell("Placing it again …");
    try {
      const answer = await fetch(this.bench.dataset.post, {
        method: "POST", body: JSON.stringify(body),
        headers: { Accept: "application/json", "Content-Type": "application/json", "X-Form-Token": this.bench.dataset.token },
      });
      const told = await answer.json().catch(() => ({}));
      if (!answer.ok) {
        this.tell(told.notice || "That did not work; nothing was changed. Load the page again.");
        return;
      }
      await this.done();
      this.remember();
      this.tell("Placed again. It is kept, and can be undone under “Corrections”.");
    } catch {
      this.tell("The desk does not answer; nothing was changed.");
    } finally {
      button.disabled = false;
    }
  }

  #draw(unit) {
    if (!this.active) return [];
    const elements = [];
    if (this.circle) {
      const at = this.stage.fromPicture(this.circle);
      elements.push(...ring(at, this.circle.radius, unit, "edge"), ...cross(at, unit, "edge"));
    }
    for (const pin of this.pins) {
      const at = this.stage.fromPicture(pin);
      elements.push(...cross(at, unit), word(at, pin.name, unit));
    }
    return elements;
  }
}
