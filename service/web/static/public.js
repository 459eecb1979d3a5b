// The forms' script: pictures chosen one after the other, dropped or pasted; a bar while they go; nothing typed is lost.
// Without it the form works as a plain one.
"use strict";

(() => {
  document.documentElement.classList.add("scripted");

  for (const button of document.querySelectorAll("[data-copy]")) {
    const field = document.getElementById(button.dataset.copy);
    if (!field.value) field.value = location.href;  // a receipt whose page does not know its address
    button.hidden = field.parentElement.hidden = false;
    button.addEventListener("click", async () => {
      field.select();
      try {
        await navigator.clipboard.writeText(field.value);
      } catch {
        document.execCommand("copy");  // pages that are not https have no clipboard
      }
      button.textContent = button.dataset.copied || "Copied";
    });
  }

  const form = document.querySelector("form[data-upload]");
  if (!form) return;
  const input = form.querySelector("input[type=file]");
  const list = form.querySelector(".chosen");
  const drop = form.querySelector(".drop");
  const notice = form.querySelector(".notice");
  const button = form.querySelector(".go button");
  const sending = form.querySelector(".sending");
  const bar = sending.querySelector("progress");
  const told = sending.querySelector("p");
  const most = Number(input.dataset.most);
  const mostBytes = Number(input.dataset.bytes);
  const mostTotal = Number(input.dataset.total);
  // sentences in the page's language, by the English ones; none on an English page
  const words = JSON.parse(form.dataset.words || "{}");
  const put = (sentence, values = {}) => (words[sentence] || sentence).replace(/\{(\w+)\}/g, (all, name) => values[name] ?? all);
  const size = (bytes) => (bytes >= 1e6 ? `${(bytes / 1e6).toFixed(1)} MB` : `${Math.max(1, Math.round(bytes / 1e3))} kB`);
  let chosen = [];
  let busy = false;

  form.noValidate = true;  // the page's own sentences instead of the browser's bubbles
  form.querySelector(".dropping").hidden = matchMedia("(pointer: coarse)").matches;

  // --- pictures ---------------------------------------------------------------------------------------------------

  const same = (a, b) => a.name === b.name && a.size === b.size && a.lastModified === b.lastModified;

  function add(files) {
    for (const file of files) if (!chosen.some((have) => same(have, file))) chosen.push(file);
    show();
  }

  function show() {
    const carrier = new DataTransfer();
    for (const file of chosen) carrier.items.add(file);
    input.files = carrier.files;
    list.hidden = !chosen.length;
    list.replaceChildren(...chosen.map(row));
    const total = chosen.reduce((sum, file) => sum + file.size, 0);
    complain("pictures", chosen.length > most ? put("Please send at most {most} pictures at a time.", { most })
      : total > mostTotal ? put("Together they have {size}; {most} can go at once. Please leave some out.", { size: size(total), most: size(mostTotal) })
        : chosen.some((file) => file.size > mostBytes) ? put("One is too large, see above.") : "");
  }

  function row(file) {
    const item = document.createElement("li");
    const canvas = document.createElement("canvas");
    canvas.width = canvas.height = 108;
    canvas.setAttribute("aria-hidden", "true");
    preview(file, canvas);
    const words = document.createElement("span");
    words.className = "file";
    words.textContent = file.name;
    const small = document.createElement("small");
    small.textContent = file.size > mostBytes ? put("{size}: more than {most}", { size: size(file.size), most: size(mostBytes) }) : size(file.size);
    item.classList.toggle("wrong", file.size > mostBytes);
    words.append(small);
    const away = document.createElement("button");
    away.type = "button";
    away.textContent = "×";
    away.setAttribute("aria-label", put("Leave out {name}", { name: file.name }));
    away.addEventListener("click", () => {
      chosen = chosen.filter((other) => other !== file);
      show();
      (list.querySelector("button") || input).focus();
    });
    item.append(canvas, words, away);
    return item;
  }

  // One after the other: a dozen pictures decoded at once are too much for a phone.
  let queue = Promise.resolve();
  function preview(file, canvas) {
    queue = queue.then(async () => {
      if (!canvas.isConnected || file.size > mostBytes) return;
      try {
        const bitmap = await createImageBitmap(file, { resizeHeight: 108, resizeQuality: "medium" });
        canvas.getContext("2d").drawImage(bitmap, (108 - bitmap.width) / 2, 0);
        bitmap.close();
      } catch {
        // a kind that this browser does not show; it is taken all the same
      }
    });
  }

  input.addEventListener("change", () => add([...input.files]));
  const carriesFiles = (event) => [...event.dataTransfer.types].includes("Files");
  document.addEventListener("dragover", (event) => {
    if (!carriesFiles(event)) return;
    event.preventDefault();
    drop.classList.add("over");
  });
  document.addEventListener("dragleave", (event) => event.relatedTarget || drop.classList.remove("over"));
  document.addEventListener("drop", (event) => {
    if (!carriesFiles(event)) return;
    event.preventDefault();
    drop.classList.remove("over");
    if (!busy) add([...event.dataTransfer.files]);
  });
  document.addEventListener("paste", (event) => {
    const files = [...(event.clipboardData?.files || [])];
    const typing = event.target instanceof Element && event.target.matches("input, textarea");
    if (!files.length || busy || (typing && event.clipboardData.getData("text/plain"))) return;
    event.preventDefault();
    // pasted pictures all bear one name; the hour tells them apart
    add(files.map((file, k) => /^image\.\w+$/.test(file.name)
      ? new File([file], file.name.replace(".", `-${Date.now()}-${k}.`), { type: file.type, lastModified: Date.now() + k })
      : file));
  });

  // --- what was typed ---------------------------------------------------------------------------------------------

  // Kept for this tab alone: a phone may throw the page away while the camera is open. Ticks are not kept.
  const fields = [...form.querySelectorAll("input:not([type=hidden], [type=file], [type=checkbox]), textarea")];
  const drafts = `draft ${location.pathname}`;
  const remember = (value) => {
    try {
      if (value === null) sessionStorage.removeItem(drafts);
      else sessionStorage.setItem(drafts, JSON.stringify(value));
    } catch {
      // private windows may refuse
    }
  };
  try {
    const draft = JSON.parse(sessionStorage.getItem(drafts) || "{}");
    for (const field of fields) if (!field.value && draft[field.name]) field.value = draft[field.name];
  } catch {
    remember(null);
  }
  form.addEventListener("input", () => remember(Object.fromEntries(fields.map((field) => [field.name, field.value]))));

  // The visitor's own clock, where it is another than the programme's.
  const zone = form.elements.zone;
  const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if (zone && own && form.dataset.upload !== "desk" && ![...zone.options].some((option) => option.value === own)) {
    zone.add(new Option(put("by the clock in {town}", { town: own.split("/").pop().replaceAll("_", " ") }), own), 0);
    if (!form.elements.taken.value) zone.value = own;
  }

  // --- sending ----------------------------------------------------------------------------------------------------

  function complain(name, sentence) {
    const place = document.getElementById(`${name}-complaint`);
    const field = document.getElementById(name);
    if (!place || !field) return false;
    place.textContent = sentence;
    place.hidden = !sentence;
    if (sentence) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
    return Boolean(sentence);
  }

  function say(sentence) {
    notice.querySelector("p").textContent = sentence;
    notice.hidden = !sentence;
  }

  function lacks() {
    const found = {};
    if (!chosen.length) found.pictures = put("Please choose at least one picture.");
    else if (!document.getElementById("pictures-complaint").hidden) {
      found.pictures = document.getElementById("pictures-complaint").textContent;
    }
    for (const field of form.querySelectorAll("[required]:not([type=file])")) {
      if (!field.validity.valid) found[field.id] = field.dataset.lacking || put("Please tick this, or we cannot take the pictures.");
    }
    return found;
  }

  function stop(complaints, sentence) {
    busy = false;
    button.disabled = false;
    sending.hidden = true;
    for (const place of form.querySelectorAll(".complaint")) {
      const name = place.id.replace(/-complaint$/, "");
      complain(name, complaints[name] || "");
    }
    say(sentence);
    const first = form.querySelector("[aria-invalid=true]");
    if (first) first.focus();
    else if (sentence) notice.focus();
  }

  function send(again) {
    const request = new XMLHttpRequest();
    let shown = -1;
    request.open("POST", form.action);
    request.setRequestHeader("Accept", "application/json");
    request.setRequestHeader("X-Form-Token", form.elements.token.value);  // read before the pictures come
    request.upload.addEventListener("progress", (event) => {
      if (!event.lengthComputable) return;
      const share = Math.round((event.loaded / event.total) * 100);
      bar.value = share;
      const tenth = Math.floor(share / 10);
      if (tenth === shown) return;  // a reader of screens need not hear every percent
      shown = tenth;
      told.textContent = share < 100
        ? put("{sent} of {all} sent", { sent: size(event.loaded), all: size(event.total) }) : put("All sent; it is being kept …");
    });
    request.addEventListener("load", () => {
      let answer = {};
      try {
        answer = JSON.parse(request.responseText);
      } catch {
        // a proxy's own page
      }
      if (answer.go && request.status < 300) {
        remember(null);
        busy = false;
        location.assign(answer.go);
        return;
      }
      if (answer.token) form.elements.token.value = answer.token;
      const complaints = answer.complaints || {};
      if (request.status === 400 && answer.token && !again) send(true);  // the page was open for too long
      else if (Object.keys(complaints).length) stop(complaints, "");
      else stop({}, answer.notice || (request.status === 413 ? put("That is more than we can take at once. Please send fewer pictures.")
        : put("This did not work. Everything is still here: please try again in a few minutes.")));
    });
    const broken = () => stop({}, put("The line broke after {percent} %. Everything is still here: please press Send again.", { percent: bar.value }));
    request.addEventListener("error", broken);
    request.addEventListener("timeout", broken);
    request.send(new FormData(form));
  }

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (busy) return;
    const found = lacks();
    if (Object.keys(found).length) {
      stop(found, "");
      return;
    }
    stop({}, "");
    busy = true;
    button.disabled = true;
    sending.hidden = false;
    bar.value = 0;
    told.textContent = put("Sending …");
    send(false);
  });
  window.addEventListener("beforeunload", (event) => busy && event.preventDefault());
})();
