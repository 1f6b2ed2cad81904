// What the page knows of the job: from /api/state about each second, and sooner from the journal's lines.
const kinds = ["thermal", "window", "check", "forecast", "verdict"];
export const fluid = "fluid_temperature";

export class Model {
  constructor() {
    this.clear();
  }

  clear() {
    this.state = undefined; // the last answer of /api/state
    this.terms = {};
    this.entries = [];
    this.newest = {}; // kind: line
    this.readings = {}; // signal: line
    this.plug = undefined; // { out, since_t }
    this.lastLine = 0;
  }

  /// Takes an answer of /api/state, unless the stream has told more meanwhile.
  onState(state) {
    this.state = state;
    for (const kind of kinds) this.#take(this.newest, kind, state.newest[kind]?.line);
    for (const [signal, one] of Object.entries(state.newest.readings ?? {})) this.#take(this.readings, signal, one.line);
    if (state.line >= this.lastLine) this.plug = state.plug;
  }

  #take(where, key, line) {
    if (line && !(where[key]?.t > line.t)) where[key] = line;
  }

  onLine(number, line) {
    this.lastLine = number;
    if (kinds.includes(line.kind)) this.newest[line.kind] = line;
    if (line.kind === "reading") this.#onReading(line);
    if (line.kind === "entry") this.#onEntry(line);
  }

  #onReading(line) {
    if (line.quality === "by hand") {
      this.readings.by_hand = line;
      return;
    }
    const before = this.readings[line.signal];
    // The first unit that gave a value stays the source: two units never take turns.
    if (before && before.ecu !== line.ecu && (before.value !== undefined || line.value === undefined)) return;
    this.readings[line.signal] = line;
  }

  #onEntry(line) {
    this.entries = [...this.entries.filter((one) => one.id !== line.id), line];
    if (line.name !== "plug_out" && line.name !== "plug_in") return;
    const since_t = line.happened_t ?? line.t;
    // What is entered late changes nothing that happened after it.
    if (!this.plug || since_t >= this.plug.since_t) this.plug = { out: line.name === "plug_out", since_t };
  }

  /// Those of before the page was opened.
  addEntries(lines) {
    const known = new Set(this.entries.map((one) => one.id));
    this.entries = [...lines.filter((one) => !known.has(one.id)), ...this.entries];
  }

  get summary() {
    return this.state?.summary ?? {};
  }
}
