// The level check: what a person does, sees and reads off a second thermometer; and the result.
import { el, put, whenChanged } from "./dom.js";
import { card, choiceField, form, lateField, numberField, temperatureField, textField } from "./form.js";
import { assumptions } from "./volumes_view.js";
import { number, rate, roundSpan, span, t, temperature, timeOfDay, told } from "./words.js";

const flows = ["dry", "drip", "thread", "stream"];

export function checkCard({ outbox }) {
  const ticks = el("div");
  const drawTicks = whenChanged((positions, conditions, ticked) => put(ticks,
    positions.length > 0 && el("div", {}, el("h3", {}, t("selector_cycle")), el("p", { class: "hint" }, t("selector_cycle_hint")), el("p", { class: "row" },
      positions.map((position) => el("button", { type: "button", onclick: () => outbox.enter("position_held", { position }) }, t("held", { position }))),
      el("button", { type: "button", onclick: () => outbox.enter("selector_cycle_done") }, t("all_held")))),
    conditions.length > 0 && el("div", {}, el("h3", {}, t("tick_title")), conditions.map((condition) => el("p", { class: "row" }, el("span", {}, told(condition)),
      el("button", { type: "button", "aria-pressed": String(ticked[condition] === true), onclick: () => outbox.enter("condition_ticked", { condition, holds: ticked[condition] !== true }) }, t(ticked[condition] === true ? "holds" : "tick")))))));
  const seen = form([{ ...choiceField("flow", t("flow"), [["", t("not_said")], ...flows.map((flow) => [flow, t(`flow_${flow}`)])]) }, numberField("ml_in_10_s", t("ml_in_10_s"), { low: 0, high: 10000 }), lateField()], t("write_down"), ({ ago_s = 0, ...found }) => {
    if (!found.flow) return t("nothing_filled_in");
    outbox.enter("level_seen", found, ago_s);
    return undefined;
  });
  const wanted = el("p", { class: "hint" });
  return {
    element: card("check", t("check_title"), ticks, el("h3", {}, t("level_seen")), wanted, seen),
    draw(model) {
      const ticked = {};
      for (const one of model.entries) if (one.name === "condition_ticked") ticked[one.fields.condition] = one.fields.holds !== false;
      drawTicks(model.terms.selector_cycle ?? [], model.terms.by_hand ?? [], ticked);
      const text = model.terms.criterion ? t("criterion", { flow: t(`flow_${model.terms.criterion}`) }) : "";
      if (wanted.textContent !== text) wanted.textContent = text;
    },
  };
}

export function thermometerCard({ outbox }) {
  const last = el("p");
  const reading = form([temperatureField("value_c", t("fluid_temperature")), textField("place", t("place")), lateField()], t("write_down"), ({ ago_s = 0, ...found }) => {
    if (found.value_c === undefined) return t("nothing_filled_in");
    outbox.enter("reading_by_hand", found, ago_s);
    return undefined;
  });
  const cool = form([choiceField("air", t("air"), [["", t("not_said")], ["still", t("air_still")], ["fan", t("air_fan")]]), temperatureField("ambient_c", t("air_temperature"))], t("plan_cool_down"), (found) => {
    outbox.enter("cool_down", found);
    return undefined;
  });
  const plan = el("div");
  const drawPlan = whenChanged((forecast) => put(plan, !forecast ? undefined : [el("p", {}, forecast.ready_in_s ? t("cold_in", { target: temperature(forecast.target_c), span: forecast.ready_in_s[1] === null ? t("never") : roundSpan(forecast.ready_in_s[1]), from: timeOfDay(forecast.t) }) : t("cold_needs_readings", { target: temperature(forecast.target_c) })), assumptions(forecast.assumes)]));
  const confirm = el("p", { class: "row" }, el("button", { type: "button", onclick: () => outbox.enter("read_once") }, t("read_once")), el("button", { type: "button", onclick: () => outbox.enter("confirmed", { what: "thermometer" }) }, t("stand_for_thermometer")));
  return {
    element: card("thermometer", t("thermometer_title"), el("p", { class: "hint" }, t("thermometer_hint")), last, reading, confirm, el("h3", {}, t("cool_down")), cool, plan),
    draw(model, now) {
      const line = model.readings.by_hand;
      const text = line && now !== undefined ? t("last_by_hand", { value: temperature(line.value, 1), age: span(now - line.t) }) : "";
      if (last.textContent !== text) last.textContent = text;
      drawPlan(model.newest.forecast);
    },
  };
}

