// From what is known to what is said at a glance. Pure: the model, the job time and the contact are arguments.
import { fluid } from "./model.js";

export const freshFor = 3; // s; the program's own limit for a live reading

const age = (line, now) => (line && now !== undefined ? Math.max(0, now - line.t) : undefined);

/// The reading that is shown, and whether it is one of now.
/// out  { live, value_c, decimals, age, byHand, why }
export function readingOf(model, now, contact) {
  const unit = model.readings[fluid];
  const hand = model.readings.by_hand;
  const window = model.newest.window;
  const thermal = model.newest.thermal;
  const unitAge = age(unit, now);
  const believed = window !== undefined && window.to !== "unknown" && age(thermal, now) <= freshFor;
  const unitLive = unit?.value !== undefined && unit.quality === "measured" && unitAge <= freshFor;
  // While the unit is not believed the window rests on a second thermometer, and so does the number: 80 °C never stands beside "inside".
  const byHand = thermal?.quality === "by hand";
  if (contact && believed && !byHand && unitLive) return { live: true, value_c: unit.value, text: decimalsOf(unit), age: unitAge, byHand: false };
  if (contact && believed && byHand && hand) return { live: true, value_c: hand.value, text: decimalsOf(hand), age: age(hand, now), byHand: true };
  const last = [unit, hand].filter((one) => one?.value !== undefined).sort((a, b) => b.t - a.t)[0];
  let why = "no answer";
  if (!contact) why = "";
  else if (window?.why) why = window.why;
  else if (unit?.why) why = unit.why;
  else if (!last) why = "no fluid temperature yet";
  return { live: false, value_c: last?.value, text: last && decimalsOf(last), age: age(last, now), byHand: last === hand && last !== undefined, why };
}

/// How many decimals a reading came with; JSON has dropped the zeros that follow.
function decimalsOf(line) {
  return String(line.value).split(".")[1]?.length ?? 0;
}

/// A value of another signal, if it is one of now.
export function valueOf(model, signal, now, contact) {
  const line = model.readings[signal];
  const live = contact && line?.value !== undefined && line.quality !== "suspect" && age(line, now) <= freshFor;
  return live ? line : undefined;
}

/// out  { state, reasons, advice, plugOut }; state: may_start, check_on, not_yet, do_not_start, plug_in_now, no_live,
///      no_live_out: the same with the plug out
export function standingOf(model, now, contact) {
  const reading = readingOf(model, now, contact);
  const check = model.newest.check;
  const plugOut = model.plug?.out === true;
  const others = (check?.why ?? []).filter((one) => one !== reading.why);
  if (!reading.live) {
    const reasons = reading.why ? [reading.why, ...others] : [];
    return { state: plugOut ? "no_live_out" : "no_live", contact, plugOut, reasons: contact ? reasons : [], advice: "" };
  }
  const said = { contact, plugOut, reasons: check?.why ?? [], advice: check?.advice ?? "" };
  if (check?.state === "may start") return { state: plugOut ? "check_on" : "may_start", ...said };
  const mustIn = check?.state === "stop" || said.reasons.includes("engine is not running");
  if (plugOut && mustIn) return { state: "plug_in_now", ...said };
  if (check?.state === "stop") return { state: "do_not_start", ...said };
  return { state: "not_yet", ...said };
}

/// The times ahead, only while they are of now.
/// out  { kind, start, stay, flags }; kind: none, starts, again, inside, above, never, measured
export function aheadOf(model, now, contact) {
  const thermal = model.newest.thermal;
  const reading = readingOf(model, now, contact);
  if (!reading.live || !thermal) return { kind: "none", flags: [] };
  const { enter_in_s: enter, stay_s: stay, flags = [] } = thermal;
  const side = model.newest.window?.to;
  if (side === "inside") return { kind: stay ? "inside" : "measured", stay, flags };
  if (side === "above" && (!enter || enter[1] === null)) return { kind: "above", flags };
  if (!enter) return { kind: "measured", flags };
  if (enter[1] === null) return { kind: "never", flags };
  return { kind: side === "above" ? "again" : "starts", start: enter, stay, flags };
}
