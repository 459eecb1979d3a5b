// Zoom and pan of the picture: the view box of the page's own <svg> is moved, the picture and its layers follow.
"use strict";

(() => {
  const stage = document.querySelector("svg.stage");
  if (!stage) return;
  const tools = document.querySelector(".zoom");
  const output = tools.querySelector("output");
  const box = stage.viewBox.baseVal;
  const home = { x: box.x, y: box.y, w: box.width, h: box.height };
  const view = { ...home };
  const pointers = new Map();

  tools.hidden = false;
  for (const hint of document.querySelectorAll(".hint")) hint.hidden = false;
  stage.classList.add("live");
  stage.tabIndex = 0;

  // Picture pixels per screen pixel at "fit"; the largest zoom shows a picture pixel as eight screen pixels.
  const fitScale = () => Math.max(home.w / stage.clientWidth, home.h / stage.clientHeight);
  const largest = () => Math.max(8 * fitScale(), 4);
  const zoom = () => home.w / view.w;

  function show() {
    // the view may not leave the picture
    view.x = Math.min(Math.max(view.x, home.x), home.x + home.w - view.w);
    view.y = Math.min(Math.max(view.y, home.y), home.y + home.h - view.h);
    stage.setAttribute("viewBox", `${view.x} ${view.y} ${view.w} ${view.h}`);
    stage.classList.toggle("zoomed", zoom() > 1.001);
    stage.classList.toggle("near", zoom() > 2.4);
    output.textContent = `${Math.round(zoom() * 100)} %`;
  }

  function toPicture(clientX, clientY) {
    const point = new DOMPoint(clientX, clientY).matrixTransform(stage.getScreenCTM().inverse());
    return { x: point.x, y: point.y };
  }

  // Zoom by a factor so that the point (in picture pixels) stays where it is on the screen.
  function zoomBy(factor, at) {
    const wanted = Math.min(Math.max(zoom() * factor, 1), largest());
    const k = home.w / wanted / view.w;
    const fixed = at || { x: view.x + view.w / 2, y: view.y + view.h / 2 };
    view.x = fixed.x - (fixed.x - view.x) * k;
    view.y = fixed.y - (fixed.y - view.y) * k;
    view.w *= k;
    view.h *= k;
    show();
  }

  function panBy(dx, dy) {
    view.x += dx;
    view.y += dy;
    show();
  }

  // The disc with all that is drawn around it (a small disc has its names beside it), as far as it is in the frame.
  // Measured once, before a layer can be switched off.
  const moon = stage.dataset.disc && (() => {
    const [x, y, r] = stage.dataset.disc.split(" ").map(Number);
    const boxes = [...stage.querySelectorAll("g[id^=layer-]")].map((layer) => layer.getBBox());
    boxes.push({ x: x - r, y: y - r, width: 2 * r, height: 2 * r });
    const drawn = boxes.filter((b) => b.width && b.height);
    const margin = 0.12 * r;
    const left = Math.max(home.x, Math.min(...drawn.map((b) => b.x)) - margin);
    const top = Math.max(home.y, Math.min(...drawn.map((b) => b.y)) - margin);
    const right = Math.min(home.x + home.w, Math.max(...drawn.map((b) => b.x + b.width)) + margin);
    const bottom = Math.min(home.y + home.h, Math.max(...drawn.map((b) => b.y + b.height)) + margin);
    return { x: (left + right) / 2, y: (top + bottom) / 2, w: right - left, h: bottom - top };
  })();

  // Zoom at which the Moon fills the stage, which need not have the picture's shape.
  const moonZoom = () => {
    const k = fitScale();
    return Math.min(Math.max(Math.min(stage.clientWidth * k / moon.w, stage.clientHeight * k / moon.h), 1), largest());
  };

  function toDisc() {
    if (!moon) return;
    const k = moonZoom();
    Object.assign(view, { w: home.w / k, h: home.h / k });
    Object.assign(view, { x: moon.x - view.w / 2, y: moon.y - view.h / 2 });
    show();
  }

  function fit() {
    Object.assign(view, home);
    show();
  }

  stage.addEventListener("wheel", (event) => {
    if (event.deltaY > 0 && zoom() <= 1.001) return; // nothing to zoom out of: let the page scroll
    event.preventDefault();
    const step = event.deltaMode === 1 ? 0.06 : 0.0022;
    zoomBy(Math.exp(-event.deltaY * step), toPicture(event.clientX, event.clientY));
  }, { passive: false });

  stage.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    stage.setPointerCapture(event.pointerId);
    pointers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    stage.classList.add("held");
  });

  stage.addEventListener("pointermove", (event) => {
    const before = pointers.get(event.pointerId);
    if (!before) return;
    const now = { x: event.clientX, y: event.clientY };
    const other = [...pointers].find(([id]) => id !== event.pointerId)?.[1];
    if (other) {
      const middle = toPicture((now.x + other.x) / 2, (now.y + other.y) / 2);
      const spread = (p) => Math.hypot(p.x - other.x, p.y - other.y) || 1;
      zoomBy(spread(now) / spread(before), middle);
    }
    const scale = stage.getScreenCTM().a;
    const share = other ? 0.5 : 1;
    pointers.set(event.pointerId, now);
    panBy((before.x - now.x) / scale * share, (before.y - now.y) / scale * share);
  });

  for (const end of ["pointerup", "pointercancel"]) {
    stage.addEventListener(end, (event) => {
      pointers.delete(event.pointerId);
      if (!pointers.size) stage.classList.remove("held");
    });
  }

  stage.addEventListener("dblclick", (event) => zoomBy(2, toPicture(event.clientX, event.clientY)));

  stage.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const step = 0.12 * Math.min(view.w, view.h);
    const act = {
      "+": () => zoomBy(1.4), "=": () => zoomBy(1.4), "-": () => zoomBy(1 / 1.4), "0": fit, "m": toDisc,
      ArrowLeft: () => panBy(-step, 0), ArrowRight: () => panBy(step, 0),
      ArrowUp: () => panBy(0, -step), ArrowDown: () => panBy(0, step),
    }[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });

  tools.addEventListener("click", (event) => {
    const action = event.target.dataset.zoom;
    if (action === "in") zoomBy(1.6);
    if (action === "out") zoomBy(1 / 1.6);
    if (action === "fit") fit();
    if (action === "disc") toDisc();
  });

  show();
  // A picture filled by the Moon keeps its own shape: a square stage would show lines drawn beyond its edge.
  stage.classList.toggle("round", Boolean(moon) && Math.max(moon.w / home.w, moon.h / home.h) < 0.95);
  // A small disc's names are too small to read in the whole picture; "Whole" brings that back.
  if (moon && (matchMedia("(max-width: 40rem)").matches || moonZoom() > 1.3)) toDisc();
})();
