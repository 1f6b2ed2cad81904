#!/usr/bin/env python3
"""The contract of docs/web.md on the built program, from outside: what commands and other clients get.

   contract_on_the_program.py [--bless]      --bless writes the examples of docs/web.md anew"""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "kills"))
from served import Page, Served  # noqa: E402

PROGRAM = os.environ["SUMPLOG"]
SOURCE = os.environ["SOURCE"]
CAPTURE = os.path.join(SOURCE, "captures/demo-9/cold-start-to-window/capture.log")
DOCUMENT = os.path.join(SOURCE, "docs", "web.md")
JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF, of a pan, invented\xff\xd9"
examples = {}


def must(condition, what):
    if not condition:
        raise SystemExit(what)


def run(*words, status=0, environment=None):
    done = subprocess.run([PROGRAM, *words], capture_output=True, check=False, env={**os.environ, **(environment or {})})
    must(done.returncode == status, f"{words} ended with {done.returncode}: {done.stdout.decode()}{done.stderr.decode()}")
    return done.stdout.decode(), done.stderr.decode()


def settled(text):
    """An example without what differs each time."""
    text = re.sub(r'"t":\d+\.\d+', '"t":1764065400.123456', text)
    text = re.sub(r'"where":"/[^"]*/', '"where":"jobs/', text)
    text = re.sub(r"\d{8}-\d{6}-[0-9a-f]{8}", "20251125-101500-3f2a91c0", text)
    text = re.sub(r'("job": ?"|job )[0-9a-f]{32}', r"\g<1>3f2a91c0d4e5f60718293a4b5c6d7e8f", text)
    return re.sub(r'("fingerprint": ?")[0-9a-f]{64}', r"\g<1>0c5604d1…", text)


def example(name, status, body):
    examples[name] = f"{status} {settled(body).strip()}"


def start(folder, job, *more):
    return Served([PROGRAM, "demo", "--job", job, "--listen", "127.0.0.1:0", "--json", *more], os.path.join(folder, "err"))


def errors(served, folder, job):
    for name, method, path, body, kind, wanted in [
            ("unknown entry", "POST", "/api/entries", {"id": "e-9", "name": "plug_open"}, "application/json", 422),
            ("wrong field", "POST", "/api/entries", {"id": "e-9", "name": "fluid_out", "fields": {"litres": "4,5"}}, "application/json", 422),
            ("no JSON", "POST", "/api/entries", b"id=1", "application/x-www-form-urlencoded", 415),
            ("not there", "GET", "/api/nothing", None, "", 404),
            ("wrong method", "GET", "/api/scan", None, "", 405),
            ("another job", "POST", "/api/entries?job=0", {"id": "e-9", "name": "plug_out"}, "application/json", 409),
            ("course size", "GET", "/api/course.svg?width=9", None, "", 422),
            ("no photo", "POST", "/api/photos?id=p-9", b"<html>", "image/png", 422)]:
        status, answer = served.ask(method, path, body, kind)
        must(status == wanted, f"{name}: {status} {answer}")
        must(set(json.loads(answer)) == {"error", "where", "way_out"}, answer)
        example(name, status, answer)
    for headers in ({"Host": "example.org"}, {"Origin": "http://example.org"}, {"Sec-Fetch-Site": "cross-site"}):
        status, answer = served.ask("POST", "/api/entries", {"id": "e-9", "name": "plug_out"}, headers=headers)
        must(status == 403, f"{headers}: {status} {answer}")
        example("foreign page", status, answer)


def malformed(served):
    host, port = served.address.split(":")
    for raw in (b"\x00" * 1000, b"GET / HTTP/1.1\r\n" + b"X: y\r\n" * 5000 + b"\r\n", b"POST /api/entries HTTP/1.1\r\nHost: " + served.address.encode() +
                b"\r\nContent-Length: 99999999999999999999\r\n\r\n", b"GET http://[ HTTP/1.1\r\n\r\n", b"\r\n" * 100):
        with socket.create_connection((host, int(port)), timeout=20) as link:
            try:
                link.sendall(raw)
                link.settimeout(20)
                link.recv(1000)
            except OSError:
                pass
    must(served.ask("GET", "/api/state")[0] == 200, "the job goes on after what was no HTTP")


