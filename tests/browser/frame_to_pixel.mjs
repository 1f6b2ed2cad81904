// How long it takes from a frame on the bus to the event in the browser, and to the picture: printed, never judged.
import assert from "node:assert/strict";
import { test } from "node:test";
import { openBrowser, openPage, pause, Served, temporaryFolder, until } from "./harness.mjs";

const measuredFor = 45_000; // ms
const least = 200; // events: below that a 99th percentile is no more than the largest

/// in  sorted, ascending
const quantile = (sorted, share) => sorted[Math.min(sorted.length - 1, Math.ceil(share * sorted.length) - 1)];
const told = (name, values) => {
  const sorted = [...values].sort((a, b) => a - b);
  return `${name}: median ${quantile(sorted, 0.5).toFixed(1)} ms, 99th percentile ${quantile(sorted, 0.99).toFixed(1)} ms, largest ${sorted.at(-1).toFixed(1)} ms, ${sorted.length} readings`;
};

test("from a frame on the bus to the event in the browser", { timeout: 120_000 }, async (t) => {
  // The time of a reading is that of the last frame of its answer, on the wall clock of the start plus the time since then; the
  // browser's clock is the same one.
  const served = await Served.start(t, ["demo", "--data", temporaryFolder(t), "--listen", "127.0.0.1:0"]);
  const browser = await openBrowser();
  t.after(() => browser.close());
  const page = await openPage(browser, served.url);
  await until(async () => (await page.locator("#reading").getAttribute("data-live")) === "true", "a live reading");
  await page.evaluate(async () => {
    const { line } = await (await fetch("/api/state")).json();
    window.took = { event: [], picture: [] };
    const wall = () => performance.timeOrigin + performance.now();
    const stream = new EventSource(`/api/events?after=${line}`);
    stream.onmessage = ({ data }) => {
      const came = wall();
      const { kind, t: at } = JSON.parse(data);
      if (kind !== "reading") return;
      window.took.event.push(came - at * 1000);
      // The page draws when its own stream brings the line; the frame after this one shows it.
      requestAnimationFrame(() => requestAnimationFrame(() => window.took.picture.push(wall() - at * 1000)));
    };
  });
  await pause(measuredFor);
  const { event, picture } = await page.evaluate(() => window.took);
  assert.ok(event.length >= least, `only ${event.length} readings came`);
  assert.ok(Math.min(...event) > -5, `a reading came ${-Math.min(...event)} ms before its frame: the clocks differ`);
  t.diagnostic(told("frame to event", event));
  t.diagnostic(told("frame to picture", picture));
});
