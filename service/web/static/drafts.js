// What is typed and not saved is kept in this browser, and stands in its form again when the page is opened next.
//
// A form names its draft by data-draft, a field whose name stands more than once its own part by data-field. Kept are
// the fields that were changed, for so many days, for the account that typed them; gone once they are saved, discarded,
// or somebody logs out. A form's version, state or revision (its hidden field) tells whether what was sent was saved.
"use strict";

(() => {
  const KEEP_MS = 3 * 86400e3;
  const WAIT_MS = 300;
  const who = document.currentScript.dataset.who || "0";
  const PREFIX = "draft ";
  const mine = `${PREFIX}${who} `;
  const timers = new Map();
  let leaving = false;

  const forms = () => [...document.querySelectorAll("form[data-draft]")];
  const keyOf = (form) => mine + form.dataset.draft;
  const plain = (value) => (typeof value === "string" ? value.replace(/\s+/g, " ").trim() : value);
  const markOf = (form) => form.querySelector("input[name=version], input[name=seen], input[name=state]")?.value || "";
  const alarmed = () => [...document.querySelectorAll("[role=alert]")].some((one) => !one.hidden && one.textContent.trim());
  const refused = (form) => Boolean(form.querySelector("[aria-invalid=true]"));

  // --- fields -------------------------------------------------------------------------------------------------------

  function fieldsOf(form) {
    const found = new Map();
    for (const field of form.elements) {
      if (!field.name || ["hidden", "password", "file", "submit", "button", "fieldset"].includes(field.type)) continue;
      let name = field.dataset.field || field.name;
      for (let k = 2; found.has(name); k += 1) name = `${field.name} ${k}`;
      found.set(name, field);
    }
    return found;
  }

  const isTick = (field) => field.type === "checkbox" || field.type === "radio";
  const valueOf = (field) => (isTick(field) ? field.checked : field.value);

  function savedOf(field) {
    if (isTick(field)) return field.defaultChecked;
    if (field.tagName !== "SELECT") return field.defaultValue;
    return ([...field.options].find((option) => option.defaultSelected) || field.options[0])?.value ?? "";
  }

  const changed = (form) => [...fieldsOf(form)].filter(([, field]) => valueOf(field) !== savedOf(field));

  // --- the browser's store, which a private window may refuse -------------------------------------------------------

  function read(key) {
    try {
      return JSON.parse(localStorage.getItem(key));
    } catch {
      return null;
    }
  }

  function write(key, draft) {
    try {
      if (draft === null) localStorage.removeItem(key);
      else localStorage.setItem(key, JSON.stringify(draft));
    } catch {
      // the question before the page is left remains
    }
  }

  function forgetAll(store, but) {
    try {
      for (const key of Object.keys(store)) if (key.startsWith(PREFIX) && !(but && but(key))) store.removeItem(key);
    } catch {
      // as above
    }
  }

  // --- keeping ------------------------------------------------------------------------------------------------------

  function keep(form) {
    timers.delete(form);
    if (!form.isConnected) return;
    const typed = changed(form);
    if (!typed.length) {
      if (!refused(form)) write(keyOf(form), null);
      return;
    }
    write(keyOf(form), {
      at: Date.now(), mark: markOf(form), sent: false,
      fields: Object.fromEntries(typed.map(([name, field]) => [name, valueOf(field)])),
      saved: Object.fromEntries(typed.map(([name, field]) => [name, savedOf(field)])),
    });
  }

  function keepAll() {
    for (const form of [...timers.keys()]) {
      clearTimeout(timers.get(form));
      keep(form);
    }
  }

  document.addEventListener("input", (event) => {
    const form = event.target.form;
    if (!form || !form.dataset.draft) return;
    clearTimeout(timers.get(form));
    timers.set(form, setTimeout(keep, WAIT_MS, form));
  });

  // --- what came of it ----------------------------------------------------------------------------------------------

  // Whether a draft is settled: what the page has is what was typed, or what was sent has been saved.
  function settled(form, draft) {
    if (refused(form)) return false;
    const fields = fieldsOf(form);
    const same = Object.entries(draft.fields).every(([name, value]) => !fields.has(name)
      || plain(savedOf(fields.get(name))) === plain(value));
    return same || (draft.sent && markOf(form) !== draft.mark && !alarmed());
  }

  function bring(form) {
    const draft = read(keyOf(form));
    if (!draft || !draft.fields) return;
    if (settled(form, draft)) {
      write(keyOf(form), null);
      return;
    }
    const fields = fieldsOf(form);
    let since = false;
    for (const [name, value] of Object.entries(draft.fields)) {
      const field = fields.get(name);
      if (!field) continue;
      since ||= plain(savedOf(field)) !== plain(draft.saved[name]);
      if (isTick(field)) field.checked = value;
      else field.value = value;
    }
    if (!changed(form).length) return;
    for (let part = form.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
    say(form, draft, since);
  }

  function say(form, draft, since) {
    const when = new Date(draft.at);
    const today = when.toDateString() === new Date().toDateString();
    const at = when.toLocaleString("en-GB", { ...(today ? {} : { day: "numeric", month: "long" }), hour: "2-digit", minute: "2-digit" });
    const line = document.createElement("p");
    line.className = "unsaved";
    line.setAttribute("role", "status");
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = "Discard it";
    button.addEventListener("click", () => {
      write(keyOf(form), null);
      for (const [, field] of changed(form)) {
        if (isTick(field)) field.checked = savedOf(field);
        else field.value = savedOf(field);
      }
      line.remove();
    });
    const words = `Typed at ${at} and not saved; it stands here again.${since ? " Somebody has saved something else meanwhile: saving this replaces it." : ""}`;
    line.append(words, " ", button);
    form.prepend(line);
  }

  // The page took in a new state of its forms by itself.
  document.addEventListener("shown", () => {
    for (const form of forms()) {
      const draft = read(keyOf(form));
      if (draft && draft.fields && settled(form, draft)) write(keyOf(form), null);
    }
  });

  // --- leaving ------------------------------------------------------------------------------------------------------

  window.addEventListener("submit", (event) => {  // after every listener of the page
    const form = event.target;
    if (form.getAttribute("action")?.endsWith("/logout")) {
      leaving = true;
      timers.clear();
      forgetAll(localStorage);
      forgetAll(sessionStorage);
      return;
    }
    keepAll();
    const draft = form.dataset.draft && read(keyOf(form));
    if (draft) write(keyOf(form), { ...draft, sent: true });
    if (!event.defaultPrevented && form.target !== "_blank") leaving = true;
  });

  window.addEventListener("beforeunload", (event) => {
    keepAll();
    if (!leaving && forms().some((form) => changed(form).length)) event.preventDefault();
  });
  window.addEventListener("pagehide", keepAll);
  window.addEventListener("pageshow", () => { leaving = false; });

  const old = (key) => Date.now() - (read(key)?.at || 0) > KEEP_MS;
  try {
    forgetAll(localStorage, (key) => key.startsWith(mine) && !old(key));
  } catch {
    // no store at all
  }
  for (const gone of document.querySelectorAll("[data-draft-done]")) write(mine + gone.dataset.draftDone, null);
  for (const form of forms()) bring(form);
})();
