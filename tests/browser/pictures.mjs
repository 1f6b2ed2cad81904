// Makes the pictures of docs/user_guide.md anew, from the built program and a vehicle of our own; no test.
//   SUMPLOG=build/release/sumplog SOURCE=. tests/browser/run.sh build/release pictures.mjs
import { execFileSync } from "node:child_process";
import { mkdirSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { test } from "node:test";
import { freePort, openBrowser, openPage, pause, program, Served, source, temporaryFolder, untilState } from "./harness.mjs";

const pictures = join(source, "docs/pictures");
mkdirSync(pictures, { recursive: true });

test("the pictures of the user guide", { timeout: 280_000 }, async (t) => {
  const folder = temporaryFolder(t);
  const browser = await openBrowser();
  t.after(() => browser.close());
  const shoot = async (page, name, height = 700) => {
    await page.setViewportSize({ width: 1000, height });
    await page.evaluate(() => scrollTo(0, 0));
    await pause(2500); // the course is drawn anew in this width
    await page.screenshot({ path: join(pictures, `${name}.png`) });
  };

  const first = await Served.start(t, ["demo", "--first-steps", "--data", join(folder, "first"), "--listen", `127.0.0.1:${await freePort()}`]);
  const setup = await openPage(browser, first.url, { settings: { name: "K. Example" } });
  await setup.locator("#setup input").first().waitFor();
  await shoot(setup, "1-first-steps");
  await setup.close();
  await first.kill();

  const scenario = join(source, "tests/browser/near_window.toml");
  const served = await Served.start(t, ["demo", "--data", folder, "--scenario", scenario, "--listen", "127.0.0.1:0"]);
  const page = await openPage(browser, served.url, { settings: { name: "K. Example" } });
  await page.locator("#car summary").first().click();
  await page.locator("#car input[name=plate]").fill("AB 123");
  await page.locator("#car input[name=odometer_km]").fill("84210");
  await page.locator("#car form").first().getByRole("button").click();
  await page.locator("#volumes input[name=litres]").first().fill("4.5");
  await page.locator("#volumes input[name=temp_c]").first().fill("38");
  await page.locator("#volumes form").first().getByRole("button", { name: "Write down" }).click();
  await shoot(page, "2-not-yet");
  await untilState(page, "may_start", 150_000);
  await shoot(page, "3-may-start");
  await page.locator("#plug-out").click();
  await untilState(page, "check_on");
  await pause(20_000);
  await shoot(page, "4-plug-out");
  await page.locator("#plug-in").click();
  await pause(2000);
  await shoot(page, "5-the-work", 1480);
  await page.close();
  await served.kill();

  const report = join(folder, "report.html");
  execFileSync(program, ["report", served.file, "-o", report]);
  const paper = await browser.newPage({ viewport: { width: 820, height: 1160 } });
  await paper.goto(pathToFileURL(report).href);
  await pause(500);
  await paper.screenshot({ path: join(pictures, "6-report.png") });
});
