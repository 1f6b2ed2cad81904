// Reception: whose car, which transmission; and who stands for the window and the decoder.
import { el, put, whenChanged } from "./dom.js";
import { card, choiceField, form, numberField, textField } from "./form.js";
import { bareTemperature, number, t, temperature, told } from "./words.js";

const kinds = ["converter", "cvt", "wet dct", "dry dct", "hybrid"];

export function carCard({ outbox }) {
  const known = el("dl", { class: "facts" });
  const trust = el("div");
  const fields = [
    textField("plate", t("plate")), textField("vin", t("vin")), numberField("odometer_km", t("odometer"), { low: 0, high: 10e6 }),
    choiceField("transmission", t("transmission"), [["", t("not_said")], ...kinds.map((kind) => [kind, t(`transmission_${kind}`)])]),
    textField("fluid", t("fluid")), textField("batch", t("batch")), textField("customer", t("customer")), textField("complaint", t("complaint")),
    textField("technician", t("technician"), { autocomplete: "name" }),
  ];
  const intake = form(fields, t("write_down"), (found) => {
    if (Object.keys(found).length === 0) return t("nothing_filled_in");
    outbox.enter("intake", found);
    return undefined;
  });
  const drawKnown = whenChanged((s) => {
    const rows = [[t("plate"), s.plate], [t("vin"), s.vin_typed ?? s.vin], [t("vin_read"), s.read], [t("odometer"), s.odometer], [t("transmission"), s.transmission && t(`transmission_${s.transmission}`)],
      [t("fluid"), s.fluid], [t("batch"), s.batch], [t("customer"), s.customer], [t("complaint"), s.complaint], [t("technician"), s.technician]];
    put(known, rows.filter(([, value]) => value).map(([name, value]) => el("div", {}, el("dt", {}, name), el("dd", {}, value))));
  });
  const drawTrust = whenChanged((terms, confirmed) => put(trust, trustRows(terms, confirmed, outbox)));
  return {
    element: card("car", t("car_title"), known, el("details", {}, el("summary", {}, t("car_fill_in")), intake), el("h3", {}, t("trust_title")), trust),
    draw(model) {
      const s = model.summary;
      const km = s.odometer_typed_km ?? s.odometer_read_last_km;
      drawKnown({ ...Object.fromEntries(["plate", "vin", "vin_typed", "transmission", "fluid", "batch", "customer", "complaint", "technician"].map((key) => [key, s[key]])),
        odometer: km === undefined ? "" : `${number(km)} km`, read: (s.vins_read ?? []).map((one) => `${one.vin} (${one.ecu})`).join(", ") });
      const confirmed = {};
      for (const one of model.entries) if (one.name === "confirmed") confirmed[one.fields.what] = one.fields;
      drawTrust(model.terms, confirmed);
    },
  };
}

/// Without an origin somebody must name one: a figure is worth as much as where it comes from.
function trustRows(terms, confirmed, outbox) {
  const rows = [];
  const row = (what, text, origin, needsOrigin) => {
    const done = confirmed[what];
    const origins = needsOrigin ? [textField("origin", t("where_from"))] : [];
    rows.push(el("div", { class: "step" }, el("p", {}, el("b", {}, text)), el("p", {}, origin),
      done ? el("p", {}, `${t("confirmed_by", { name: done.by ?? t("nobody_named") })}${done.origin ? ` · ${done.origin}` : ""}`)
        : form([...origins, textField("by", t("your_name"))], t(`stand_for_${what}`), (found) => {
          if (needsOrigin && !found.origin) return t("say_where_from");
          outbox.enter("confirmed", { what, ...found });
          return undefined;
        })));
  };
  if (terms.window) {
    const { low_c, high_c, origin, origin_note: note } = terms.window;
    row("window", `${t("window")}: ${bareTemperature(low_c)}–${temperature(high_c)}`,
      origin ? `${t("origin")}: ${[t(`origin_${origin.replaceAll(" ", "_")}`), note].filter(Boolean).join(", ")} · ${terms.service?.title ?? ""}` : t("origin_unsaid"), !origin);
  } else {
    rows.push(el("p", { class: "wrong" }, told(terms.no_window_why ?? "") || t("no_window")));
  }
  const readers = (terms.decoders ?? []).filter((one) => one.fluid_temperature);
  if (readers.length > 0) row("decoder", `${t("decoder")}: ${readers.map((one) => `${one.title} (${one.id})`).join(", ")}`, readers.map((one) => one.note ?? "").join(" "), false);
  else rows.push(el("p", {}, t("no_fluid_decoder")));
  return rows;
}
