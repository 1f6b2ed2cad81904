#!/usr/bin/env python3
"""The built program under attack over its page: everything is refused or escaped, and the temperature goes on meanwhile.

Beside each attack another client follows the journal as a page does. Whatever goes on, no pause between two lines of the
temperature may be longer than a live reading may be old (three seconds, docs/page.md); what it was is printed."""

import http.client
import json
import os
import re
import socket
import subprocess
import sys
import tempfile
import threading
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "kills"))
from served import Served  # noqa: E402

PROGRAM = os.environ["SUMPLOG"]
PATIENCE = 30
LONGEST_PAUSE = 3.0  # seconds: a reading that is older is not live
LEAST = 4.0  # seconds that an attack is gone on with, so that there is something to measure
PLATE = "<script>document.title='torn'</script>"


def must(condition, what):
    if not condition:
        raise SystemExit(what)


class Follower(threading.Thread):
    """Follows the temperature, and keeps when each line came."""

    def __init__(self, host, port, token):
        super().__init__(daemon=True)
        self.came = []
        self.link = http.client.HTTPConnection(host, port, timeout=PATIENCE)
        self.link.request("GET", "/api/events", headers={"Authorization": "Bearer " + token})
        self.start()

    def run(self):
        stream = self.link.getresponse()
        while line := stream.readline():
            if b'"kind":"thermal"' in line:
                self.came.append(time.monotonic())

    def longest_pause(self, since, until):
        moments = [since] + [at for at in list(self.came) if since < at < until] + [until]
        return max(later - earlier for earlier, later in zip(moments, moments[1:])), len(moments) - 2


class Attacked:
    def __init__(self, served, token):
        self.served, self.token = served, token
        self.host, port = served.address.split(":")
        self.port = int(port)

    def raw(self, payload, patience=5.0):
        """What comes back for these bytes; an empty text when the connection was cut."""
        try:
            with socket.create_connection((self.host, self.port), timeout=patience) as link:
                link.sendall(payload)
                link.settimeout(patience)
                answer = b""
                while piece := link.recv(65536):
                    answer += piece
                return answer.decode(errors="replace")
        except OSError:
            return ""

    def ask(self, method, path, body=None, headers=None, kind="application/json"):
        head = {"Authorization": "Bearer " + self.token, **(headers or {})}
        if body is not None:
            head.setdefault("Content-Type", kind)
        return self.served.ask(method, path, body, kind, headers=head)

    def refused(self, wanted, *words, **more):
        try:
            status, answer = self.ask(*words, **more)
        except OSError:
            return  # cut off while it was still sending: refused too
        must(status in wanted, f"{words[:2]}: {status} {answer[:300]}")
        must(set(json.loads(answer)) == {"error", "where", "way_out"}, answer[:300])

    # Each attack once; it is repeated for as long as LEAST.

    def no_token(self):
        for headers in ({"Authorization": ""}, {"Authorization": "Bearer "}, {"Authorization": "Bearer " + "0" * 32}, {"Authorization": "Bearer " + self.token[:-1]},
                        {"Authorization": "", "Cookie": f"sumplog_{self.port}=" + "f" * 32}, {"Authorization": "", "Cookie": "a=b"}):
            for method, path, body in (("GET", "/api/state", None), ("GET", "/api/events", None), ("POST", "/api/entries", {"id": "a-1", "name": "plug_out"})):
                self.refused((401,), method, path, body, headers=headers)

    def foreign_origin(self):
        for headers in ({"Origin": "http://example.org"}, {"Origin": "null"}, {"Origin": f"https://{self.served.address}"}, {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}):
            self.refused((403,), "POST", "/api/entries", {"id": "a-2", "name": "plug_out"}, headers=headers)
            self.refused((403,), "GET", "/api/state", headers=headers)
        for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
            self.refused((415,), "POST", "/api/entries", b'{"id":"a-3","name":"plug_out"}', headers={"Content-Type": kind})

    def path_traversal(self):
        for path in ("/../../../../etc/passwd", "/page/../../../../etc/passwd", "/page/%2e%2e/%2e%2e/etc/passwd", "/page/..%2f..%2fetc/passwd", "/page//etc/passwd",
                     "/page/js/..\\..\\..\\etc\\passwd", "/page/%00", "/page/index.html%00.js", "/%", "/page-token", "/api/photos/../../page-token", "//etc/passwd"):
            answer = self.raw(f"GET {path} HTTP/1.1\r\nHost: {self.served.address}\r\nAuthorization: Bearer {self.token}\r\nConnection: close\r\n\r\n".encode())
            must(re.match(r"HTTP/1.1 (400|404) ", answer), f"{path}: {answer[:200]}")
            must("root:" not in answer and self.token not in answer, path)

    def ten_megabytes(self):
        body = b'{"id":"a-4","name":"note","fields":{"text":"' + b"x" * 10_000_000 + b'"}}'
        self.refused((413,), "POST", "/api/entries", body)
        self.refused((422,), "POST", "/api/photos?id=a-5", b"\0" * 10_000_000, headers={"Content-Type": "image/png"})
        chunk = b"4000\r\n" + b"x" * 0x4000 + b"\r\n"
        answer = self.raw(f"POST /api/entries HTTP/1.1\r\nHost: {self.served.address}\r\nAuthorization: Bearer {self.token}\r\nTransfer-Encoding: chunked\r\n\r\n".encode() + chunk * 640)
        must(not answer or answer.startswith("HTTP/1.1 413"), answer[:200])
        answer = self.raw(f"GET / HTTP/1.1\r\nHost: {self.served.address}\r\n".encode() + b"X: " + b"y" * 10_000_000)
        must(not answer or answer.startswith("HTTP/1.1 431"), answer[:200])

    def malformed(self):
        for body in (b"", b"{", b"[]", b"null", b"{}" * 1000, b"[" * 60_000, b'{"id":' * 9000, b'{"id":"a-6","name":"fluid_out","fields":{"litres":1e999}}', b'{"id":"\xff\xfe","name":"note"}',
                     b'{"id":"a-7","name":"note","fields":{"text":"\\ud800"}}', b'{"id":"a-8","id":"a-9","name":7}', b"\x00\x01\x02", b'{"id":"../../x","name":"note"}',
                     b'{"id":"a-9","name":"note","fields":{"text":{"deep":' + b'{"a":' * 50 + b"1" + b"}" * 50 + b"}}}"):
            self.refused((400, 422), "POST", "/api/entries", body)
        for path in ("/api/jobs", "/api/scan"):
            self.refused((400, 422), "POST", path, b'{"action":"open","scan":"never","id":7}')

    def slowloris(self, sockets=None):
        """Connections that never end their header: more than there are. Half of them are held until the next round."""
        sockets = sockets if sockets is not None else []
        for _ in range(200):
            try:
                link = socket.create_connection((self.host, self.port), timeout=2)
                link.sendall(b"GET / HTTP/1.1\r\nHost: ")
                sockets.append(link)
            except OSError:
                pass
        for _ in range(20):
            for link in sockets:
                try:
                    link.sendall(b"x")
                except OSError:
                    pass
            time.sleep(0.3)
        # Who asks for something is heard beside them.
        status, _ = self.ask("GET", "/api/state")
        must(status == 200, f"beside slow connections: {status}")
        for link in sockets:
            link.close()

    def two_hundred_connections(self):
        """Each asks for the stream of events, with the token, and reads nothing."""
        asked = f"GET /api/events HTTP/1.1\r\nHost: {self.served.address}\r\nAuthorization: Bearer {self.token}\r\n\r\n".encode()
        links = []
        for _ in range(200):
            try:
                link = socket.create_connection((self.host, self.port), timeout=2)
                link.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
                link.sendall(asked)
                links.append(link)
            except OSError:
                pass
        time.sleep(2)
        refused = 0
        for link in links:
            link.settimeout(2)
            try:
                refused += b"503" in link.recv(200)
            except OSError:
                refused += 1
            link.close()
        must(refused >= 200 - 16, f"{len(links)} connections, only {refused} turned away")


