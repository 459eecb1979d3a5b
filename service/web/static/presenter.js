// The presenter's window: what is on air, what comes next, what to say, the clock. It drives the page on air.
import { KEYS, act, onAir, placeOf, revealed, settle, spotsOf, stepsOf, viewAt, wipeOf } from "./air_steps.js";
import { AirLine } from "./air_line.js";
import { Pictures, itemsOf } from "./air_pictures.js";
import { Stage, sceneOf } from "./air_stage.js";

const root = document.getElementById("presenter"), part = (id) => document.getElementById(id);
const pictures = new Pictures((told) => { fetched = told; show(); });
const now = new Stage(part("now"), pictures), next = new Stage(part("next"), pictures);
let fetched = { loaded: 0, wanted: 0 }, onAirPage = null, drawn = "", spoken = null, since = Date.now(), kept = "";

const line = new AirLine(root.dataset, {
  plan: fetchAll, state: () => { fetchAll(); show(); }, desk: health, point: (at) => now.point(at),
  loaded: (told) => { onAirPage = told; health(); },
});

function fetchAll() {
  if (!line.plan) return;
  const item = onAir(line.plan, { ...line.state, blank: false })?.item, mark = `${line.plan.mark} ${item}`;
  if (mark === kept && fetched.loaded === fetched.wanted) return;
  kept = mark;
  pictures.keep(line.plan, item);
}

function show() {
  const plan = line.plan;
  if (!plan) return;
  const state = line.state, shown = onAir(plan, state);
  now.show(sceneOf(plan, shown), line.stopped);
  const steps = stepsOf(plan), step = settle(plan, state.step), at = placeOf(plan, step);
  // held, the pictures that wait are what stands under the cue; else the step that the next key brings
  const cued = state.held ? { ...state, held: null } : act(plan, state, "next");
  next.show(sceneOf(plan, onAir(plan, { ...cued, blank: false })), line.stopped);
  const coming = state.held ? steps[at] : steps[placeOf(plan, cued.step)];
  const last = !state.held && at === steps.length - 1 && !state.blank && !state.planB;
  part("next-title").textContent = !steps.length ? "nothing is ready for air" : last ? "this was the last step" : `${senderOf(plan, coming.item)}, ${coming.title}`;
  lamp(plan, state, shown);
  twoEvenings(plan, step, shown);
  const on = { blink: Boolean(step?.blink), hold: Boolean(state.held), blank: state.blank, "plan B": state.planB, spotlight: Boolean(step?.spot) };
  for (const [name, is] of Object.entries(on)) button(name).setAttribute("aria-pressed", String(is));
  button("plan B").disabled = !plan.spare;
  button("spotlight").disabled = !step || !spotsOf(plan, step).length;
  const items = plan.items.map((item) => item.id);
  part("progress").value = steps.length ? (at + 1) / steps.length : 0;
  part("way").textContent = step ? `Picture ${items.indexOf(step.item) + 1} of ${items.length}, step ${at + 1} of ${steps.length}` : "";
  switches(plan, step, shown);
  list(plan, steps, at);
  leftOut(plan);
  speak(plan, shown ? shown.item : step?.item, steps[at] ? steps[at].title : "", step && viewAt(plan, step).other);
  health();
}

const button = (action) => document.querySelector(`[data-action="${action}"]`);

// what whoever looks up must see at once: whether anything is on air, and what
function lamp(plan, state, shown) {
  const there = shown && !line.stopped.includes(shown.item);
  const seen = line.pages !== 0;   // of a desk that does not answer it is not known
  part("lamp").classList.toggle("dark", !there || !seen);
  part("lamp-word").textContent = !there ? "Dark" : seen ? "On air" : "Ready";
  const how = state.blank ? "blank" : state.planB ? "plan B" : state.held ? "held" : "";
  part("lamp-what").textContent = [there ? senderOf(plan, shown.item) : "", how, seen ? "" : "no page on air is open"].filter(Boolean).join(", ") || (plan.items.length ? "" : "no picture is ready");
}

