// What single parts of the page do with what they are told: no program, a server that says what a test wants.
import assert from "node:assert/strict";
import { join } from "node:path";
import { test } from "node:test";
import { openBrowser, openPage, shots, textOf, until } from "./harness.mjs";
import { demoTerms, ToldServer } from "./told_server.mjs";

const start = 1_764_065_400;

const readAt = (t, value) => [{ t, kind: "reading", bus: "can0", signal: "fluid_temperature", value, unit: "degC", ecu: "7E9", quality: "measured" },
  { t, kind: "thermal", temp_c: value, window: "below" }, { t, kind: "window", from: "unknown", to: "below", temp_c: value }];

/// The program serves a job of which it has told these lines.
function serve(server, job, lines) {
  server.job = { lines, summary: { job, plate: job } };
  server.start = lines[0].t;
  server.told = lines.length;
  server.run = job;
  server.newest = Object.fromEntries(lines.filter((line) => line.kind !== "reading").map((line) => [line.kind, line]));
  server.readings = Object.fromEntries(lines.filter((line) => line.kind === "reading").map((line) => [line.quality === "by hand" ? "by_hand" : line.signal, line]));
}

/// A page that is opened when the program has told these lines.
async function toldPage(t, lines = readAt(start, 38)) {
  const server = await new ToldServer(undefined, { terms: demoTerms }).listen(t);
  serve(server, "job-1", lines);
  const browser = await openBrowser();
  t.after(() => browser.close());
  return { server, page: await openPage(browser, server.url) };
}

test("a span is rounded to minutes before it is told in hours", { timeout: 60_000 }, async (t) => {
  const { page } = await toldPage(t);
  const spans = await page.evaluate(async () => {
    const { roundSpan } = await import("/page/js/words.js");
    return [50, 590, 3560, 3590, 7160, 7170, 10780].map((s) => roundSpan(s).replaceAll("\u00a0", " "));
  });
  assert.deepEqual(spans, ["50 s", "9 min 50 s", "59 min", "1 h 0 min", "1 h 59 min", "2 h 0 min", "3 h 0 min"]);
});

/// What the program says of entries while its disk is full, and after (EntryDesk).
class FullDisk {
  constructor(server) {
    this.server = server;
    this.taken = new Map(); // id: content
    server.recording = { ok: false, why: "no space left on device", kept_in_memory: 1 };
    server.entry = (wish) => this.answer(wish);
  }
  answer({ id, ...content }) {
    const text = JSON.stringify(content);
    if ((this.taken.get(id) ?? text) !== text) return [409, { error: "another entry has this id already", where: `id ${id}`, way_out: "give each entry its own id" }];
    this.taken.set(id, text);
    if (this.server.recording.ok) return [200, { id, t: start, recorded: true }];
    return [503, { error: "not recorded yet: no space left on device", where: "", way_out: "" }];
  }
}

const sentOf = (server, name) => server.posted.filter(({ wish }) => wish.name === name).map(({ wish }) => wish);

test("a full disk: what is behind an entry that waits takes effect too, and all wait until they are written", { timeout: 60_000 }, async (t) => {
  const { server, page } = await toldPage(t);
  await until(async () => page.locator("#notes").isVisible(), "the page");
  const disk = new FullDisk(server);
  await until(async () => /no space left/.test(await textOf(page, "#trouble")), "the trouble");
  await page.locator("#notes input[name=text]").fill("bay 2");
  await page.locator("#notes form").first().getByRole("button").click();
  await page.locator("#plug-out").click();
  await until(() => sentOf(server, "plug_out").length >= 1, "the plug that is out", 5_000);
  await page.locator("#plug-in").click();
  await until(() => sentOf(server, "plug_in").length >= 1, "the plug that is in", 5_000);
  assert.deepEqual([...disk.taken.values()].map((text) => JSON.parse(text).name), ["note", "plug_out", "plug_in"], "in the order in which they were made");
  await until(() => sentOf(server, "plug_in").length >= 3, "it is asked after", 15_000);
  assert.equal(new Set(sentOf(server, "plug_out").map((wish) => JSON.stringify(wish))).size, 1, "the same under the same id");
  assert.match(await textOf(page, "#outbox"), /being recorded: note, plug out, plug in/);
  server.recording = { ok: true };
  await until(async () => !(await page.locator("#outbox").isVisible()), "an empty outbox");
});

test("a full disk: a program that was started again is told anew, with the age that it has by now", { timeout: 60_000 }, async (t) => {
  const { server, page } = await toldPage(t);
  await until(async () => page.locator("#notes").isVisible(), "the page");
  const disk = new FullDisk(server);
  await page.locator("#plug-out").click();
  await until(() => sentOf(server, "plug_out").length >= 2, "a second attempt");
  assert.equal(sentOf(server, "plug_out").at(-1).fields.ago_s, undefined);
  server.run = "again";
  disk.taken.clear();
  await until(() => sentOf(server, "plug_out").at(-1).fields.ago_s >= 2, "its age");
});

