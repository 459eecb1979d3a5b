// The prompter: the episode's words, rolled by clicker, keys, thumbs or at the speaker's pace; where the words reach a
// mark, what it means goes on air, through the same state as the page on air and the presenter's window.
//
// All that moves is one number: how many words have been spoken. Scroll and marks follow from it, and a scroll by hand
// sets it.
import { FRESH, onAir } from "./air_steps.js";
import { AirLine } from "./air_line.js";
import { Pictures } from "./air_pictures.js";
import { Stage, sceneOf } from "./air_stage.js";

const root = document.getElementById("prompter"), part = (id) => document.getElementById(id), pane = part("pane");
const TEXT_MS = 4000, HAND_MS = 1200, NEAR = 3, OLD_MS = 300_000, FAR = 24, SIZES = [1, 6], RATES = [60, 240], LINE = () => (innerWidth <= 736 ? 0.06 : 0.32);
const kept = JSON.parse(localStorage.getItem("prompter") || "{}");
const look = { size: 0, mirrored: false, names: false, fire: true, ...kept };
let text = null, words = [], lines = [], stops = [], spoken = 0, total = 0, rate = 130, chosen = 0;
let running = 0, at = -1, fired = "", moved = false, hand = -1e9, began = 0, last = null, stretches = [], keeping = "", gone = 0;

const pictures = new Pictures(() => draw());
const stage = new Stage(part("now"), pictures);
const line = new AirLine(root.dataset, {
  plan: () => { fetchText(); show(); }, state: () => { follow(); show(); }, point: (where) => stage.point(where),
  desk: (does) => warn(does ? "" : "The desk does not answer: the words go on."),
});

// Layers are fetched anew with another plan or picture.
function show() {
  if (!line.plan) return;
  const item = onAir(line.plan, { ...line.state, blank: false })?.item, mark = `${line.plan.mark} ${item}`;
  if (mark !== keeping) {
    keeping = mark;
    pictures.keep(line.plan, item);
  }
  draw();
}

function draw() {
  if (line.plan) stage.show(sceneOf(line.plan, onAir(line.plan, line.state)), line.stopped);
}

const warn = (said) => { part("warn").textContent = said; };

// --- the words -----------------------------------------------------------------------------------------------------

async function fetchText() {
  try {
    const answer = await fetch(root.dataset.text);
    if (!answer.ok) return;
    const told = await answer.json();
    if (told.mark !== text?.mark) write(told);
  } catch { /* what stands here goes on */ }
}

// The same place in a text that was changed: as many words into the same item.
function placeIn() {
  const word = words[Math.min(Math.floor(spoken), words.length - 1)];
  return word ? { item: word.item, into: spoken - words.findIndex((one) => one.item === word.item) } : null;
}

function write(told) {
  const place = text && placeIn();
  text = told;
  rate = chosen || told.rate;
  words = []; stops = []; gone = 0;
  const box = part("words");
  box.replaceChildren(...told.items.filter((item) => item.parts.length).map(section));
  if (!words.length) box.replaceChildren(Object.assign(document.createElement("p"), { className: "hint", textContent: "Nothing is written yet: write the episode's text first." }));
  total = words.length;
  for (let k = 1; k < stops.length; k++) if (stops[k].state === undefined) stops[k].state = stops[k - 1].state;
  measure();
  if (place) {
    const first = words.findIndex((one) => one.item === place.item);
    spoken = first < 0 ? Math.min(spoken, total) : Math.min(first + place.into, total);
  }
  at = stopAt(spoken);
  scroll();
  tell();
  follow();   // what is on air may have been told before the words came
}

function section(item) {
  const one = document.createElement("section"), head = document.createElement("h2");
  head.textContent = item.title;
  one.append(head);
  let paragraph = null, number = -1, sentence = -1, waiting = [];
  const open = (n) => {
    if (paragraph && (n === number || n === -1)) return paragraph;
    number = n;
    paragraph = document.createElement("p");
    one.append(paragraph);
    return paragraph;
  };
  for (const told of item.parts) {
    if (told.cue !== undefined || told.note !== undefined) { waiting.push(told); continue; }
    const fresh = !paragraph || told.paragraph !== number, into = open(told.paragraph);
    const cues = waiting.filter((w) => w.cue !== undefined);
    for (const w of waiting) into.append(chip(w), " ");
    waiting = [];
    const far = words.length - (stops.at(-1)?.word ?? -FAR) >= FAR && told.sentence !== sentence;
    sentence = told.sentence;
    if (fresh || far || cues.length) stop(cues);
    for (const word of pieces(told.say)) {
      words.push({ node: word.node, item: item.id, title: item.title, seconds: item.seconds });
      into.append(word.node, " ");
    }
  }
  for (const w of waiting) open(-1).append(chip(w), " ");
  if (waiting.some((w) => w.cue !== undefined)) stop(waiting.filter((w) => w.cue !== undefined));
  return one;
}

