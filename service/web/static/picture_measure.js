// A distance along the Moon's surface between two points of the picture.
import { arc, latLon, measured, pixelToVector, vectorToPixel } from "./picture_moon.js";
import { Marks, cross, line, word } from "./picture_marks.js";

// A hand points to two screen pixels or so (common practice), and never better than half a pixel of the picture.
const HAND_PX = 1.5;
// Nearer the limb than this (cosine of the angle to the vertical) the ground's own heights count, and it is "about".
const NEAR_LIMB = 0.3;

export class Measure {
  constructor(stage, tell) {
    this.stage = stage;
    this.tell = tell;
    this.surface = undefined; // until the desk has answered
    this.points = [];
    this.marks = new Marks(stage, "measure", (unit) => this.#draw(unit));
    stage.grips.push((point, reach) => this.#grip(point, reach));
  }

  async load() {
    try {
      const answer = await fetch(this.stage.svg.dataset.surface, { headers: { Accept: "application/json" } });
      this.surface = await answer.json();
    } catch {
      this.surface = null;
    }
    this.said();
  }

  begin() {
    this.active = true;
    this.said();
  }
  end() {
    this.active = false;
    this.clear();
  }
  clear() {
    const had = this.points.length > 0;
    this.points = [];
    this.marks.show();
    if (this.active) this.said();
    return had;
  }

  tap(point) {
    if (!this.surface?.pose) return;
    if (!pixelToVector(this.surface.pose, point.x, point.y)) {
      this.tell("That point is off the Moon.");
      return;
    }
    this.points = this.points.length === 2 ? [point] : [...this.points, point];
    this.marks.show();
    this.said();
  }

  result() {
    if (this.points.length < 2 || !this.surface?.pose) return null;
    const readingPx = Math.max(HAND_PX / this.stage.scale(), 0.5);
    return measured(this.surface.pose, this.surface.radius_km, ...this.points, readingPx);
  }

  words(found) {
    if (!found) return "";
    const digits = found.sigma < 1 && found.km < 100 ? 1 : 0;
    const sigma = Math.max(found.sigma, 0.1);
    const about = found.mu < NEAR_LIMB || sigma > 0.1 * found.km ? "about " : "";
    return `${about}${found.km.toFixed(digits)} km ± ${sigma < 1 ? sigma.toFixed(1) : sigma.toFixed(0)}`;
  }

  said() {
    if (!this.active) return;
    const pose = this.surface?.pose;
    if (this.surface === undefined) {
      this.tell("One moment …");
    } else if (!pose) {
      this.tell("Nothing can be measured: the picture is not placed on the Moon.");
    } else if (this.points.length === 2) {
      const at = this.points.map((p) => latLon(pixelToVector(pose, p.x, p.y).vector)).map(({ lat, lon }) =>
        `${Math.abs(lat).toFixed(1)}° ${lat < 0 ? "S" : "N"} ${Math.abs(lon).toFixed(1)}° ${lon < 0 ? "W" : "E"}`);
      const doubt = this.surface.sure ? "" : " The placing is not sure, and this no surer.";
      const limb = this.result().mu < NEAR_LIMB ? " Near the edge, heights of the ground make more of it." : "";
      this.tell(`${this.words(this.result())}, along the surface from ${at[0]} to ${at[1]} (one standard deviation).${limb}${doubt}`);
    } else {
      this.tell(this.points.length ? "Now the other end." : "Click, tap or Enter sets the two ends; drag them to move.");
    }
  }

  #grip(point, reach) {
    if (!this.active) return null;
    const at = this.points.findIndex((p) => Math.hypot(p.x - point.x, p.y - point.y) < reach);
    if (at < 0) return null;
    return { still: true, move: (to) => {
      if (!pixelToVector(this.surface.pose, to.x, to.y)) return;
      this.points[at] = to;
      this.marks.show();
      this.said();
    } };
  }

  #draw(unit) {
    const elements = this.points.flatMap((p) => cross(this.stage.fromPicture(p), unit));
    const found = this.result();
    if (!found) return elements;
    const { pose } = this.surface;
    const [p, q] = this.points.map((at) => pixelToVector(pose, at.x, at.y).vector);
    const way = arc(p, q, 48).map((vector) => this.stage.fromPicture(vectorToPixel(pose, vector)));
    return [...line(way, unit), ...elements, word(way[24], this.words(found), unit)];
  }
}
