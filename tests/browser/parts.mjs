// What single parts of the page do with what they are told: no program, a server that says what a test wants.
import assert from "node:assert/strict";
import { test } from "node:test";
import { openBrowser, openPage, textOf, until } from "./harness.mjs";
import { demoTerms, ToldServer } from "./told_server.mjs";

const start = 1_764_065_400;

/// A job of which the page knows no more than these lines.
async function toldPage(t, lines, options) {
  const server = await new ToldServer({ lines, summary: { job: "job-1" } }, { terms: demoTerms }).listen(t);
  server.told = 0;
  const browser = await openBrowser();
  t.after(() => browser.close());
  return { server, page: await openPage(browser, server.url, options) };
}

test("a span is rounded to minutes before it is told in hours", { timeout: 60_000 }, async (t) => {
  const { page } = await toldPage(t, [{ t: start, kind: "cue", name: "soon_5_min", text: "" }]);
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
  const { server, page } = await toldPage(t, [{ t: start, kind: "cue", name: "soon_5_min", text: "" }]);
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
  const { server, page } = await toldPage(t, [{ t: start, kind: "cue", name: "soon_5_min", text: "" }]);
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
  const { server, page } = await toldPage(t, [{ t: start, kind: "cue", name: "soon_5_min", text: "" }]);
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
