// The first screen: what is to be known at a glance.
import { byId, el, put, say, show, whenChanged } from "./dom.js";
import { aheadOf, readingOf, standingOf, valueOf } from "./standing.js";
import { bareTemperature, clockSpan, number, rate, roundSpan, span, t, temperature, told, unitText } from "./words.js";

let saidState;

export function drawLive(model, now, contact) {
  const standing = standingOf(model, now, contact);
  drawStanding(standing);
  drawReading(readingOf(model, now, contact), contact);
  drawAhead(aheadOf(model, now, contact), standing.advice);
  drawFacts(model, now, contact);
  speak(standing);
  return standing;
}

export function firstReason(standing) {
  if (!standing.contact) return t("no_contact");
  if (standing.state === "may_start" || standing.state === "check_on") return t("all_hold");
  return told(standing.reasons[0] ?? "");
}

function drawStanding(standing) {
  const box = byId("standing");
  if (box.dataset.state !== standing.state) {
    box.dataset.state = standing.state;
    byId("standing-shape").setAttribute("href", `#shape-${standing.state}`);
  }
  say(byId("standing-word"), t(`state_${standing.state}`));
  say(byId("standing-reason"), firstReason(standing));
  drawReasons(standing.reasons.map(told), told(standing.advice));
}

const drawReasons = whenChanged((reasons, advice) => {
  show(byId("reasons"), reasons.length > 1 || advice !== "");
  put(byId("reason-list"), reasons.map((one) => el("li", {}, one)));
  say(byId("advice"), advice);
});

function drawReading(reading, contact) {
  const box = byId("reading");
  box.dataset.live = String(reading.live);
  if (reading.live) {
    say(byId("reading-number"), bareTemperature(reading.value_c, reading.text));
    say(byId("reading-unit"), unitText());
    say(byId("reading-age"), reading.byHand ? t("age_by_hand", { age: span(reading.age) }) : t("age_live", { age: number(reading.age, 1) }));
    return;
  }
  drawLast(reading.value_c === undefined ? "" : temperature(reading.value_c, reading.text));
  say(byId("reading-unit"), "");
  say(byId("reading-age"), reading.age === undefined ? (contact ? told(reading.why) : "") : t("age_last", { age: span(reading.age) }));
}
function drawLast(text) {
  const wanted = text === "" ? t("no_reading") : `${t("last")} ${text}`;
  const box = byId("reading-number");
  if (box.textContent !== wanted) put(box, ...(text === "" ? [t("no_reading")] : [`${t("last")} `, el("s", {}, text)]));
}

/// Advice is longer than times are, and the plug's buttons stay on the first screen of a phone.
function drawAhead(ahead, advice) {
  const box = byId("forecast");
  box.dataset.kind = ahead.kind === "above" && advice ? "advice" : "times";
  say(box, aheadWords(ahead, advice));
}

function aheadWords(ahead, advice) {
  const stays = (stay) => (stay?.[1] === undefined ? "" : stay[1] === null ? t("lasts_on") : t("lasts", { span: roundSpan(stay[1]) }));
  // The joiner keeps the two together at the end of a line.
  const range = (q) => `${clockSpan(q[0])}–\u2060${q[2] === null ? t("open_end") : clockSpan(q[2])}`;
  switch (ahead.kind) {
    case "starts":
    case "again":
      return t(ahead.kind === "starts" ? "starts_in" : "again_in", { span: roundSpan(ahead.start[1]), range: range(ahead.start), stays: stays(ahead.stay) });
    case "inside":
      return ahead.stay[1] === null ? t("inside_on") : t("inside_for", { span: roundSpan(ahead.stay[1]), range: range(ahead.stay) });
    case "above":
      return told(advice) || t("above_now");
    case "never":
      return t("never_starts");
    case "measured":
      return t("still_measured");
    default:
      return "";
  }
}

function drawFacts(model, now, contact) {
  const window = model.terms.window;
  say(byId("fact-window"), window ? `${bareTemperature(window.low_c)}–${temperature(window.high_c)}` : t(model.terms.decoders ? "no_window" : "unknown_now"));
  const thermal = model.newest.thermal;
  const reading = readingOf(model, now, contact);
  const hasRate = reading.live && thermal?.rate_c_per_min !== undefined;
  drawRate(hasRate ? rate(thermal.rate_c_per_min) : t("unknown_now"), reading.live ? (thermal?.flags ?? []) : []);
  const rpm = valueOf(model, "engine_speed", now, contact);
  say(byId("fact-engine"), rpm ? (rpm.value < 1 ? t("engine_off") : t("rpm", { n: number(rpm.value) })) : t("unknown_now"));
  const selector = valueOf(model, "selector_position", now, contact);
  say(byId("fact-selector"), selector ? (selector.label ?? number(selector.value)) : t("unknown_now"));
  const coolant = valueOf(model, "coolant_temperature", now, contact);
  say(byId("fact-coolant"), coolant ? temperature(coolant.value) : t("unknown_now"));
}
const drawRate = whenChanged((text, flags) => {
  put(byId("fact-rate"), text, ...flags.map((flag) => el("span", { class: "flag" }, t(`flag_${flag}`))));
});

/// The words change, so the live region speaks: once for each state, not for each reading.
function speak(standing) {
  const text = `${t(`state_${standing.state}`)}. ${firstReason(standing)}`;
  if (text === saidState) return;
  saidState = text;
  const urgent = ["plug_in_now", "do_not_start", "no_live_out"].includes(standing.state);
  say(byId("say-warning"), urgent ? text : "");
  say(byId("say-check"), urgent ? "" : text);
}
