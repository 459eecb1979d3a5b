// Layers of a frame on one another, and the way from one view of a picture to the next: moved by the browser's own
// compositor, so that it runs evenly whatever else the page does.
import { itemsOf } from "./air_pictures.js";
import { viewsOf } from "./air_steps.js";

const FADE_MS = 300, REST_MS = 2500, SHARP = 0.3, STAYING = ["picture ", "credit ", "rendering "];
const still = () => matchMedia("(prefers-reduced-motion: reduce)").matches;

// What `onAir` says, as {item, view, layers, moves, other, wipe, blink}; moves: those of the item's views; other: the item
// of the second picture of a view with two, which lies there all the time. Null for nothing.
export function sceneOf(plan, shown) {
  const item = shown && itemsOf(plan).find((one) => one.id === shown.item);
  if (!item) return null;
  const views = viewsOf(item), view = views[shown.view];
  return {
    item: item.id, view: shown.view, moves: views.map((one) => one.move), other: view.other?.item, wipe: shown.wipe, blink: shown.blink,
    layers: view.layers.filter((layer) => layer.kind === "against" || shown.layers.includes(layer.name)),
  };
}

// Whether a layer belongs to a part of the frame: all, picture, names or credit.
export function isPart(layer, part) {
  const own = layer.kind === "credit" ? "credit" : ["picture", "rendering", "spotlight", "against"].includes(layer.kind) ? "picture" : "names";
  return part === "all" || part === own;
}

export class Stage {
  // look: {show, signal} of the page's address
  constructor(element, pictures, look = {}) {
    this.element = element;
    this.pictures = pictures;
    this.look = { show: "all", signal: "whole", ...look };
    this.canvases = new Map();   // layer -> canvas
    this.scene = null;
    this.moving = null;
    this.plane = document.createElement("div");
    this.plane.className = "plane";
    this.ring = document.createElement("div");
    this.ring.className = "ring";
    this.edge = document.createElement("div");
    this.edge.className = "edge";
    this.edge.hidden = !["all", "picture"].includes(this.look.show);
    this.plane.append(this.edge, this.ring);
    element.append(this.plane);
    this.size = [1920, 1080];
    new ResizeObserver(() => this.#fit()).observe(element);
    this.#fit();
  }

  // gone: items that may not be shown any more
  show(scene, gone = []) {
    const may = (one) => !gone.includes(one.item) && !gone.includes(one.other);
    if (this.scene && !may(this.scene)) this.#clear();
    if (scene && !may(scene)) scene = null;
    if (!scene) { this.#finish(); this.scene = null; this.#lay([]); return; }
    const layers = scene.layers.filter((layer) => isPart(layer, this.look.show));
    const from = this.scene, same = from && from.item === scene.item && from.view === scene.view;
    if (!same && layers.some((layer) => layer.base && !this.pictures.bitmaps.has(layer.url))) return;   // what stands stays until it is there
    // what leaves stays as far as it had come in while it fades
    if (!same) for (const canvas of this.plane.querySelectorAll(".against")) canvas.style.setProperty("--wipe", `${this.wiped}%`);
    this.#wipe(scene.other ? scene.wipe : 0, scene.blink);
    if (this.moving && same) { this.moving.then = layers; return; }
    this.#finish();
    this.scene = scene;
    const move = from && from.item === scene.item && !same ? moveBetween(from, scene) : null;
    if (move && !still()) this.#move(move, layers); else this.#lay(layers);
  }

  // How far the second of two pictures lies over the first, hundredths: at once as a hand moves it, else as a slow sweep.
  #wipe(share, blink) {
    const far = Math.abs(share - (this.wiped ?? share)) > 25;
    this.wiped = share;
    this.plane.style.setProperty("--glide", far && !blink ? "2400ms" : "180ms");
    this.plane.style.setProperty("--wipe", `${share}%`);
    this.plane.classList.toggle("in-turn", blink);
    this.edge.classList.toggle("shown", share > 0 && share < 100);
  }

  // Where somebody points, shares of the frame; null: nowhere.
  point(at) {
    clearTimeout(this.rest);
    this.ring.classList.toggle("shown", Boolean(at));
    if (!at) return;
    const [width, height] = [this.plane.clientWidth, this.plane.clientHeight];
    this.ring.style.transform = `translate(${(at.x * width).toFixed(1)}px, ${(at.y * height).toFixed(1)}px)`;
    this.rest = setTimeout(() => this.ring.classList.remove("shown"), REST_MS);
  }

  #fit() {
    const { clientWidth, clientHeight } = this.element, [width, height] = this.size;
    const scale = Math.min(clientWidth / width, clientHeight / height) || 0;
    Object.assign(this.plane.style, {
      width: `${width * scale}px`, height: `${height * scale}px`,
      left: `${(clientWidth - width * scale) / 2}px`, top: `${(clientHeight - height * scale) / 2}px`,
    });
    this.scale = scale;
  }

