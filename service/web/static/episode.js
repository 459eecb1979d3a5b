// The episode: what is typed is saved and checked as it is typed; sentences tell where they come from; items are dragged.
//
// Each text has the version that it was typed from, so that the desk can tell who changed what: what another wrote into
// the same text meanwhile is shown beside it, and nothing is written over unasked.
"use strict";

(() => {
  if (!document.getElementById("episode")) return;
  const PAUSE_MS = 350, LOOK_MS = 4000;
  const root = () => document.getElementById("episode");
  const parts = () => [...root().querySelectorAll(".part")];
  const fields = () => [...root().querySelectorAll(".text > textarea")];
  const saved = new WeakMap();   // what the desk has of a text
  let line = Promise.resolve(), waiting = 0, drag = null;

  const isTyped = (field) => field.value !== saved.get(field);
  const partOf = (at) => at.closest(".part");

  // --- saving as it is typed -----------------------------------------------------------------------------------

  function tell(part, words) { part.querySelector("[data-saved]").textContent = words; }

  async function save(field) {
    const form = field.form, part = partOf(field), text = field.value;
    if (!isTyped(field) || part.querySelector(".clash:not([hidden])")) return;
    waiting += 1;
    tell(part, "Saving …");
    try {
      const body = new URLSearchParams({ token: form.elements.token.value, version: form.elements.version.value, text });
      const answer = await fetch(form.getAttribute("action"), { method: "POST", body, headers: { Accept: "application/json" } });
      const told = await answer.json();
      if (!answer.ok) { clash(part, field, told); return; }
      saved.set(field, text);
      if (told.version === Number(root().dataset.version) + 1) Object.assign(root().dataset, { version: told.version, mark: told.mark });
      form.elements.version.value = told.version;
      show(part, told);
      tell(part, isTyped(field) ? "" : "Saved");
    } catch {
      tell(part, "Not saved: the desk does not answer. What you typed stands here still.");
    } finally {
      waiting -= 1;
    }
  }

  function show(part, told) {
    part.querySelector("[data-checked]").innerHTML = told.checked;   // written by the desk, all words escaped there
    part.querySelector("[data-length]").textContent = told.length;
    document.getElementById("total").innerHTML = told.total;
  }

  function clash(part, field, told) {
    tell(part, "");
    const box = part.querySelector(".clash"), words = document.createElement("p");
    words.textContent = told.notice || "Nothing was saved.";
    box.replaceChildren(words);
    if (told.theirs !== null && told.theirs !== undefined) {
      const theirs = document.createElement("blockquote"), mine = button("Keep mine"), take = button("Take theirs");
      theirs.textContent = told.theirs || "(no text)";
      mine.addEventListener("click", () => settle(part, field, told, field.value));
      take.addEventListener("click", () => settle(part, field, told, told.theirs));
      box.append(theirs, mine, " ", take);
    }
    box.hidden = false;
  }

  function settle(part, field, told, text) {
    part.querySelector(".clash").hidden = true;
    field.form.elements.version.value = told.version;
    saved.set(field, told.theirs);
    field.value = text;
    grow(field);
    field.focus();
    later(() => save(field));
  }

  function button(words) {
    const one = document.createElement("button");
    one.type = "button";
    one.textContent = words;
    return one;
  }

  const later = (work) => { line = line.then(work, work); return line; };
  const flush = () => Promise.all(fields().filter(isTyped).map((field) => later(() => save(field))));

  function grow(field) {
    field.style.height = "auto";
    field.style.height = `${field.scrollHeight + 2}px`;
  }

  const pauses = new WeakMap();
  document.addEventListener("input", (event) => {
    const field = event.target;
    if (!field.matches(".text > textarea")) return;
    grow(field);
    clearTimeout(pauses.get(field));
    pauses.set(field, setTimeout(() => later(() => save(field)), PAUSE_MS));
  });

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!root().contains(form)) return;
    if (form.action.endsWith("/write")) setTimeout(() => { event.submitter.disabled = true; event.submitter.textContent = "Writing …"; });
    if (form.dataset.ready) return;
    const typed = fields().filter(isTyped);
    if (!typed.length) return;
    event.preventDefault();
    await flush();
    if (fields().some(isTyped)) return;   // it could not be saved, and says why
    const version = form.elements.version;
    if (version && !form.matches(".text")) version.value = root().dataset.version;
    form.dataset.ready = "yes";
    form.requestSubmit(event.submitter);
  });

  addEventListener("beforeunload", (event) => { if (fields().some(isTyped)) event.preventDefault(); });

  // --- where a sentence comes from -----------------------------------------------------------------------------

  document.addEventListener("click", (event) => {
    const link = event.target.closest("a.said-so");
    const why = link && document.getElementById(link.hash.slice(1));
    if (!why) return;
    event.preventDefault();
    const box = why.closest(".whys");
    for (const one of box.querySelectorAll(".why")) one.hidden = one !== why;
    box.open = true;
    for (const one of root().querySelectorAll("a.said-so[aria-current]")) one.removeAttribute("aria-current");
    for (const one of root().querySelectorAll(`a.said-so[href="${link.hash}"]`)) one.setAttribute("aria-current", "true");
    why.focus({ preventScroll: true });
    why.scrollIntoView({ block: "nearest" });
  });
  document.addEventListener("toggle", (event) => {
    if (event.target.matches?.(".whys") && !event.target.open) for (const one of event.target.querySelectorAll(".why")) one.hidden = false;
  }, true);

  // --- the order -----------------------------------------------------------------------------------------------

  document.addEventListener("pointerdown", (event) => {
    const handle = event.target.closest(".handle");
    if (!handle || event.button !== 0 || drag || waiting) return;
    event.preventDefault();
    handle.setPointerCapture(event.pointerId);
    drag = { part: partOf(handle), from: parts().indexOf(partOf(handle)), pointer: event.pointerId };
    root().classList.add("dragging");   // items show their heads alone, so that the order fits the window
    drag.part.classList.add("held");
  });

  document.addEventListener("pointermove", (event) => {
    if (!drag || event.pointerId !== drag.pointer) return;
    const others = parts().filter((one) => one !== drag.part);
    const after = others.filter((one) => { const box = one.getBoundingClientRect(); return box.top + box.height / 2 < event.clientY; }).at(-1);
    if (after ? drag.part.previousElementSibling !== after : drag.part.previousElementSibling) {
      if (after) after.after(drag.part); else others[0].before(drag.part);
    }
  });

  async function letGo(stay) {
    const { part, from } = drag, list = part.parentElement, at = parts().indexOf(part);
    drag = null;
    root().classList.remove("dragging");
    part.classList.remove("held");
    if (!stay) { part.remove(); list.insertBefore(part, list.children[from] || null); return; }
    if (at === from) return;
    await flush();
    const before = part.previousElementSibling;
    const body = new URLSearchParams({ token: root().dataset.token, version: root().dataset.version, after: before ? before.dataset.item : "0" });
    await fetch(part.dataset.move, { method: "POST", body, headers: { Accept: "text/html" } }).then(async (answer) => swap(await answer.text()));
  }
  document.addEventListener("pointerup", (event) => drag && event.pointerId === drag.pointer && letGo(true));
  document.addEventListener("pointercancel", (event) => drag && event.pointerId === drag.pointer && letGo(false));
  document.addEventListener("keydown", (event) => { if (event.key === "Escape" && drag) letGo(false); });

  // --- what others do ------------------------------------------------------------------------------------------

  function swap(html) {
    const fresh = new DOMParser().parseFromString(html, "text/html").getElementById("episode");
    if (!fresh) return;
    const at = document.activeElement, id = at && root().contains(at) ? at.id : "", range = at?.selectionStart;
    const open = [...root().querySelectorAll("details[open]")].map((one) => `#${partOf(one)?.id} details.${one.className || "plain"}`);
    root().replaceWith(document.adoptNode(fresh));
    prepare();
    for (const one of open) { const details = one.startsWith("#item-") && one.endsWith(".whys") && document.querySelector(one); if (details) details.open = true; }
    const field = id && document.getElementById(id);
    if (!field) return;
    field.focus({ preventScroll: true });
    if (typeof range === "number" && field.setSelectionRange) try { field.setSelectionRange(range, range); } catch { /* no text */ }
  }

  async function look() {
    if (waiting || drag || document.visibilityState !== "visible" || fields().some(isTyped)) return;
    try {
      const answer = await fetch(root().dataset.look, { headers: { Accept: "application/json" } });
      if (!answer.ok || (await answer.json()).mark === root().dataset.mark) return;
      const page = await fetch(location.pathname, { headers: { Accept: "text/html" } });
      const html = await page.text();
      if (page.ok && !waiting && !drag && !fields().some(isTyped)) swap(html);
    } catch { /* the desk is restarting, or the machine sleeps: the next look tells */ }
  }

  function prepare() {
    for (const field of fields()) { saved.set(field, field.value); grow(field); }
    for (const handle of root().querySelectorAll(".handle")) handle.hidden = parts().length < 2;
  }

  document.documentElement.classList.add("live");
  prepare();
  setInterval(look, LOOK_MS);
})();
