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