  #lay(layers) {
    const keys = layers.map(keyOf), leaving = [...this.canvases].filter(([key]) => !keys.includes(key));
    for (const [key, canvas] of leaving) this.#take(key, canvas);
    const after = leaving.some(([key]) => key.startsWith("credit "));   // one credit comes when the other has gone
    layers.forEach((layer, k) => {
      const picture = this.pictures.bitmaps.get(layer.url);
      const canvas = this.canvases.get(keys[k]) || (picture && this.#drawn(picture, layer, after && layer.kind === "credit" ? "after" : ""));
      if (canvas) canvas.style.zIndex = String(k);
    });
  }

  #take(key, canvas) {
    this.canvases.delete(key);
    canvas.classList.remove("shown");
    setTimeout(() => drop(canvas), FADE_MS + 100);
  }

  #clear() {
    this.#finish();
    for (const canvas of this.plane.querySelectorAll("canvas")) drop(canvas);
    this.canvases.clear();
    this.scene = null;
  }

  #drawn(picture, layer, at = "") {
    if (picture.width !== this.size[0] || picture.height !== this.size[1]) { this.size = [picture.width, picture.height]; this.#fit(); }
    const canvas = document.createElement("canvas");
    canvas.width = picture.width;
    canvas.height = picture.height;
    canvas.className = `${layer.kind === "against" ? "against" : "layer"} ${at}`;
    const pen = canvas.getContext("2d");
    pen.drawImage(picture, 0, 0);
    if (this.look.signal === "key") {   // the alpha as light
      pen.globalCompositeOperation = "source-in";
      pen.fillStyle = "#fff";
      pen.fillRect(0, 0, canvas.width, canvas.height);
    }
    this.canvases.set(keyOf(layer), canvas);
    this.plane.append(canvas);
    if (!at.includes("shown")) requestAnimationFrame(() => requestAnimationFrame(() => canvas.classList.add("shown")));
    return canvas;
  }

  // The old view's picture is led to where the new one stands; names go before and come after.
  #move({ path, seconds }, layers) {
    const old = [...this.canvases].filter(([key]) => !layers.some((layer) => keyOf(layer) === key));
    const led = old.filter(([key]) => key.startsWith("picture "));
    for (const [key, canvas] of old) if (!STAYING.some((kind) => key.startsWith(kind))) this.#take(key, canvas);
    // what says that a picture is a rendering is there before it, and goes after it
    const said = layers.filter((layer) => layer.kind === "rendering");
    for (const layer of said) if (!this.canvases.has(keyOf(layer))) this.#drawn(this.pictures.bitmaps.get(layer.url), layer).style.zIndex = "2";
    const end = path.at(-1)[1], last = inverse(end), grows = Math.abs(det(end)) >= 1;
    const coming = layers.filter((layer) => layer.kind === "picture").map((layer) => this.#drawn(this.pictures.bitmaps.get(layer.url), layer, "led shown"));
    const options = { duration: 1000 * seconds, delay: FADE_MS, fill: "both", easing: "linear" };
    const [from, to] = path.every(([, one]) => stands(one)) ? [0, 1] : grows ? [1 - SHARP, 1] : [0, SHARP];
    const animations = led.map(([, canvas]) => canvas.animate(frames(path, this.scale), options));
    animations.push(...coming.flatMap((canvas) => {
      canvas.style.zIndex = "0";   // over the old picture, under what is written
      const way = canvas.animate(frames(path.map(([t, one]) => [t, times(one, last)]), this.scale), options);
      const fade = canvas.animate([{ opacity: 0, offset: 0 }, { opacity: 0, offset: from }, { opacity: 1, offset: to }, { opacity: 1, offset: 1 }], options);
      return [way, fade];
    }));
    // whichever of the two shows more is the one that is seen (where nothing moves, one becomes the other), and what is not
    // seen is not drawn either: without a graphics processor two pictures take more than twice as long as one
    const at = (share, canvases, display) => setTimeout(() => canvases.forEach((canvas) => { canvas.style.display = display; }), FADE_MS + 1000 * seconds * share);
    if (from) for (const canvas of coming) canvas.style.display = "none";
    const timers = [at(from - 0.03, coming, ""), ...(to < 1 ? [at(to + 0.03, led.map(([, canvas]) => canvas), "none")] : [])];
    const moving = this.moving = { then: layers, animations, timers };
    document.body.dataset.moving = "yes";
    Promise.all(animations.map((one) => one.finished)).then(() => { if (this.moving === moving) this.#finish(); }).catch(() => {});
  }

  #finish() {
    const moving = this.moving;
    if (!moving) return;
    this.moving = null;
    delete document.body.dataset.moving;
    const keys = moving.then.map(keyOf);
    for (const [key, canvas] of [...this.canvases]) {
      if (!keys.includes(key) && key.startsWith("picture ")) { this.canvases.delete(key); drop(canvas); }
    }
    moving.timers.forEach(clearTimeout);
    for (const one of moving.animations) one.cancel();
    for (const canvas of this.canvases.values()) { canvas.classList.remove("led"); canvas.style.display = ""; }
    this.#lay(moving.then);
  }
}

