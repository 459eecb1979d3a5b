// Drafts under one another: keys move and decide, and each is ticked as seen once its picture and its last line were there.
//
// The keys act on the draft that has the focus, and nowhere else. One that was not seen is not approved.
"use strict";

(() => {
  const drafts = [...document.querySelectorAll(".draft")];
  if (!drafts.length) return;
  const count = document.getElementById("count");
  const every = document.getElementById("all-seen");
  const tickOf = (draft) => draft.querySelector(".tick input");
  const imageOf = (draft) => draft.querySelector(".beside img");
  const read = new Set();
  document.querySelector(".keys").hidden = false;

  function tell() {
    const ticked = drafts.filter((draft) => tickOf(draft).checked).length;
    count.textContent = `${ticked} of ${drafts.length} seen`;
    every.disabled = !ticked;
  }

  const changed = (draft) => [...draft.querySelectorAll("details input, details textarea")].some(
    (field) => field.type !== "hidden" && field.value !== field.defaultValue);
  const drawn = (draft) => !imageOf(draft) || (imageOf(draft).complete && imageOf(draft).naturalWidth > 0);
  const seen = (draft) => read.has(draft) && drawn(draft);

  function look(draft) {
    const tick = tickOf(draft);
    tick.disabled = !seen(draft) || changed(draft);
    if (tick.disabled) tick.checked = false;
    else if (!tick.dataset.told) tick.checked = true;
    draft.querySelector(".approve").disabled = tick.disabled;
    tell();
  }

  // The head and the last line of the words were both in view, and with them the picture that stands beside or above.
  const ends = new Map();
  const watch = new IntersectionObserver((entries) => {
    for (const entry of entries) {
      if (!entry.isIntersecting) continue;
      const draft = entry.target.closest(".draft");
      const part = entry.target.matches(".subject") ? "top" : "end";
      ends.set(draft, new Set([...(ends.get(draft) || []), part]));
      if (ends.get(draft).size < 2) continue;
      read.add(draft);
      look(draft);
    }
  }, { threshold: 0.9 });

  for (const draft of drafts) {
    const tick = tickOf(draft);
    watch.observe(draft.querySelector(".subject"));
    watch.observe(draft.querySelector(".end"));
    imageOf(draft)?.addEventListener("load", () => look(draft));
    tick.addEventListener("change", () => {
      tick.dataset.told = "yes";
      tell();
    });
    draft.addEventListener("input", () => look(draft));
    look(draft);
  }

  function go(draft) {
    if (!draft) return;
    draft.focus({ preventScroll: true });
    draft.scrollIntoView({ block: "start" });
  }

  for (const link of document.querySelectorAll(".skip-on")) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      go(document.querySelector(link.getAttribute("href")));
    });
  }

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const draft = event.target.closest(".draft");
    if (!draft) return;
    if (event.target.closest("input:not([type=checkbox]), textarea, select")) {
      if (event.key === "Escape") draft.focus();
      return;
    }
    const at = drafts.indexOf(draft);
    const key = event.key.toLowerCase();
    if (key === "j" || key === "s") go(drafts[at + 1] || draft);
    else if (key === "k") go(drafts[at - 1] || draft);
    else if (key === "a") draft.querySelector(".approve").click();
    else if (key === "e") {
      draft.querySelector("details").open = true;
      draft.querySelector("textarea").focus();
    } else return;
    event.preventDefault();
  });

  const [, place, number] = location.hash.match(/^#(reply|after)-(\d+)$/) || [];
  const numberOf = (draft) => Number(draft.id.split("-")[1]);
  const next = drafts.find((draft) => (place === "after" ? numberOf(draft) > Number(number) : numberOf(draft) === Number(number)));
  go(next || drafts[0]);
})();
