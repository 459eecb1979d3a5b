// What keeps the page on air and the presenter's window in step: directly within one browser, through the desk between
// machines. Without the desk both go on with what they have; when it answers again, the later step counts.
import { FRESH } from "./air_steps.js";

const EVERY_MS = 1000, PLAN_EVERY = 5;

export class AirLine {
  // data: addresses (plan, state), the form's token, the edition; heard: {plan(plan), state(state), loaded(told)}
  constructor(data, heard) {
    this.data = data;
    this.heard = heard;
    this.plan = null;
    this.state = { ...FRESH };
    this.at = 0;            // when the state was made, ms of the desk's clock; the later counts
    this.ahead = 0;         // how far that clock is before this machine's, as far as it is known, ms
    this.mark = "";
    this.answers = null;    // whether the desk does
    this.unsent = false;
    this.channel = new BroadcastChannel(`air ${data.edition}`);
    this.channel.addEventListener("message", (event) => this.#told(event.data));
  }

  async open() {
    this.channel.postMessage({ ask: true });
    for (let turn = 0; ; turn++) {
      await this.#look(turn % PLAN_EVERY === 0);
      await new Promise((done) => setTimeout(done, EVERY_MS));
    }
  }

  // A state that was made here: told to everybody.
  put(state) {
    this.at = Math.max(Date.now() + this.ahead, this.at + 1);
    this.#take(state, this.at);
    this.channel.postMessage({ state, at: this.at });
    this.unsent = true;
    this.#send();
  }

  report(told) { this.channel.postMessage({ loaded: told }); }

  #take(state, at) {
    this.state = state;
    this.at = at;
    this.heard.state?.(state);
  }

  #told(message) {
    if (message.ask) { if (this.at) this.channel.postMessage({ state: this.state, at: this.at }); }
    else if (message.loaded) this.heard.loaded?.(message.loaded);
    else if (message.at > this.at) this.#take(message.state, message.at);
  }

  async #look(planToo) {
    try {
      const answer = await fetch(this.data.state);
      if (!answer.ok) throw new Error(String(answer.status));
      const told = await answer.json();
      this.ahead = told.now - Date.now();
      const later = told.at > this.at;
      if (later) this.#take(told.state, told.at);
      if (planToo || told.mark !== this.mark || !this.plan) await this.#fetchPlan();
      this.#answering(true);   // with what was picked meanwhile: the next step is one of that plan
      if (!later && (told.at < this.at || this.unsent)) await this.#send();
    } catch { this.#answering(false); }
  }

  async #fetchPlan() {
    const answer = await fetch(this.data.plan);
    if (!answer.ok) return;
    const plan = await answer.json();
    this.mark = plan.mark;
    this.plan = plan;
    this.heard.state?.(this.state);
    this.heard.plan?.(plan);
  }

  async #send() {
    if (!this.data.token) return;   // a page that only shows
    try {
      const answer = await fetch(this.data.state, {
        method: "POST", headers: { "Content-Type": "application/json", "X-Form-Token": this.data.token },
        body: JSON.stringify({ state: this.state, at: this.at }),
      });
      if (answer.status === 409) this.#refused(await answer.json());
      else this.unsent = !answer.ok;
    } catch { this.#answering(false); }
  }

  // The desk takes no count from its future: a step made here is counted anew, any other gives way to what stands there.
  #refused(told) {
    this.ahead = told.now - Date.now();
    if (this.unsent) this.at = Math.max(told.now, told.at + 1);
    else this.#take({ ...FRESH, ...told.state }, told.at);
  }

  #answering(does) {
    if (this.answers === does) return;
    this.answers = does;
    document.body.dataset.desk = does ? "answers" : "silent";
    this.heard.desk?.(does);
  }
}