const keyOf = (layer) => `${layer.kind} ${layer.name} ${layer.url}`;

function drop(canvas) {
  canvas.width = canvas.height = 0;   // gives its memory back at once
  canvas.remove();
}

// The way that leads from one view of an item to the one beside it, forwards or back: {seconds, path: [[share of the
// time, matrix]]}; null for a cut.
function moveBetween(from, to) {
  const forward = to.view === from.view + 1, move = forward ? to.moves[to.view] : to.view === from.view - 1 ? from.moves[from.view] : null;
  if (!move || !move.seconds) return null;
  const path = move.path.length ? move.path : [[0, [1, 0, 0, 1, 0, 0]], [1, move.matrix]];
  if (forward) return { seconds: move.seconds, path };
  const last = inverse(path.at(-1)[1]);
  return { seconds: move.seconds, path: path.map(([t, one]) => [1 - t, times(one, last)]).reverse() };
}

// Keyframes of a path. Where a picture is turned over it stands on edge: nothing is reckoned between.
function frames(path, scale) {
  const told = ([a, b, c, d, e, f]) => `matrix(${[a, b, c, d, e * scale, f * scale].map((x) => x.toFixed(6)).join(",")})`;
  return path.flatMap(([offset, one], k) => {
    const frame = { transform: told(one), offset }, before = path[k - 1]?.[1];
    return before && det(before) * det(one) < 0 ? [{ transform: told(before), offset }, frame] : [frame];
  });
}

const stands = (one) => [1, 0, 0, 1, 0, 0].every((value, k) => Math.abs(one[k] - value) < 1e-3);
const det = ([a, b, c, d]) => a * d - b * c;
const times = ([a, b, c, d, e, f], [A, B, C, D, E, F]) =>
  [a * A + c * B, b * A + d * B, a * C + c * D, b * C + d * D, a * E + c * F + e, b * E + d * F + f];
function inverse([a, b, c, d, e, f]) {
  const whole = a * d - b * c;
  return [d / whole, -b / whole, -c / whole, a / whole, (c * f - d * e) / whole, (b * e - a * f) / whole];
}
