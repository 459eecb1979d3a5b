// The rundown: keys, dragging, forms without leaving the page, and what others change while it is open.
//
// Every change is one of the page's own forms, sent one after the other; the answer is the whole page, whose rundown
// takes the old one's place. What is typed in other forms meanwhile is carried over together with the version from
// which it was typed, so that the desk can still tell who changed what.
"use strict";

(() => {
  if (!document.getElementById("rundown")) return;
  const LOOK_MS = 4000;
  const NEWS_MS = 10000;
  const root = () => document.getElementById("rundown");
  const entries = () => [...root().querySelectorAll(".entry")];
  const said = () => document.getElementById("said");
  let chosen = ""; // the item that keys are about
  let waiting = 0; // forms on their way
  let line = Promise.resolve();
  let drag = null;

  // --- what is typed and not sent ------------------------------------------------------------------------------

  function isChanged(field) {
    if (field.type === "checkbox") return field.checked !== field.defaultChecked;
    if (field.type === "hidden") return false;
    if (field.tagName !== "SELECT") return field.value !== field.defaultValue;
    const first = [...field.options].findIndex((option) => option.defaultSelected);
    return field.selectedIndex !== Math.max(first, 0);
  }

  const fieldsOf = (part) => [...part.querySelectorAll("input, select, textarea")];

  function drafts(except) {
    return [...root().querySelectorAll("[data-form]")].filter((part) => part !== except && !part.contains(except))
      .map((part) => ({
        key: part.dataset.form,
        name: part.closest(".entry")?.querySelector(".sender").textContent || "",
        open: Boolean(part.open),
        changed: fieldsOf(part).some(isChanged),
        fields: fieldsOf(part).filter((field) => field.name && field.name !== "token")
          .map((field) => ({ name: field.name, value: field.value, checked: field.checked, typed: isChanged(field) })),
      }));
  }

  function restore(kept) {
    for (const draft of kept) {
      const part = root().querySelector(`[data-form="${draft.key}"]`);
      if (!part) {
        const words = draft.fields.filter((field) => field.typed && field.value).map((field) => field.value).join(" · ");
        if (draft.changed && words) tell(`The entry of ${draft.name} is gone. You had typed: ${words}`, true);
        continue;
      }
      if (draft.open) part.open = true;
      if (!draft.changed) continue;
      for (const { name, value, checked } of draft.fields) {
        const field = part.querySelector(`[name="${name}"]`);
        if (!field) continue;
        if (field.type === "checkbox") field.checked = checked;
        else field.value = value; // the version too
      }
    }
  }

  // --- the page in place of the page ---------------------------------------------------------------------------

  function tell(words, alarm) {
    const paragraph = document.createElement("p");
    paragraph.textContent = words;
    said().setAttribute("role", alarm ? "alert" : "status");
    said().classList.toggle("alarm", Boolean(alarm));
    said().append(paragraph);
    fade();
  }

  // How to find again what has the focus, in the page that comes.
  function selectorOf(at) {
    const [way, fresh, form] = ["[data-way]", ".fresh", "[data-form]"].map((part) => at.closest(part));
    if (fresh) return `[data-picture="${fresh.dataset.picture}"] ${at.tagName === "A" ? "a" : "button"}`;
    if (at.id) return `#${at.id}`;
    if (at.matches(".sender")) return ".sender";
    if (way) return `[data-way="${way.dataset.way}"] button`;
    return form && at.tagName === "SUMMARY" ? `[data-form="${form.dataset.form}"] > summary` : "";
  }

  function focused() {
    const at = document.activeElement;
    if (!at || !root().contains(at)) return null;
    const entry = at.closest(".entry");
    const range = typeof at.selectionStart === "number" ? [at.selectionStart, at.selectionEnd] : null;
    return { item: entry?.dataset.item, index: entry ? entries().indexOf(entry) : -1, selector: selectorOf(at), range };
  }

  function focusAgain(was, opened) {
    const wrong = opened && root().querySelector("[aria-invalid]");
    if (wrong) return wrong.focus();
    if (!was) return undefined;
    const entry = was.item && document.getElementById(`item-${was.item}`);
    const place = entry || (was.index < 0 ? root() : entries()[Math.min(was.index, entries().length - 1)] || root());
    const exact = was.selector && (entry || was.index < 0) && place.querySelector(was.selector);
    const open = exact && exact.closest("details");
    const hidden = open && !open.open && exact.tagName !== "SUMMARY";
    const instead = entry || was.index >= 0 ? place.querySelector(".sender") : null;
    const target = exact && !hidden ? exact : instead || document.getElementById("main");
    target.focus({ preventScroll: Boolean(exact) || !instead });
    if (exact && was.range && exact.setSelectionRange) {
      try { exact.setSelectionRange(...was.range); } catch { /* not a field of text */ }
    }
    return undefined;
  }

  function swap(html, sent) {
    const page = new DOMParser().parseFromString(html, "text/html");
    const fresh = page.getElementById("rundown");
    if (!fresh) { // an error page: its sentences, and all that was typed stays
      const words = [...page.querySelectorAll("main p:not(.code)")].map((p) => p.textContent.trim()).filter(Boolean);
      said().replaceChildren();
      tell(words.slice(0, 2).join(" ") || "The desk did not answer as it should; nothing typed here is lost.", true);
      return;
    }
    const was = focused();
    const kept = drafts(sent);
    const alarms = sent || !said().classList.contains("alarm") ? [] : [...said().children];
    const before = root().querySelector(".history li")?.textContent;
    root().replaceWith(document.adoptNode(fresh));
    for (const paragraph of alarms) tell(paragraph.textContent, true);
    restore(kept);
    prepare();
    document.dispatchEvent(new Event("shown"));
    focusAgain(was, sent);
    if (!sent) {
      const newest = root().querySelector(".history li")?.textContent;
      tell(newest && newest !== before ? `${newest}.` : "What stands here was brought up to date.",
        said().classList.contains("alarm"));
    }
  }

  // News goes after a while (what was changed last stands below); what went wrong stays.
  let fading = 0;
  function fade() {
    clearTimeout(fading);
    fading = setTimeout(() => said().classList.contains("alarm") || said().replaceChildren(), NEWS_MS);
  }

  function prepare() {
    fade();
    for (const handle of root().querySelectorAll(".handle")) handle.hidden = entries().length < 2;
    choose(chosen);
  }

  async function send(address, body, sent) {
    waiting += 1;
    try {
      const answer = await fetch(address, { method: "POST", body, headers: { Accept: "text/html" } });
      swap(await answer.text(), sent);
      const item = answer.ok && sent.matches(".pick") && new URL(answer.url).searchParams.get("item");
      const made = item && document.querySelector(`#item-${item} .sender`);
      if (made) { // it stands at the end: from here the arrows and Shift put it where it is to be
        made.focus({ preventScroll: true });
        made.closest(".entry").scrollIntoView({ block: "nearest" });
      }
    } catch {
      said().replaceChildren();
      tell("The desk does not answer; nothing was changed, and what you typed stands here still. Try again.", true);
    } finally {
      waiting -= 1;
    }
  }

  const later = (work) => { line = line.then(work, work); };

  function sendForm(form, button) {
    const body = new URLSearchParams(new FormData(form));
    if (button && button.name) body.append(button.name, button.value);
    return send(form.getAttribute("action"), body, form.closest("[data-form]") || form);
  }

  document.addEventListener("submit", (event) => {
    if (!root().contains(event.target)) return;
    event.preventDefault();
    const { target, submitter } = event;
    later(() => (target.isConnected ? sendForm(target, submitter) : undefined));
  });

  // --- keys ----------------------------------------------------------------------------------------------------

  function choose(item) {
    chosen = item;
    for (const entry of entries()) entry.classList.toggle("chosen", entry.dataset.item === item);
  }

  document.addEventListener("focusin", (event) => {
    const entry = event.target.closest(".entry");
    if (entry) choose(entry.dataset.item);
    else if (event.target.closest(".justin")) choose("");
  });

  function select(down) {
    const list = entries();
    const at = list.findIndex((entry) => entry.dataset.item === chosen);
    const next = at < 0 ? (down ? 0 : list.length - 1) : Math.min(Math.max(at + (down ? 1 : -1), 0), list.length - 1);
    list[next].querySelector(".sender").focus();
    list[next].scrollIntoView({ block: "nearest" });
  }

  // The form is looked for when its turn has come: after the step before it the order is another one.
  const press = (item, way) => later(() => {
    const form = document.querySelector(`#item-${item} [data-way="${way}"]`);
    return form ? sendForm(form) : undefined;
  });

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    const { key, target } = event;
    if (key === "Escape" && drag) return letGo(false);
    if (target.closest("input, select, textarea")) {
      const part = target.closest("details");
      if (key === "Escape" && part && root().contains(part)) { // what is typed stays in the closed form
        part.open = false;
        part.closest(".entry")?.querySelector(".sender").focus();
      }
      return undefined;
    }
    if (drag) return undefined;
    const fresh = [...root().querySelectorAll(".fresh")];
    if (fresh.length && (key === "n" || key === "p")) {
      const at = fresh.findIndex((one) => one.contains(document.activeElement));
      if (key === "n") fresh[(at + 1) % fresh.length].querySelector(".newer").focus();
      else if (at >= 0 || fresh.length === 1) later(() => sendForm(fresh[Math.max(at, 0)].querySelector("form")));
      else tell("n selects what has just come in, then p picks it.");
      return event.preventDefault();
    }
    if (!entries().length) return undefined;
    const entry = document.getElementById(`item-${chosen}`);
    if (key === "ArrowUp" || key === "ArrowDown") {
      if (!event.shiftKey) select(key === "ArrowDown");
      else if (entry) press(chosen, key === "ArrowUp" ? "up" : "down");
      else return undefined;
    } else if (key === "Delete" && entry) {
      press(chosen, "out");
    } else if (key === "e" && entry) {
      const part = entry.querySelector("details.edit");
      part.open = true;
      part.querySelector("input:not([type=hidden])").select();
    } else {
      return undefined;
    }
    return event.preventDefault();
  });

  // --- dragging ------------------------------------------------------------------------------------------------

  document.addEventListener("pointerdown", (event) => {
    const handle = event.target.closest(".handle");
    if (!handle || event.button !== 0 || drag || waiting) return;
    event.preventDefault();
    const list = entries();
    const entry = handle.closest(".entry");
    const boxes = list.map((one) => one.getBoundingClientRect());
    const from = list.indexOf(entry);
    const gap = list.length > 1 ? boxes[1].top - boxes[0].bottom : 0;
    drag = { list, entry, handle, from, to: from, y: event.clientY, at: event.clientY, scroll: window.scrollY,
      middles: boxes.map((box) => box.top + box.height / 2), size: boxes[from].height + gap, pointer: event.pointerId };
    handle.setPointerCapture(event.pointerId);
    entry.classList.add("held");
    choose(entry.dataset.item);
    for (const one of list) if (one !== entry) one.classList.add("shifts");
    requestAnimationFrame(roll);
  });

  function shift() {
    const far = drag.at - drag.y + window.scrollY - drag.scroll;
    const middle = drag.middles[drag.from] + far;
    drag.to = drag.middles.filter((other, k) => k !== drag.from && other < middle).length;
    drag.entry.style.transform = `translateY(${far}px)`;
    drag.list.forEach((one, k) => {
      if (k === drag.from) return;
      const away = k > drag.from && k <= drag.to ? -drag.size : k < drag.from && k >= drag.to ? drag.size : 0;
      one.style.transform = away ? `translateY(${away}px)` : "";
    });
  }

  // Near the window's edge the page goes along.
  function roll() {
    if (!drag) return;
    const edge = 70;
    const over = Math.min(drag.at - edge, 0) || Math.max(drag.at - window.innerHeight + edge, 0);
    if (over) {
      window.scrollBy(0, over / 5);
      shift();
    }
    requestAnimationFrame(roll);
  }

  document.addEventListener("pointermove", (event) => {
    if (!drag || event.pointerId !== drag.pointer) return;
    drag.at = event.clientY;
    shift();
  });

  function letGo(stay) {
    const { list, entry, from, to } = drag;
    drag = null;
    for (const one of list) {
      one.classList.remove("held", "shifts");
      one.style.transform = "";
    }
    if (!stay || to === from) return;
    const order = list.filter((one) => one !== entry);
    const after = to ? order[to - 1] : null;
    const body = new URLSearchParams();
    for (const name of ["token", "version"]) body.append(name, entry.querySelector(`[name="${name}"]`).value);
    body.append("after", after ? after.dataset.item : "0");
    if (after) after.after(entry); // at once, so that it does not jump back until the desk has answered
    else order[0].before(entry);
    entry.querySelector(".sender").focus({ preventScroll: true });
    later(() => send(entry.dataset.move, body, entry.querySelector("[data-way]")));
  }

  document.addEventListener("pointerup", (event) => drag && event.pointerId === drag.pointer && letGo(true));
  document.addEventListener("pointercancel", (event) => drag && event.pointerId === drag.pointer && letGo(false));

  // --- what others do ------------------------------------------------------------------------------------------

  async function look() {
    if (waiting || drag || document.visibilityState !== "visible") return;
    try {
      const answer = await fetch(root().dataset.look, { headers: { Accept: "application/json" } });
      if (!answer.ok || (await answer.json()).mark === root().dataset.mark) return;
      const page = await fetch(root().dataset.here, { headers: { Accept: "text/html" } });
      const html = await page.text();
      if (page.ok && !waiting && !drag) swap(html, null);
    } catch {
      // the desk is restarting, or the machine sleeps: the next look tells
    }
  }

  document.documentElement.classList.add("live");
  for (const hint of document.querySelectorAll(".hint.keys")) hint.hidden = false;
  prepare();
  const asked = location.hash.match(/^#item-(\d+)$/);
  if (asked && document.getElementById(asked[0].slice(1))) choose(asked[1]);
  setInterval(look, LOOK_MS);
})();
