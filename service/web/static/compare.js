// Two pictures of the common frame over each other: swiped by a divider, or blinked. Without it they stand side by side.
"use strict";

(() => {
  const section = document.querySelector(".compare");
  const pair = section?.querySelector(".pair");
  if (!pair) return;
  const beside = section.querySelector(".beside");
  const stage = pair.querySelector(".stage");
  const images = { under: stage.querySelector(".under"), over: stage.querySelector(".over") };
  const chosen = { under: pair.querySelector("[data-role=under]"), over: pair.querySelector("[data-role=over]") };
  const slider = pair.querySelector("input[type=range]");
  const run = pair.querySelector("[data-act=run]");
  const pace = pair.querySelector("[data-role=pace]");
  const seenNow = pair.querySelector(".seen-now");
  const modes = [...section.querySelectorAll("input[name=mode]")];
  // Nothing changes faster than once a second: WCAG 2.3.1 draws its line at three flashes a second.
  const fastest = 1000;
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  let timer = 0;
  let held = false;
  let upper = true;

  section.querySelector(".modes").hidden = false;

  const mode = () => modes.find((input) => input.checked).value;
  const named = (role) => chosen[role].selectedOptions[0].textContent;

  function load() {
    for (const role of ["under", "over"]) {
      const shown = beside.querySelector(`figure[data-id="${chosen[role].value}"] img`);
      images[role].src = shown.src;
      images[role].alt = shown.alt;
    }
    slider.setAttribute("aria-label", `Divider: left of it ${named("under")}, right of it ${named("over")}`);
    show();
  }

  function show() {
    const now = mode();
    pair.hidden = now === "beside";
    beside.hidden = now !== "beside";
    pair.dataset.mode = now;
    if (now !== "blink") stop();
    if (now === "swipe") {
      stage.style.setProperty("--at", `${slider.value}%`);
      slider.setAttribute("aria-valuetext", `${slider.value} per cent from the left`);
    }
    if (now === "blink") stage.dataset.upper = upper ? "over" : "under";
    seenNow.textContent = named(upper ? "over" : "under");
  }

  function change() {
    upper = !upper;
    show();
  }

  function stop() {
    clearTimeout(timer);
    timer = 0;
    held = false;
    told();
  }

  function start() {
    clearTimeout(timer);
    held = false;
    wait();
    told();
  }

  // One wait after the other: a late one must not be followed by a short one.
  function wait() {
    timer = setTimeout(() => {
      wait();
      if (!held && !document.hidden) change();
    }, Math.max(fastest, Number(pace.value)));
  }

  function told() {
    run.textContent = timer ? "Stop" : "Start";
    run.setAttribute("aria-pressed", String(Boolean(timer)));
    stage.dataset.held = String(Boolean(timer && held));
  }

  function choose(value) {
    for (const input of modes) input.checked = input.value === value;
    show();
  }

  function move(by) {
    slider.value = String(Number(slider.value) + by);
    show();
  }

  for (const input of modes) {
    input.addEventListener("change", () => {
      show();
      // Who has asked for less motion starts it by hand.
      if (mode() === "blink" && !calm.matches) start();
    });
  }
  for (const select of Object.values(chosen)) select.addEventListener("change", load);
  slider.addEventListener("input", show);
  run.addEventListener("click", () => (timer ? stop() : start()));
  pair.querySelector("[data-act=change]").addEventListener("click", () => {
    stop();
    change();
  });
  pace.addEventListener("change", () => timer && start());

  function follow(event) {
    const box = stage.getBoundingClientRect();
    slider.value = String(Math.round(((event.clientX - box.left) / box.width) * 100));
    show();
  }
  stage.addEventListener("pointerdown", (event) => {
    if (mode() !== "swipe" || event.button !== 0) return;
    stage.setPointerCapture(event.pointerId);
    follow(event);
  });
  stage.addEventListener("pointermove", (event) => {
    if (mode() === "swipe" && stage.hasPointerCapture(event.pointerId)) follow(event);
  });

  // Keys count only while the comparing has the focus, and never take one from a field that has a use for it.
  section.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const field = event.target.closest("input, select, button, a");
    if (event.key === "b" && !event.target.closest("select")) {
      event.preventDefault();
      if (mode() !== "blink") {
        choose("blink");
        stage.focus();
        start();
      } else if (timer) stop();
      else start();
    } else if (event.key === " " && !field && mode() === "blink") {
      event.preventDefault();
      if (timer) {
        held = !held;
        told();
      } else change();
    } else if ((event.key === "ArrowLeft" || event.key === "ArrowRight") && !field && mode() !== "beside") {
      event.preventDefault();
      if (mode() === "swipe") move(event.key === "ArrowLeft" ? -2 : 2);
      else {
        stop();
        change();
      }
    }
  });

  load();
})();
