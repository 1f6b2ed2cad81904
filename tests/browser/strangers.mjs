// Who may look, and who may not: the link with its token in a real browser, pages of other places, a name that was led here, and
// somebody who takes all connections that there are.
import assert from "node:assert/strict";
import http from "node:http";
import { join } from "node:path";
import net from "node:net";
import { test } from "node:test";
import { entriesIn, openBrowser, openPage, pause, Served, shots, sizes, temporaryFolder, textOf, until } from "./harness.mjs";

const live = async (page) => (await page.locator("#reading").getAttribute("data-live")) === "true";

/// A page of another place, with this body, reached under this name.
async function foreignPage(t, name, body) {
  const server = http.createServer((request, response) => response.writeHead(200, { "Content-Type": "text/html" }).end(`<!doctype html><title>elsewhere</title>${body}`));
  await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
  t.after(() => server.close());
  return `http://${name}:${server.address().port}/`;
}

/// What a page of another place tries with the cookies of whoever looks at it; each comes back as "refused" or what it got.
async function tryEverything(page, url) {
  return page.evaluate(async (at) => {
    const entry = (id) => JSON.stringify({ id, name: "note", fields: { text: "of a foreign page" } });
    const say = (call) => call.then((answer) => `${answer.type} ${answer.status}`, () => "refused");
    return Promise.all([
      say(fetch(`${at}api/state`, { credentials: "include" })),
      say(fetch(`${at}api/entries`, { method: "POST", credentials: "include", headers: { "Content-Type": "application/json" }, body: entry("f-1") })),
      say(fetch(`${at}api/entries`, { method: "POST", credentials: "include", mode: "no-cors", headers: { "Content-Type": "text/plain" }, body: entry("f-2") })),
      new Promise((resolve) => {
        const stream = new EventSource(`${at}api/events`, { withCredentials: true });
        stream.onmessage = (event) => resolve(`a line: ${event.data}`);
        stream.onerror = () => resolve("refused");
      }),
    ]);
  }, url);
}