def main():
    with tempfile.TemporaryDirectory(prefix="sumplog-attacks-") as folder:
        out = subprocess.run([PROGRAM, "jobs", "new", "--decoder", "demo-9", "--data", folder, "--json"], capture_output=True, check=True, text=True).stdout
        job = json.loads(out)["file"]
        served = Served([PROGRAM, "demo", "--job", job, "--data", folder, "--listen", "0.0.0.0:0", "--json"], os.path.join(folder, "err"))
        token = re.search(r"token=([0-9a-f]{32})", served.err()).group(1)
        served.address = "127.0.0.1:" + served.address.split(":")[1]
        attacked = Attacked(served, token)
        must(attacked.ask("POST", "/api/entries", {"id": "p-1", "name": "intake", "fields": {"plate": PLATE}})[0] == 200, "the plate")
        follower = Follower(attacked.host, attacked.port, token)
        limit = time.monotonic() + PATIENCE
        while len(follower.came) < 3 and time.monotonic() < limit:
            time.sleep(0.05)
        must(len(follower.came) >= 3, f"no temperature: {served.err()[-500:]}")
        worst = 0.0
        for attack in (attacked.no_token, attacked.foreign_origin, attacked.path_traversal, attacked.ten_megabytes, attacked.malformed, attacked.slowloris, attacked.two_hundred_connections):
            begun, rounds = time.monotonic(), 0
            while time.monotonic() < begun + LEAST:
                attack()
                rounds += 1
            pause, lines = follower.longest_pause(begun, time.monotonic())
            worst = max(worst, pause)
            print(f"{attack.__name__.replace('_', ' ')}: {rounds} rounds in {time.monotonic() - begun:.1f} s, {lines} lines of the temperature, longest pause {pause:.2f} s")
            must(follower.is_alive(), f"{attack.__name__}: the stream of events was cut off")
            must(pause < LONGEST_PAUSE, f"{attack.__name__}: the temperature stalled for {pause:.1f} s")

        # Nothing of it has come in, and what a person typed is data wherever it stands.
        with open(job, encoding="utf-8") as file:
            text = file.read()
        must(not re.search(r'"id":"a-\d"', text), "an entry of an attack stands in the job file")
        state = json.loads(attacked.ask("GET", "/api/state")[1])
        must(state["summary"]["plate"] == PLATE, state["summary"])
        must(state["recording"] == {"ok": True}, state["recording"])
        must(served.end("terminate") == 0, served.err()[-500:])
        report = os.path.join(folder, "report.html")
        subprocess.run([PROGRAM, "report", job, "-o", report], check=True, capture_output=True)
        with open(report, encoding="utf-8") as file:
            html = file.read()
        must("<script" not in html and "&lt;script&gt;" in html, "the plate in the report")
        lines = subprocess.run([PROGRAM, "replay", "--json", job], check=True, capture_output=True, text=True).stdout.splitlines()
        moments = [json.loads(line)["t"] for line in lines if '"kind":"thermal"' in line]
        print(f"longest pause over all: {worst:.2f} s; in the job itself {max(b - a for a, b in zip(moments, moments[1:])):.2f} s")


main()