export function resultCard({ outbox }) {
  const body = el("div");
  const shown = new Set();
  const draw = whenChanged((verdict, sums) => put(body, verdict ? resultRows(verdict, sums) : el("p", { class: "state" }, t("no_result"))));
  return {
    element: card("result", t("result_title"), body),
    draw(model) {
      const verdict = model.newest.verdict;
      draw(verdict, model.summary.level_sums);
      if (!verdict) return;
      // What the person was shown goes into the record: once for each result, from however many pages.
      const id = `shown-${Math.round(verdict.t * 1e6)}`;
      if (shown.has(id) || document.visibilityState !== "visible") return;
      shown.add(id);
      if (!model.entries.some((one) => one.id === id)) outbox.enter("verdict_shown", { conditions: verdict.conditions, ...(verdict.why?.length ? { why: verdict.why } : {}) }, 0, id);
    },
  };
}

function resultRows(verdict, sums) {
  const kept = verdict.conditions === "kept";
  const facts = [[t("plug_out"), verdict.out_t && timeOfDay(verdict.out_t)], [t("plug_in"), verdict.in_t && timeOfDay(verdict.in_t)],
    [t("temperature_span"), verdict.temp_low_c !== undefined && `${temperature(verdict.temp_low_c)} – ${temperature(verdict.temp_high_c)}`],
    [t("inside_time"), verdict.inside_for_s !== undefined && span(verdict.inside_for_s)], [t("rate"), verdict.rate_c_per_min !== undefined && rate(verdict.rate_c_per_min)],
    [t("engine"), verdict.engine_rpm !== undefined && t("rpm", { n: number(verdict.engine_rpm) })], [t("thermometer"), t(verdict.thermometer === "measured" ? "of_the_unit" : "by_hand")], [t("origin_of_window"), originWords(verdict.origin)]];
  const seen = verdict.level_seen;
  return [el("p", { class: `verdict ${kept ? "kept" : "not-kept"}` }, t(kept ? "conditions_kept" : "conditions_not_kept")),
    verdict.why?.length && el("ul", { class: "points" }, verdict.why.map((one) => el("li", {}, told(one)))),
    seen ? el("p", {}, el("b", {}, t("seen", { flow: t(`flow_${seen.flow}`) })), seen.ml_in_10_s !== undefined ? ` (${number(seen.ml_in_10_s, 1)} ml / 10 s)` : "", ` · ${seen.reached === undefined ? "" : t(seen.reached ? "level_reached" : "level_not_reached")}`) : el("p", { class: "wrong" }, t("nobody_saw")),
    el("dl", { class: "facts" }, facts.filter(([, value]) => value).map(([name, value]) => el("div", {}, el("dt", {}, name), el("dd", {}, value)))),
    verdict.by_hand?.length && el("p", {}, `${t("rests_on_words")}: ${verdict.by_hand.map(told).join(", ")}`),
    sums?.short_ml && el("p", {}, levelWords(sums.short_ml))];
}

/// "demo-9/service.toml: invented": the file, and a word that is ours.
function originWords(text) {
  const found = /^(.*): (standard|service manual|capture|inferred|invented)$/u.exec(text ?? "");
  return found ? `${found[1]}: ${t(`origin_${found[2].replace(" ", "_")}`)}` : text;
}

/// Below 0 it is too much; the span is told from small to large either way.
function levelWords([low, likely, high]) {
  const [least, most] = [Math.abs(low), Math.abs(high)].sort((a, b) => a - b);
  return t(likely >= 0 ? "short_ml" : "over_ml", { low: number(least), likely: number(Math.abs(likely)), high: number(most) });
}
