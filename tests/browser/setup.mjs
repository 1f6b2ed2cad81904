// The first five minutes: from nothing to the first temperature, one step after another, on a server that tells them.
import assert from "node:assert/strict";
import { readdirSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { entriesIn, freePort, openBrowser, openPage, pause, Served, shots, sizes, source, temporaryFolder, textOf, until } from "./harness.mjs";
import { demoTerms, playedJob, ToldServer } from "./told_server.mjs";

const window = { low_c: 35, high_c: 45, decide_c: 40, origin: "invented", origin_note: "invented for the demo" };
const decoders = [
  { id: "demo-9", title: "Demo family, 9 speeds (invented)", note: "fits no vehicle", fluid_temperature: true, window },
  { id: "demo-9b", title: "Demo family, 8 speeds (invented)", note: "fits no vehicle", fluid_temperature: true, window: { ...window, low_c: 30, high_c: 40 } },
  { id: "obd-generic", title: "Standard OBD parameters", note: "no fluid temperature in it", fluid_temperature: false },
];

test("from the plug to the first temperature", { timeout: 120_000 }, async (t) => {
  const server = await new ToldServer(playedJob(join(source, "tests/browser/warm_up.toml"), temporaryFolder(t)), { terms: demoTerms }).listen(t);
  server.setup = (wish) => {
    if (wish.interface === "can1") return false;
    if (wish.interface === "can0") server.setup.now = { stage: "car", help: "no unit answers: switch the ignition on", decoders, interface: "can0" };
    if (wish.decoder) server.setup.now = { stage: "job", decoders, interface: "can0" };
    return true;
  };
  server.setup.now = { stage: "adapter", interfaces: [], help: "no CAN interface is there: plug the adapter in", decoders: [] };
  const browser = await openBrowser();
  t.after(() => browser.close());
  const page = await openPage(browser, server.url);
  const current = () => textOf(page, ".step[data-now=true]");

  assert.match(await current(), /1\. Adapter[^]*No adapter was found[^]*plug the adapter in/);
  await page.getByLabel("Or type its name").pressSequentially("/dev/tty");
  server.setup.now = { ...server.setup.now, help: "still none: plug the adapter in" };
  await until(async () => /still none/.test(await current()), "what is wrong now");
  await page.keyboard.type("ACM0"); // the focus has stayed
  assert.equal(await page.getByLabel("Or type its name").inputValue(), "/dev/ttyACM0");
  await page.keyboard.press("Enter");
  await until(() => server.posted.some(({ wish }) => wish.interface === "/dev/ttyACM0"), "the adapter that was typed");
  await page.getByLabel("Or type its name").fill("");
  server.setup.now = { stage: "adapter", interfaces: [{ name: "can0", state: "up", note: "250 or 500 kbit/s" }, { name: "can1", state: "down" }], help: "", decoders: [] };
  await until(async () => /can1/.test(await current()), "the adapters");
  assert.equal(await page.locator("#setup input:checked").count(), 0, "nothing is chosen beforehand");
  await page.locator("#setup input[value=can1]").check();
  await page.getByRole("button", { name: "Use it" }).click();
  await until(async () => /this interface cannot be opened[^]*plug the adapter in again/.test(await current()), "what is wrong, and what to do");
  await page.locator("#setup input[value=can0]").check();
  await page.getByRole("button", { name: "Use it" }).click();
  await until(async () => /no unit answers: switch the ignition on/.test(await textOf(page, "#setup")), "the ignition");
  await server.playTo(20);
  await until(async () => /4\. Unit and window/.test(await current()), "the unit");
  assert.match(await current(), /gives a fluid temperature/);
  assert.match(await current(), /almost the same name/);
  assert.match(await current(), /Window 35–45 °C, origin: invented, invented for the demo/);
  assert.match(await current(), /0TESTCAR7FAKE0001/);
  assert.equal(await page.locator("#setup input[name=decoder]:checked").count(), 0, "no default window");
  for (const [size, viewport] of Object.entries(sizes)) {
    await page.setViewportSize(viewport);
    await page.evaluate(() => scrollTo(0, 0));
    await page.screenshot({ path: join(shots, `0-start-${size}.png`) });
  }
  await page.getByRole("button", { name: "I stand for unit and window" }).click();
  await until(async () => /Choose one of them/.test(await current()), "what is missing");
  await page.locator("#setup input[value=demo-9]").check();
  await page.getByRole("button", { name: "I stand for unit and window" }).click();
  await until(async () => /A name is needed/.test(await current()), "the name");
  assert.equal(await page.locator("#setup input[value=demo-9]").isChecked(), true, "the choice is kept");
  await page.locator("#setup input[name=by]").fill("K. Example");
  await page.getByRole("button", { name: "I stand for unit and window" }).click();
  await until(() => server.posted.some(({ wish }) => wish.decoder === "demo-9" && wish.by === "K. Example"), "the choice");
  await until(async () => /5\. Codes before/.test(await current()), "the codes");
  await page.getByRole("button", { name: "Read codes before" }).first().click();
  await until(() => server.posted.some(({ wish }) => wish.name === "scan" && wish.fields.scan === "before"), "the scan");
  await server.playTo(40);
  await until(async () => /6\. Begin/.test(await current()), "the end of the scan");
  await page.getByRole("button", { name: "Begin", exact: true }).click();
  await pause(300);
  assert.equal(await page.locator("#setup").isVisible(), false);
  assert.equal(await page.locator("#work").isVisible(), true);
  await until(async () => (await page.locator("#reading").getAttribute("data-live")) === "true", "the first temperature");
  assert.deepEqual(page.errors, []);
});

test("the built program leads from the plug to the first temperature", { timeout: 120_000 }, async (t) => {
  const folder = temporaryFolder(t);
  const port = await freePort();
  const served = await Served.start(t, ["demo", "--first-steps", "--data", folder, "--listen", `127.0.0.1:${port}`]);
  const browser = await openBrowser();
  t.after(() => browser.close());
  const began = Date.now();
  const page = await openPage(browser, served.url);
  const current = () => textOf(page, ".step[data-now=true]");
  await until(async () => (await page.locator(".step").count()) === 6 && /4\. Unit and window/.test(await current()), "the unit", 30_000);
  assert.match(await current(), /0TESTCAR7FAKE0001/);
  assert.match(await current(), /Window 35–45 °C, origin: invented/);
  assert.equal(await page.locator("#setup input:checked").count(), 0);
  await page.locator("#setup input[value=demo-9]").check();
  await page.locator("#setup input[name=by]").fill("K. Example");
  await page.getByRole("button", { name: "I stand for unit and window" }).click();
  await until(async () => /5\. Codes before/.test(await current()), "the job", 30_000);
  await until(async () => (await page.locator("#reading").getAttribute("data-live")) === "true", "the first temperature", 30_000);
  t.diagnostic(`first temperature ${Date.now() - began} ms after the page was opened`);
  await page.locator("#setup").getByRole("button", { name: "Read codes before" }).click();
  await until(async () => /6\. Begin/.test(await current()), "the end of the scan", 30_000);
  await page.getByRole("button", { name: "Begin", exact: true }).click();
  await until(async () => (await page.locator("#car").innerText()).match(/confirmed: K. Example/g)?.length === 2, "window and decoder, confirmed by name");
  const files = readdirSync(folder).filter((name) => name.endsWith(".log") && !name.startsWith("."));
  assert.equal(files.length, 1);
  assert.equal(entriesIn(join(folder, files[0]), "confirmed").length, 2);
  assert.deepEqual(page.errors, []);
});
