// The first five minutes: from the plug to the first temperature, one step after another. Each says what is wrong and what to do.
import { now } from "./clock.js";
import { byId, el, put, show, whenChanged } from "./dom.js";
import { setting } from "./settings.js";
import { fluid } from "./model.js";
import { readingOf } from "./standing.js";
import { bareTemperature, t, temperature, told } from "./words.js";

const every = 1000; // ms
const steps = ["adapter", "ignition", "car", "window", "codes", "begin"];

let setup; // the last answer; undefined: a job is simply served
let through = false; // this page saw the start, and "begin" was not pressed yet
let owner;
let trouble = "";
let answered = true;
let timer;
const nothing = { interface: "", typed: "", decoder: "", by: undefined };
const chosen = { ...nothing };

export const setupStage = () => (through ? setup?.stage : undefined);

/// in  as  { enter(name, fields), model() }
export async function beginSetup(as) {
  owner = as;
  await lookForSetup();
}
/// Asks whether the program is at its first steps: a service is, after a job was closed.
export async function lookForSetup() {
  if (through) return;
  await look();
  again();
}
function again() {
  clearTimeout(timer);
  if (through) timer = setTimeout(async () => (await look(), again()), every);
}

async function look() {
  try {
    const answer = await fetch("/api/setup", { cache: "no-store", signal: AbortSignal.timeout(2500) });
    answered = true;
    if (answer.ok) {
      // What was chosen for one car is not chosen for the next.
      if (!through || setup.stage === "job") Object.assign(chosen, nothing);
      setup = await answer.json();
      through = true;
    } else if ((await answer.text()) && answer.status === 404 && through) {
      setup = { ...setup, stage: "job", help: "" };
    }
  } catch {
    answered = false;
  }
  drawSetup();
}

