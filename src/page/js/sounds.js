// Three figures that nobody confuses: a soft rise, a fast knock on one high note, a loud fall that repeats.
import { byId, say } from "./dom.js";
import { choose, setting } from "./settings.js";
import { t } from "./words.js";

// Each tone: frequency in Hz, begin and length in seconds, wave.
const figures = {
  get_ready: [[392, 0, 0.35, "sine"], [523, 0.4, 0.35, "sine"], [659, 0.8, 0.6, "sine"]],
  now: [0, 0.16, 0.32, 0.48, 0.64, 0.8].map((at) => [1319, at, 0.09, "square"]),
  plug_in: [0, 0.5, 1, 1.5].flatMap((at) => [[880, at, 0.22, "sawtooth"], [440, at + 0.24, 0.22, "sawtooth"]]),
};

// Which figure belongs to which of the program's lines.
const figureOf = {
  soon_5_min: "get_ready", lay_out: "get_ready", soon_2_min: "get_ready", selector_cycle: "get_ready", soon_1_min: "get_ready",
  ends_in_1_min: "get_ready", hot_engine: "get_ready", too_fast: "plug_in", cold_enough: "get_ready", little_flow: "get_ready",
  imbalance_stop: "get_ready", imbalance_abort: "get_ready",
  window_starts: "now", decision_point: "now",
  window_ended: "plug_in", engine_stopped: "plug_in", no_reading: "plug_in",
};

let context;

/// A browser makes no sound before a person has touched the page.
export function beginSounds() {
  for (const name of Object.keys(figures)) byId(`try-${name}`).addEventListener("click", () => play(name, true));
  byId("sound-switch").addEventListener("click", () => {
    choose("sound", !setting("sound"));
    if (setting("sound")) unlock();
  });
  for (const touch of ["pointerdown", "keydown"])
    document.addEventListener(touch, () => setting("sound") && unlock(), { capture: true });
}

function unlock() {
  const Audio = window.AudioContext ?? window.webkitAudioContext;
  if (!Audio) return;
  context ??= new Audio();
  if (context.state !== "running") context.resume().then(drawSounds, () => {});
  drawSounds();
}

/// in  tried  by a person who wants to hear it: also while sounds are off
export function play(name, tried = false) {
  if (tried) unlock();
  if (!context || (!tried && !setting("sound"))) return false;
  const begin = context.currentTime + 0.02;
  for (const [frequency, at, length, wave] of figures[name]) {
    const tone = context.createOscillator();
    const loudness = context.createGain();
    tone.type = wave;
    tone.frequency.value = frequency;
    // Without slopes each tone would begin and end with a crack.
    loudness.gain.setValueAtTime(0, begin + at);
    loudness.gain.linearRampToValueAtTime(wave === "sine" ? 0.6 : 0.35, begin + at + 0.02);
    loudness.gain.setValueAtTime(wave === "sine" ? 0.6 : 0.35, begin + at + length - 0.03);
    loudness.gain.linearRampToValueAtTime(0, begin + at + length);
    tone.connect(loudness).connect(context.destination);
    tone.start(begin + at);
    tone.stop(begin + at + length);
  }
  return true;
}

export function soundOf(cueName) {
  return figureOf[cueName];
}

export function drawSounds() {
  const on = setting("sound");
  byId("sound-switch").setAttribute("aria-pressed", String(on));
  say(byId("sound-switch"), t(on ? "sounds_are_on" : "sounds_are_off"));
  const able = (window.AudioContext ?? window.webkitAudioContext) !== undefined;
  say(byId("sounds-now"), !able ? t("sounds_impossible") : on && context?.state !== "running" ? t("sounds_need_touch") : t("sounds_try"));
}
