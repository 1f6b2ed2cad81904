// Plug out and plug in: two buttons, and one key that any foot switch or wireless button can send.
import { byId, say } from "./dom.js";
import { choose, setting } from "./settings.js";
import { span, t, timeOfDay } from "./words.js";

const step = 10; // s
const most = 600; // s; the program takes nothing that is older
const bounce = 1000; // ms; a foot switch that is trodden on twice
const textFields = "input, textarea, select";

let ago = 0;
let listening = false; // for the key that a person wants to use
let pressedAt = -bounce;

export function beginPlug(owner) {
  const press = (name) => {
    owner.enter(name, ago);
    ago = 0;
    drawLate();
  };
  byId("plug-out").addEventListener("click", () => press("plug_out"));
  byId("plug-in").addEventListener("click", () => press("plug_in"));
  byId("late-more").addEventListener("click", () => later(step));
  byId("late-less").addEventListener("click", () => later(-step));
  byId("choose-key").addEventListener("click", () => {
    listening = true;
    drawKey();
  });
  byId("no-key").addEventListener("click", () => {
    listening = false;
    choose("key", "");
  });
  document.addEventListener("keydown", (event) => onKey(event, () => press(owner.plugOut() ? "plug_in" : "plug_out"), owner), true);
  // A button that was clicked with a pointer keeps the focus, and one that opened a dialog gets it back: the next tread on a
  // foot switch would press it.
  document.addEventListener("click", (event) => {
    const focused = document.activeElement;
    if (event.detail > 0 && focused?.matches("button, summary") && !focused.closest("dialog")) focused.blur();
  });
  drawLate();
}

function later(seconds) {
  ago = Math.min(most, Math.max(0, ago + seconds));
  drawLate();
}

function onKey(event, toggle, owner) {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  if (listening) {
    if (["Shift", "Control", "Alt", "Meta", "Tab"].includes(event.key)) return;
    event.preventDefault();
    event.stopPropagation();
    listening = false;
    if (event.key === "Escape") drawKey();
    else choose("key", event.key);
    return;
  }
  if (event.key !== setting("key") || setting("key") === "") return;
  const target = event.target instanceof Element ? event.target : document.body;
  // Where a key has a meaning of its own it keeps it.
  if (target.closest(textFields) || target.closest("dialog")) return;
  if ((event.key === " " || event.key === "Enter") && target.closest("button, a, summary, label")) return;
  if (!owner.ready()) return;
  event.preventDefault();
  if (event.repeat || event.timeStamp - pressedAt < bounce) return;
  pressedAt = event.timeStamp;
  toggle();
}

export function keyName(key) {
  if (key === "") return t("key_none");
  if (key === " ") return t("key_space");
  return key;
}

export function drawKey() {
  say(byId("key-said"), listening ? t("press_key") : t("key_is", { key: keyName(setting("key")) }));
  say(byId("plug-key"), setting("key") === "" ? t("plug_key_none") : t("plug_key", { key: keyName(setting("key")) }));
}

export function drawLate() {
  say(byId("late-said"), ago === 0 ? t("late_now") : t("late_ago", { span: span(ago) }));
  byId("late-less").disabled = ago === 0;
}

/// What is right now is filled: out only while the check may start.
export function drawPlug(plug, state) {
  const out = plug?.out === true;
  byId("plug-out").classList.toggle("next", state === "may_start");
  byId("plug-in").classList.toggle("next", out);
  say(byId("plug-now"), !plug ? t("plug_unsaid") : t(out ? "plug_is_out" : "plug_is_in", { time: timeOfDay(plug.since_t) }));
}
