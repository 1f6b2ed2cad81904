// What came out and what went in, and the sums that the program makes of it.
import { el, put, whenChanged } from "./dom.js";
import { card, choiceField, form, lateField, numberField, table, temperatureField, textField } from "./form.js";
import { number, t, temperature, timeOfDay, told, typed } from "./words.js";

const parts = ["sample", "exchange", "drain", "pan", "refill", "top up", "level check"];
const partName = (part) => t(`part_${part.replaceAll(" ", "_")}`);

export function volumesCard({ outbox }) {
  const list = el("div");
  const sums = el("div");
  const fields = () => [
    choiceField("direction", t("direction"), [["fluid_out", t("came_out")], ["fluid_in", t("went_in")]]),
    numberField("litres", t("litres"), { low: 0, high: 200 }), numberField("mass_kg", t("or_kilograms"), { low: 0, high: 200 }), numberField("density_kg_per_m3", t("density"), { low: 500, high: 1500 }),
    temperatureField("temp_c", t("fluid_temperature")), choiceField("part", t("part"), [["", t("as_the_stage")], ...parts.map((part) => [part, partName(part)])]),
    textField("container", t("container")), textField("fluid", t("fluid")), textField("batch", t("batch")), lateField(),
  ];
  const entry = form(fields(), t("write_down"), ({ direction, ago_s = 0, ...found }) => {
    if (found.litres === undefined && found.mass_kg === undefined) return t("say_litres");
    outbox.enter(direction, found, ago_s);
    return undefined;
  });
  const wanted = form([numberField("share", t("share_wanted"), { low: 0, high: 100, convert: (value) => value / 100 })], t("set"), (found) => {
    if (found.share === undefined) return t("nothing_filled_in");
    outbox.enter("exchange_wanted", found);
    return undefined;
  });
  const drawList = whenChanged((volumes, replaced) => put(list, volumes.length === 0 ? el("p", { class: "state" }, t("no_volumes"))
    : table([t("time"), t("direction"), t("part"), t("litres"), t("fluid_temperature"), t("correct")], volumes.map((one) => row(one, replaced.includes(one.id), outbox)), t("volumes_title"))));
  const drawSums = whenChanged((summary) => put(sums, sumRows(summary)));
  return {
    element: card("volumes", t("volumes_title"), sums, list, el("details", { open: true }, el("summary", {}, t("volume_new")), entry), el("details", {}, el("summary", {}, t("share_title")), wanted)),
    draw(model) {
      const volumes = model.entries.filter((one) => one.name === "fluid_out" || one.name === "fluid_in");
      drawList(volumes, volumes.map((one) => one.fields.replaces).filter(Boolean));
      drawSums({ balance: model.summary.balance, exchange: model.summary.exchange });
    },
  };
}

function row(one, replaced, outbox) {
  const amount = one.fields.litres !== undefined ? `${number(one.fields.litres, 2)} L` : `${number(one.fields.mass_kg, 2)} kg`;
  const correct = el("form", {
    class: "row", onsubmit: (event) => {
      event.preventDefault();
      const litres = typed(event.target.elements.litres.value);
      if (litres === undefined || litres < 0 || litres > 200) return event.target.elements.litres.focus();
      outbox.enter(one.name, { ...one.fields, mass_kg: undefined, density_kg_per_m3: undefined, by: undefined, ago_s: undefined, litres, replaces: one.id });
    },
  }, el("input", { name: "litres", inputmode: "decimal", "aria-label": t("right_litres"), size: 5 }), el("button", { type: "submit" }, t("correct")));
  const cells = [timeOfDay(one.happened_t ?? one.t), t(one.name === "fluid_out" ? "came_out" : "went_in"), one.fields.part ? partName(one.fields.part) : t("as_the_stage")];
  return el("tr", {}, cells.map((text) => el("td", {}, text)), el("td", { class: "number" }, replaced ? el("s", {}, amount) : amount),
    el("td", { class: "number" }, one.fields.temp_c === undefined ? "" : temperature(one.fields.temp_c, Number.isInteger(one.fields.temp_c) ? 0 : 1)),
    el("td", {}, replaced ? t("corrected") : el("details", {}, el("summary", {}, t("correct")), correct)));
}

/// "80–99", rounded down: what is not reached is not told.
function shareSpan(...shares) {
  const [low, high] = shares.map((share) => Math.floor(share * 100 + 1e-9)).sort((a, b) => a - b);
  return low === high ? number(low) : `${number(low)}–${number(high)}`;
}

function sumRows({ balance, exchange }) {
  const rows = [];
  if (balance) {
    rows.push(el("p", {}, el("b", {}, t("sum_out_in", { out: number(balance.out_l, 1), in: number(balance.in_l, 1), at: temperature(balance.reference_c) }))));
    if (balance.to_refill_l !== undefined) rows.push(el("p", { class: "verdict" }, t(balance.to_refill_l >= 0 ? "put_back" : "too_much_in", { litres: number(Math.abs(balance.to_refill_l), 1), at: temperature(balance.fresh_c) })));
    if (balance.exchange_state && balance.exchange_state !== "balanced") rows.push(el("p", { class: "wrong" }, t(`exchange_${balance.exchange_state}`)));
    rows.push(assumptions(balance.assumes));
  }
  const step = exchange?.steps?.at(-1);
  if (step) rows.push(el("p", {}, t("share_new", { share: shareSpan(step.new_mixed, step.new_ideal) })));
  if (exchange?.more_mixed_l > 0) rows.push(el("p", {}, t("more_through", { litres: number(exchange.more_mixed_l, 1), share: number(exchange.wanted_share * 100) })));
  if (exchange?.assumes) rows.push(assumptions(exchange.assumes));
  return rows;
}
export function assumptions(list) {
  if (!list?.length) return undefined;
  return el("details", {}, el("summary", {}, t("rests_on")), el("ul", { class: "points" }, list.map((one) => el("li", {}, told(one)))));
}
