// Entries on their way. Each has an id of its own and is sent under it until the program says that it is recorded; until
// then it lies in localStorage, also when the page is closed or the tablet's battery is empty.
import { setting } from "./settings.js";
import { t } from "./words.js";

const kept = "sumplog.outbox";
const againAfter = 2000; // ms
const patience = 15000; // ms; the program answers within ten seconds
const longestAgo = 600; // s; the program takes nothing that is older
const moments = new Set(["plug_out", "plug_in", "level_seen", "reading_by_hand", "fluid_out", "fluid_in", "fluid_added",
  "position_held", "selector_cycle_done", "stage_begun", "stage_ended", "cool_down", "scan", "read_once"]);

function read() {
  try {
    return JSON.parse(localStorage.getItem(kept) ?? "[]");
  } catch {
    return [];
  }
}

export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return `page-${Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("")}`;
}

export class Outbox {
  /// in  owner  { job(), run(): id or undefined, writes(): whether the program's disk takes what comes, onChange(waiting, refused) }
  constructor(owner) {
    this.owner = owner;
    this.waiting = read();
    this.refused = [];
    this.busy = false;
    this.again = undefined; // the timer of the next round
  }

  begin() {
    this.owner.onChange(this.waiting, this.refused);
    this.#send();
  }

  /// in  ago_s  so many seconds before now
  ///     id     only where several pages make the same entry; else a new one
  enter(name, fields = {}, ago_s = 0, id = newId()) {
    const by = setting("name").trim();
    const entry = { id, job: this.owner.job(), name, fields: by && !fields.by ? { ...fields, by } : fields, at: Date.now() - ago_s * 1000, said: ago_s };
    this.waiting.push(entry);
    this.#changed();
    this.#send();
    return entry.id;
  }

  forget(id) {
    this.refused = this.refused.filter((one) => one.entry.id !== id);
    this.#changed();
  }

  #changed() {
    try {
      localStorage.setItem(kept, JSON.stringify(this.waiting));
    } catch {
      // Without storage it waits in memory.
    }
    this.owner.onChange(this.waiting, this.refused);
  }

  #done(entry, fault) {
    this.waiting = this.waiting.filter((one) => one.id !== entry.id);
    if (fault) this.refused.push({ entry, fault });
    this.#changed();
  }

  async #send() {
    if (this.busy) return;
    this.busy = true;
    const tried = new Set();
    for (let next; (next = this.#next(tried)) !== undefined;) {
      tried.add(next.id);
      if (!(await this.#one(next))) break;
    }
    this.busy = false;
    clearTimeout(this.again);
    if (this.waiting.length > 0) this.again = setTimeout(() => this.#send(), againAfter);
  }

  /// In the order in which they were made. Those that the program has and could not write yet come last: they have taken effect.
  #next(tried) {
    const left = this.waiting.filter((one) => !tried.has(one.id));
    return left.find((one) => !this.#held(one)) ?? left[0];
  }

  /// The program keeps it in memory, and has not been started anew since.
  #held(entry) {
    return entry.held !== undefined && entry.held.run === this.owner.run();
  }

  /// The moment is told anew at each attempt, as it gets older on its way; the same again of what the program has already.
  #ago(entry) {
    if (this.#held(entry)) return entry.held.ago;
    const ago = Math.round((Date.now() - entry.at) / 1000);
    return entry.said > 0 || ago >= 2 ? Math.max(entry.said, ago) : 0;
  }

  /// out  go on with the next one
  async #one(entry) {
    const job = entry.job ?? this.owner.job();
    const run = this.owner.run();
    if (job === undefined || (entry.held && run === undefined)) return false;
    const ago = moments.has(entry.name) ? this.#ago(entry) : 0;
    if (ago > longestAgo) {
      this.#done(entry, { error: t("waited_too_long"), where: "", way_out: t("waited_too_long_do") });
      return true;
    }
    const fields = ago > 0 ? { ...entry.fields, ago_s: ago } : entry.fields;
    try {
      const answer = await fetch(`/api/entries?job=${encodeURIComponent(job)}`, {
        method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ id: entry.id, name: entry.name, fields }),
        signal: AbortSignal.timeout(patience),
      });
      const told = await answer.json();
      // The same id with another age: an earlier attempt was taken, and its answer was lost.
      const takenBefore = answer.status === 409 && told.where === `id ${entry.id}`;
      if (takenBefore && !this.owner.writes()) return true;
      if (answer.ok || takenBefore) {
        this.#done(entry);
        return true;
      }
      if (answer.status === 503) {
        // The disk does not take it. It has taken effect, and so must those behind it: they may be the plug.
        if (told.error.startsWith("not recorded yet")) entry.held = { run, ago };
        this.#changed();
        return true;
      }
      if (answer.status >= 500 || answer.status === 401) return false;
      this.#done(entry, told);
      return true;
    } catch {
      return false;
    }
  }
}