// the slider of a view with two pictures; while a hand is on it, it stays where that has it
function twoEvenings(plan, step, shown) {
  const view = step && viewAt(plan, step), two = Boolean(view?.other);
  part("wipe").hidden = !two;
  if (!two) return;
  part("wipe-own").textContent = senderOf(plan, step.item);
  part("wipe-other").textContent = view.other.sender;
  if (!part("wipe-at").matches(":active")) part("wipe-at").value = wipeOf(view, step);
}

// a switch for each layer of the view, with its key
function switches(plan, step, shown) {
  const box = part("layers"), layers = step ? revealed(viewAt(plan, step)) : [], mark = JSON.stringify(layers.map((layer) => layer.title));
  if (box.dataset.mark !== mark) {
    box.dataset.mark = mark;
    box.replaceChildren(...layers.map((layer, k) => {
      const one = document.createElement("button"), key = document.createElement("kbd");
      one.type = "button";
      one.className = "button";
      key.textContent = k < 9 ? k + 1 : "";
      one.append(key, layer.title);
      one.addEventListener("click", () => put({ layer: k + 1 }));
      return one;
    }));
  }
  [...box.children].forEach((one, k) => one.setAttribute("aria-pressed", String(Boolean(shown) && shown.item === step.item && shown.layers.includes(layers[k].name))));
}

const senderOf = (plan, id) => (itemsOf(plan).find((item) => item.id === id) || {}).sender || "";

function list(plan, steps, at) {
  const mark = `${plan.mark} ${steps.length}`, box = part("steps");
  if (box.dataset.mark !== mark) {
    box.dataset.mark = mark;
    box.replaceChildren(...steps.map((step) => {
      const row = document.createElement("li"), button = document.createElement("button");
      button.type = "button";
      button.className = step.count ? "part" : step.view ? "view" : "head";
      button.textContent = step.count || step.view ? step.title : `${senderOf(plan, step.item)}${step.title === "Picture" ? "" : `: ${step.title}`}`;
      button.addEventListener("click", () => line.put(act(line.plan, line.state, { go: step })));
      row.append(button);
      return row;
    }));
  }
  [...box.querySelectorAll("button")].forEach((button, k) => {
    if (k === at) button.setAttribute("aria-current", "step"); else button.removeAttribute("aria-current");
  });
}

// what cannot go on air, as it stands now: a frame that is made is no reason any more
function leftOut(plan) {
  const box = part("left-out"), said = JSON.stringify(plan.left_out);
  if (box.dataset.said === said) return;
  box.dataset.said = said;
  box.hidden = !plan.left_out.length;
  box.querySelector("ul").replaceChildren(...plan.left_out.map(([sender, why]) => {
    const row = document.createElement("li"), name = document.createElement("b");
    name.textContent = sender;
    row.append(name, ` ${why}`);
    return row;
  }));
}

function speak(plan, id, title, other) {
  const item = itemsOf(plan).find((one) => one.id === id), mark = `${plan.mark} ${id} ${title} ${other?.item}`;
  if (drawn === mark) return;
  if (spoken !== id) since = Date.now();
  spoken = id;
  drawn = mark;
  const box = part("notes");
  if (!item) { box.replaceChildren(paragraph("Nothing to read: no picture is chosen.", "hint")); return; }
  const lines = [paragraph(item.credit || "No name is shown.", "credit")];
  if (other) lines.push(paragraph(`Beside it: ${other.credit || "no name is shown"}`));
  if (item.pronunciation) lines.push(paragraph(`Say: ${item.pronunciation}`));
  if (item.story) lines.push(paragraph(item.story));
  if (item.note) lines.push(paragraph(item.note));
  // what has just been revealed stands first
  const now = item.notes.filter((note) => note.layer && note.layer === title);
  const rest = item.notes.filter((note) => !now.includes(note) && !note.more);
  const more = item.notes.filter((note) => !now.includes(note) && note.more);
  lines.push(...now.flatMap((note) => told(note, "now-said")), ...rest.flatMap((note) => told(note)));
  if (more.length) {
    const details = document.createElement("details"), summary = document.createElement("summary");
    summary.textContent = `Also in this picture: ${more.length}`;
    details.append(summary, ...more.flatMap((note) => told(note)));
    lines.push(details);
  }
  box.replaceChildren(...lines);
  box.scrollTop = 0;
}