// state undefined: what stood before stands on
function stop(cues) {
  const told = cues.at(-1), one = { word: words.length, cue: cues.map((c) => c.cue).join(", "), state: told ? told.state : undefined };
  if (stops.at(-1)?.word === one.word) { if (told) Object.assign(stops.at(-1), one); } else stops.push(one);
}

function chip(told) {
  const one = document.createElement("span");
  one.className = told.note === undefined ? `cue${told.why ? " unshown" : ""}` : "note";
  one.textContent = told.note ?? told.cue;
  if (told.why) one.title = told.why;
  return one;
}

// Words of a piece, each with how it is said above it where somebody has told.
function pieces(said) {
  const found = [], names = Object.keys(text.spoken).filter((name) => said.includes(name)).sort((a, b) => b.length - a.length);
  const escaped = names.map((name) => name.replace(/[.*+?^${}()|[\]\\]/g, "\\$&"));
  const pattern = names.length ? new RegExp(`(?<!\\p{L})(${escaped.join("|")})(?!\\p{L})`, "u") : null;
  for (const piece of pattern ? said.split(pattern) : [said]) {
    if (names.includes(piece)) { found.push({ node: ruby(piece, text.spoken[piece]) }); continue; }
    for (const word of piece.split(/\s+/).filter(Boolean)) {
      if (found.length && !/\w/.test(word)) { found.at(-1).node.append(word); continue; }   // what closes a name
      found.push({ node: Object.assign(document.createElement("span"), { textContent: word }) });
    }
  }
  return found;
}

function ruby(name, how) {
  const one = document.createElement("ruby"), above = document.createElement("rt");
  above.textContent = how;
  one.append(name, above);
  return one;
}

// Lines as they are broken now: [{top, first}], by which words and scroll are turned into each other.
function measure() {
  const base = part("words").getBoundingClientRect().top;
  lines = [];
  words.forEach(({ node }, k) => {
    const top = node.getBoundingClientRect().top - base;
    if (!lines.length || top > lines.at(-1).top + 8) lines.push({ top, first: k });
  });
  const end = words.length ? words.at(-1).node.getBoundingClientRect().bottom - base : 0;
  lines.push({ top: end, first: words.length });
}

const edge = () => pane.clientHeight * LINE();

function topOf(count) {
  let k = lines.findLastIndex((one) => one.first <= count);
  k = Math.max(Math.min(k, lines.length - 2), 0);
  const [here, next] = [lines[k], lines[k + 1]];
  if (!here || !next) return 0;
  return here.top + (next.top - here.top) * Math.min((count - here.first) / Math.max(next.first - here.first, 1), 1);
}

function countAt(top) {
  const k = Math.min(Math.max(lines.findLastIndex((one) => one.top <= top), 0), lines.length - 2);
  const [here, next] = [lines[k], lines[k + 1]];
  if (!here || !next) return 0;
  return Math.min(Math.max(here.first + (next.first - here.first) * (top - here.top) / Math.max(next.top - here.top, 1), 0), total);
}

// What is read stands a line's height under the mark: whole lines are easier on the eye than their tops.
function scroll(smooth = false) {
  pane.scrollTo({ top: topOf(spoken) - edge(), behavior: smooth && !matchMedia("(prefers-reduced-motion: reduce)").matches ? "smooth" : "instant" });
}

// --- moving --------------------------------------------------------------------------------------------------------

const stopAt = (count) => stops.findLastIndex((one) => one.word <= count + 0.01);

function reach(count, by) {
  const before = spoken;
  spoken = Math.min(Math.max(count, 0), total);
  const now = stopAt(spoken);
  if (now !== at) {
    if (now === at + 1 && at >= 0) pass(stops[now].word - stops[at].word);
    last = { time: performance.now() };
    at = now;
  }
  if (!began && spoken > before) began = Date.now();
  moved = true;
  if (by !== "hand") hand = -1e9;
  fire();
  if (by !== "hand") scroll(by === "step");
  tell();
}