def main():
    with tempfile.TemporaryDirectory(prefix="sumplog-web-") as folder:
        out, _ = run("jobs", "new", "--plate", "AB 123", "--transmission", "converter", "--decoder", "demo-9", "--data", folder, "--json")
        job = json.loads(out)["file"]
        served = start(folder, job)
        lines = {}
        page = Page(served, lines)

        # One entry; again; with other content.
        status, first = served.enter("e-1", "fluid_out", {"litres": 4.5, "temp_c": 38, "ago_s": 40, "by": "K. Example"})
        must(status == 200, first)
        example("entry", status, first)
        must(served.enter("e-1", "fluid_out", {"litres": 4.5, "temp_c": 38, "ago_s": 40, "by": "K. Example"}) == (200, first), "a repeated id")
        status, answer = served.enter("e-1", "fluid_out", {"litres": 5})
        must(status == 409, answer)
        example("other content", status, answer)

        # A photo, twice; a scan.
        status, photo = served.ask("POST", "/api/photos?id=p-1&of=pan&by=K.%20Example", JPEG, "image/jpeg")
        must(status == 200, photo)
        must(served.ask("POST", "/api/photos?id=p-1&of=pan&by=K.%20Example", JPEG, "image/jpeg") == (200, photo), "the photo again")
        photos = [name for name in os.listdir(folder) if name.endswith(".jpg")]
        must(len(photos) == 1 and open(os.path.join(folder, photos[0]), "rb").read() == JPEG, photos)
        example("photo", status, photo)
        status, answer = served.ask("POST", "/api/scan", {"id": "s-1", "scan": "during"})
        must(status == 200, answer)
        errors(served, folder, job)
        malformed(served)

        # Commands reach the job through its page, and say what the page refuses.
        out, _ = run("record", job, "note", "text=by command", "--json", "--id", "c-1")
        must(json.loads(out)["recorded"], out)
        again, _ = run("record", job, "note", "text=by command", "--json", "--id", "c-1")
        must(again == out, again)
        _, err = run("record", job, "note", "text=another", "--id", "c-1", status=2)
        must("another entry has this id already" in err, err)
        _, err = run("record", job, "note", "colour=red", status=2)
        must("its fields are: text, ago_s, by" in err, err)
        with open(os.path.join(folder, "second.jpg"), "wb") as file:
            file.write(JPEG + b"2")
        run("record", job, "photo", "file=" + os.path.join(folder, "second.jpg"), "of=magnet")
        _, err = run("jobs", "close", job, status=2)
        must("still open: " in err and "--sign-over NAME" in err, err)
        # So does a scan: the program that holds the job, and the bus, does it.
        out, _ = run("scan", "--job", job, "--stage", "before", "--json")
        scans = [json.loads(line) for line in out.splitlines() if '"complete":' in line]
        must(scans and scans[-1]["scan"] == "before" and scans[-1]["complete"], out[-2000:])
        must("P0897" in run("scan", "--job", job)[0], "the codes in words")
        _, err = run("scan", "--who", "--job", job, status=2)
        must("another sumplog holds this job" in err, err)
        state = served.wait(lambda one: "thermal" in one["newest"] and one["unit"]["heard"], "a temperature")
        must(state["recording"] == {"ok": True} and state["summary"]["plate"] == "AB 123", state)
        keys = {key: value for key, value in state.items() if key not in ("newest", "summary")}
        keys["newest"] = {key: {"age_s": 0.3, "line": {}} for key in ("thermal", "window", "check")}
        keys["newest"]["readings"] = {"fluid_temperature": {"age_s": 0.3, "line": {}}}
        keys["summary"] = {}
        keys.update(line=43, run="3c526cad", unit={"heard": True, "age_s": 0.1})
        example("state", 200, json.dumps(keys, separators=(",", ":")).replace('"t":%s' % json.dumps(keys["t"]), '"t":1764065400.123456'))

        status, terms = served.ask("GET", "/api/terms")
        must(status == 200 and "The fluid burns" in terms, terms)
        terms = json.loads(terms, object_pairs_hook=dict)
        terms["decoders"] = terms["decoders"][1:]
        terms["cautions"] = ["…"]
        example("terms", status, json.dumps(terms, separators=(",", ":"), ensure_ascii=False))
        entries = json.loads(served.ask("GET", "/api/entries")[1])["entries"]
        must([one["id"] for one in entries if one["id"] in ("e-1", "p-1", "s-1", "c-1")] == ["e-1", "p-1", "s-1", "c-1"], entries)
        whole, nothing = served.ask("GET", "/page/js/main.js"), served.ask("GET", "/page/../contract")
        must(whole[0] == 200 and whole[1].encode() == open(os.path.join(SOURCE, "src/page/js/main.js"), "rb").read(), "a file of the page")
        must(nothing[0] == 404, nothing)

        # The program is stopped and goes on: ids, lines and answers stay what they were.
        must(served.end("terminate") == 0, served.err())
        page.join(30)
        must(not os.path.exists(job + ".serving"), "the note goes with the program")
        must(lines and not page.mistakes, page.mistakes)
        served = start(folder, job)
        must(served.enter("e-1", "fluid_out", {"by": "K. Example", "ago_s": 40, "temp_c": 38.0, "litres": 4.5}) == (200, first),
             "a repeated id, after a restart")
        page = Page(served, lines)
        served.wait(lambda one: "thermal" in one["newest"], "a temperature")
        status, answer = served.ask("POST", "/api/jobs", {"action": "close"})
        must(status == 409, answer)
        example("still open", status, re.sub(r"still open: .*?\",", 'still open: scan before (fault codes before the work: not read); …",', answer))
        status, answer = served.ask("POST", "/api/jobs", {"action": "close", "sign_over": "K. Example"})
        must(status == 200, answer)
        example("closed", status, answer)
        must(served.process.wait(30) == 0, served.err())
        page.join(30)
        replayed = run("replay", "--json", job)[0].splitlines()
        must(len(lines) == len(replayed) and all(replayed[number - 1] == line for number, line in lines.items()),
             f"{len(lines)} lines shown, {len(replayed)} replayed")
        run("verify", job, "--fingerprint", json.loads(answer)["fingerprint"])
        _, err = run("record", job, "note", "text=late", status=2)
        must("this job is closed" in err, err)
        asked = {line.split()[2] for line in open(job, encoding="utf-8") if line.startswith("(") and line.split()[2].startswith("7DF#")
                 or re.match(r"\(.*\) \S+ 7E[0-7]#", line)}
        services = {one.split("#")[1][2:4] for one in asked if one.split("#")[1][0] == "0"}
        must(services <= {"01", "02", "03", "06", "07", "09", "0A", "19", "22"}, services)

        ports(folder)
        workshop(folder)
        stopped_by_a_key(folder)
        reader_goes_away(folder)
        documented()


