// A page that waits for pictures to be placed: it says how they stand, and shows them once that has changed.
"use strict";

(() => {
  const line = document.getElementById("placing");
  if (!line) return;
  const words = line.querySelector("span");
  const link = line.querySelector("a");
  link.hidden = true;
  let typed = false;
  document.addEventListener("input", () => { typed = true; });

  async function look() {
    if (document.visibilityState !== "visible") return;
    try {
      const answer = await fetch(line.dataset.address, { headers: { Accept: "application/json" } });
      if (!answer.ok) return;
      const told = await answer.json();
      if (told.state === line.dataset.state) {
        if (words.textContent !== told.words) words.textContent = told.words;
      } else if (typed) {  // what somebody is writing is not to be lost
        words.textContent = told.words;
        link.hidden = false;
      } else {
        location.reload();
      }
    } catch {
      // the desk is restarting, or the machine sleeps: the next look tells
    }
  }
  setInterval(look, 2000);
})();
