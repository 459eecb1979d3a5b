// What stands on air at each step, and what each key makes of it. Pure: no page, no network. The desk reckons the same
// (programme/air_steps.py), for programs that drive it and pictures that it hands on; a test holds the two together.
//
//   plan   {items: [{id, layers, views}], spare: an item or null}
//          title, kind: of the first view; views: what follows it, [{title, kind, layers, move}]; spare: the plan B
//   layer  {name, title, kind, base}    base: goes with the picture itself; of kind "spotlight": shown only when chosen;
//          of kind "against": the second of two pictures, which comes in from the right
//   step   {item, count, view, flipped, spot, bare, wipe, blink}    the first `count` layers that are revealed one by
//          one, over the view's base layers; flipped: numbers of layers that stand otherwise; spot: number of the
//          spotlight; bare: nothing but picture and credit; wipe: how far the second of two pictures has come in where it
//          is on its way, hundredths; blink: the two in turn. All but item and count are left out where they say nothing.
//   state  {step, held, blank, planB}    held: the step that stays on air meanwhile, or null

export const FRESH = { step: null, held: null, blank: false, planB: false };
const BARE = ["picture", "rendering", "credit"], WIPE_STEP = 10;

export const viewsOf = (item) => [{ title: item.title, kind: item.kind, layers: item.layers, move: null }, ...(item.views || [])];
const spots = (view) => view.layers.filter((layer) => layer.kind === "spotlight" && !layer.base);
const find = (plan, id) => plan.items.find((item) => item.id === id);

// The layers that are revealed one by one; the number of one is its key.
export const revealed = (view) => view.layers.filter((layer) => !layer.base && layer.kind !== "spotlight");
export const viewAt = (plan, step) => viewsOf(find(plan, step.item))[step.view || 0];
export const spotsOf = (plan, step) => spots(viewAt(plan, step));

// The number of the layer that is the second of two pictures; 0: there is none.
export const against = (view) => revealed(view).findIndex((layer) => layer.kind === "against") + 1;

function made({ item, view = 0, count = 0, flipped = [], spot = 0, bare = false, wipe = 0, blink = false }) {
  return {
    item, count, ...(view && { view }), ...(flipped.length && { flipped }), ...(spot && { spot }), ...(bare && { bare }),
    ...(wipe && { wipe }), ...(blink && { blink }),
  };
}

// All steps in their order, each with a title for the presenter.
export function stepsOf(plan) {
  return plan.items.flatMap((item) => viewsOf(item).flatMap((view, k) =>
    [view.title, ...revealed(view).map((layer) => layer.title)].map((title, count) => ({ ...made({ item: item.id, view: k, count }), title }))));
}

const same = (a, b) => a.item === b.item && (a.view || 0) === (b.view || 0) && a.count === b.count;

// Where a step stands among all; a step whose item is gone stands at the first that is left.
export function placeOf(plan, step) {
  return Math.max(step ? stepsOf(plan).findIndex((one) => same(one, step)) : 0, 0);
}

// The step that is meant, as the plan is now: an item may have lost views or layers, or be gone.
export function settle(plan, step) {
  if (!plan.items.length) return null;
  const item = step && find(plan, step.item);
  if (!item) return made({ item: plan.items[0].id });
  const views = viewsOf(item), view = Math.min(Math.max(step.view || 0, 0), views.length - 1), most = revealed(views[view]).length;
  return made({
    ...step, view, count: Math.min(Math.max(step.count || 0, 0), most),
    flipped: (step.flipped || []).filter((n) => n >= 1 && n <= most),
    spot: step.spot <= spots(views[view]).length ? step.spot : 0,
    wipe: step.wipe > 0 && step.wipe < 100 && against(views[view]) ? step.wipe : 0,
    blink: Boolean(step.blink) && against(views[view]) > 0,
  });
}

const isShown = (step, n) => (n <= step.count) !== (step.flipped || []).includes(n);

// How far the second of two pictures has come in, hundredths of the frame.
export function wipeOf(view, step) {
  const n = against(view);
  return step.wipe || (n && !step.bare && isShown(step, n) ? 100 : 0);
}

function flip(step, n) {
  const flipped = step.flipped || [];
  return made({ ...step, flipped: flipped.includes(n) ? flipped.filter((k) => k !== n) : [...flipped, n].sort((a, b) => a - b) });
}

function wiped(plan, step, share) {
  const n = against(viewAt(plan, step)), to = Math.min(Math.max(Math.round(share), 0), 100);
  const moved = made({ ...step, spot: 0, bare: false, wipe: to % 100, blink: false });
  return isShown(step, n) === (to === 100) ? moved : flip(moved, n);
}

