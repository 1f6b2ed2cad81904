// Whom the page is for: by keyboard alone, on a phone, in the dark, in °F, in another language, with a screen reader.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { contrastFaults, smallTargets } from "./wcag.mjs";
import { modules, openBrowser, openPage, pause, shots, source, temporaryFolder, textOf, until } from "./harness.mjs";
import { demoTerms, playedJob, ToldServer } from "./told_server.mjs";

const axe = readFileSync(modules.resolve("axe-core/axe.min.js"), "utf8");

/// Rules of WCAG 2.2, A and AA, as axe-core knows them.
async function axeFaults(page) {
  await page.evaluate(axe); // through the debugger: the page's policy admits no foreign script
  const found = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
  return found.violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.target.join(" ")).join(", ")}`);
}

test("the page is for everybody", { timeout: 240_000 }, async (t) => {
  const job = playedJob(join(source, "tests/browser/warm_up.toml"), temporaryFolder(t));
  const server = await new ToldServer(job, { terms: { ...demoTerms, by_hand: ["the car is level"] } }).listen(t);
  const drawn = (more) => `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 50">${more}<text x="2" y="40">course</text></svg>`;
  server.course = drawn("");
  const browser = await openBrowser();
  t.after(() => browser.close());
  await server.playTo(200);

  await t.test("WCAG 2.2 AA by axe-core, contrast and target size by computation, in each state, light and dark", async () => {
    for (const dark of [false, true]) {
      const page = await openPage(browser, server.url, { dark });
      for (const seconds of [200, 330, 440, 552, 575, 605]) {
        await server.playTo(seconds, 600);
        await pause(900);
        assert.deepEqual(await contrastFaults(page), [], `contrast at ${seconds} s, dark ${dark}`);
        if (dark && seconds < 605) continue;
        for (const details of await page.locator("details").all()) await details.evaluate((one) => (one.open = true));
        assert.deepEqual(await axeFaults(page), [], `axe at ${seconds} s, dark ${dark}`);
        assert.deepEqual(await smallTargets(page), [], "WCAG 2.2, 2.5.8: 24 by 24 CSS pixels");
        assert.deepEqual(await contrastFaults(page), [], `contrast with all open, dark ${dark}`);
      }
      for (const name of ["cautions", "sounds", "settings"]) {
        await page.locator(`#open-${name}`).click();
        assert.deepEqual(await axeFaults(page), [], `axe in ${name}`);
        assert.deepEqual(await contrastFaults(page), [], `contrast in ${name}`);
        assert.deepEqual(await smallTargets(page), [], name);
        await page.keyboard.press("Escape");
      }
      await page.screenshot({ path: join(shots, `9-${dark ? "dark" : "light"}.png`) });
      assert.deepEqual(page.errors, []);
      await page.context().close();
    }
  });

  await t.test("the number is large enough for three metres, and no state rests on a colour", async () => {
    const page = await openPage(browser, server.url);
    await server.playTo(640);
    await until(async () => (await page.locator("#reading").getAttribute("data-live")) === "true", "a live reading");
    // 20 arc minutes at 3 m are 17 mm (ISO 9241-303 asks for 16 or more); a tablet of 1024 px has about 200 mm, a capital 0.7 em.
    const size = Number.parseFloat(await page.locator("#reading").evaluate((one) => getComputedStyle(one).fontSize));
    assert.ok(size * 0.7 >= 17 * (1024 / 200), `${size} px`);
    const shapes = await page.locator(".store symbol").evaluateAll((all) => all.map((one) => one.innerHTML));
    assert.equal(new Set(shapes).size, 7, "each state has its own shape");
    const words = JSON.parse(readFileSync(join(source, "src/page/messages/en.json"), "utf8")).page;
    const states = Object.keys(words).filter((key) => /^state_/.test(key));
    assert.equal(new Set(states.map((key) => words[key])).size, 7, "and its own word");
    await page.context().close();
  });

  await t.test("on a phone nothing is cut off and nothing scrolls sideways", async () => {
    const page = await openPage(browser, server.url, { size: "phone", mobile: true });
    await pause(1200);
    assert.equal(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), true);
    for (const id of ["#plug-out", "#plug-in"]) {
      const box = await page.locator(id).boundingBox();
      assert.ok(box.y + box.height <= 844, `${id} is on the first screen: ${JSON.stringify(box)}`);
    }
    await page.setViewportSize({ width: 320, height: 700 }); // WCAG 2.1, 1.4.10
    for (const details of await page.locator("details").all()) await details.evaluate((one) => (one.open = true));
    assert.deepEqual(await page.evaluate(() => [...document.querySelectorAll("body *")].filter((one) => one.getBoundingClientRect().right > 320 && !one.closest(".scroll, .store, .unseen, .name")).map((one) => `${one.tagName} ${one.id} ${one.className}`)), []);
    assert.equal(await page.evaluate(() => document.documentElement.scrollWidth), 320);
    await page.context().close();
  });

  await t.test("°F: a reading and a difference are converted differently, and what is typed in °F is recorded in °C", async () => {
    const page = await openPage(browser, server.url, { settings: { unit: "F" } });
    await until(async () => /^1[12]\d\s*°F$/.test(await textOf(page, "#reading")), "°F");
    await until(async () => (await textOf(page, "#fact-window")) === "95–113 °F", "the window in °F");
    assert.match(await textOf(page, "#fact-rate"), /^\+4\.\d °F\/min/);
    assert.match(await page.locator("#advice").textContent(), /fluid cool below 86\s°F and coolant below 122\s°F/, "what the program says, too");
    assert.equal(/°C/.test(await page.locator("#live, #work").allInnerTexts().then((all) => all.join(" ").replace(/Density at 15 °C/, ""))), false, "nowhere °C");
    await page.locator("#thermometer input[name=value_c]").fill("100.4");
    await page.locator("#thermometer form").first().getByRole("button").click();
    await until(() => server.posted.some(({ wish }) => wish.name === "reading_by_hand"), "the reading by hand");
    assert.equal(server.posted.find(({ wish }) => wish.name === "reading_by_hand").wish.fields.value_c, 38);
    await page.context().close();
  });

  await t.test("the browser's language decides, a choice overrides it", async () => {
    const page = await openPage(browser, server.url, { locale: "de-DE" });
    await until(async () => /nicht beginnen/.test(await textOf(page, "#standing-word")), "German");
    assert.equal(await page.evaluate(() => document.documentElement.lang), "de");
    assert.equal(await textOf(page, "#standing-reason"), "Öl ist über dem Fenster");
    await page.screenshot({ path: join(shots, "9-german.png"), fullPage: true });
    await page.locator("#open-settings").click();
    await page.locator("#set-language").selectOption("en");
    await until(async () => /do not start/.test(await textOf(page, "#standing-word")), "English");
    assert.match(await page.locator("#advice").textContent(), /^Plug in while the engine runs/, "what stood there before speaks it too");
    await page.reload();
    await until(async () => /do not start/.test(await textOf(page, "#standing-word")), "English after a reload");
    await page.context().close();
  });

  await t.test("on the German page nothing is left in English that a message file can carry", async () => {
    const page = await openPage(browser, server.url, { locale: "de-DE" });
    await until(async () => /nicht beginnen/.test(await textOf(page, "#standing-word")), "German");
    for (const details of await page.locator("details").all()) await details.evaluate((one) => (one.open = true));
    const texts = await page.evaluate(() => {
      const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
      const all = [];
      while (walker.nextNode()) if (!walker.currentNode.parentElement.closest("#cautions, option[lang], noscript")) all.push(walker.currentNode.data.trim());
      return all.filter((one) => /[a-z]{3}/.test(one));
    });
    assert.ok(texts.length > 100, `only ${texts.length} texts`);
    // What a decoder, a service file or a person says stays as it is.
    const given = [demoTerms.service.title, "the car is level", ...demoTerms.decoders.flatMap(({ title, note }) => [title, note])].filter(Boolean);
    const left = texts.map((one) => given.reduce((text, words) => text.replaceAll(words, ""), one));
    assert.deepEqual(left.filter((one) => /\b(the|and|not|nobody|is|are|were|with|without|from|than|of|at|for|fluid|engine|plug|read|said)\b/i.test(one)), []);
    await page.context().close();
  });

  await t.test("by keyboard alone: to the plug, through every field, and out of each dialog", async () => {
    const page = await openPage(browser, server.url);
    await pause(1500);
    const reached = new Set();
    for (let i = 0; i < 400; i += 1) {
      await page.keyboard.press("Tab");
      const at = await page.evaluate(() => {
        const one = document.activeElement;
        const outline = getComputedStyle(one).outlineStyle;
        one.dataset.reached = "true";
        return { id: one.id, tag: one.tagName, outline };
      });
      if (at.tag === "BODY") break;
      assert.notEqual(at.outline, "none", `the focus is seen on ${at.tag} ${at.id}`);
      reached.add(at.id);
    }
    const left = await page.evaluate(() => [...document.querySelectorAll("button, input, select, summary")].filter((one) => one.checkVisibility() && !one.disabled && !one.dataset.reached && !one.closest("dialog")).map((one) => one.id || one.textContent));
    assert.deepEqual(left, [], "everything is reached");
    await page.locator("#plug-out").focus();
    await page.keyboard.press("Enter");
    await until(() => server.posted.some(({ wish }) => wish.name === "plug_out"), "plug out by Enter");
    await page.locator("#open-cautions").focus();
    await page.keyboard.press("Enter");
    assert.match(await textOf(page, "#cautions"), /Hot fluid burns/);
    assert.match(await textOf(page, "#cautions"), /hot fluid on the exhaust/, "those of the service file");
    await page.keyboard.press("Escape");
    assert.equal(await page.locator("#cautions").isVisible(), false);
    await page.context().close();
  });

  await t.test("each sound can be tried, and they differ in pitch, number and wave", async () => {
    const page = await openPage(browser, server.url);
    await page.locator("#open-sounds").click();
    const heard = [];
    for (const name of ["get_ready", "now", "plug_in"]) {
      await page.evaluate(() => (window.heard.length = 0));
      await page.locator(`#try-${name}`).click();
      heard.push(await page.evaluate(() => window.heard));
    }
    assert.equal(new Set(heard.map((tones) => tones[0][0])).size, 3);
    assert.equal(new Set(heard.map((tones) => tones[0][1])).size, 3);
    assert.equal(new Set(heard.map((tones) => tones.length)).size, 3);
    await page.context().close();
  });

  await t.test("the course is put in without what could run", async () => {
    server.course = drawn('<script>window.torn = true</script><rect width="100" height="20" onload="window.torn = true"/>');
    const page = await openPage(browser, server.url);
    await until(async () => page.locator("#course svg rect").isVisible(), "the course");
    assert.equal(await page.locator("#course [onload]").count(), 0);
    assert.equal(await page.locator("#course script").count(), 0);
    assert.equal(await page.evaluate(() => window.torn), undefined);
    server.course = undefined;
    await until(async () => !(await page.locator("#course").isVisible()), "no course, no picture");
    await page.context().close();
  });

  await t.test("the screen is kept on, or the page says that it is not", async () => {
    const page = await openPage(browser, server.url);
    await page.mouse.click(5, 300);
    await page.locator("#open-settings").click();
    await until(async () => /screen/.test(await textOf(page, "#wake-said")), "what it says of the screen");
    await page.context().close();
    const without = await browser.newContext();
    await without.addInitScript(() => Object.defineProperty(Navigator.prototype, "wakeLock", { value: undefined }));
    const old = await without.newPage();
    await old.goto(server.url);
    await old.locator("#open-settings").click();
    await until(async () => /does not keep the screen on/.test(await textOf(old, "#wake-said")), "that it cannot");
    await without.close();
  });

  await t.test("the HTML is valid", async () => {
    const { HtmlValidate } = modules("html-validate");
    const validate = new HtmlValidate({ root: true, extends: ["html-validate:standard"], rules: { "no-inline-style": "error", "require-sri": "off" } });
    const report = await validate.validateFile(join(source, "src/page/index.html"));
    assert.deepEqual(report.results.flatMap((one) => one.messages.map((m) => `${m.line}: ${m.ruleId}: ${m.message}`)), []);
    const page = await openPage(browser, server.url); // and as it is once it is filled
    await pause(1500);
  const filled = await validate.validateString(`<!doctype html>${await page.evaluate(() => document.documentElement.outerHTML)}`, {
      root: true, extends: ["html-validate:standard"], rules: { "require-sri": "off", "no-trailing-whitespace": "off", "attribute-boolean-style": "off", "attribute-empty-style": "off", "doctype-style": "off", "void-style": "off" },
    });
    assert.deepEqual(filled.results.flatMap((one) => one.messages.map((m) => `${m.line}: ${m.ruleId}: ${m.message} ${m.selector ?? ""}`)), []);
    await page.context().close();
  });
});
