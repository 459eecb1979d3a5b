// What stands on air at each step, and what each key makes of it. Pure: no page, no network.
//
//   plan   {items: [{id, layers: [{name, title, kind, base}]}], spare: an item or null}
//          base: goes with the picture itself; spare: the plan B
//   step   {item, count}     the first `count` layers that are revealed one by one, over the item's base layers
//   state  {step, held, blank, planB}    held: the step that stays on air meanwhile, or null

export const FRESH = { step: null, held: null, blank: false, planB: false };

const revealed = (item) => item.layers.filter((layer) => !layer.base);
const named = (layers) => layers.map((layer) => layer.name);
const find = (plan, id) => plan.items.find((item) => item.id === id);

// All steps in their order, each with a title for the presenter.
export function stepsOf(plan) {
  const steps = [];
  for (const item of plan.items) {
    const titles = ["Picture", ...revealed(item).map((layer) => layer.title)];
    titles.forEach((title, count) => steps.push({ item: item.id, count, title }));
  }
  return steps;
}

const same = (a, b) => a && b && a.item === b.item && a.count === b.count;

// Where a step stands among all; a step whose item is gone stands at the first that is left.
export function placeOf(plan, step) {
  return Math.max(stepsOf(plan).findIndex((one) => same(one, step)), 0);
}

// The step that is meant, as the plan is now: an item may have lost layers, or be gone.
export function settle(plan, step) {
  if (!plan.items.length) return null;
  const item = step && find(plan, step.item);
  if (!item) return { item: plan.items[0].id, count: 0 };
  return { item: item.id, count: Math.min(step.count, revealed(item).length) };
}

// What an action makes of the state. go: {go: step}.
export function act(plan, state, action) {
  const step = settle(plan, state.step);
  if (!step) return { ...FRESH };
  const steps = stepsOf(plan), at = placeOf(plan, step), bare = ({ item, count }) => ({ item, count });
  // whoever steps on wants to see it: that ends the blank and the plan B, but not a hold
  const stepping = (to) => ({ ...state, step: bare(to), blank: false, planB: false });
  const back = state.blank || state.planB;
  if (action.go) return stepping(settle(plan, action.go));
  switch (action) {
    case "next": return stepping(back ? step : steps[Math.min(at + 1, steps.length - 1)]);
    case "back": return stepping(back ? step : steps[Math.max(at - 1, 0)]);
    case "next item": case "item before": {
      const items = plan.items.map((item) => item.id);
      const to = items.indexOf(step.item) + (action === "next item" ? 1 : -1);
      return stepping(to < 0 || to >= items.length ? step : { item: items[to], count: 0 });
    }
    case "blank": return { ...state, step, blank: !state.blank };
    case "hold": return { ...state, step, held: state.held ? null : step };
    case "plan B": return { ...state, step, planB: Boolean(plan.spare) && !state.planB, blank: false };
    default: return { ...state, step };
  }
}

// What stands on air: {item, names of its layers}, or null for nothing.
export function onAir(plan, state) {
  if (state.blank) return null;
  if (state.planB && plan.spare) {
    return { item: plan.spare.id, layers: named(plan.spare.layers.filter((l) => l.base || l.kind === "credit")) };
  }
  const step = settle(plan, state.held || state.step);
  if (!step) return null;
  const item = find(plan, step.item), shown = revealed(item).slice(0, step.count);
  return { item: item.id, layers: named(item.layers.filter((l) => l.base || shown.includes(l))) };
}

// Keys of a keyboard and of a presenter's clicker.
export const KEYS = {
  ArrowRight: "next", PageDown: "next", " ": "next", Enter: "next",
  ArrowLeft: "back", PageUp: "back", Backspace: "back",
  ArrowDown: "next item", ArrowUp: "item before",
  b: "blank", B: "blank", ".": "blank", h: "hold", H: "hold", p: "plan B", P: "plan B",
};
