// The stage: zoom, pan, taps and drags of the page's own <svg>. Points come in two frames: those of the picture's own
// pixels, and those of the view in which it is laid out (turned, mirrored back); `matrix` leads from one to the other.

const LEAST_MOVE = 5; // screen pixels between a tap and a drag

export class Stage {
  constructor(svg) {
    this.svg = svg;
    this.box = svg.viewBox.baseVal;
    this.home = { x: this.box.x, y: this.box.y, w: this.box.width, h: this.box.height };
    this.view = { ...this.home };
    this.matrix = new DOMMatrix();
    this.turned = svg.querySelector(".turned");
    this.listeners = { change: [], tap: [], hover: [], key: [] };
    // Each: picture point, tolerance in its pixels -> {move(point), still} or nothing; still: without a move it is no tap.
    this.grips = [];
    this.pointers = new Map();
    this.doubleZooms = true;
    svg.classList.add("live");
    svg.tabIndex = 0;
    // the shape of the stage stays when the picture is laid out otherwise
    svg.style.aspectRatio = `${this.home.w} / ${this.home.h}`;
    this.#listen();
    addEventListener("resize", () => this.show());
  }

  on(what, listener) { this.listeners[what].push(listener); }

  #tell(what, ...values) { return this.listeners[what].some((listener) => listener(...values) === true); }

  // Picture pixels per screen pixel in the whole picture; the largest zoom shows one as eight screen pixels at least.
  fitScale() { return Math.max(this.home.w / this.svg.clientWidth, this.home.h / this.svg.clientHeight); }
  largest() { return Math.max(8 * this.fitScale(), 4); }
  zoom() { return this.home.w / this.view.w; }
  scale() { return this.svg.getScreenCTM().a; } // screen pixels per picture pixel

  show() {
    const { view, home } = this;
    view.x = Math.min(Math.max(view.x, home.x), home.x + home.w - view.w);
    view.y = Math.min(Math.max(view.y, home.y), home.y + home.h - view.h);
    this.svg.setAttribute("viewBox", `${view.x} ${view.y} ${view.w} ${view.h}`);
    this.svg.classList.toggle("zoomed", this.zoom() > 1.001);
    this.svg.classList.toggle("near", this.zoom() > 2.4);
    this.#tell("change");
  }

