// Tells a page a job that was recorded before, as fast as a test wants: the journal is the program's own, the time is ours.
import { spawnSync } from "node:child_process";
import { existsSync, readFileSync } from "node:fs";
import http from "node:http";
import { extname, join, normalize } from "node:path";
import { program, source } from "./harness.mjs";

const types = { ".html": "text/html; charset=utf-8", ".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".json": "application/json", ".svg": "image/svg+xml" };
const policy = /"default-src[^;]*;/.exec(readFileSync(join(source, "src/app/page_routes.cpp"), "utf8"))[0].slice(1);

/// The journal of the job that the program makes of a scenario, and what it says of the whole.
export function playedJob(scenario, folder) {
  const file = join(folder, "told.log");
  const played = spawnSync(program, ["simulate", scenario, "--job", file, "--json"], { encoding: "utf8", maxBuffer: 1 << 28 });
  if (played.status !== 0) throw new Error(played.stderr);
  const shown = spawnSync(program, ["jobs", "show", file, "--json"], { encoding: "utf8" });
  return { lines: played.stdout.trim().split("\n").map((text) => JSON.parse(text)), summary: JSON.parse(shown.stdout).record };
}

export class ToldServer {
  constructor(job, { terms, setup } = {}) {
    this.job = job;
    this.terms = terms;
    this.setup = setup; // object: what /api/setup says; a function of its posts changes it
    this.start = job?.lines[0].t ?? 0;
    this.told = 0; // lines so far
    this.streams = new Set();
    this.posted = [];
    this.newest = {};
    this.readings = {};
    this.plug = undefined;
    this.entry = (wish) => [200, { id: wish.id, t: this.start, recorded: true }]; // what becomes of an entry
    this.recording = { ok: true };
    this.run = "told";
    this.server = http.createServer((request, response) => this.#answer(request, response));
    this.course = undefined;
  }

  async listen(t) {
    await new Promise((resolve) => this.server.listen(0, "127.0.0.1", resolve));
    t.after(() => this.close());
    this.url = `http://127.0.0.1:${this.server.address().port}/`;
    return this;
  }
  close() {
    for (const stream of this.streams) stream.destroy();
    this.server.closeAllConnections?.();
    this.server.close();
  }

  /// Tells what happened until `seconds` after the start.
  async playTo(seconds, speed = 60) {
    const { lines } = this.job;
    while (this.told < lines.length && lines[this.told].t - this.start <= seconds) {
      const until_t = lines[this.told].t + speed / 20;
      while (this.told < lines.length && lines[this.told].t <= until_t && lines[this.told].t - this.start <= seconds) this.#tell(lines[this.told]);
      await new Promise((resolve) => setTimeout(resolve, 50));
    }
  }

  #tell(line) {
    this.told += 1;
    if (["thermal", "window", "check", "forecast", "verdict"].includes(line.kind)) this.newest[line.kind] = line;
    if (line.kind === "reading") this.readings[line.quality === "by hand" ? "by_hand" : line.signal] = line;
    if (line.kind === "entry" && /^plug_/.test(line.name)) this.plug = { out: line.name === "plug_out", since_t: line.happened_t ?? line.t };
    for (const stream of this.streams) this.#send(stream, this.told, line);
  }
  #send(stream, number, line) {
    stream.write(`id: ${number}\ndata: ${JSON.stringify(line)}\n\n`);
  }

  #state() {
    const { lines, summary } = this.job;
    const t = this.told > 0 ? lines[this.told - 1].t : this.start;
    const aged = (all) => Object.fromEntries(Object.entries(all).map(([key, line]) => [key, { age_s: Number((t - line.t).toFixed(1)), line }]));
    return { t, program: "told", run: this.run, job: summary.job, file: "told.log", bus: "can0", line: this.told, recording: this.recording, unit: { heard: true, age_s: 0 },
      plug: this.plug, newest: { ...aged(this.newest), readings: aged(this.readings) }, summary: t - this.start > 35 ? summary : { ...summary, verdicts: [], codes_before: undefined } };
  }

  #answer(request, response) {
    const { pathname, searchParams } = new URL(request.url, "http://told");
    const give = (status, type, body) => response.writeHead(status, { "Content-Type": type, "Content-Security-Policy": policy, "Cache-Control": "no-store" }).end(body);
    const json = (status, value) => give(status, "application/json", JSON.stringify(value));
    if (request.method === "POST") {
      let body = "";
      request.on("data", (bytes) => (body += bytes));
      request.on("end", () => {
        const wish = JSON.parse(body);
        this.posted.push({ pathname, wish });
        if (pathname === "/api/setup") return this.setup(wish) ? json(200, {}) : json(422, { error: "this interface cannot be opened", where: `interface ${wish.interface}`, way_out: "plug the adapter in again" });
        if (pathname === "/api/jobs") return json(200, { closed: true, job: this.job.summary.job, file: "told.log", fingerprint: "0c56".repeat(16) });
        return json(...this.entry(wish));
      });
      return undefined;
    }
    if (pathname === "/" || pathname.startsWith("/page/")) {
      const file = join(source, "src/page", normalize(pathname === "/" ? "/index.html" : pathname.slice("/page".length)));
      return existsSync(file) ? give(200, types[extname(file)], readFileSync(file)) : json(404, { error: "there is nothing here", where: pathname, way_out: "" });
    }
    if (pathname === "/api/setup" && this.setup?.now) return json(200, this.setup.now);
    if (pathname === "/api/state" && this.job && this.setup?.now?.stage !== "adapter") return json(200, this.#state());
    if (pathname === "/api/terms") return json(200, this.terms);
    if (pathname === "/api/entries") return json(200, { entries: (this.job?.lines ?? []).slice(0, this.told).filter((line) => line.kind === "entry") });
    if (pathname === "/api/course.svg" && this.course) return give(200, types[".svg"], this.course);
    if (pathname === "/api/events") {
      response.writeHead(200, { "Content-Type": "text/event-stream" });
      response.write("retry: 1000\n\n");
      for (let n = Number(request.headers["last-event-id"] ?? searchParams.get("after") ?? 0) + 1; n <= this.told; n += 1) this.#send(response, n, this.job.lines[n - 1]);
      this.streams.add(response);
      response.on("close", () => this.streams.delete(response));
      return undefined;
    }
    return json(404, { error: "there is nothing here", where: pathname, way_out: "" });
  }
}

/// What the demo's job goes by.
export const demoTerms = {
  decoders: [{ id: "obd-generic", title: "Standard OBD parameters (SAE J1979)", fluid_temperature: false }, { id: "demo-9", title: "Demo family, 9 speeds (invented)", note: "Invented for demonstrations: it fits no vehicle.", fluid_temperature: true }],
  window: { low_c: 35, high_c: 45, origin: "invented" }, fresh_s: 3, minimum_stay_s: 120, service: { id: "demo-9", title: "Demo family, 9 speeds (invented): fluid service" },
  decision_c: 40, start_below_c: 30, coolant_below_c: 50, fill_l: 10, criterion: "drip", selector_cycle: ["P", "R", "N", "D"], cautions: ["The fluid burns: gloves and goggles; hot fluid on the exhaust catches fire."],
};