def ports(folder):
    """A port that is taken: the job goes on without its page, unless the port was named."""
    out, _ = run("jobs", "new", "--decoder", "demo-9", "--data", folder, "--json")
    job = json.loads(out)["file"]
    with socket.create_server(("127.0.0.1", 0)) as taken:
        address = f"127.0.0.1:{taken.getsockname()[1]}"
        _, err = run("demo", "--job", job, "--listen", address, status=2)
        must("cannot listen: Address already in use" in err, err)
        before = len(os.listdir(folder))
        run("demo", "--data", folder, "--listen", address, status=2)
        must(len(os.listdir(folder)) == before, "no half-begun job is left")
    _, err = run("demo", "--job", job, "--listen", "nonsense", status=2)
    must("--listen: 'nonsense' is no ADDRESS:PORT" in err, err)


def workshop(folder):
    """Any other address asks for the token."""
    out, _ = run("jobs", "new", "--decoder", "demo-9", "--data", folder, "--json")
    job = json.loads(out)["file"]
    served = Served([PROGRAM, "demo", "--job", job, "--data", folder, "--listen", "0.0.0.0:0", "--json"], os.path.join(folder, "err-w"))
    token = re.search(r"token=([0-9a-f]{32})", served.err()).group(1)
    served.address = "127.0.0.1:" + served.address.split(":")[1]
    status, answer = served.ask("GET", "/api/state")
    must(status == 401, answer)
    example("no token", status, answer)
    must(served.ask("GET", "/api/state", headers={"Authorization": "Bearer " + token})[0] == 200, "the token")
    must(served.ask("GET", "/?token=" + token)[0] == 303, "the page with its token")
    note = job + ".serving"
    must(os.stat(note).st_mode & 0o077 == 0, "the token is readable for others")
    run("record", job, "note", "text=the command finds the token")
    must(served.end("terminate") == 0, served.err())