function onward(plan, step) {
  const most = revealed(viewAt(plan, step)).length;
  for (let count = step.count + 1; count <= most; count++) {  // a key that shows nothing new would be one too many
    if (!isShown(step, count) || step.bare) return made({ ...step, count, flipped: (step.flipped || []).filter((n) => n > count), spot: 0, bare: false, wipe: 0, blink: false });
  }
  const item = find(plan, step.item), view = (step.view || 0) + 1, after = plan.items[plan.items.indexOf(item) + 1];
  if (view < viewsOf(item).length) return made({ item: item.id, view });
  return after ? made({ item: after.id }) : made({ ...step, spot: 0, bare: false, wipe: 0, blink: false });
}

function backward(plan, step) {
  const here = made({ item: step.item, view: step.view, count: step.count });
  if (step.bare || step.flipped || step.spot || step.wipe || step.blink) return here;
  const { title, ...before } = stepsOf(plan)[Math.max(placeOf(plan, step) - 1, 0)];
  return before;
}

// What an action makes of the state. Others than words: {go: step}, {layer: number}, {spot: number},
// {wipe: hundredths}.
export function act(plan, state, action) {
  const step = settle(plan, state.step);
  if (!step) return { ...FRESH };
  const most = revealed(viewAt(plan, step)).length;
  // whoever steps on wants to see it: that ends the blank and the plan B, but not a hold
  const stepping = (to) => ({ ...state, step: to, blank: false, planB: false });
  const back = state.blank || state.planB;
  if (action.go) return stepping(settle(plan, action.go));
  if (action.layer) {
    if (action.layer > most) return { ...state, step };
    return stepping(flip({ ...step, spot: 0, wipe: 0, blink: false }, action.layer));
  }
  const two = against(viewAt(plan, step)), wipe = (share) => (two ? stepping(wiped(plan, step, share)) : { ...state, step });
  if (action.wipe !== undefined) return wipe(action.wipe);
  if (action.spot !== undefined) return stepping(settle(plan, { ...step, spot: action.spot }));
  switch (action) {
    case "next": return stepping(back ? step : onward(plan, step));
    case "back": return stepping(back ? step : backward(plan, step));
    case "next item": case "item before": {
      const items = plan.items.map((item) => item.id);
      const to = items.indexOf(step.item) + (action === "next item" ? 1 : -1);
      return stepping(to < 0 || to >= items.length ? step : made({ item: items[to] }));
    }
    case "all": return stepping(made({ item: step.item, view: step.view, count: most }));
    case "bare": return stepping(made({ item: step.item, view: step.view, bare: true }));
    case "spotlight": return stepping(made({ ...step, spot: (step.spot || 0) < spotsOf(plan, step).length ? (step.spot || 0) + 1 : 0 }));
    case "wipe on": case "wipe back":
      return wipe(wipeOf(viewAt(plan, step), step) + (action === "wipe on" ? WIPE_STEP : -WIPE_STEP));
    case "blink": return two ? stepping(made({ ...step, bare: false, wipe: 0, blink: !step.blink })) : { ...state, step };
    case "blank": return { ...state, step, blank: !state.blank };
    case "hold": return { ...state, step, held: state.held ? null : step };
    case "plan B": return { ...state, step, planB: Boolean(plan.spare) && !state.planB, blank: false };
    default: return { ...state, step };
  }
}

// What stands on air: {item, view, names of its layers, wipe: how far the second of two pictures has come in, hundredths,
// blink: the two in turn}, or null for nothing.
export function onAir(plan, state) {
  if (state.blank) return null;
  const named = (item, view, layers, wipe = 0, blink = false) => ({ item: item.id, view, layers: layers.map((layer) => layer.name), wipe, blink });
  if (state.planB && plan.spare) return named(plan.spare, 0, plan.spare.layers.filter((l) => l.base || l.kind === "credit"));
  const step = settle(plan, state.held || state.step);
  if (!step) return null;
  const view = viewAt(plan, step), lit = step.spot ? spots(view)[step.spot - 1] : null, order = revealed(view);
  const wipe = step.blink ? 100 : wipeOf(view, step);
  return named(find(plan, step.item), step.view || 0, view.layers.filter((l) =>
    l.base ? !step.bare || BARE.includes(l.kind)
      : lit ? l === lit || l.title === lit.title || l.kind === "credit"
        : l.kind === "against" ? wipe > 0
          : l.kind !== "spotlight" && (isShown(step, order.indexOf(l) + 1) || (step.bare && l.kind === "credit"))), wipe, Boolean(step.blink));
}

// Keys of a keyboard and of a presenter's clicker.
export const KEYS = {
  ArrowRight: "next", PageDown: "next", " ": "next", Enter: "next",
  ArrowLeft: "back", PageUp: "back", Backspace: "back",
  ArrowDown: "next item", ArrowUp: "item before",
  a: "all", A: "all", 0: "bare", s: "spotlight", S: "spotlight",
  "+": "wipe on", "=": "wipe on", "-": "wipe back", x: "blink", X: "blink",
  b: "blank", B: "blank", ".": "blank", h: "hold", H: "hold", p: "plan B", P: "plan B",
  ...Object.fromEntries([1, 2, 3, 4, 5, 6, 7, 8, 9].map((n) => [n, { layer: n }])),
};
