// "We are on air": what is shown from then on counts, see `as_run`. The window stays as it is.

for (const form of document.querySelectorAll("form.on-air")) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const pressed = event.submitter, body = new FormData(form);
    if (pressed.name) body.append(pressed.name, pressed.value);
    try {
      const answer = await fetch(form.action, { method: "POST", body, redirect: "manual" });
      if (answer.type !== "opaqueredirect" && !answer.ok) throw new Error(String(answer.status));
      for (const button of form.querySelectorAll("button")) button.hidden = button === pressed;
    } catch {
      pressed.textContent = "Not noted: try again";
    }
    pressed.blur(); // space and enter step on again
  });
}