def stopped_by_a_key(folder):
    """Ctrl-C ends the program, not the job, while something is left to do in it."""
    out, _ = run("jobs", "new", "--plate", "AB 123", "--decoder", "demo-9", "--data", folder, "--json")
    job = json.loads(out)["file"]
    served = start(folder, job)
    must(served.enter("k-1", "fluid_out", {"litres": 4.5})[0] == 200, "an entry")
    served.process.send_signal(signal.SIGINT)
    must(served.process.wait(30) == 0, served.err())
    must("job left open" in served.err(), served.err())
    run("record", job, "note", "text=goes on")
    run("jobs", "close", job, "--sign-over", "K. Example")


def reader_goes_away(folder):
    """`sumplog serve --json | head -2` ends the reading, not the job. A replay ends, and says nothing."""
    out, _ = run("jobs", "new", "--decoder", "demo-9", "--data", folder, "--json")
    job = json.loads(out)["file"]
    err_path = os.path.join(folder, "err-r")
    reading, writing = os.pipe()
    with open(err_path, "wb") as err:
        program = subprocess.Popen([PROGRAM, "demo", "--job", job, "--listen", "off", "--json"], stdout=writing, stderr=err,
                                   stdin=subprocess.DEVNULL)
    os.close(writing)
    os.read(reading, 1)
    os.close(reading)
    limit = time.monotonic() + 30
    size = None
    told = ""
    while time.monotonic() < limit and (size is None or os.path.getsize(job) < size + 1000):
        must(program.poll() is None, f"the program ended with {program.returncode}: {told}")
        time.sleep(0.1)
        with open(err_path, encoding="utf-8") as file:
            told = file.read()
        if size is None and "standard output" in told:
            size = os.path.getsize(job)
    must(told.count("standard output cannot be written any more") == 1, told)
    must(os.path.getsize(job) >= size + 1000, "nothing more was recorded")
    program.terminate()
    must(program.wait(30) == 0, told)
    replay = subprocess.Popen([PROGRAM, "replay", "--json", CAPTURE], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    replay.stdout.read(1)
    replay.stdout.close()
    must(replay.wait(60) == 1 and not replay.stderr.read(), "a replay that nobody reads")


def documented():
    """The examples of the document are what the program said."""
    with open(DOCUMENT, encoding="utf-8") as file:
        text = file.read()
    used = set()

    def replaced(match):
        used.add(match.group(1))
        must(match.group(1) in examples, f"docs/web.md has an example '{match.group(1)}' that this test does not make")
        return f"<!-- tested: {match.group(1)} -->\n```json\n{examples[match.group(1)]}\n```"

    now = re.sub(r"<!-- tested: ([\w ]+) -->\n```json\n.*?\n```", replaced, text, flags=re.S)
    must(len(used) >= 5, f"docs/web.md has only these tested examples: {used}")
    if "--bless" in sys.argv:
        with open(DOCUMENT, "w", encoding="utf-8") as file:
            file.write(now)
    elif now != text:
        old, new = text.splitlines(), now.splitlines()
        raise SystemExit("docs/web.md and the program differ; run with --bless and look:\n" +
                         "\n".join(f"- {a}\n+ {b}" for a, b in zip(old, new) if a != b))


main()
print("the program keeps the contract of docs/web.md")
