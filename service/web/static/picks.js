// Picking from anywhere at the desk: the button, or the key p for the selected picture, puts it into the rundown and
// says where it stands; nothing else on the page moves.
"use strict";

(() => {
  const forms = () => [...document.querySelectorAll("form.pick")];
  if (!forms().length) return;
  const said = document.createElement("p");
  said.className = "pick-said";
  said.setAttribute("role", "status");
  document.body.append(said);
  const busy = new Set();

  const numberOf = (form) => form.querySelector("[name=picture_id]").value;

  function standsAt(picture, told) {
    for (const form of forms().filter((one) => numberOf(one) === picture)) {
      const button = form.querySelector("button");
      if (!button) continue;
      const link = document.createElement("a");
      link.className = "picked";
      link.href = told.address;
      link.textContent = `In the rundown, place ${told.place}`;
      const had = document.activeElement === button;
      button.replaceWith(link);
      if (had) link.focus();
    }
  }

  async function pick(form) {
    const picture = numberOf(form);
    if (busy.has(picture)) return;
    busy.add(picture);
    try {
      const answer = await fetch(form.getAttribute("action"), {
        method: "POST", body: new URLSearchParams(new FormData(form)), headers: { Accept: "application/json" },
      });
      const told = await answer.json();
      said.textContent = told.notice;
      if (answer.ok) standsAt(picture, told);
    } catch {
      said.textContent = "The desk does not answer; the picture was not picked. Try again.";
    } finally {
      busy.delete(picture);
    }
  }

  document.addEventListener("submit", (event) => {
    if (!event.target.matches("form.pick")) return;
    event.preventDefault();
    pick(event.target);
  });

  // The picture that has the focus somewhere in it; or the only one of the page.
  function selected() {
    const near = document.activeElement.closest("[data-picture], .card")?.querySelector("form.pick");
    return near || (forms().length === 1 ? forms()[0] : null);
  }

  document.addEventListener("keydown", (event) => {
    if (event.key !== "p" || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    if (event.target.closest("input:not([type=checkbox], [type=radio]), select, textarea")) return;
    const form = selected();
    event.preventDefault();
    if (form) pick(form);
    else said.textContent = "Select a picture first, with the arrows; then p puts it into the rundown.";
  });
})();
