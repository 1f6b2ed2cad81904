#!/usr/bin/env python3
"""From nothing to a job over the page's contract, on the simulated vehicle; what cues do in the bay; the address as a QR code.

   The QR code is read by another program (zbarimg)."""

import contextlib
import glob
import json
import os
import pty
import re
import socket
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "kills"))
from served import Served  # noqa: E402

PROGRAM = os.environ["SUMPLOG"]


def must(condition, what):
    if not condition:
        raise SystemExit(what)


def free_port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


def until(holds, what, patience=30):
    limit = time.monotonic() + patience
    while time.monotonic() < limit:
        try:
            got = holds()
        except (OSError, ValueError):
            got = None
        if got:
            return got
        time.sleep(0.1)
    raise SystemExit("never came: " + what)


def led_to_a_job(folder):
    served = Served([PROGRAM, "demo", "--first-steps", "--data", folder, "--listen", f"127.0.0.1:{free_port()}", "--json"],
                    os.path.join(folder, "err"))

    def setup():
        status, body = served.ask("GET", "/api/setup")
        return json.loads(body) if status == 200 else None

    told = until(lambda: (setup() or {}).get("stage") == "car" and setup(), "the car is looked at")
    must(told["interface"] == "can0", told)
    decoders = {one["id"]: one for one in told["decoders"]}
    must("_template" not in decoders, "the template is no choice")
    must(decoders["demo-9"]["window"] == {"low_c": 35.0, "high_c": 45.0, "decide_c": 40.0, "origin": "invented"}, decoders["demo-9"])
    must("window" not in decoders["obd-generic"] and not decoders["obd-generic"]["fluid_temperature"], decoders["obd-generic"])
    until(lambda: '"vin"' in served.ask("GET", "/api/state")[1], "the vehicle's number, before any decoder is chosen")
    for choice, wanted in [({}, 400), ({"interface": "can1"}, 409), ({"decoder": "demo-8", "by": "K. Example"}, 422),
                           ({"decoder": "demo-9"}, 422), ({"decoder": "demo-9", "interface": "can0", "by": "K. Example"}, 400)]:
        status, answer = served.ask("POST", "/api/setup", choice)
        must(status == wanted and json.loads(answer)["error"], f"{choice}: {status} {answer}")
    must(served.ask("PUT", "/api/setup")[0] == 405, "another method")
    status, answer = served.enter("early", "plug_out")
    must(status == 409 and "there is no job yet" in answer, f"an entry that nobody keeps: {status} {answer}")
    must(not glob.glob(os.path.join(folder, "2*.log")), "no job yet")
    status, answer = served.ask("POST", "/api/setup", {"decoder": "demo-9", "by": "K. Example"})
    must(status == 200, answer)
    job = until(lambda: glob.glob(os.path.join(folder, "2*.log")), "the job")[0]
    until(lambda: served.ask("GET", "/api/setup")[0] == 404, "nothing is left to settle")
    until(lambda: '"fluid_temperature"' in served.ask("GET", "/api/state")[1], "the fluid temperature")
    must(not glob.glob(os.path.join(folder, ".look-*")), "the look at the car is kept")
    must(served.end("terminate") == 0, served.err())
    replayed = subprocess.run([PROGRAM, "replay", "--json", job], capture_output=True, check=True).stdout
    with open(served.out_path, "rb") as file:
        printed = file.read()
    must(printed and replayed.startswith(printed), "what was printed is the journal of the job, and of nothing else")
    with open(job, encoding="utf-8") as file:
        said = [json.loads(line[2:]) for line in file if '"name":"confirmed"' in line]
    must([one["fields"] for one in said] == [{"what": "decoder", "by": "K. Example"}, {"what": "window", "by": "K. Example"}], said)
    must(subprocess.run([PROGRAM, "verify", job], capture_output=True, check=False).returncode in (0, 1), "the job verifies")


def nothing_to_ask(folder):
    """Without a page and without an interface nobody can be asked."""
    done = subprocess.run([PROGRAM, "serve", "--listen", "off", "--data", folder], capture_output=True, check=False, timeout=60)
    must(done.returncode == 2 and b"no interface is named" in done.stderr, done.stderr)


