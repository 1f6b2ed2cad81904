// Keeps the screen on where the browser allows it, and says so where it does not.
import { byId, say } from "./dom.js";
import { t } from "./words.js";

let lock;
let state = "wake_not_yet";

async function keepAwake() {
  if (document.visibilityState !== "visible" || lock) return;
  if (!navigator.wakeLock) {
    state = "wake_impossible";
  } else {
    try {
      lock = await navigator.wakeLock.request("screen");
      state = "wake_on";
      lock.addEventListener("release", () => {
        lock = undefined;
        state = "wake_not_yet";
        drawWake();
      });
    } catch {
      state = "wake_refused";
    }
  }
  drawWake();
}

export function beginWake() {
  document.addEventListener("visibilitychange", keepAwake);
  // Some browsers grant it only after a touch.
  document.addEventListener("pointerdown", keepAwake);
  keepAwake();
}

export function drawWake() {
  say(byId("wake-said"), t(state));
}
