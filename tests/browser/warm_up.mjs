// A whole warm-up at high speed, as a technician sees and hears it; screenshots of eight moments in three sizes.
import assert from "node:assert/strict";
import { join } from "node:path";
import { test } from "node:test";
import { openBrowser, openPage, pause, shots, sizes, source, stateOf, temporaryFolder, textOf, until, untilState } from "./harness.mjs";
import { demoTerms, playedJob, ToldServer } from "./told_server.mjs";

const near = (frequency) => ({ 392: "get ready", 1319: "now", 880: "plug in" })[frequency];
/// The figures that were heard, each named by its first tone.
async function figures(page) {
  return (await page.evaluate(() => window.heard)).map(([frequency]) => near(frequency)).filter(Boolean);
}

test("a warm-up through the window: words, states, sounds", { timeout: 240_000 }, async (t) => {
  const job = playedJob(join(source, "tests/browser/warm_up.toml"), temporaryFolder(t));
  const server = await new ToldServer(job, { terms: demoTerms }).listen(t);
  const browser = await openBrowser();
  t.after(() => browser.close());
  const settings = { sound: true };
  const pages = {};
  for (const size of Object.keys(sizes)) pages[size] = await openPage(browser, server.url, { size, mobile: size === "phone", settings });
  pages["phone-german-dark"] = await openPage(browser, server.url, { size: "phone", mobile: true, settings, locale: "de-DE", dark: true });
  const page = pages.tablet;
  let moment = 0;
  const shoot = async (name, prepare = async () => {}, full = false) => {
    moment += 1;
    for (const [size, one] of Object.entries(pages)) {
      await prepare(one);
      await pause(300);
      await one.screenshot({ path: join(shots, `${moment}-${name}-${size}.png`), fullPage: full });
    }
  };
  const everywhere = async (state) => {
    for (const one of Object.values(pages)) await untilState(one, state);
  };
  for (const one of Object.values(pages)) await one.mouse.click(5, 300); // a browser sounds only after a touch

  await server.playTo(30);
  await everywhere("not_yet");
  assert.equal(await page.locator("#plug-out.next, #plug-in.next").count(), 0, "nothing to do at the plug yet");
  assert.match(await textOf(page, "#standing"), /not yet\s+selector cycle is not complete: D/);
  assert.equal(await page.title(), "sumplog", "a script in a plate stays text");
  await until(async () => (await textOf(page, "#job-name")).includes("<script>"), "the plate as it was typed");
  await shoot("first-minute");

  await server.playTo(200);
  assert.match(await textOf(page, "#forecast"), /starts in about \d+\u00a0min(\u00a0\d0\u00a0s)? \(\d+:\d\d–\u2060\d+:\d\d\), lasts about \d+\u00a0min/);
  assert.match(await textOf(page, "#fact-rate"), /\+2\.\d °C\/min/);
  assert.equal(await textOf(page, "#fact-selector"), "P");
  assert.match(await textOf(page, "#fact-engine"), /^\d{3} rpm$/);
  assert.equal(await page.locator("#reading").getAttribute("data-live"), "true");
  assert.match(await textOf(page, "#reading"), /^(29|30)\s*°C$/);
  assert.ok((await figures(page)).includes("get ready"));
  assert.ok(!(await figures(page)).includes("now"));
  await shoot("warming");

  await server.playTo(330);
  await everywhere("may_start");
  assert.equal(await page.locator("#plug-out.next").count(), 1);
  assert.equal(await page.locator(".warning", { hasText: "the window" }).count(), 1, "what was said of the window before is no news");
  assert.ok((await figures(page)).includes("now"), "the sound of the window's start");
  assert.match(await textOf(page, "#forecast"), /in the window for about/);
  await shoot("may-start");

  await server.playTo(440);
  await everywhere("check_on");
  assert.equal(await page.locator("#plug-in.next").count(), 1);
  assert.match(await textOf(page, "#plug-now"), /^out since/);
  assert.ok(!(await figures(page)).includes("plug in"));
  await shoot("plug-out");

  await server.playTo(552);
  await everywhere("plug_in_now");
  assert.ok((await figures(page)).includes("plug in"));
  assert.match(await textOf(page, "#say-warning"), /plug in/i);
  await shoot("plug-in-now");

  await server.playTo(575);
  await everywhere("do_not_start");
  assert.equal(await page.locator("#plug-out.next, #plug-in.next").count(), 0);
  await until(async () => /conditions not kept/.test(await textOf(page, "#result")), "the result");
  assert.match(await textOf(page, "#result"), /above the window/);
  assert.match(await textOf(page, "#result"), /Seen: thread/);
  await until(() => server.posted.some(({ wish }) => wish.name === "verdict_shown" && wish.fields.conditions === "not kept"), "what was shown is entered");
  const shownIds = server.posted.filter(({ wish }) => wish.name === "verdict_shown").map(({ wish }) => wish.id);
  assert.equal(new Set(shownIds).size, 1, "three pages give the same entry");
  await shoot("result", (one) => one.locator("#result").scrollIntoViewIfNeeded());
  for (const one of Object.values(pages)) await one.evaluate(() => scrollTo(0, 0));

  await server.playTo(605);
  await everywhere("no_live_out");
  assert.match(await textOf(page, "#reading"), /^last: 4\d °C$/);
  assert.equal(await page.locator("#reading s").count(), 1, "an old number is struck through");
  assert.match(await textOf(page, "#standing"), /no live reading: plug in\s+no answer/);
  assert.equal(await textOf(page, "#forecast"), "");
  await shoot("no-live-reading");

  await server.playTo(655);
  await until(async () => !/^no_live/.test(await stateOf(page)), "live again");
  assert.match(await textOf(page, "#volumes"), /4\.40 L/);
  assert.match(await textOf(page, "#codes"), /P0897/);
  await shoot("below", async () => {}, true);

  const before = Date.now();
  server.close();
  await untilState(page, "no_live");
  assert.ok(Date.now() - before <= 3000, `no live reading after ${Date.now() - before} ms`);
  assert.match(await textOf(page, "#standing-reason"), /No contact with the program/);
  for (const one of Object.values(pages)) {
    assert.deepEqual(one.errors, []);
    assert.deepEqual(one.foreign, [], "no request to another place");
  }
});
