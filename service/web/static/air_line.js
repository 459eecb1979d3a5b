// What keeps the page on air and the presenter's window in step: directly within one browser, between machines by the
// desk, which tells each change at once over a socket and is asked each second besides. Without the desk all go on with
// what they have; when it answers again, the later step counts.
import { FRESH } from "./air_steps.js";

const EVERY_MS = 1000, PLAN_EVERY = 5, POINT_MS = 33;

export class AirLine {
  // data: addresses (plan, state, socket), the form's token, the edition; heard: {plan(plan), state(state),
  // loaded(told), point(at), desk(does)}
  constructor(data, heard) {
    this.data = data;
    this.heard = heard;
    this.plan = null;
    this.state = { ...FRESH };
    this.pages = null;      // how many pages on air ask the desk
    this.stopped = [];      // items that may not be shown any more
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
      await this.#look(turn % PLAN_EVERY === 0 || Boolean(this.plan?.making.length));
      if (this.answers && !this.socket) this.#listen();
      await new Promise((done) => setTimeout(done, EVERY_MS));
    }
  }

  // A state that was made here: told to everybody.
  put(state) {
    this.at = Math.max(Math.round(Date.now() + this.ahead), this.at + 1);
    this.#take(state, this.at);
    this.channel.postMessage({ state, at: this.at });
    this.unsent = true;
    this.#send();
  }

  // Where somebody points, or null; as often as a hand moves, told thirty times a second.
  point(at) {
    clearTimeout(this.later);
    const wait = this.pointed + POINT_MS - Date.now();
    if (at && wait > 0) { this.later = setTimeout(() => this.point(at), wait); return; }
    this.pointed = Date.now();
    this.channel.postMessage({ point: at });
    if (this.socket?.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify({ do: "point", ...at }));
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
    else if ("point" in message) this.heard.point?.(message.point);
    else if (message.at > this.at) this.#take(message.state, message.at);
  }

  // A line that is cut is opened anew when the desk answers again.
  #listen() {
    const address = new URL(this.data.socket, location.href);
    address.protocol = address.protocol.replace("http", "ws");
    const socket = this.socket = new WebSocket(address);
    socket.addEventListener("message", (event) => {
      const told = JSON.parse(event.data);
      if (told.is === "point") this.heard.point?.("x" in told ? { x: told.x, y: told.y } : null);
      else if (told.is === "state" && told.at > this.at) this.#take(told.state, told.at);
    });
    const lost = () => { if (this.socket === socket) setTimeout(() => { this.socket = null; }, 5 * EVERY_MS); };
    socket.addEventListener("close", lost);
  }

  async #look(planToo) {
    try {
      const answer = await fetch(this.data.page ? `${this.data.state}?page=${this.data.page}` : this.data.state);
      if (!answer.ok) throw new Error(String(answer.status));
      const told = await answer.json();
      this.ahead = told.now - Date.now();
      const stopped = told.stopped || [], gone = `${stopped} ${told.withdrawn}`;
      const changed = gone !== this.gone || told.pages !== this.pages;
      this.gone = gone;
      this.pages = told.pages;
      this.stopped = stopped;
      const later = told.at > this.at;
      if (later) this.#take(told.state, told.at); else if (changed) this.heard.state?.(this.state);
      if (planToo || changed || !this.answers || !this.plan) await this.#fetchPlan();
      this.#answering(true);   // with what was picked meanwhile: the next step is one of that plan
      if (!later && (told.at < this.at || this.unsent)) await this.#send();
    } catch { this.#answering(false); }
  }

  async #fetchPlan() {
    const answer = await fetch(this.data.plan);
    if (!answer.ok) return;
    const plan = await answer.json();
    if (plan.mark === this.mark) return;
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
