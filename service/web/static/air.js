// The page that goes on air: the frames of the rundown, stepped through by keys, by the presenter's window, or from
// elsewhere by way of the desk.
import { KEYS, act, onAir } from "./air_steps.js";
import { AirLine } from "./air_line.js";
import { Pictures, Stage, layersOf } from "./air_stage.js";

const body = document.body;
const pictures = new Pictures((told) => {
  body.dataset.loaded = `${told.loaded} of ${told.wanted}`;   // told in the presenter's window, never on the output
  line.report(told);
  show();
});
const stage = new Stage(document.getElementById("stage"), pictures);
const line = new AirLine(body.dataset, { plan: (plan) => pictures.keep(plan), state: show });

function show() {
  if (!line.plan) return;
  const shown = onAir(line.plan, line.state);
  stage.show(layersOf(line.plan, shown));
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
