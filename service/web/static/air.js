// The page that goes on air: the frames of the rundown, stepped through by keys, by the presenter's window, by a program,
// or from elsewhere by way of the desk. No word of the tool ever stands on it.
import { KEYS, act, onAir } from "./air_steps.js";
import { AirLine } from "./air_line.js";
import { Pictures } from "./air_pictures.js";
import { Stage, sceneOf } from "./air_stage.js";

const body = document.body;
document.documentElement.style.setProperty("--ground", body.dataset.ground);
const pictures = new Pictures((told) => {
  body.dataset.loaded = `${told.loaded} of ${told.wanted}`;   // told in the presenter's window, never on the output
  line.report(told);
  show();
});
const stage = new Stage(document.getElementById("stage"), pictures, { show: body.dataset.show, signal: body.dataset.signal });
body.dataset.page = crypto.getRandomValues(new Uint32Array(1))[0].toString(16);   // the desk counts who shows what is on air
const line = new AirLine(body.dataset, { plan: fetchAll, state: () => { fetchAll(); show(); }, point: (at) => stage.point(at) });
let fetched = "";

// what stands on air first; anew with another plan or picture
function fetchAll() {
  if (!line.plan) return;
  const item = onAir(line.plan, { ...line.state, blank: false })?.item, mark = `${line.plan.mark} ${item}`;
  if (mark === fetched && body.dataset.loaded?.split(" of ").every((n, _, [all]) => n === all)) return;
  fetched = mark;
  pictures.keep(line.plan, item);
}

function show() {
  if (!line.plan) return;
  const shown = onAir(line.plan, line.state);
  stage.show(sceneOf(line.plan, shown), line.stopped);
  body.dataset.onair = shown ? `${shown.item}: ${shown.layers.join(" ")}` : "nothing";
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  if (event.key === "f" || event.key === "F") {
    if (document.fullscreenElement) document.exitFullscreen(); else document.documentElement.requestFullscreen();
  }
  const action = KEYS[event.key];
  if (!action || !line.plan) return;
  event.preventDefault();
  line.put(act(line.plan, line.state, action));
});

line.open();