async function send(body) {
  try {
    const answer = await fetch("/api/setup", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
    const said = answer.ok ? undefined : await answer.json();
    trouble = said ? [told(said.error), said.where, told(said.way_out)].filter(Boolean).join(". ") : "";
  } catch {
    trouble = t("no_contact");
  }
  await look();
}

export function drawSetup() {
  show(byId("setup"), through);
  if (!through) return;
  const model = owner.model();
  const state = model.state;
  const scan = state?.summary?.codes_before;
  draw({
    setup, trouble, answered, language: document.documentElement.lang,
    heard: state?.unit?.heard === true, vin: state?.summary?.vins_read ?? [], units: scan?.answered ?? [],
    live: state ? readingOf(model, now(), true).live : false, known: model.readings[fluid]?.value !== undefined,
    scan: scan ? { complete: scan.complete, codes: (scan.codes ?? []).length } : undefined,
  });
}

/// The step at which a person is: the first that is not done.
function doneSteps(seen) {
  const stage = seen.setup.stage;
  const past = stage === "adapter" ? 0 : stage === "car" ? 1 : 4;
  const done = new Set(steps.slice(0, past));
  if (stage === "car" && seen.heard) done.add("ignition");
  if (stage === "car" && seen.heard && (seen.vin.length > 0 || seen.units.length > 0 || seen.known)) done.add("car");
  if (stage === "job" && seen.scan) done.add("codes");
  return done;
}

const draw = whenChanged((seen) => {
  const focused = document.activeElement?.closest("#setup") ? document.activeElement : undefined;
  const opened = byId("setup").querySelector("details[open]") !== null;
  const done = doneSteps(seen);
  const at = steps.find((step) => !done.has(step));
  put(byId("setup-steps"), steps.map((step, i) => el("li", { class: "step", "data-now": String(step === at), "aria-current": step === at ? "step" : undefined },
    el("h3", {}, `${i + 1}. ${t(`step_${step}`)}`, done.has(step) ? ` – ${t("step_done")}` : ""),
    (step === at || (step === "window" && at === "car")) && content[step](seen),
    step === at && seen.setup.help && el("p", { class: "help" }, told(seen.setup.help)),
    step === at && seen.trouble && el("p", { class: "wrong", role: "alert" }, seen.trouble),
    step === at && !seen.answered && el("p", { class: "wrong", role: "alert" }, t("no_contact")))));
  // What a person was at is where he finds it again.
  if (opened) byId("setup").querySelector("details")?.setAttribute("open", "");
  const same = focused?.name ? [...byId("setup").querySelectorAll(`[name="${focused.name}"]`)].find((one) => one.type !== "radio" || one.value === focused.value) : undefined;
  same?.focus();
  if (same?.type === "text") same.setSelectionRange(focused.selectionStart, focused.selectionEnd);
});

function choice(name, value, key, ...text) {
  const input = el("input", { type: "radio", name, value, checked: chosen[key] === value, onchange: () => (chosen[key] = value) });
  return el("label", { class: "choice" }, input, el("span", {}, ...text));
}

const content = {
  adapter({ setup: { interfaces = [] } }) {
    return el("form", {
      onsubmit: (event) => {
        event.preventDefault();
        const wanted = chosen.typed.trim() || chosen.interface;
        trouble = wanted ? "" : t("choose_adapter");
        if (wanted) send({ interface: wanted });
        else drawSetup();
      },
    }, interfaces.length === 0 ? el("p", {}, t("no_adapter"))
      : el("fieldset", {}, el("legend", {}, t("which_adapter")), interfaces.map((one) => choice("interface", one.name, "interface", el("b", {}, one.name), ` ${told(one.state ?? "")}`, one.note ? ` · ${told(one.note)}` : ""))),
    el("label", {}, el("span", {}, t("type_adapter")), el("input", { name: "typed", type: "text", maxlength: 80, autocomplete: "off", autocapitalize: "none", spellcheck: "false", value: chosen.typed, oninput: (event) => (chosen.typed = event.target.value) })),
    el("button", { type: "submit", class: "go" }, t("use_adapter")));
  },
  ignition: (seen) => el("div", {}, el("p", {}, t("ignition_on")), el("details", {}, el("summary", {}, t("without_the_car")), content.window(seen))),
  car: () => el("p", {}, t("car_is_read")),
  window({ setup: { decoders = [] }, vin, known }) {
    const alike = alikeTitles(decoders);
    return el("form", {
      onsubmit: (event) => {
        event.preventDefault();
        const by = (chosen.by ?? setting("name")).trim();
        trouble = !chosen.decoder ? t("choose_unit") : !by ? t("say_name") : "";
        if (trouble) drawSetup();
        else send({ decoder: chosen.decoder, by });
      },
    }, vin.length > 0 && el("p", {}, `${t("vin_read")}: ${vin.map((one) => `${one.vin} (${one.ecu})`).join(", ")}`),
    el("p", {}, t(known ? "gives_temperature" : "gives_no_temperature_yet")),
    alike && el("p", { class: "wrong" }, t("titles_alike")),
    el("fieldset", {}, el("legend", {}, t("which_unit")), decoders.map((one) => choice("decoder", one.id, "decoder", el("b", {}, one.title), ` (${one.id})`, ...aboutDecoder(one)))),
    el("label", {}, el("span", {}, t("your_name")), el("input", { name: "by", type: "text", maxlength: 80, autocomplete: "name", value: chosen.by ?? setting("name"), oninput: (event) => (chosen.by = event.target.value) })),
    el("button", { type: "submit", class: "go" }, t("stand_for_both")));
  },
  codes: () => el("div", {}, el("p", {}, t("codes_before_why")), el("button", { type: "button", class: "go", onclick: () => owner.enter("scan", { scan: "before" }) }, t("scan_before")),
    " ", el("button", { type: "button", onclick: finish }, t("without_codes"))),
  begin: ({ scan }) => el("div", {}, scan && el("p", {}, t(scan.complete ? "scan_complete" : "scan_incomplete")), el("p", {}, t("begin_hint")), el("button", { type: "button", class: "go", onclick: finish }, t("begin"))),
};

function aboutDecoder(one) {
  const window = one.window;
  return [el("br"), one.note ?? "", el("br"),
    window ? t("window_offered", { window: `${bareTemperature(window.low_c)}–${temperature(window.high_c)}`, origin: [t(`origin_${String(window.origin).replaceAll(" ", "_")}`), window.origin_note].filter(Boolean).join(", ") }) : t("no_window_offered"),
    el("br"), t(one.fluid_temperature ? "reads_fluid" : "reads_no_fluid")];
}

/// Titles that a person may take for one another: they differ in a figure or a letter.
function alikeTitles(decoders) {
  const plain = decoders.map((one) => one.title.toLowerCase().replace(/[^\p{L}\p{N}]+/gu, ""));
  return plain.some((a, i) => plain.some((b, j) => j > i && distance(a, b) <= 2));
}
function distance(a, b) {
  let row = Array.from({ length: b.length + 1 }, (_, i) => i);
  for (let i = 1; i <= a.length; i++) {
    const next = [i];
    for (let j = 1; j <= b.length; j++) next[j] = Math.min(row[j] + 1, next[j - 1] + 1, row[j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1));
    row = next;
  }
  return row[b.length];
}

function finish() {
  through = false;
  clearTimeout(timer);
  setup = undefined;
  drawSetup();
  show(byId("work"), true);
  byId("live").focus();
}
