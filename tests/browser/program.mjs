// The page against the built program: entries, a program that is killed and started again, photos, the end of the job.
import assert from "node:assert/strict";
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { entriesIn, openBrowser, openPage, pause, Served, shots, sizes, source, stateOf, temporaryFolder, textOf, until, untilState } from "./harness.mjs";

const scenario = join(source, "tests/browser/near_window.toml");
const jpeg = Buffer.from("ffd8ffe000104a464946", "hex"); // how a JPEG begins; the rest is invented
const photo = Buffer.concat([jpeg, Buffer.from("of a pan, invented"), Buffer.from("ffd9", "hex")]);

test("a job on the built program", { timeout: 240_000 }, async (t) => {
  const folder = temporaryFolder(t);
  const words = ["demo", "--data", folder, "--scenario", scenario];
  const first = await Served.start(t, [...words, "--listen", "127.0.0.1:0"]);
  const file = first.file;
  const browser = await openBrowser();
  t.after(() => browser.close());
  const page = await openPage(browser, first.url, { settings: { sound: true, name: "K. Example" } });
  await page.mouse.click(5, 300);

  /// With the course that the program draws, in each size.
  const shoot = async (name, full = false) => {
    for (const [size, viewport] of Object.entries(sizes)) {
      await page.setViewportSize(viewport);
      await page.evaluate(() => scrollTo(0, 0));
      await pause(2500); // the course is drawn anew in this width
      await page.screenshot({ path: join(shots, `program-${name}-${size}.png`), fullPage: full });
    }
    await page.setViewportSize(sizes.tablet);
  };

  await t.test("live within seconds, and what was confirmed before the page came is known", async () => {
    await until(async () => (await page.locator("#reading").getAttribute("data-live")) === "true", "a live reading");
    assert.match(await textOf(page, "#reading"), /^3\d\s*°C$/);
    await until(async () => /confirmed: T. Example/.test(await textOf(page, "#car")), "the confirmation of the decoder");
  });

  await t.test("markup in a plate stays text", async () => {
    await page.locator("#car summary").first().click();
    await page.locator("#car input[name=plate]").fill(`<img src=x onerror="document.title='torn'">`);
    await page.locator("#car input[name=odometer_km]").fill("84 2");
    await page.locator("#car form").first().getByRole("button").click();
    assert.match(await page.locator("#car form .wrong").first().innerText(), /Kilometres: this is no number that fits/);
    await page.locator("#car input[name=odometer_km]").fill("84210,5");
    await page.locator("#car form").first().getByRole("button").click();
    await until(async () => (await textOf(page, "#job-name")).includes("<img src=x"), "the plate");
    assert.equal(await page.title(), "sumplog");
    assert.equal(await page.locator("#job-name img, #car img").count(), 0);
    assert.match(entriesIn(file, "intake")[0], /84210.5/);
    assert.match(entriesIn(file, "intake")[0], /K. Example/);
  });

  await t.test("an entry whose answer is lost is sent again under its id, and stands in the job file once", async () => {
    const ids = [];
    await page.route("**/api/entries?*", async (route) => {
      ids.push(JSON.parse(route.request().postData()).id);
      if (ids.length > 1) return route.continue();
      await route.fetch(); // the program gets it
      return route.abort(); // the page never hears of it
    });
    await page.locator("#volumes input[name=litres]").first().fill("4,5");
    await page.locator("#volumes input[name=temp_c]").first().fill("38");
    await page.locator("#volumes form").first().getByRole("button", { name: "Write down" }).click();
    await until(() => ids.length >= 2, "a second attempt");
    await until(async () => !(await page.locator("#outbox").isVisible()), "an empty outbox");
    await page.unroute("**/api/entries?*");
    assert.equal(new Set(ids).size, 1);
    assert.equal(entriesIn(file, "fluid_out").length, 1);
    await until(async () => /4\.50 L/.test(await textOf(page, "#volumes")), "the volume in the list");
  });

  await t.test("an entry that waits is still there after the page was closed", async () => {
    await page.route("**/api/entries?*", (route) => route.abort());
    await page.locator("#notes input[name=text]").fill("written without contact");
    await page.locator("#notes form").first().getByRole("button").click();
    await until(async () => /being recorded: note/.test(await textOf(page, "#outbox")), "the waiting entry");
    await page.goto("about:blank");
    await page.unroute("**/api/entries?*");
    assert.equal(entriesIn(file, "note").length, 0);
    await page.goto(first.url);
    await until(() => entriesIn(file, "note").length === 1, "the note in the job file");
  });

  await t.test("photos: a type and a size that do not fit are refused, a photo is stored once", async () => {
    await page.setInputFiles("#photo-file", { name: "note.txt", mimeType: "text/plain", buffer: Buffer.from("no photo") });
    assert.match(await page.locator("#photos .wrong").innerText(), /no JPEG, PNG or WebP/);
    await page.setInputFiles("#photo-file", { name: "large.jpg", mimeType: "image/jpeg", buffer: Buffer.alloc(17 * 1024 * 1024) });
    assert.match(await page.locator("#photos .wrong").innerText(), /17 MB are too large/);
    await page.locator("#photos input[name=of]").fill("pan");
    await page.setInputFiles("#photo-file", { name: "pan.jpg", mimeType: "image/jpeg", buffer: photo });
    await until(async () => /pan/.test(await page.locator("#photos ul").last().innerText()), "the photo in the list");
    const stored = readdirSync(folder).filter((name) => name.endsWith(".jpg"));
    assert.equal(stored.length, 1);
    assert.deepEqual(readFileSync(join(folder, stored[0])), photo);
    await page.setInputFiles("#photo-file", { name: "liar.jpg", mimeType: "image/jpeg", buffer: Buffer.from("<html>") });
    await until(async () => /neither JPEG nor PNG nor WebP/.test(await textOf(page, "#photos")), "what the program says of it");
  });

  await t.test("no live reading within three seconds of the program's end; an entry waits; all comes back by itself", async () => {
    const port = new URL(first.url).port;
    const killed = Date.now();
    await first.kill();
    await untilState(page, "no_live");
    const took = Date.now() - killed;
    t.diagnostic(`no live reading ${took} ms after kill -9`);
    assert.ok(took <= 3000, `${took} ms`);
    assert.match(await textOf(page, "#reading"), /^last: 3\d °C$/);
    await page.locator("#late-more").click();
    await page.locator("#late-more").click();
    assert.equal(await textOf(page, "#late-said"), "20 s ago");
    await page.locator("#plug-out").click();
    await until(async () => /being recorded: plug out/.test(await textOf(page, "#outbox")), "the waiting entry");
    await pause(1500);
    const again = await Served.start(t, [...words, "--job", file, "--listen", `127.0.0.1:${port}`]);
    await until(async () => (await page.locator("#reading").getAttribute("data-live")) === "true", "live again", 30_000);
    await until(() => entriesIn(file, "plug_out").length === 1, "the entry in the job file");
    await until(async () => !(await page.locator("#outbox").isVisible()), "an empty outbox");
    const ago = Number(/"ago_s":(\d+)/.exec(entriesIn(file, "plug_out")[0])[1]);
    assert.ok(ago >= 21 && ago <= 60, `20 s and the time that it waited: ${ago}`);
    assert.match(await textOf(page, "#plug-now"), /^out since/);
    first.again = again;
  });

  await t.test("a key toggles the plug; held down or bouncing it counts once; in a text field it is text", async () => {
    await page.locator("#plug-out").evaluate((button) => button.blur());
    await page.keyboard.down(" ");
    await page.keyboard.down(" ");
    await page.keyboard.up(" ");
    await page.keyboard.press(" ");
    await until(() => entriesIn(file, "plug_in").length === 1, "plug in by the space bar");
    await pause(1200);
    assert.equal(entriesIn(file, "plug_in").length, 1);
    assert.equal(entriesIn(file, "plug_out").length, 1);
    await page.locator("#notes input[name=text]").fill("");
    await page.locator("#notes input[name=text]").pressSequentially("no key here");
    assert.equal(await page.locator("#notes input[name=text]").inputValue(), "no key here");
    await page.locator("#open-settings").click();
    await page.locator("#choose-key").click();
    await page.keyboard.press("F9");
    await until(async () => /F9/.test(await textOf(page, "#key-said")), "the key that was chosen");
    await page.locator("#settings .close").click();
    await pause(1100);
    await page.keyboard.press("F9");
    await until(() => entriesIn(file, "plug_out").length === 2, "plug out by the key that was chosen");
    await page.keyboard.press(" ");
    await pause(1200);
    await page.keyboard.press("F9");
    await until(() => entriesIn(file, "plug_in").length === 2, "plug in by that key");
    assert.equal(entriesIn(file, "plug_out").length, 2);
  });

  await t.test("the check may start when all conditions hold, with its sound", async () => {
    await untilState(page, "may_start", 120_000);
    assert.equal(await textOf(page, "#standing-reason"), "All conditions hold.");
    await shoot("may-start");
    await page.locator("#plug-out").click();
    await untilState(page, "check_on");
    await page.locator("#check select[name=flow]").selectOption("drip");
    await page.locator("#check form").getByRole("button", { name: "Write down" }).click();
    await until(() => entriesIn(file, "level_seen").length === 1, "what was seen");
    await page.locator("#plug-in").click();
    await until(async () => /Seen: drip · level reached/.test(await textOf(page, "#result")), `the result: ${await textOf(page, "#result")}`);
    assert.match(await textOf(page, "#result"), /conditions kept/);
    await until(() => entriesIn(file, "verdict_shown").length >= 1, "what was shown, in the job file");
    await shoot("result", true);
  });

  await t.test("a program that goes while the plug is out is heard", async () => {
    await page.locator("#plug-out").click();
    await until(() => entriesIn(file, "plug_out").length === 4, "plug out");
    await until(async () => /^out since/.test(await textOf(page, "#plug-now")), "it is out");
    await page.evaluate(() => (window.heard.length = 0));
    await first.again.kill();
    await until(async () => (await page.evaluate(() => window.heard)).some(([frequency]) => frequency === 880), "the sound for plug in");
    assert.equal(await stateOf(page), "no_live_out");
    first.again = await Served.start(t, [...words, "--job", file, "--listen", `127.0.0.1:${new URL(first.url).port}`]);
    await page.locator("#plug-in").click();
    await until(async () => /^in since/.test(await textOf(page, "#plug-now")), "it is in", 30_000);
  });

  await t.test("closing asks who takes over what is open", async () => {
    page.on("dialog", (dialog) => dialog.accept());
    await page.locator("#closing input[name=sign_over]").fill("");
    await page.locator("#closing form").getByRole("button").click();
    assert.match(await textOf(page, "#closing .wrong"), /say who takes it over/);
    await page.locator("#closing input[name=sign_over]").fill("K. Example");
    await page.locator("#closing form").getByRole("button").click();
    await until(async () => /Closed: .*Fingerprint: [0-9a-f]{64}/.test(await textOf(page, "#closing")), "the fingerprint");
    assert.equal(await first.again.ended, 0);
    await until(async () => (await stateOf(page)) === "no_live", "nothing is live any more");
    assert.ok(existsSync(file));
  });

  await t.test("a program that is started again after that leads through the first steps", async () => {
    await Served.start(t, ["demo", "--first-steps", "--data", folder, "--listen", `127.0.0.1:${new URL(first.url).port}`]);
    await until(async () => /4\. Unit and window/.test(await page.locator("#setup").innerText()), "the first steps", 30_000);
    assert.match(await textOf(page, "#closed"), /Closed: .*Fingerprint: [0-9a-f]{64}/);
    assert.doesNotMatch(await textOf(page, "#standing-reason"), /No contact/);
  });
  assert.deepEqual(page.errors, []);
  assert.deepEqual(page.foreign, []);
});