def port_is_taken(folder):
    """Its own message, and a status with which a service is tried again."""
    call = [PROGRAM, "serve", "--first-steps", "--interface", "nocan0", "--data", folder]
    with socket.create_server(("127.0.0.1", 0)) as taken:
        done = subprocess.run([*call, "--listen", f"127.0.0.1:{taken.getsockname()[1]}"], capture_output=True, check=False, timeout=60)
        must(done.returncode == 1 and b"Address already in use" in done.stderr and b"no interface" not in done.stderr, done)
    with contextlib.ExitStack() as held:
        with contextlib.suppress(OSError):  # somebody else has it
            held.enter_context(socket.create_server(("127.0.0.1", 8723)))
        done = subprocess.run(call, capture_output=True, check=False, timeout=60)
    must(done.returncode == 1 and b"Address already in use" in done.stderr and b"no interface" not in done.stderr, done)
    done = subprocess.run([*call, "--listen", "off"], capture_output=True, check=False, timeout=60)
    must(done.returncode == 2 and b"it is off" in done.stderr, done)


def wrong_settings_end_it(folder):
    """At once, and with the status with which a service is not tried again, though there is no adapter yet."""
    for key, wrong in [("BITRATE", "abc"), ("SAMPLE_POINT", "2"), ("RATE", "1000"), ("SOUND", "loud"), ("WINDOW", "45:35"), ("MIN_STAY", "x"),
                       ("DECODER", "demo-8"), ("ON_CUE", os.path.join(folder, "no-lamp")), ("RECORD", "some")]:
        done = subprocess.run([PROGRAM, "serve", "--first-steps", "--interface", "nocan0", "--data", folder, "--listen", "127.0.0.1:0"],
                              env={**os.environ, "SUMPLOG_" + key: wrong}, capture_output=True, check=False, timeout=30)
        must(done.returncode == 2 and (key == "DECODER" or ("SUMPLOG_" + key).encode() in done.stderr), f"{key}: {done}")


def waits_for_its_adapter(folder):
    """As a service runs it: the adapter is settled, and may be plugged in later."""
    served = Served([PROGRAM, "serve", "--first-steps", "--interface", "nocan0", "--data", folder, "--listen", "127.0.0.1:0"],
                    os.path.join(folder, "err-waits"))
    told = until(lambda: json.loads(served.ask("GET", "/api/setup")[1]), "what is settled")
    must(told["stage"] == "adapter" and told["interface"] == "nocan0" and "nocan0" in told["help"], told)
    must(served.process.poll() is None, "it waits")
    must(served.end("terminate") == 0 and not glob.glob(os.path.join(folder, "2*.log")), served.err())
    done = subprocess.run([PROGRAM, "serve", "--first-steps", "--interface", "nocan0", "--job", "3f2a"], capture_output=True, check=False, timeout=60)
    must(done.returncode == 2 and b"--first-steps" in done.stderr, done.stderr)


def goes_on_after_a_kill(folder):
    """A program that was killed goes on with its job by itself; one that was stopped does not, nor after a while."""
    call = [PROGRAM, "demo", "--first-steps", "--data", folder, "--listen", f"127.0.0.1:{free_port()}", "--json"]

    def led(name):
        served = Served(call, os.path.join(folder, name))
        until(lambda: json.loads(served.ask("GET", "/api/setup")[1]).get("stage") == "car", "the car is looked at")
        return served

    def the_job(served):
        return until(lambda: json.loads(served.ask("GET", "/api/state")[1]).get("job"), "the job")

    old_look = os.path.join(folder, ".look-killed.log")
    with open(old_look, "w", encoding="utf-8") as file:
        file.write("# sumplog-job 1\n")
    served = led("err-1")
    must(not os.path.exists(old_look), "what a look left behind that was killed is still there")
    must(served.ask("POST", "/api/setup", {"decoder": "demo-9", "by": "K. Example"})[0] == 200, "a choice")
    until(lambda: served.ask("GET", "/api/setup")[0] == 404, "the job")
    job = the_job(served)
    must(served.enter("k-1", "plug_out")[0] == 200, "an entry")
    served.end("kill")
    again = Served(call, os.path.join(folder, "err-2"))
    until(lambda: again.ask("GET", "/api/setup")[0] == 404, "the job, without a question")
    must(the_job(again) == job and "interrupted" in again.err(), again.err())
    must('"id":"k-1"' in again.ask("GET", "/api/entries")[1], "what was entered before")
    must(len(glob.glob(os.path.join(folder, "2*.log"))) == 1, "no second job")

    again.end("kill")
    path = glob.glob(os.path.join(folder, "2*.log"))[0]
    old = time.time() - 11 * 60
    os.utime(path, (old, old))
    led("err-3").end("terminate")
    os.utime(path)
    led("err-4").end("terminate")  # it was tried once

    served = led("err-5")
    must(served.ask("POST", "/api/setup", {"decoder": "demo-9", "by": "K. Example"})[0] == 200, "a choice")
    until(lambda: served.ask("GET", "/api/setup")[0] == 404, "the job")
    served.end("terminate")
    led("err-6").end("terminate")

    served = led("err-7")
    must(served.ask("POST", "/api/setup", {"decoder": "demo-9", "by": "K. Example"})[0] == 200, "a choice")
    until(lambda: served.ask("GET", "/api/setup")[0] == 404, "the job")
    path = max(glob.glob(os.path.join(folder, "2*.log")), key=os.path.getmtime)

    def sealed_name():
        """Where a name stands in the file that a seal follows."""
        with open(path, "rb") as file:
            text = file.read()
        at = text.find(b"K. Example")
        return at if at > 0 and b'"sha256"' in text[at:] else None

    at = until(sealed_name, "a seal")
    served.end("kill")
    with open(path, "r+b") as file:
        file.seek(at)
        file.write(b"J")
    wary = led("err-8")
    must("is left as it is: " + path in wary.err(), wary.err())
    wary.end("terminate")


