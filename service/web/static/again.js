// A picture that is still being drawn (after a backup was restored) is asked for again until it is there.
(() => {
  "use strict";
  const MOST = 40, MS = 1500;
  const tried = new WeakMap();

  function again(image) {
    const count = tried.get(image) || 0;
    if (count >= MOST || !/\/pictures\/\d+\//.test(image.src)) return;
    tried.set(image, count + 1);
    image.title = "Being drawn…";
    setTimeout(() => { image.src = image.src.replace(/#.*$/, ""); }, MS);
  }

  document.addEventListener("error", (event) => {
    if (event.target instanceof HTMLImageElement) again(event.target);
  }, true);
  document.addEventListener("load", (event) => {
    if (event.target instanceof HTMLImageElement && tried.has(event.target)) event.target.removeAttribute("title");
  }, true);
  for (const image of document.images) if (image.complete && !image.naturalWidth) again(image);
})();
