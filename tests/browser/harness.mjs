// What the browser tests share: the browser, the program, and a page whose sounds are written down instead of heard.
import { spawn } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import net from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";

export const modules = createRequire(join(process.env.BROWSER_MODULES, "package.json"));
const { chromium } = modules("playwright-core");

export const source = process.env.SOURCE;
export const program = process.env.SUMPLOG;
export const shots = process.env.SHOTS;
mkdirSync(shots, { recursive: true });

export const sizes = { phone: { width: 390, height: 844 }, tablet: { width: 1024, height: 768 }, desktop: { width: 1440, height: 900 } };

export const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

/// Waits until `ask` gives something; what it gave last is told when it never does.
export async function until(ask, what, patience = 20_000) {
  const limit = Date.now() + patience;
  let last;
  while (Date.now() < limit) {
    last = await ask();
    if (last) return last;
    await pause(50);
  }
  throw new Error(`never came: ${what}; last: ${JSON.stringify(last)}`);
}

export async function openBrowser(...more) {
  // Containers have no user namespaces; the page is our own.
  return chromium.launch({ executablePath: process.env.CHROMIUM, args: ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", ...more] });
}

/// A page with a stub of the audio node: `window.heard` holds each tone as [frequency, wave].
export async function openPage(browser, url, { size = "tablet", locale = "en-GB", dark = false, mobile = false, settings, errors = [] } = {}) {
  const context = await browser.newContext({ viewport: sizes[size], locale, colorScheme: dark ? "dark" : "light", hasTouch: mobile, isMobile: mobile });
  const page = await context.newPage();
  page.errors = errors;
  page.on("pageerror", (error) => errors.push(`error: ${error.message}`));
  page.on("console", (message) => {
    if (/Content Security Policy|Refused/.test(message.text())) errors.push(message.text());
  });
  page.foreign = [];
  page.on("request", (request) => {
    if (!request.url().startsWith(new URL(url).origin) && !request.url().startsWith("blob:")) page.foreign.push(request.url());
  });
  await page.addInitScript((given) => {
    if (location.protocol !== "http:") return;
    window.heard = [];
    const param = () => ({ value: 0, setValueAtTime() {}, linearRampToValueAtTime() {} });
    const node = (more) => ({ connect: (to) => to, ...more });
    window.AudioContext = class {
      state = "running";
      currentTime = 0;
      destination = node({});
      resume() {
        return Promise.resolve();
      }
      createGain() {
        return node({ gain: param() });
      }
      createOscillator() {
        const tone = node({ type: "", frequency: param(), stop() {}, start: () => window.heard.push([tone.frequency.value, tone.type]) });
        return tone;
      }
    };
    if (given && !localStorage.getItem("sumplog.settings")) localStorage.setItem("sumplog.settings", JSON.stringify(given));
  }, settings);
  await page.goto(url);
  await page.locator("#standing-word").waitFor({ state: "attached" });
  return page;
}

export const stateOf = (page) => page.locator("#standing").getAttribute("data-state");
export const textOf = (page, selector) => page.locator(selector).innerText();
export async function untilState(page, state, patience) {
  try {
    await until(async () => (await stateOf(page)) === state, `state ${state}`, patience);
  } catch (error) {
    throw new Error(`${error.message}; the page says: ${await textOf(page, "#live")}`);
  }
}

export function temporaryFolder(t) {
  const folder = mkdtempSync(join(tmpdir(), "sumplog-browser-"));
  t.after(() => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

/// The built program with its page.
export class Served {
  static async start(t, words) {
    const served = new Served();
    served.process = spawn(program, [...words, "--json"], { stdio: ["ignore", "ignore", "pipe"] });
    served.said = "";
    served.process.stderr.on("data", (bytes) => (served.said += bytes));
    served.ended = new Promise((resolve) => served.process.on("exit", resolve));
    t.after(() => served.kill());
    served.url = await until(() => /page: (http:\/\/[0-9.:]+\/)/.exec(served.said)?.[1], `page of ${words.join(" ")}: ${served.said}`);
    served.file = /job file: (.*\.log)/.exec(served.said)?.[1];
    return served;
  }

  async kill() {
    if (this.process.exitCode === null && this.process.signalCode === null) this.process.kill("SIGKILL");
    await this.ended;
  }
}

export async function freePort() {
  const server = net.createServer();
  await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
  const { port } = server.address();
  await new Promise((resolve) => server.close(resolve));
  return port;
}

/// Lines of a job file that are entries with this name.
export function entriesIn(file, name) {
  return readFileSync(file, "utf8").split("\n").filter((line) => line.startsWith("# ") && line.includes(`"${name}"`));
}
