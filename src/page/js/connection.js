// Contact with the program: a look at /api/state more than once a second, and the journal's lines as they come. Both come back by
// themselves; docs/web.md says when to begin anew.
import { moment, setClock, since } from "./clock.js";

const lookEvery = 700; // ms
const lookPatience = 2500; // ms
const lostAfter = 2.3; // s since the program was asked what it last answered; with the drawing that stays below three
const streamSilence = 6; // s without a line while the program has newer ones: the stream is dead

export class Connection {
  /// in  owner  { onState(state), onLine(number, line), onAnew(state), onRefused(fault, status) }
  constructor(owner) {
    this.owner = owner;
    this.run = undefined;
    this.job = undefined;
    this.last = 0; // number of the newest line that came
    this.answered = undefined; // when the program was asked what it answered last
    this.failed = false; // it was asked since, and nobody answered
  }

  begin() {
    this.#look();
  }

  get contact() {
    return this.answered !== undefined && since(this.answered) < lostAfter;
  }

  async #look() {
    const asked = moment();
    try {
      const answer = await fetch("/api/state", { cache: "no-store", signal: AbortSignal.timeout(lookPatience) });
      if (answer.ok) this.#onState(await answer.json(), asked);
      else this.owner.onRefused(await answer.json(), answer.status);
    } catch {
      this.failed = true; // `contact` runs out by itself
    }
    setTimeout(() => this.#look(), Math.max(100, lookEvery - since(asked) * 1000));
  }

  #onState(state, asked) {
    this.answered = asked;
    this.failed = false;
    setClock(state.t, asked);
    const anotherJob = state.job !== this.job;
    const cutBack = state.run !== this.run && state.line < this.last;
    if (anotherJob || cutBack) {
      this.last = state.line;
      this.owner.onAnew(state);
    }
    const restarted = this.run !== undefined && state.run !== this.run;
    this.run = state.run;
    this.job = state.job;
    this.owner.onState(state);
    const dead = this.lineAt !== undefined && state.line > this.last && since(this.lineAt) > streamSilence;
    if (!this.stream || this.stream.readyState === EventSource.CLOSED || anotherJob || restarted || dead) this.#follow();
  }

  #follow() {
    this.stream?.close();
    this.lineAt = moment();
    const stream = new EventSource(`/api/events?after=${this.last}`);
    this.stream = stream;
    stream.onmessage = (event) => {
      if (stream !== this.stream) return;
      this.lineAt = moment();
      this.last = Number(event.lastEventId);
      this.owner.onLine(this.last, JSON.parse(event.data));
    };
  }
}