  toView(clientX, clientY) {
    const { x, y } = new DOMPoint(clientX, clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return { x, y };
  }
  toPicture(point) {
    const { x, y } = new DOMPoint(point.x, point.y).matrixTransform(this.matrix.inverse());
    return { x, y };
  }
  fromPicture(point) {
    const { x, y } = new DOMPoint(point.x, point.y).matrixTransform(this.matrix);
    return { x, y };
  }
  pictureAt(event) { return this.toPicture(this.toView(event.clientX, event.clientY)); }
  centre() { return { x: this.view.x + this.view.w / 2, y: this.view.y + this.view.h / 2 }; }

  // Zoom by a factor so that the point (of the view) stays where it is on the screen.
  zoomBy(factor, at) {
    const { view } = this;
    const wanted = Math.min(Math.max(this.zoom() * factor, 1), this.largest());
    const k = this.home.w / wanted / view.w;
    const fixed = at || this.centre();
    view.x = fixed.x - (fixed.x - view.x) * k;
    view.y = fixed.y - (fixed.y - view.y) * k;
    view.w *= k;
    view.h *= k;
    this.show();
  }

  panBy(dx, dy) {
    this.view.x += dx;
    this.view.y += dy;
    this.show();
  }

  fit() {
    Object.assign(this.view, this.home);
    this.show();
  }

  // One picture pixel on one pixel of the screen.
  onePixel() { this.zoomBy(1 / (this.scale() * (devicePixelRatio || 1))); }

  // Zoom at which a box {x, y, w, h} of the view fills the stage, which need not have its shape.
  zoomOf(box) {
    const k = this.fitScale();
    const fits = Math.min(this.svg.clientWidth * k / box.w, this.svg.clientHeight * k / box.h);
    return Math.min(Math.max(fits, 1), this.largest());
  }
  showBox(box) {
    const k = this.zoomOf(box);
    const { view, home } = this;
    Object.assign(view, { w: home.w / k, h: home.h / k });
    Object.assign(view, { x: box.x + box.w / 2 - view.w / 2, y: box.y + box.h / 2 - view.h / 2 });
    this.show();
  }
  // A point of the picture to the middle, at this zoom at least.
  showPoint(point, least = 1) {
    this.zoomBy(Math.max(1, least / this.zoom()));
    const at = this.fromPicture(point);
    this.panBy(at.x - this.centre().x, at.y - this.centre().y);
  }

  // Lay the picture out otherwise; what is in the middle stays there, at the same scale.
  setFrame(box, matrix) {
    const [middle, scale] = [this.toPicture(this.centre()), this.zoom() > 1.001 ? this.scale() : 0];
    this.home = { x: box[0], y: box[1], w: box[2], h: box[3] };
    this.matrix = new DOMMatrix(matrix);
    this.turned.setAttribute("transform", `matrix(${matrix.join(" ")})`);
    this.fit();
    if (scale) {
      this.zoomBy(scale / this.scale());
      const at = this.fromPicture(middle);
      this.panBy(at.x - this.centre().x, at.y - this.centre().y);
    }
  }

  #listen() {
    const { svg } = this;
    svg.addEventListener("wheel", (event) => {
      if (event.deltaY > 0 && this.zoom() <= 1.001) return; // nothing to zoom out of: let the page scroll
      event.preventDefault();
      const step = event.deltaMode === 1 ? 0.06 : 0.0022;
      this.zoomBy(Math.exp(-event.deltaY * step), this.toView(event.clientX, event.clientY));
    }, { passive: false });
    svg.addEventListener("pointerdown", (event) => this.#down(event));
    svg.addEventListener("pointermove", (event) => this.#move(event));
    svg.addEventListener("pointerleave", () => this.#tell("hover", null));
    for (const end of ["pointerup", "pointercancel"]) svg.addEventListener(end, (event) => this.#up(event, end));
    // a finger on a mark moves the mark, not the page
    svg.addEventListener("touchstart", (event) => { if (this.#gripAt(event.touches[0])) event.preventDefault(); },
      { passive: false });
    svg.addEventListener("dblclick", (event) => {
      if (this.doubleZooms) this.zoomBy(2, this.toView(event.clientX, event.clientY));
    });
    svg.addEventListener("keydown", (event) => this.#key(event));
  }

  #gripAt(event) {
    const [point, tolerance] = [this.pictureAt(event), 14 / this.scale()];
    for (const grip of this.grips) {
      const drag = grip(point, tolerance);
      if (drag) return drag;
    }
    return null;
  }

  #down(event) {
    if (event.button !== 0) return;
    this.svg.setPointerCapture(event.pointerId);
    const drag = this.pointers.size ? null : this.#gripAt(event);
    const at = { x: event.clientX, y: event.clientY };
    this.pointers.set(event.pointerId, { ...at, startX: at.x, startY: at.y, moved: false, drag });
    this.svg.classList.add("held");
  }

  #move(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) {
      if (event.pointerType !== "touch") this.#tell("hover", this.pictureAt(event));
      return;
    }
    const now = { x: event.clientX, y: event.clientY };
    const moved = before.moved || Math.hypot(now.x - before.startX, now.y - before.startY) > LEAST_MOVE;
    this.pointers.set(event.pointerId, { ...before, ...now, moved });
    if (before.drag) {
      if (moved) before.drag.move(this.pictureAt(event));
      return;
    }
    if (!moved) return;
    const other = [...this.pointers].find(([id]) => id !== event.pointerId)?.[1];
    if (other) {
      const middle = this.toView((now.x + other.x) / 2, (now.y + other.y) / 2);
      const spread = (p) => Math.hypot(p.x - other.x, p.y - other.y) || 1;
      this.zoomBy(spread(now) / spread(before), middle);
    }
    const [scale, share] = [this.scale(), other ? 0.5 : 1];
    this.panBy((before.x - now.x) / scale * share, (before.y - now.y) / scale * share);
  }

  #up(event, how) {
    const pointer = this.pointers.get(event.pointerId);
    const alone = this.pointers.size === 1;
    this.pointers.delete(event.pointerId);
    if (!this.pointers.size) this.svg.classList.remove("held");
    if (!pointer) return;
    if (how === "pointerup" && alone && !pointer.moved && !pointer.drag?.still) {
      this.#tell("tap", this.pictureAt(event));
    }
  }

  #key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const step = (event.shiftKey ? 0.02 : 0.12) * Math.min(this.view.w, this.view.h);
    const act = {
      "+": () => this.zoomBy(1.4), "=": () => this.zoomBy(1.4), "-": () => this.zoomBy(1 / 1.4), "0": () => this.fit(),
      "1": () => this.onePixel(), ArrowLeft: () => this.panBy(-step, 0), ArrowRight: () => this.panBy(step, 0),
      ArrowUp: () => this.panBy(0, -step), ArrowDown: () => this.panBy(0, step),
      Enter: () => this.#tell("tap", this.toPicture(this.centre())),
    }[event.key];
    if (act) act();
    else if (!this.#tell("key", event.key)) return;
    event.preventDefault();
  }
}
