// Fields with their labels, and what a person typed in them as an entry's fields.
import { el } from "./dom.js";
import { t, toCelsius, typed, unitText } from "./words.js";

const label = (text, field) => el("label", {}, el("span", {}, text), field);

export function textField(name, text, attributes = {}) {
  return { name, element: label(text, el("input", { type: "text", name, maxlength: 200, autocomplete: "off", ...attributes })) };
}
/// in  convert  from what is typed to what is recorded
export function numberField(name, text, { convert, low = -Infinity, high = Infinity, ...attributes } = {}) {
  const element = label(text, el("input", { type: "text", inputmode: "decimal", name, autocomplete: "off", ...attributes }));
  return { name, element, number: true, convert, low, high };
}
export function temperatureField(name, text, attributes = {}) {
  // Rounded to a hundredth: 100 °F is 37.78 °C.
  return numberField(name, `${text} (${unitText()})`, { convert: (value) => Math.round(toCelsius(value) * 100) / 100, ...attributes });
}
/// in  words  pairs of what is recorded and what is shown
export function choiceField(name, text, words, attributes = {}) {
  return { name, element: label(text, el("select", { name, ...attributes }, words.map(([value, shown]) => el("option", { value }, shown)))) };
}
export function lateField() {
  return numberField("ago_s", t("seconds_ago"), { low: 0, high: 600 });
}

function valueOf(field) {
  const input = field.element.querySelector("input, select");
  const text = input.value.trim();
  if (text === "") return { empty: true, input };
  if (!field.number) return { value: text, input };
  const plain = typed(text);
  if (plain === undefined || plain < field.low || plain > field.high) return { wrong: true, input };
  return { value: field.convert ? field.convert(plain) : plain, input };
}

/// A form that hands over its fields and empties itself.
/// in  send(fields)  says what is wrong as a text, or nothing
export function form(fields, button, send, attributes = {}) {
  const wrong = el("p", { class: "wrong", role: "alert", hidden: true });
  const submit = (event) => {
    event.preventDefault();
    const found = {};
    for (const field of fields) {
      const { value, input, empty, wrong: bad } = valueOf(field);
      input.toggleAttribute("aria-invalid", bad === true);
      if (bad) {
        say(t("no_number", { field: field.element.firstChild.textContent }));
        input.focus();
        return;
      }
      if (!empty) found[field.name] = value;
    }
    const trouble = send(found);
    say(trouble ?? "");
    if (trouble) return;
    for (const field of fields) if (!field.stays) clear(field);
  };
  const say = (text) => {
    wrong.hidden = text === "";
    wrong.textContent = text;
  };
  return el("form", { novalidate: true, onsubmit: submit, ...attributes },
    el("div", { class: "fields" }, fields.map((field) => field.element)), wrong, el("button", { type: "submit", class: "go" }, button));
}
function clear(field) {
  const input = field.element.querySelector("input");
  if (input) input.value = "";
}

export function card(id, title, ...content) {
  return el("section", { class: "card", id, "aria-labelledby": `${id}-title` }, el("h2", { id: `${id}-title` }, title), content);
}
export function table(heads, rows, caption) {
  // On a phone it scrolls by itself, also by keyboard, and the page does not.
  return el("div", { class: "scroll", tabindex: 0, role: "group", "aria-label": caption }, el("table", {}, el("caption", { class: "unseen" }, caption), el("thead", {}, el("tr", {}, heads.map((head) => el("th", { scope: "col" }, head)))), el("tbody", {}, rows)));
}