test("a full disk: an entry whose answer was lost is no recorded one as long as nothing is written", { timeout: 60_000 }, async (t) => {
  const { server, page } = await toldPage(t);
  await until(async () => page.locator("#notes").isVisible(), "the page");
  const disk = new FullDisk(server);
  await until(async () => /no space left/.test(await textOf(page, "#trouble")), "the trouble");
  let lost = 0;
  await page.route("**/api/entries?*", async (route) => {
    if ((lost += 1) > 1) return route.continue();
    await route.fetch(); // the program gets it
    return route.abort(); // the page never hears of it
  });
  await page.locator("#plug-out").click();
  await until(() => sentOf(server, "plug_out").length >= 3, "a third attempt", 15_000);
  assert.match(await textOf(page, "#outbox"), /being recorded: plug out/);
  server.recording = { ok: true };
  await until(async () => !(await page.locator("#outbox").isVisible()), "an empty outbox");
  assert.equal(disk.taken.size, 1);
});

async function closeJob(page) {
  page.once("dialog", (dialog) => dialog.accept());
  await page.locator("#closing form").getByRole("button").click();
  await until(async () => /Closed: told.log. Fingerprint: 0c56/.test(await textOf(page, "#closing")), "the fingerprint");
  assert.match(await textOf(page, "#standing-reason"), /No contact/);
}

test("after a closed job the page is back at the first steps, with nothing of the job before but its fingerprint", { timeout: 120_000 }, async (t) => {
  const { server, page } = await toldPage(t);
  await until(async () => page.locator("#notes").isVisible(), "the page");
  await page.locator("#notes input[name=text]").fill("of the car before");
  await closeJob(page);
  const decoders = [{ id: "demo-9", title: "Demo family", fluid_temperature: true, window: { low_c: 35, high_c: 45, origin: "invented" } }];
  server.setup = (wish) => {
    if (wish.decoder) server.setup.now = undefined;
    return true;
  };
  server.setup.now = { stage: "adapter", interfaces: [], help: "plug the adapter in", decoders: [] };
  await until(async () => (await page.locator("#setup").isVisible()) && /1\. Adapter[^]*plug the adapter in/.test(await textOf(page, ".step[data-now=true]")), "the first step");
  assert.equal(await page.locator("#live").isVisible(), false);
  assert.equal(await page.locator("#work").isVisible(), false);
  assert.match(await textOf(page, "#closed"), /Closed: told.log. Fingerprint: 0c56/);
  await page.screenshot({ path: join(shots, "parts-after-closing.png") });
  for (const job of ["job-2", "job-3"]) {
    serve(server, job.replace("job", "car"), readAt(start + 600, 25));
    server.setup.now = { stage: "car", decoders, interface: "can0" };
    await until(async () => /4\. Unit and window/.test(await textOf(page, "#setup")) && (await page.locator("#setup input[name=decoder]").count()) === 1, "the unit");
    assert.equal(await page.locator("#setup input:checked").count(), 0, "nothing is chosen beforehand, nor what was chosen for another car");
    await page.locator("#setup input[value=demo-9]").check();
    await page.locator("#setup input[name=by]").fill("K. Example");
    await page.getByRole("button", { name: "I stand for unit and window" }).click();
    serve(server, job, readAt(start + 600, 25));
    await page.locator("#setup").getByRole("button", { name: /without/i }).click({ timeout: 20_000 });
    await until(async () => (await textOf(page, "#job-name")).includes(job) && (await page.locator("#notes").isVisible()), "the job");
    assert.equal(await page.locator("#notes input[name=text]").inputValue(), "");
    await until(async () => (await page.locator("#reading").getAttribute("data-live")) === "true", "a live reading");
    assert.doesNotMatch(await textOf(page, "#standing-reason"), /No contact/);
    await closeJob(page);
  }
  assert.deepEqual(page.errors, []);
});

test("a page that is open while another job begins shows that one, and nothing of the one before", { timeout: 60_000 }, async (t) => {
  const { server, page } = await toldPage(t);
  await until(async () => page.locator("#notes").isVisible(), "the page");
  await closeJob(page);
  await page.locator("#notes input[name=text]").fill("of the car before");
  serve(server, "job-2", readAt(start + 600, 25));
  await until(async () => (await textOf(page, "#job-name")).includes("job-2"), "the other job");
  await until(async () => (await page.locator("#reading").getAttribute("data-live")) === "true", "a live reading");
  assert.equal(await page.locator("#notes input[name=text]").inputValue(), "");
  assert.equal(await page.locator("#setup").isVisible(), false);
  await page.locator("#closed").getByRole("button").click();
  assert.equal(await page.locator("#closed").isVisible(), false);
});

test("while the unit is not believed the number is the one that was read by hand", { timeout: 60_000 }, async (t) => {
  const hand = { t: start + 1, kind: "reading", bus: "can0", signal: "fluid_temperature", value: 41, unit: "degC", ecu: "by hand", quality: "by hand" };
  const thermal = { t: start + 2, kind: "thermal", temp_c: 41.2, window: "inside", quality: "by hand" };
  const lines = [...readAt(start, 38), hand, readAt(start + 2, 80)[0], { t: start + 2, kind: "window", from: "below", to: "inside", temp_c: 41.2 }, thermal];
  const { page } = await toldPage(t, lines);
  let said;
  await until(async () => {
    said = await page.locator("#reading").evaluate((one) => [one.dataset.live, one.innerText, document.getElementById("reading-age").innerText].join("|"));
    return said.startsWith("true");
  }, "a live reading");
  assert.match(said, /^true\|41\s*°C\|by hand, \d+ s ago$/);
  await page.screenshot({ path: join(shots, "parts-by-hand.png") });
});
