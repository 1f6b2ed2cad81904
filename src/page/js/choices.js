// The dialogs: cautions, sounds, settings.
import { byId } from "./dom.js";
import { choose, onChoice, setting } from "./settings.js";

const fields = { "set-name": "name", "set-unit": "unit", "set-language": "language", "set-look": "look" };
const dark = matchMedia("(prefers-color-scheme: dark)");

function drawLook() {
  const look = setting("look") || (dark.matches ? "dark" : "light");
  document.documentElement.dataset.look = look;
}

export function beginChoices() {
  for (const name of ["cautions", "sounds", "settings"]) {
    const dialog = byId(name);
    byId(`open-${name}`).addEventListener("click", () => dialog.showModal());
    dialog.querySelector(".close").addEventListener("click", () => dialog.close());
  }
  for (const [id, name] of Object.entries(fields)) {
    byId(id).value = setting(name);
    byId(id).addEventListener("change", () => choose(name, byId(id).value));
  }
  dark.addEventListener("change", drawLook);
  onChoice(drawLook);
  drawLook();
}
