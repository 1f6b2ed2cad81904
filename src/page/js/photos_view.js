// Photos: from the camera or a file, looked at before they are sent, sent until they are recorded.
import { el, put, whenChanged } from "./dom.js";
import { card, textField } from "./form.js";
import { newId } from "./outbox.js";
import { setting } from "./settings.js";
import { t, timeOfDay, told } from "./words.js";

const most = 16 * 1024 * 1024; // bytes; the program takes no larger one
const types = ["image/jpeg", "image/png", "image/webp"];
const againAfter = 2000; // ms

export function photosCard(context) {
  const list = el("ul", { class: "plain" });
  const way = el("ul", { class: "plain" });
  const wrong = el("p", { class: "wrong", role: "alert", hidden: true });
  const of = textField("of", t("photo_of"));
  const file = el("input", { type: "file", id: "photo-file", accept: "image/*", capture: "environment" });
  const sending = [];
  const drawWay = () => put(way, sending.map((one) => el("li", { class: "row" }, el("img", { class: "thumb", src: one.url, alt: "" }), el("span", {}, one.state),
    one.refused && el("button", { type: "button", onclick: () => drop(one) }, t("put_away_short")))));
  const drop = (one) => {
    URL.revokeObjectURL(one.url);
    sending.splice(sending.indexOf(one), 1);
    drawWay();
  };
  const send = async (one) => {
    try {
      const query = new URLSearchParams({ id: one.id, job: one.job, of: one.of, by: setting("name").trim() });
      const answer = await fetch(`/api/photos?${query}`, { method: "POST", headers: { "Content-Type": one.file.type }, body: one.file });
      if (answer.ok) return drop(one);
      const fault = await answer.json();
      if (answer.status < 500) {
        one.refused = true;
        one.state = `${told(fault.error)}. ${told(fault.way_out)}`;
        return drawWay();
      }
    } catch {
      // No contact: again in a moment.
    }
    one.state = t("photo_waits");
    drawWay();
    setTimeout(() => send(one), againAfter);
  };
  file.addEventListener("change", () => {
    wrong.hidden = true;
    for (const chosen of file.files) {
      const trouble = !types.includes(chosen.type) ? t("photo_type") : chosen.size > most ? t("photo_size", { mb: Math.ceil(chosen.size / 1024 / 1024) }) : chosen.size === 0 ? t("photo_empty") : "";
      if (trouble) {
        wrong.textContent = `${chosen.name}: ${trouble}`;
        wrong.hidden = false;
        continue;
      }
      const input = of.element.querySelector("input");
      const one = { id: newId(), job: context.model().state.job, file: chosen, of: input.value.trim(), url: URL.createObjectURL(chosen), state: t("photo_on_its_way") };
      input.value = "";
      sending.push(one);
      drawWay();
      send(one);
    }
    file.value = "";
  });
  const draw = whenChanged((photos) => put(list, photos.map((one) => el("li", {}, `${one.t ? `${timeOfDay(one.t)} · ` : ""}${one.of || t("photo")} · ${one.file}`))));
  return { element: card("photos", t("photos_title"), el("div", { class: "fields" }, of.element, el("label", {}, el("span", {}, t("photo_take")), file)), wrong, el("div", { role: "status" }, way), list), draw: (model) => draw(model.summary.photos ?? []) };
}