def cues_run_a_program(folder):
    lamp = os.path.join(folder, "lamp")
    lit = os.path.join(folder, "lit")
    with open(lamp, "w", encoding="utf-8") as file:
        file.write(f'#!/bin/sh\necho "$1|$2|$3" >> {lit}\n')
    os.chmod(lamp, 0o755)
    done = subprocess.run([PROGRAM, "sounds", "--on-cue", lamp, "--sound", "off"], capture_output=True, check=False, timeout=60)
    must(done.returncode == 0, done.stderr)
    with open(lit, encoding="utf-8") as file:
        must(file.read().splitlines() == ["lay_out|ready|lay everything out now", "window_starts|now|the window starts",
                                          "window_ended|plug_in|the window has ended: plug in"], "what the lamp was told")
    done = subprocess.run([PROGRAM, "sounds", "--on-cue", os.path.join(folder, "no-lamp")], capture_output=True, check=False, timeout=60)
    must(done.returncode == 2 and b"--on-cue" in done.stderr, done.stderr)
    # a program that never ends holds up nothing
    with open(lamp, "w", encoding="utf-8") as file:
        file.write("#!/bin/sh\nsleep 1000\n")
    served = Served([PROGRAM, "demo", "--data", folder, "--listen", "127.0.0.1:0", "--json", "--on-cue", lamp], os.path.join(folder, "err-lamp"))
    must(served.enter("c-1", "plug_out")[0] == 200, "an entry")
    served.wait(lambda state: state["unit"]["heard"], "a unit")
    must(served.end("terminate") == 0, served.err())


def address_as_qr_code(folder):
    primary, secondary = pty.openpty()
    program = subprocess.Popen([PROGRAM, "demo", "--data", folder, "--listen", "0.0.0.0:0", "--for", "3"],
                               stdout=subprocess.DEVNULL, stderr=secondary, stdin=subprocess.DEVNULL)
    os.close(secondary)
    told = b""
    try:
        while chunk := os.read(primary, 65536):
            told += chunk
    except OSError:
        pass  # the program has ended
    program.wait(60)
    text = told.decode()
    url = re.search(r"page: (http://\S+\?token=[0-9a-f]{32})", text).group(1)
    must("0.0.0.0" not in url or len(socket.if_nameindex()) < 2, "an address that leads somewhere: " + url)
    rows = [line.strip("\r") for line in text.split("\n") if set(line.strip("\r")) <= set("█▀▄ ") and len(line) > 20]
    size = 6
    pixels = []
    for row in rows:
        for half in ("█▀", "█▄"):
            line = []
            for module in row.ljust(len(rows[0])):
                line += [255 if module in half else 0] * size
            pixels += [bytes(line)] * size
    picture = os.path.join(folder, "code.pgm")
    with open(picture, "wb") as file:
        file.write(b"P5 %d %d 255\n" % (len(pixels[0]), len(pixels)) + b"".join(pixels))
    read = subprocess.run(["zbarimg", "--quiet", "--raw", picture], capture_output=True, check=False)
    must(read.stdout.decode().strip() == url, f"{read.stdout} is not {url}\n{text}")


def main():
    with tempfile.TemporaryDirectory() as folder:
        led_to_a_job(folder)
        nothing_to_ask(folder)
    with tempfile.TemporaryDirectory() as folder:
        port_is_taken(folder)
        wrong_settings_end_it(folder)
        waits_for_its_adapter(folder)
    with tempfile.TemporaryDirectory() as folder:
        goes_on_after_a_kill(folder)
    with tempfile.TemporaryDirectory() as folder:
        cues_run_a_program(folder)
        address_as_qr_code(folder)
    print("first steps: all checks hold")


if __name__ == "__main__":
    main()