test("who may look", { timeout: 240_000 }, async (t) => {
  const folder = temporaryFolder(t);
  const served = await Served.start(t, ["demo", "--data", folder, "--listen", "0.0.0.0:0"]);
  const link = /page: (\S+)/.exec(served.said)[1].replace("//0.0.0.0:", "//127.0.0.1:");
  const address = new URL("/", link).href;
  const elsewhere = new URL(link).hostname === "127.0.0.1" ? "localhost" : "127.0.0.1"; // another site than the page's
  const browser = await openBrowser();
  t.after(() => browser.close());
  const fresh = async () => {
    const context = await browser.newContext({ locale: "en-GB" });
    return context.newPage();
  };

  await t.test("without the link, or with a wrong one, a page says what to do, and nothing else is told", async () => {
    assert.match(link, /\?token=[0-9a-f]{32}$/);
    const page = await fresh();
    for (const at of [address, `${address}?token=${"0".repeat(32)}`]) {
      const answer = await page.goto(at);
      assert.equal(answer.status(), 401);
      const text = await page.locator("main").innerText();
      assert.match(text, /not known to sumplog yet/);
      assert.match(text, /Point the camera of this device at the square code/);
      assert.match(text, /Die Kamera dieses Geräts/);
    }
    await page.setViewportSize(sizes.phone);
    await page.screenshot({ path: join(shots, "0-no-token-phone.png") });
    assert.deepEqual(await page.context().cookies(), []);
    for (const path of ["api/state", "api/events", "api/entries", "api/course.svg", "page/js/main.js"]) assert.equal(await page.evaluate(async (at) => (await fetch(at)).status, `/${path}`), 401, path);
    await page.context().close();
  });

  const page = await openPage(browser, link, { settings: { name: "K. Example" } });
  await t.test("the link opens the page, the token leaves the address, and a cookie that no script sees keeps it open", async () => {
    assert.equal(page.url(), address);
    const [cookie, ...others] = await page.context().cookies();
    assert.deepEqual(others, []);
    assert.equal(cookie.name, `sumplog_${new URL(address).port}`);
    assert.equal(cookie.httpOnly, true);
    assert.notEqual(cookie.sameSite, "None");
    assert.equal(await page.evaluate(() => document.cookie), "");
    await until(() => live(page), "a live reading");
    await page.reload();
    await until(() => live(page), "a live reading after a reload without the token");
    await page.locator("#notes input[name=text]").fill("with the cookie");
    await page.locator("#notes form").first().getByRole("button").click();
    await until(() => entriesIn(served.file, "note").length === 1, "the entry in the job file");
    assert.deepEqual(page.errors, []);
  });

  await t.test("the link works from a page of another place too: from a message in a browser, say", async () => {
    const other = await fresh();
    await other.goto(await foreignPage(t, elsewhere, `<a href="${link}">sumplog</a><a id="bare" href="${address}">bare</a>`));
    await other.getByText("sumplog").click();
    await until(async () => (await other.locator("#reading").count()) > 0 && (await live(other)), "a live reading behind a link");
    await other.goBack();
    await other.locator("#bare").click();
    await until(async () => (await other.locator("#reading").count()) > 0 && (await live(other)), "and behind a bare one, now that the browser is known");
    await other.context().close();
  });

  await t.test("a page of another place gets nothing and enters nothing, whatever cookie the browser has", async () => {
    const other = await page.context().newPage();
    await other.goto(await foreignPage(t, elsewhere, `<form method="post" enctype="text/plain" action="${address}api/entries"><input name='{"id":"f-3","name":"note","fields":{"text":"' value='of a foreign form"}}'></form>`));
    const [state, json, plain, stream] = await tryEverything(other, address);
    assert.equal(state, "refused");
    assert.equal(json, "refused");
    assert.ok(["refused", "opaque 0"].includes(plain), plain); // sent, and answered with an error that the page cannot read
    assert.equal(stream, "refused");
    await other.locator("form").evaluate((form) => form.submit());
    await until(async () => /another place|Content-Type|token/.test(await other.locator("body").innerText()), "the form is refused");
    const frame = await page.context().newPage();
    await frame.goto(await foreignPage(t, elsewhere, `<iframe src="${address}"></iframe>`));
    await pause(1000);
    assert.equal(await frame.frames()[1].locator("#reading").count().catch(() => 0), 0, "in nobody's frame");
    assert.equal(entriesIn(served.file, "note").length, 1);
    await other.close();
    await frame.close();
  });

  await t.test("with all connections taken, the page that is open stays live, and another one still opens", async () => {
    const { hostname, port } = new URL(address);
    const taken = Array.from({ length: 200 }, () => net.connect(Number(port), hostname).on("error", () => {}));
    for (const one of taken) one.write("GET / HTTP/1.1\r\nHost: ");
    const drip = setInterval(() => taken.forEach((one) => one.writable && one.write("x")), 300);
    const gone = [];
    const limit = Date.now() + 12_000; // longer than a header may take
    while (Date.now() < limit) {
      if (!(await live(page))) gone.push(limit - Date.now());
      await pause(200);
    }
    assert.deepEqual(gone, [], "the reading went away");
    const again = Array.from({ length: 200 }, () => net.connect(Number(port), hostname).on("error", () => {}));
    await pause(1500);
    const second = await openPage(browser, link);
    await until(() => live(second), "a live reading on a page that was opened meanwhile");
    clearInterval(drip);
    for (const one of [...taken, ...again]) one.destroy();
    await second.context().close();
  });
  assert.deepEqual(page.foreign, []);
});

test("a name that was led here is not this server", { timeout: 60_000 }, async (t) => {
  const served = await Served.start(t, ["demo", "--data", temporaryFolder(t), "--listen", "127.0.0.1:0"]);
  const { port } = new URL(served.url);
  const browser = await openBrowser("--host-resolver-rules=MAP rebound.example 127.0.0.1");
  t.after(() => browser.close());
  const page = await browser.newPage();
  const answer = await page.goto(`http://rebound.example:${port}/`);
  assert.equal(answer.status(), 403);
  assert.match(await textOf(page, "body"), /this is not the name of this server/);
  const status = await page.evaluate(async () => (await fetch("/api/entries", { method: "POST", headers: { "Content-Type": "application/json" }, body: '{"id":"r-1","name":"note","fields":{"text":"rebound"}}' })).status);
  assert.equal(status, 403, "same origin for the browser, a foreign name for the program");
  assert.equal(entriesIn(served.file, "note").length, 0);
});
