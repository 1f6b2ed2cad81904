// Every word of the page, in the language that was chosen, and numbers as that language writes them.
import { setting } from "./settings.js";

const known = ["en", "de"];
let messages = { page: {}, program: {} };
let language = "en";
let patterns = [];

export function languageWanted() {
  if (known.includes(setting("language"))) return setting("language");
  for (const one of navigator.languages ?? [navigator.language]) {
    const short = String(one).slice(0, 2).toLowerCase();
    if (known.includes(short)) return short;
  }
  return "en";
}

export async function loadWords() {
  const wanted = languageWanted();
  const answer = await fetch(`/page/messages/${wanted}.json`);
  if (!answer.ok) throw new Error(`messages/${wanted}.json: ${answer.status}`);
  messages = await answer.json();
  language = wanted;
  patterns = Object.entries(messages.program)
    .filter(([text]) => text.includes("{0}"))
    .map(([text, told]) => ({ form: formOf(text), told }));
  document.documentElement.lang = wanted;
  for (const element of document.querySelectorAll("[data-t]")) element.textContent = t(element.dataset.t);
}

function formOf(text) {
  const parts = text.split(/\{\d\}/).map((part) => part.replace(/[.*+?^${}()|[\]\\]/g, "\\$&"));
  return new RegExp(`^${parts.join("(.+?)")}$`, "u");
}

function filled(text, values) {
  return text.replace(/\{(\w+)\}/g, (all, name) => (name in values ? values[name] : all));
}

/// A text of the page. A key that is missing shows itself.
export function t(key, values = {}) {
  return filled(messages.page[key] ?? key, values);
}

/// What the program says, in the language and the unit that were chosen, as far as it is known; else in its own words.
export function told(text) {
  return text ? withComma(toldWords(fahrenheit() ? inFahrenheit(text) : text)) : "";
}

function toldWords(text) {
  if (text in messages.program) return messages.program[text];
  for (const { form, told: words } of patterns) {
    const found = form.exec(text);
    if (found) return words.replace(/\{(\d)\}/g, (all, n) => toldWords(found[Number(n) + 1]));
  }
  if (text.includes("; ")) return text.split("; ").map(toldWords).join("; ");
  // "level check: not done": a name that is known, and what is said of it.
  const colon = text.indexOf(": ");
  const head = text.slice(0, colon);
  if (colon > 0 && head in messages.program) return `${messages.program[head]}: ${toldWords(text.slice(colon + 2))}`;
  return text;
}

/// A phrase of the program with its °C as °F. A difference stands behind "by " or before "above the window", "below the window", "from the coolant".
function inFahrenheit(text) {
  return text.replace(/(by )?(?:(-?\d+(?:\.\d+)?)( to |–))?(-?\d+(?:\.\d+)?) °C(\/min)?( (?:above|below) the window| from the coolant)?/g, (all, by = "", low, to = "", high, rate = "", window = "") => {
    const apart = by || rate || window ? 0 : 32; // what lies between two temperatures is no temperature
    const shown = (value) => ((Number(value) * 9) / 5 + apart).toFixed(value.split(".")[1]?.length ?? 0);
    return `${by}${low === undefined ? "" : shown(low)}${to}${shown(high)} °F${rate}${window}`;
  });
}
/// Figures with a unit, with the decimal comma of languages that have one; no line ends between a figure and its unit.
function withComma(text) {
  const comma = number(0.5, 1)[1];
  return text.replace(/(\d)\.(?=\d+ (?:°[CF]|s|min|h|L|kg|mL|V)(?![a-z]))/g, `$1${comma}`).replace(/(\d) (?=(?:°[CF]|s|min|h|L|kg|mL|V)(?![A-Za-z]))/g, "$1\u00a0");
}

export function number(value, decimals = 0) {
  return new Intl.NumberFormat(language, { minimumFractionDigits: decimals, maximumFractionDigits: decimals, useGrouping: false }).format(value + 0);
}

/// What a person typed: a comma is a point. Nothing: no number, or an empty field.
export function typed(text) {
  const plain = String(text ?? "").trim().replace(",", ".");
  return /^-?\d+(\.\d+)?$/.test(plain) ? Number(plain) : undefined;
}

export function fahrenheit() {
  return setting("unit") === "F";
}
export const unitText = () => (fahrenheit() ? "°F" : "°C");
const inUnit = (celsius) => (fahrenheit() ? (celsius * 9) / 5 + 32 : celsius);
export const toCelsius = (value) => (fahrenheit() ? ((value - 32) * 5) / 9 : value);

/// "34 °C"; as many decimals as the reading has, a °F value has none of its own.
export function bareTemperature(celsius, decimals = 0) {
  return number(inUnit(celsius), decimals).replace(/^-(0([.,]0+)?)$/, "$1");
}
export function temperature(celsius, decimals = 0) {
  return `${bareTemperature(celsius, decimals)} ${unitText()}`;
}
/// A rate is a difference: no 32 is added.
export function rate(perMinute) {
  const value = fahrenheit() ? (perMinute * 9) / 5 : perMinute;
  return t("per_minute", { n: `${value > 0 ? "+" : ""}${number(value, 1)} ${unitText()}` });
}

/// "2 min 10 s", "50 s", "1 h 20 min"
export function span(seconds) {
  const s = Math.max(0, Math.round(seconds));
  if (s < 60) return t("span_s", { s });
  if (s < 600) return s % 60 === 0 ? t("span_min", { min: s / 60 }) : t("span_min_s", { min: Math.floor(s / 60), s: s % 60 });
  // To whole minutes first: 59 min 50 s are an hour.
  const min = Math.round(s / 60);
  return min < 60 ? t("span_min", { min }) : t("span_h_min", { h: Math.floor(min / 60), min: min % 60 });
}
/// Rounded as far as an estimate is worth: to 10 s, from ten minutes on to minutes.
export function roundSpan(seconds) {
  // "4 min 20 s" is never torn at the end of a line.
  return span(seconds < 20 ? seconds : Math.round(seconds / 10) * 10).replaceAll(" ", "\u00a0");
}
/// "1:40"
export function clockSpan(seconds) {
  const s = Math.round(Math.max(0, seconds) / 10) * 10;
  const two = (n) => String(n).padStart(2, "0");
  return s < 3600 ? `${Math.floor(s / 60)}:${two(s % 60)}` : `${Math.floor(s / 3600)}:${two(Math.floor((s % 3600) / 60))}:${two(s % 60)}`;
}
/// Time of day of a moment in job time.
export function timeOfDay(seconds) {
  return new Date(seconds * 1000).toLocaleTimeString(language, { hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23" });
}
