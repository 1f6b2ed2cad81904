"""A running `sumplog demo` or `serve`, its contract over HTTP, and a page that follows its journal."""

import http.client
import json
import re
import subprocess
import threading
import time
import urllib.parse

PATIENCE = 30  # seconds for what must happen


class Served:
    """Starts the program and waits until it serves its page."""

    def __init__(self, words, err_path):
        self.err_path = err_path
        self.out_path = err_path + ".out"
        self.process = subprocess.Popen(words, stdout=open(self.out_path, "wb"), stderr=open(err_path, "wb"),
                                        stdin=subprocess.DEVNULL)
        self.address = None
        limit = time.monotonic() + PATIENCE
        while time.monotonic() < limit and self.process.poll() is None:
            found = re.search(r"page: http://([0-9.]+:[0-9]+)/", self.err())
            if found:
                self.address = found.group(1)
                return
            time.sleep(0.005)
        raise SystemExit(f"no page: {self.err()}")

    def err(self):
        with open(self.err_path, errors="replace") as file:
            return file.read()

    def ask(self, method, path, body=None, kind="application/json", patience=PATIENCE, headers=None):
        """Status and body. An OSError when nobody answers."""
        link = http.client.HTTPConnection(self.address, timeout=patience)
        try:
            if isinstance(body, (dict, list)):
                body = json.dumps(body).encode()
            link.request(method, path, body, {**({"Content-Type": kind} if body is not None else {}), **(headers or {})})
            answer = link.getresponse()
            return answer.status, answer.read().decode()
        except http.client.HTTPException as error:
            raise OSError(str(error)) from error
        finally:
            link.close()

    def state(self):
        return json.loads(self.ask("GET", "/api/state")[1])

    def enter(self, entry_id, name, fields=None, patience=PATIENCE):
        return self.ask("POST", "/api/entries", {"id": entry_id, "name": name, "fields": fields or {}}, patience=patience)

    def wait(self, wanted, what):
        """Asks for the state until it is as wanted."""
        limit = time.monotonic() + PATIENCE
        while time.monotonic() < limit:
            state = self.state()
            if wanted(state):
                return state
            time.sleep(0.05)
        raise SystemExit(f"never came: {what}; {json.dumps(state)[:600]}\n{self.err()[-600:]}")

    def end(self, signal_name):
        getattr(self.process, signal_name)()
        return self.process.wait(PATIENCE)


class Page(threading.Thread):
    """Follows the journal as a browser would: goes on after the last line that it has."""

    def __init__(self, served, lines):
        super().__init__(daemon=True)
        self.lines = lines  # number: text; shared by the pages of one job
        self.mistakes = []
        host, port = served.address.split(":")
        self.link = http.client.HTTPConnection(host, int(port), timeout=PATIENCE)
        last = max(lines, default=0)
        self.link.request("GET", "/api/events", headers={"Last-Event-ID": str(last)} if last else {})
        self.next = last + 1
        self.start()

    def run(self):
        try:
            stream = self.link.getresponse()
            number = None
            while True:
                line = stream.readline()
                if not line.endswith(b"\n"):
                    return
                if line.startswith(b"id: "):
                    number = int(line[4:])
                if line.startswith(b"data: "):
                    if number != self.next:
                        self.mistakes.append(f"line {number} came where {self.next} was due")
                    self.next = number + 1
                    self.lines[number] = line[6:].rstrip(b"\n").decode()
        except (OSError, http.client.HTTPException, ValueError, AttributeError):
            return


def quoted(text):
    return urllib.parse.quote(text)
