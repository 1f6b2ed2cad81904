// What stands below the first screen: one card for each part of the work.
import { byId, el, put, whenChanged } from "./dom.js";
import { carCard } from "./car_view.js";
import { checkCard, resultCard, thermometerCard } from "./check_view.js";
import { codesCard } from "./codes_view.js";
import { closingCard, notesCard, openCard } from "./open_view.js";
import { photosCard } from "./photos_view.js";
import { stagesCard } from "./stages_view.js";
import { volumesCard } from "./volumes_view.js";
import { t } from "./words.js";

let cards = [];
let drawCautions = () => {};

export function beginWork(root, context) {
  cards = [carCard, checkCard, resultCard, stagesCard, volumesCard, codesCard, thermometerCard, photosCard, openCard, notesCard, closingCard].map((make) => make(context));
  put(root, cards.map((card) => card.element));
  // Those of this page always; those of the service file when it is known.
  drawCautions = whenChanged((ofService) => put(byId("caution-list"), ["caution_fluid", "caution_engine", "caution_raised", "caution_selector"].map((key) => el("li", {}, t(key))), ofService.map((text) => el("li", {}, text))));
  drawCautions([]);
}

export function drawWork(model, now) {
  drawCautions(model.terms.cautions ?? []);
  if (byId("work").hidden) return;
  for (const card of cards) card.draw(model, now);
}