function told(note, name) {
  const lines = note.sentences.map((text) => paragraph(text, name));
  if (!note.head) return lines;
  const title = document.createElement("h3");
  title.textContent = note.head;
  if (name) title.className = name;
  return [title, ...lines];
}

function paragraph(text, name) {
  const one = document.createElement("p");
  one.textContent = text;
  if (name) one.className = name;
  return one;
}

function health() {
  const box = part("health"), said = [];
  if (line.answers === false) said.push("The desk does not answer: the rundown goes on with what was fetched.");
  const air = onAirPage;
  box.classList.toggle("bad", said.length > 0);
  if (air && air.loaded < air.wanted) said.push(`The page on air has ${air.loaded} of ${air.wanted} layers.`);
  else if (fetched.loaded < fetched.wanted && !air) said.push(`${fetched.loaded} of ${fetched.wanted} layers fetched.`);
  box.textContent = said.join(" ") || ready(line.plan ? line.plan.making.length : 0);
}

function ready(making) {
  if (!line.answers) return "Asking the desk …";
  if (making) return `Making ${making} frame${making === 1 ? "" : "s"} …`;
  return fetched.wanted ? "All pictures are here." : "No picture is ready for air.";
}

function tick() {
  const clock = new Date(), zone = root.dataset.zone;
  part("clock").textContent = clock.toLocaleTimeString("en-GB", { timeZone: zone });
  const air = root.dataset.air && Date.parse(root.dataset.air), spans = [];
  if (air && Math.abs(air - clock) < 12 * 3600e3) spans.push(air > clock ? `on air in ${length(air - clock)}` : `on air for ${length(clock - air)}`);
  const item = line.plan && line.state.step && itemsOf(line.plan).find((one) => one.id === settle(line.plan, line.state.step)?.item);
  if (item) spans.push(`this picture ${length(clock - since)} of ${length(1000 * item.seconds)}`);
  part("countdown").textContent = spans.join(" · ");
}

function length(ms) {
  const seconds = Math.floor(ms / 1000), two = (n) => String(n).padStart(2, "0");
  const hours = Math.floor(seconds / 3600);
  return `${hours ? `${hours}:${two(Math.floor(seconds / 60) % 60)}` : Math.floor(seconds / 60)}:${two(seconds % 60)}`;
}

const put = (action) => { if (line.plan) line.put(act(line.plan, line.state, action)); };

for (const one of document.querySelectorAll("[data-action]")) one.addEventListener("click", () => put(one.dataset.action));

part("wipe-at").addEventListener("input", (event) => put({ wipe: Number(event.target.value) }));

// A mouse that moves over the picture, a finger or a pen on it: never beyond its edges.
function pointed(event) {
  const box = now.plane.getBoundingClientRect(), share = (value, from, size) => Math.min(Math.max((value - from) / size, 0), 1);
  const at = { x: share(event.clientX, box.left, box.width), y: share(event.clientY, box.top, box.height) };
  now.point(at);
  line.point(at);
}
part("now").addEventListener("pointermove", pointed);
part("now").addEventListener("pointerdown", (event) => { part("now").setPointerCapture(event.pointerId); pointed(event); });
part("now").addEventListener("pointerleave", () => { now.point(null); line.point(null); });

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.target.closest("input:not([type=range]), select, textarea")) return;
  // a button that has the focus does its own on space and enter
  if ((event.key === " " || event.key === "Enter") && event.target.closest("button, a, summary")) return;
  if (!KEYS[event.key]) return;
  event.preventDefault();
  put(KEYS[event.key]);
});

setInterval(tick, 500);
tick();
line.open();
