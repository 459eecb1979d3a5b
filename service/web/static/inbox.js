// The inbox: arrows move over the cards, filters answer at once, and the line of work keeps up with the store.
"use strict";

(() => {
  const cards = [...document.querySelectorAll(".card")];
  const links = cards.map((card) => card.querySelector("h3 a"));
  const search = document.getElementById("q");
  for (const hint of document.querySelectorAll(".inbox-keys")) hint.hidden = false;

  const form = document.querySelector(".narrowing");
  if (form) {
    form.addEventListener("change", (event) => {
      if (event.target !== search) form.requestSubmit();
    });
  }

  // The card above or below is the one whose middle lies nearest in the next row, as the eye sees it.
  function below(from, down) {
    const here = cards[from].getBoundingClientRect();
    let best = -1;
    let least = Infinity;
    cards.forEach((card, k) => {
      const box = card.getBoundingClientRect();
      const rows = down ? box.top - here.top : here.top - box.top;
      if (rows < here.height * 0.4) return;
      const far = rows * 3 + Math.abs(box.left + box.width / 2 - here.left - here.width / 2);
      if (far < least) [best, least] = [k, far];
    });
    return best;
  }

  function step(key) {
    const now = links.indexOf(document.activeElement);
    let next = now;
    if (now < 0) next = 0;
    else if (key === "ArrowRight") next = Math.min(now + 1, links.length - 1);
    else if (key === "ArrowLeft") next = Math.max(now - 1, 0);
    else next = below(now, key === "ArrowDown");
    if (next < 0 || !links[next]) return false;
    links[next].focus();
    cards[next].scrollIntoView({ block: "nearest" });
    return true;
  }

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.closest("input, select, textarea")) {
      if (event.key === "Escape") event.target.blur();
      return;
    }
    if (event.key === "/" && search) {
      search.focus();
      search.select();
      event.preventDefault();
    } else if (event.key === "n" && more && !more.hidden) {
      more.click();
    } else if (event.key.startsWith("Arrow") && cards.length && step(event.key)) {
      event.preventDefault();
    }
  });

  // What waits, and whether something new was placed since this page was made; nothing on the page moves by itself.
  const work = document.getElementById("work");
  const more = work && work.querySelector("a");
  async function look() {
    try {
      const answer = await fetch(work.dataset.address, { headers: { Accept: "application/json" } });
      if (!answer.ok) return;
      const told = await answer.json();
      const line = work.querySelector("span");
      if (line.textContent !== told.words) line.textContent = told.words;
      more.hidden = !(told.latest > Number(work.dataset.latest));
    } catch {
      // the desk is restarting, or the machine sleeps: the next look tells
    }
  }
  if (work) setInterval(() => document.visibilityState === "visible" && look(), 4000);
})();