// What the words have come to goes on air, once; a mark that the frames cannot show leaves what stands.
function fire() {
  const state = stops[at]?.state;
  if (!look.fire || !moved || !line.plan || !state) return;
  const mark = markOf(state);
  if (mark === fired) return;
  fired = mark;
  line.put({ ...FRESH, ...state, held: line.state.held || null });
}

const markOf = ({ step, blank, planB }) => JSON.stringify([step?.item, step?.count, step?.view || 0, step?.flipped || [], step?.spot || 0, step?.bare || false, Boolean(blank), Boolean(planB)]);

// What another put on air, a telephone's prompter or the presenter's window, leads these words to the same mark, if it is
// one of those near here.
function follow() {
  const mark = markOf(line.state);
  if (!look.fire || running || !text || !line.state.step || mark === fired) return;
  if (line.at < Date.now() + line.ahead - OLD_MS) return;   // of a rehearsal
  const marked = stops.map((_, k) => k).filter((k) => stops[k].cue && k !== at);
  const near = [...marked.filter((k) => k > at).slice(0, NEAR), ...marked.filter((k) => k < at).slice(-NEAR).reverse()];
  const k = near.find((one) => stops[one].state && markOf(stops[one].state) === mark);
  if (k === undefined) return;
  fired = mark;
  last = null;
  reach(stops[k].word, "step");
}

function step(forward) {
  if (!stops.length) return;
  if (!moved && forward && at <= 0 && spoken === 0) { at = -1; reach(0, "step"); return; }   // the first press puts the first mark on air
  const to = at + (forward ? 1 : -1);
  if (!forward && spoken > (stops[at]?.word ?? 0) + 3) reach(stops[at].word, "step");
  else if (to >= stops.length) reach(total, "step");
  else reach(stops[Math.max(to, 0)].word, "step");
}

function roll(time) {
  if (!running) return;
  const passed = Math.min((time - running) / 1000, 0.25);
  running = time;
  reach(spoken + passed * rate / 60, "roll");
  if (spoken >= total) run(false); else requestAnimationFrame(roll);
}

function run(on = !running) {
  running = on && total ? performance.now() : 0;
  button("run").setAttribute("aria-pressed", String(Boolean(running)));
  button("run").textContent = running ? "Stop" : "Roll";
  last = null;
  if (running) requestAnimationFrame(roll); else offer();
}

// A scroll is a hand's while a wheel or a finger has just moved: the page's own, and those of a new layout, are none.
for (const kind of ["wheel", "touchmove"]) pane.addEventListener(kind, () => { hand = performance.now(); }, { passive: true });
pane.addEventListener("scroll", () => {
  if (performance.now() - hand < HAND_MS && lines.length) reach(countAt(pane.scrollTop + edge()), "hand");
}, { passive: true });

// --- the speaker's pace --------------------------------------------------------------------------------------------

// A stretch between two stops, as long as it really took.
function pass(count) {
  if (!last) return;
  stretches.push([count, Math.round(performance.now() - last.time) / 1000]);
  if (stretches.length % 8 === 0) offer();
}

async function offer() {
  if (!stretches.length) return;
  try {
    const answer = await fetch(root.dataset.pace, { method: "POST", headers: { "Content-Type": "application/json", "X-Form-Token": root.dataset.token }, body: JSON.stringify(stretches.slice(-400)) });
    const told = answer.ok ? await answer.json() : {}, keep = part("keep");
    keep.hidden = !told.rate || told.rate === text?.rate;
    keep.dataset.rate = told.rate || "";
    if (told.rate) keep.textContent = `You speak ${told.rate} words a minute: use that`;
  } catch { /* asked again later */ }
}

async function keepRate() {
  const body = new URLSearchParams({ token: root.dataset.token, rate: part("keep").dataset.rate });
  const answer = await fetch(root.dataset.keep, { method: "POST", body, headers: { Accept: "application/json" } });
  if (!answer.ok) { warn("The rate was not kept."); return; }
  chosen = 0;
  part("keep").hidden = true;
  fetchText();
}

// --- what is told --------------------------------------------------------------------------------------------------

const clock = (seconds) => { const s = Math.max(Math.round(seconds), 0); return `${Math.floor(s / 60)}:${String(s % 60).padStart(2, "0")}`; };

// Seconds of what is still to be said: a fixed length counts by the share of its words.
function secondsLeft() {
  let left = 0;
  for (const item of text.items) {
    const first = words.findIndex((one) => one.item === item.id), count = words.filter((one) => one.item === item.id).length;
    const done = first < 0 ? 0 : Math.min(Math.max((spoken - first) / count, 0), 1);
    left += item.seconds * (text.rate / rate) * (1 - done);
  }
  return left;
}

