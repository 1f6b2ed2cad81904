// What the program calls out, as text that stays until it is read or gets old.
import { byId, el, put, say } from "./dom.js";
import { soundOf } from "./sounds.js";
import { t, timeOfDay, told } from "./words.js";

const most = 3;
const staysFor = 90_000; // ms
let shown = [];

export function beginWarnings() {
  setInterval(() => drop((one) => Date.now() - one.at > staysFor), 1000);
}

export function warn(cue) {
  shown = [{ cue, at: Date.now() }, ...shown.filter((one) => topic(one.cue) !== topic(cue))].slice(0, most);
  draw();
  say(byId(soundOf(cue.name) === "get_ready" ? "say-check" : "say-warning"), told(cue.text));
}

/// What is said of the window last is what holds: "in 1 minute" takes the place of "in 2 minutes".
const topic = ({ name }) => (/^(soon|ends|window)_/.test(name) ? "window" : name);

function drop(which) {
  const left = shown.filter((one) => !which(one));
  if (left.length === shown.length) return;
  shown = left;
  draw();
}

function draw() {
  put(byId("warnings"), shown.map((one) => el("p", { class: `warning ${soundOf(one.cue.name) === "plug_in" ? "urgent" : ""}` },
    el("span", {}, `${timeOfDay(one.cue.t)} ${told(one.cue.text)}`),
    el("button", { type: "button", "aria-label": t("put_away", { what: told(one.cue.text) }), onclick: () => drop((other) => other === one) }, t("put_away_short")))));
}
