// Brings the parts together: what comes from the program goes into the model, and four times a second the model is drawn.
import { notBefore, now } from "./clock.js";
import { Connection } from "./connection.js";
import { beginCourse } from "./course.js";
import { byId, el, put, say, show } from "./dom.js";
import { drawLive } from "./live_view.js";
import { Model } from "./model.js";
import { Outbox } from "./outbox.js";
import { beginPlug, drawKey, drawLate, drawPlug } from "./plug.js";
import { beginChoices } from "./choices.js";
import { beginSetup, drawSetup, lookForSetup, setupStage } from "./setup_view.js";
import { beginSounds, drawSounds, play, soundOf } from "./sounds.js";
import { beginWake, drawWake } from "./wake.js";
import { beginWarnings, warn } from "./warnings.js";
import { beginWork, drawWork } from "./work_view.js";
import { onChoice } from "./settings.js";
import { loadWords, t, told } from "./words.js";

const drawEvery = 250; // ms
const newFor = 10; // s; a line that is older is no news: it came with a reconnection
let model = new Model();
let wasGone = false;
let asked = false; // for a drawing with the next frame
let shownJob; // its id; none during the first steps: the record of the car gives way to the job, and that is no other one
let over; // the job is closed: what the program said of it
let closed; // the same of the job before this one, until it is put away

const outbox = new Outbox({
  job: () => model.state?.job,
  run: () => model.state?.run,
  writes: () => model.state?.recording.ok === true,
  onChange: drawOutbox,
});

const connection = new Connection({
  onAnew: (state) => {
    const another = setupStage() === undefined && shownJob !== undefined && state.job !== shownJob;
    if (over !== undefined || another) leaveJob();
    model.clear();
    loadBeside();
  },
  onState: (state) => {
    model.onState(state);
    if (setupStage() === undefined) shownJob = state.job;
    say(byId("trouble"), state.recording.ok ? "" : told(state.recording.why));
    show(byId("trouble"), !state.recording.ok);
    show(byId("live"), true);
    show(byId("work"), setupStage() === undefined);
    // Before there is a job, the file is a hidden one that nobody will look for.
    const file = state.file?.startsWith(".") ? "" : state.file;
    say(byId("job-name"), [state.summary.plate, state.summary.vin, file].filter(Boolean).slice(0, 2).join(" · "));
    draw();
  },
  onLine: (number, line) => {
    notBefore(line.t);
    model.onLine(number, line);
    if (line.kind === "cue" && now() - line.t < newFor) {
      play(soundOf(line.name) ?? "get_ready");
      warn(line);
    }
    if (line.kind === "reading" || line.kind === "check" || line.kind === "window" || line.kind === "entry") drawSoon();
  },
  onRefused: (fault, status) => {
    if (setupStage() !== undefined) return;
    // There is no job any more.
    if (status === 404) return leaveJob();
    say(byId("trouble"), [fault.error, fault.way_out].filter(Boolean).map(told).join(": "));
    show(byId("trouble"), true);
  },
});

const context = { model: () => model, outbox, onClosed: (told) => { over = told; draw(); } };

/// The program was started again and serves another job, or is at its first steps: nothing of the job before stays but its
/// fingerprint.
function leaveJob() {
  closed = over ?? closed;
  over = undefined;
  shownJob = undefined;
  model = new Model();
  say(byId("job-name"), "");
  show(byId("trouble"), false);
  beginWork(byId("work"), context);
  drawClosed();
  lookForSetup().then(() => {
    if (setupStage() !== undefined) shownJob = undefined;
    draw();
  });
}

function drawClosed() {
  show(byId("closed"), closed !== undefined);
  put(byId("closed"), closed && el("p", { class: "row" }, el("span", {}, t("job_closed", closed)), el("button", { type: "button", onclick: () => { closed = undefined; drawClosed(); } }, t("close"))));
}

/// What does not change by the second.
async function loadBeside() {
  const of = model;
  try {
    const [terms, entries] = await Promise.all(["/api/terms", "/api/entries"].map(async (path) => (await fetch(path, { cache: "no-store" })).json()));
    of.terms = terms;
    of.addEntries(entries.entries);
  } catch {
    setTimeout(loadBeside, 1000);
  }
}

/// Once for the lines that come together: a reading is not shown before what the program makes of it.
function drawSoon() {
  if (asked) return;
  asked = true;
  requestAnimationFrame(() => {
    asked = false;
    draw();
  });
}

function draw() {
  if (!model.state) {
    show(byId("live"), setupStage() === undefined);
    show(byId("work"), false);
    drawLive(model, now(), false);
    return;
  }
  const contact = connection.contact && over === undefined;
  const standing = drawLive(model, now(), contact);
  drawPlug(model.plug, standing.state);
  drawWork(model, now());
  // The program cannot call when it is gone. A page that has slept has no contact either, until it has asked again.
  const gone = !contact && connection.failed && over === undefined;
  if (gone && !wasGone && standing.plugOut) play("plug_in");
  wasGone = gone;
}

function drawOutbox(waiting, refused) {
  show(byId("outbox"), waiting.length + refused.length > 0);
  put(byId("outbox"),
    ...refused.map(({ entry, fault }) => el("p", { class: "row" },
      el("span", { class: "bad" }, `${t(`entry_${entry.name}`)}: ${told(fault.error)}. ${[fault.where, told(fault.way_out)].filter(Boolean).join(": ")}`),
      el("button", { type: "button", onclick: () => outbox.forget(entry.id) }, t("close")))),
    waiting.length > 0 && el("p", {}, t("being_recorded", { what: waiting.map((one) => t(`entry_${one.name}`)).join(", ") })));
}

function drawChoices() {
  drawKey();
  drawLate();
  drawSounds();
  drawWake();
}

/// In other words, or other units: everything anew.
async function redraw() {
  await loadWords();
  drawChoices();
  drawSetup();
  drawOutbox(outbox.waiting, outbox.refused);
  drawClosed();
  beginWork(byId("work"), context);
  draw();
}

await loadWords();
beginChoices();
beginPlug({ enter: (name, ago) => outbox.enter(name, {}, ago), plugOut: () => model.plug?.out === true, ready: () => model.state !== undefined });
beginSounds();
beginWarnings();
beginWake();
await beginSetup({ enter: (name, fields) => outbox.enter(name, fields), model: () => model });
await redraw();
onChoice((name) => (name === "language" || name === "unit" ? redraw() : drawChoices()));
connection.begin();
outbox.begin();
beginCourse();
setInterval(draw, drawEvery);
document.addEventListener("visibilitychange", draw);