function tell() {
  if (!text) return;
  const here = Math.floor(spoken);
  for (let k = Math.min(gone, here); k < Math.min(Math.max(gone, here), total); k++) words[k].node.classList.toggle("gone", k < here);
  gone = here;
  const next = stops.slice(at + 1).find((one) => one.cue), word = words[Math.min(here, total - 1)];
  const item = text.items.find((one) => one.id === word?.item), following = text.items[text.items.indexOf(item) + 1];
  part("coming").textContent = [next?.cue, following && `then: ${following.title}`].filter(Boolean).join(" · ") || "the end";
  part("pace").textContent = `${Math.round(rate)} words a minute`;
  document.body.dataset.at = String(at);
  times();
}

function times() {
  if (!text || !words.length) { part("left").textContent = ""; return; }
  const left = secondsLeft(), passed = began ? (Date.now() - began) / 1000 : 0, said = [`${clock(left)} to say`];
  if (text.given) {
    const spare = text.given - passed - left;
    said.push(Math.abs(spare) < 5 ? "on time" : `${clock(Math.abs(spare))} ${spare < 0 ? "over" : "to spare"}`);
  }
  part("left").textContent = said.join(" · ");
}

// --- keys, thumbs, looks -------------------------------------------------------------------------------------------

const button = (name) => root.querySelector(`[data-do="${name}"]`);

function dress() {
  root.style.setProperty("--size", look.size ? `${look.size}rem` : "");
  root.classList.toggle("mirrored", look.mirrored);
  root.classList.toggle("names", look.names);
  button("mirror").setAttribute("aria-pressed", String(look.mirrored));
  button("names").setAttribute("aria-pressed", String(look.names));
  button("fire").setAttribute("aria-pressed", String(look.fire));
  localStorage.setItem("prompter", JSON.stringify(look));
  measure();
  scroll();
}

function size(by) {
  const now = look.size || parseFloat(getComputedStyle(part("words")).fontSize) / parseFloat(getComputedStyle(document.documentElement).fontSize);
  look.size = Math.min(Math.max(Math.round(10 * (now * by)) / 10, SIZES[0]), SIZES[1]);
  dress();
}

function pace(by) {
  rate = chosen = Math.min(Math.max(rate + by, RATES[0]), RATES[1]);
  tell();
}

const DEEDS = {
  on: () => step(true), back: () => step(false), run: () => run(),
  slower: () => pace(-5), faster: () => pace(5), larger: () => size(1.12), smaller: () => size(1 / 1.12),
  mirror: () => { look.mirrored = !look.mirrored; dress(); }, names: () => { look.names = !look.names; dress(); },
  fire: () => { look.fire = !look.fire; fired = ""; dress(); fire(); },
  start: () => { run(false); began = 0; stretches = []; last = null; reach(0, "step"); },
  full: () => { if (document.fullscreenElement) document.exitFullscreen(); else document.documentElement.requestFullscreen?.(); },
  blank: () => { if (line.plan) line.put({ ...line.state, blank: !line.state.blank }); },
  keep: keepRate,
  up: () => reach(countAt(topOf(spoken) - lineHeight()), "roll"), down: () => reach(countAt(topOf(spoken) + lineHeight() + 1), "roll"),
};
const lineHeight = () => parseFloat(getComputedStyle(part("words")).lineHeight) || 40;

const KEYS = {
  PageDown: "on", ArrowRight: "on", Enter: "on", PageUp: "back", ArrowLeft: "back", " ": "run",
  ArrowUp: "up", ArrowDown: "down", Home: "start", "[": "slower", "]": "faster", "+": "larger", "=": "larger", "-": "smaller",
  m: "mirror", n: "names", f: "full", b: "blank", ".": "blank",
};

for (const one of root.querySelectorAll("[data-do]")) one.addEventListener("click", () => DEEDS[one.dataset.do]());
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  // a button that has the focus does its own on space and enter
  if ((event.key === " " || event.key === "Enter") && event.target.closest("button, a, summary")) return;
  const deed = KEYS[event.key] || KEYS[event.key.toLowerCase()];
  if (!deed) return;
  event.preventDefault();
  DEEDS[deed]();
});
new ResizeObserver(() => { measure(); scroll(); }).observe(pane);

dress();
setInterval(fetchText, TEXT_MS);
setInterval(times, 1000);
fetchText();
line.open();
