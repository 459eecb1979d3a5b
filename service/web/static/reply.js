// A reply is drafted anew when another language is chosen, unless its words were changed on the page.
"use strict";

(() => {
  const anew = document.querySelector("form.anew");
  const form = document.querySelector("form[data-draft]");
  if (!anew) return;
  const button = anew.querySelector("button");
  const changed = () => form && [...form.elements].some((field) => field.type !== "hidden" && "defaultValue" in field && field.value !== field.defaultValue);

  button.hidden = true;
  anew.addEventListener("change", () => {
    if (!changed()) {
      anew.submit();
      return;
    }
    for (const select of anew.querySelectorAll("select")) {
      for (const option of select.options) option.selected = option.defaultSelected;
    }
    anew.querySelector("[role=status]").hidden = false;
  });
})();
