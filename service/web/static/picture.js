// The picture's page: joins the stage with what a click does in it. Without this script the page is read as it stands.
import { Correct } from "./picture_correct.js";
import { Features } from "./picture_features.js";
import { Marks, cross } from "./picture_marks.js";
import { Measure } from "./picture_measure.js";
import { Stage } from "./picture_stage.js";
import { Views } from "./picture_views.js";

const find = (id) => document.getElementById(id);
const svg = document.querySelector("svg.stage");
const told = find("told");
const tell = (words) => { told.textContent = words; };

if (svg) {
  const stage = new Stage(svg);
  const views = new Views(stage, tell);
  const features = new Features(stage, find("fact"));
  const measure = new Measure(stage, tell);
  const correct = find("bench") && new Correct(stage, tell, refresh);
  let mode = "look";
  // where Enter sets a point; shown while the stage has the keyboard and a point can be set
  const aim = new Marks(stage, "aim", (unit) => (
    mode !== "look" && svg.matches(":focus-visible") ? cross(stage.centre(), unit, "aim") : []));
  for (const event of ["focus", "blur"]) svg.addEventListener(event, () => aim.show());

  svg.closest(".viewer").classList.add("live");
  const scripted = ".zoom, .hint, #modes, #find"; // hidden from who has no script
  for (const element of document.querySelectorAll(scripted)) element.hidden = false;

  // --- zoom ---
  const tools = document.querySelector(".zoom");
  stage.on("change", () => {
    tools.querySelector("output").textContent = `${Math.round(stage.zoom() * 100)} %`;
    sharpen();
  });
  tools.addEventListener("click", (event) => ({
    in: () => stage.zoomBy(1.6), out: () => stage.zoomBy(1 / 1.6), fit: () => stage.fit(), disc: toMoon,
    pixels: () => stage.onePixel(),
  })[event.target.dataset.zoom]?.());

  // The disc with all that is drawn around it (a small disc has its names beside it), as far as it is in the frame.
  function moonBox() {
    if (!svg.dataset.disc) return null;
    const [x, y, r] = svg.dataset.disc.split(" ").map(Number);
    const at = stage.fromPicture({ x, y });
    const boxes = [...svg.querySelectorAll(".drawn g[id^=layer-]")].map((layer) => layer.getBBox());
    boxes.push({ x: at.x - r, y: at.y - r, width: 2 * r, height: 2 * r });
    const drawn = boxes.filter((b) => b.width && b.height);
    const [margin, { home }] = [0.12 * r, stage];
    const left = Math.max(home.x, Math.min(...drawn.map((b) => b.x)) - margin);
    const top = Math.max(home.y, Math.min(...drawn.map((b) => b.y)) - margin);
    const right = Math.min(home.x + home.w, Math.max(...drawn.map((b) => b.x + b.width)) + margin);
    const bottom = Math.min(home.y + home.h, Math.max(...drawn.map((b) => b.y + b.height)) + margin);
    return { x: left, y: top, w: right - left, h: bottom - top };
  }
  function toMoon() {
    const box = moonBox();
    if (box) stage.showBox(box);
  }

  // The picture for the screen gives way to the whole one as soon as there is more to see in that.
  let sharp = svg.querySelector("image").getAttribute("href") === svg.dataset.full;
  function sharpen() {
    if (sharp || stage.scale() * (devicePixelRatio || 1) * Math.max(stage.home.w, stage.home.h) < 2200) return;
    sharp = true;
    const full = new Image();
    full.src = svg.dataset.full;
    full.decode().then(() => svg.querySelector("image").setAttribute("href", full.src)).catch(() => { sharp = false; });
  }

  // --- what a click does ---
  const doers = { measure, correct };
  function setMode(wanted) {
    if (wanted === mode) return;
    doers[mode]?.end();
    mode = wanted;
    stage.doubleZooms = mode === "look";
    svg.classList.toggle("aiming", mode !== "look");
    features.show(null);
    features.fixed = false;
    tell("");
    doers[mode]?.begin();
    aim.show();
    document.querySelector(`input[name=mode][value=${mode}]`).checked = true;
  }
  find("modes").addEventListener("change", (event) => setMode(event.target.value));
  stage.on("tap", (point) => (doers[mode] ?? features).tap(point));
  stage.on("hover", (point) => { if (mode === "look") features.hover(point); });
  stage.on("key", (key) => {
    const act = {
      m: toMoon, v: () => views.next(), d: () => setMode(mode === "measure" ? "look" : "measure"),
      c: () => setMode(mode === "correct" ? "look" : "correct"), "/": () => find("find-name")?.focus(),
      Escape: () => {
        if (mode === "measure" && measure.clear()) return;
        if (mode === "correct" && correct.back()) return;
        if (mode !== "look") setMode("look");
        features.fixed = false;
        features.show(null);
      },
    }[key];
    if (!act || (key === "c" && !correct)) return false;
    act();
    return true;
  });
  views.changed = () => {
    if (stage.zoom() < 1.001 && views.name !== "sent") toMoon(); // the corners of a turned frame are empty
    for (const one of [features.marks, measure.marks, correct?.marks, aim]) one?.show();
    doers[mode]?.said?.();
  };

  document.addEventListener("submit", (event) => {
    if (event.target.id !== "find") return;
    event.preventDefault();
    const name = find("find-name").value;
    const row = features.named(name);
    setMode("look");
    if (row) features.go(row);
    tell(row ? "" : `${name || "Nothing"} is not among what lies in this picture.`);
  });

  async function load() {
    const [rows] = await Promise.all([features.load(), measure.load()]);
    find("find-names")?.replaceChildren(...rows.slice(0, 400).map((row) => new Option(row.name, row.name)));
  }

  // After a correction: the parts of the page that tell of the placement, as the desk renders them now.
  async function refresh() {
    const answer = await fetch(location.href, { headers: { Accept: "text/html" }, cache: "no-store" });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = page.querySelector("svg.stage");
    if (!answer.ok || !fresh) {
      location.reload();
      return;
    }
    const off = [...document.querySelectorAll(".layers input:not(:checked)")].map((input) => input.id);
    for (const now of page.querySelectorAll("#headline, #facts, #below, #amend, .slot")) {
      const old = find(now.id);
      const form = now.querySelector("details");
      if (form) form.open = Boolean(old.querySelector("details")?.open);
      old.replaceWith(document.adoptNode(now));
    }
    for (const id of off) if (find(id)) find(id).checked = false;
    for (const element of document.querySelectorAll(scripted)) element.hidden = false;
    for (const name of ["disc", "features", "surface", "full"]) {
      if (fresh.dataset[name] === undefined) delete svg.dataset[name];
      else svg.dataset[name] = fresh.dataset[name];
    }
    Object.assign(find("bench").dataset, { ...page.getElementById("bench").dataset });
    const view = views.name;
    views.drawn.replaceChildren(...[...fresh.querySelector(".drawn").childNodes].map((n) => document.importNode(n, true)));
    views.keepSent();
    if (view !== "sent") await views.choose(view);
    features.show(null);
    await load();
  }

  // The forms of the page answer without leaving it.
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (form.method !== "post" || !form.closest("#amend")) return;
    event.preventDefault();
    const note = (words) => {
      let line = form.querySelector(".note");
      if (!line) {
        line = Object.assign(document.createElement("p"), { className: "note" });
        line.setAttribute("role", "alert");
        form.append(line);
      }
      line.textContent = words;
    };
    const button = form.querySelector("button");
    button.disabled = true;
    try {
      const answer = await fetch(form.action, {
        method: "POST", body: new URLSearchParams(new FormData(form)), headers: { Accept: "application/json" },
      });
      const heard = await answer.json().catch(() => ({}));
      if (!answer.ok) {
        note(heard.notice || "That did not work; nothing was changed.");
        return;
      }
      await refresh();
      if (form.action.endsWith("/undo")) correct?.remember();
      tell("It is kept.");
    } catch {
      note("The desk does not answer; nothing was changed.");
    } finally {
      button.disabled = false;
    }
  });

  // --- as it is first shown ---
  stage.show();
  const box = moonBox();
  // A picture filled by the Moon keeps its own shape: a square stage would show lines drawn beyond its edge.
  const { home } = stage;
  svg.classList.toggle("round", Boolean(box) && Math.max(box.w / home.w, box.h / home.h) < 0.95);
  // A small disc's names are too small to read in the whole picture; "Whole" brings that back.
  if (box && (matchMedia("(max-width: 40rem)").matches || stage.zoomOf(box) > 1.3)) toMoon();
  load();
}
