#!/usr/bin/env python3
"""Made-up jobs in two folders (two bays), rebuilt into SQLite and into a PostgreSQL server that is started here.

Shows: as many rows as jobs, found by plate, the same in both databases; two bays at the same time; the server stopped in the middle and
started again; a damaged and a foreign file cost themselves only. Prints times and memory. Usage: many_jobs.py COUNT
"""

import json
import os
import pwd
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time

import synthetic_jobs as made

PROGRAM = os.environ["SUMPLOG"]
SKIP = 77
BAYS = ("bay 1", "bay 2")


def check(holds, text):
    if not holds:
        sys.exit(f"many_jobs.py: {text}")


def server_programs():
    folders = sorted(os.path.join("/usr/lib/postgresql", one, "bin") for one in
                     (os.listdir("/usr/lib/postgresql") if os.path.isdir("/usr/lib/postgresql") else []))
    return folders[-1] if folders else None


class Server:
    """A throw-away PostgreSQL cluster on a socket in its own folder; never as root."""

    def __init__(self, folder):
        self.folder, self.bin = folder, server_programs()
        self.data = os.path.join(folder, "cluster")
        self.user = ["runuser", "-u", "postgres", "--"] if os.getuid() == 0 else []
        if self.user:
            account = pwd.getpwnam("postgres")
            os.chown(folder, account.pw_uid, account.pw_gid)
        self.name = "postgres" if self.user else pwd.getpwuid(os.getuid()).pw_name
        self.run("initdb", "-A", "trust", "-U", self.name, "-N", "-D", self.data)

    def run(self, program, *words):
        done = subprocess.run([*self.user, os.path.join(self.bin, program), *words], cwd=self.folder, text=True,
                              stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False)
        check(done.returncode == 0, f"{program} failed: {done.stdout}")
        return done.stdout

    def start(self):
        log = os.path.join(self.folder, "log")
        self.run("pg_ctl", "start", "-w", "-D", self.data, "-l", log, "-o", f"-k {self.folder} -c listen_addresses=''")

    def stop(self, how="fast"):
        self.run("pg_ctl", "stop", "-w", "-D", self.data, "-m", how)

    def place(self):
        return f"postgresql://{self.name}@/postgres?host={self.folder}"

    def ask(self, statement):
        return self.run("psql", "-h", self.folder, "-U", self.name, "-At", "-c", statement, "postgres").strip()


def command(*words):
    return [PROGRAM, *words]


def rebuild(folder, bay, place, status=0):
    done = subprocess.run(command("jobs", "rebuild", "--json", "--data", folder, "--bay", bay, "--index", place), text=True,
                          capture_output=True, check=False)
    check(done.returncode == status, f"rebuild ended with {done.returncode}, not {status}: {done.stdout}{done.stderr}")
    return json.loads(done.stdout) if done.stdout else {}, done.stderr


def rebuild_both(folders, place):
    """Two programs at the same time."""
    return [subprocess.Popen(command("jobs", "rebuild", "--json", "--data", folder, "--bay", bay, "--index", place), text=True,
                             stdout=subprocess.PIPE, stderr=subprocess.PIPE) for folder, bay in zip(folders, BAYS)]


def found(place, *words):
    done = subprocess.run(command("jobs", "find", "--json", "--index", place, *words), text=True, capture_output=True, check=False)
    check(done.returncode == 0, f"find failed: {done.stderr}")
    return [json.loads(line) for line in done.stdout.splitlines()]


ROWS = ("SELECT j.id, j.plate, j.plate_key, j.began, j.state, j.conditions, (SELECT COUNT(*) FROM code c WHERE c.job_id = j.id), "
        "(SELECT COUNT(*) FROM fluid f WHERE f.job_id = j.id), (SELECT COUNT(*) FROM vin v WHERE v.job_id = j.id) "
        "FROM job j ORDER BY j.id")


def rows_of(database):
    return "\n".join("|".join("" if value is None else str(value) for value in row) for row in database.execute(ROWS))


def judge_rows(text, count, what):
    rows = [line.split("|") for line in text.splitlines()]
    check(len(rows) == count, f"{what}: {len(rows)} jobs, not {count}")
    check(len({row[0] for row in rows}) == count, f"{what}: a job is doubled")
    wanted = {made.job_id(number): number for number in range(count)}
    for row in rows:
        number = wanted.get(row[0])
        check(number is not None, f"{what}: nobody made job {row[0]}")
        check(row[1] == made.plate(number) and row[4] == "closed", f"{what}: {row}")
        check((row[5] != "") == made.checked(number), f"{what}: the verdict of {row}")
        check(row[6:] == ["1", "3", "2"], f"{what}: codes, fluids and VINs of {row}")


def judge_search(place, count):
    number = count // 2 + 1
    started = time.monotonic()
    hits = found(place, "--plate", made.plate(number).lower().replace("-", " "))
    took = time.monotonic() - started
    same = [n for n in range(count) if made.plate(n) == made.plate(number)]
    check(sorted(one["job"] for one in hits) == sorted(made.job_id(n) for n in same), f"search by plate: {hits}")
    by_vin = found(place, "--vin", made.vin(number)[-6:], "--fluid", made.fluid(number)[9:])
    check(any(one["job"] == made.job_id(number) for one in by_vin), "search by VIN and fluid")
    day = time.strftime("%Y-%m-%d", time.localtime(made.START + 3600 * number))
    by_day = found(place, "--from", day, "--to", day, "--code", made.code(number))
    check([one["job"] for one in by_day if one["job"] == made.job_id(number)], "search by day and code")
    none = found(place, "--verdict", "none")
    check(len(none) == sum(not made.checked(n) for n in range(count)), f"{len(none)} jobs without a verdict")
    return took


def say(text):
    print(text, flush=True)


def main(count):
    if shutil.which("runuser") is None or server_programs() is None:
        print("many_jobs.py: no PostgreSQL server here")
        sys.exit(SKIP)
    work = tempfile.mkdtemp(prefix="sumplog-index-")
    os.chmod(work, 0o755)  # the server runs as another user
    try:
        run_in(work, count)
    finally:
        shutil.rmtree(work, ignore_errors=True)


def run_in(work, count):
    folders = [os.path.join(work, "bay1"), os.path.join(work, "bay2")]
    half = count // 2
    size = made.write_jobs(folders[0], 0, half, PROGRAM) + made.write_jobs(folders[1], half, count - half, PROGRAM)
    say(f"{count} jobs, {size / count / 1000:.1f} kB each")
    some = os.path.join(folders[0], sorted(os.listdir(folders[0]))[0])
    check(subprocess.run(command("verify", some), capture_output=True, check=False).returncode == 0, "a made-up job does not verify")

    started = time.monotonic()
    for folder in folders:
        subprocess.run("cat -- *.log | sha256sum >/dev/null", shell=True, cwd=folder, check=True)
    say(f"sha256sum of all of them, as a floor: {time.monotonic() - started:.2f} s")

    # SQLite: one bay after the other, again, then both at once.
    lite = os.path.join(work, "index.sqlite")
    started = time.monotonic()
    for folder, bay in zip(folders, BAYS):
        rebuild(folder, bay, lite)
    took = time.monotonic() - started
    memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    say(f"SQLite: {took:.2f} s, {1000 * took / count:.2f} ms a job; largest program {memory / 1024:.0f} MiB")
    first = rows_of(sqlite3.connect(lite))
    judge_rows(first, count, "SQLite")
    for one in rebuild_both(folders, lite):
        out, err = one.communicate()
        check(one.returncode == 0, f"two at once: {out}{err}")
    check(rows_of(sqlite3.connect(lite)) == first, "SQLite: rebuilt again it is something else")
    say(f"SQLite: search by plate {1000 * judge_search(lite, count):.0f} ms, program start included")

    # Files that are none.
    with open(os.path.join(folders[0], "foreign.log"), "w", encoding="utf-8") as file:
        file.write("somebody's log\n")
    with open(os.path.join(folders[0], "cut.log"), "wb") as file:
        file.write(open(some, "rb").read()[:30])
    shutil.copy(some, os.path.join(folders[0], "z-copy.log"))
    told, err = rebuild(folders[0], BAYS[0], lite, status=1)
    check(told["indexed"] == half and told["skipped"] == 3, f"bad files: {told} {err}")
    for name in ("foreign.log", "cut.log", "z-copy.log"):
        check(name in err, f"{name} is not named: {err}")
        os.remove(os.path.join(folders[0], name))
    check(rows_of(sqlite3.connect(lite)) == first, "SQLite: bad files changed it")

    server_folder = os.path.join(work, "server")
    os.mkdir(server_folder)
    server = Server(server_folder)
    server.start()
    try:
        # Two bays at the same time, the server stopped hard in the middle.
        running = rebuild_both(folders, server.place())
        wait_until = time.monotonic() + 60
        while time.monotonic() < wait_until:
            try_count = subprocess.run([*server.user, os.path.join(server.bin, "psql"), "-h", server.folder, "-U", server.name, "-At",
                                        "-c", "SELECT COUNT(*) FROM job", "postgres"], text=True, capture_output=True, check=False)
            if try_count.returncode == 0 and int(try_count.stdout or 0) >= count // 5:
                break
            time.sleep(0.02)
        server.stop("immediate")
        ended = [one.communicate() and one.returncode for one in running]
        check(1 in ended, f"the server was stopped after the work was done ({ended}): more jobs are needed")
        server.start()
        half_way = int(server.ask("SELECT COUNT(*) FROM job"))
        check(0 < half_way < count, f"{half_way} of {count} jobs when the server stopped")
        started = time.monotonic()
        running = rebuild_both(folders, server.place())
        for one in running:
            out, err = one.communicate()
            check(one.returncode == 0, f"two bays at once: {out}{err}")
        took = time.monotonic() - started
        say(f"PostgreSQL: stopped at {half_way} jobs; then two bays at once {took:.2f} s, {1000 * took / count:.2f} ms a job")
        judge_rows(server.ask(ROWS), count, "PostgreSQL")
        check(server.ask(ROWS) == first, "PostgreSQL and SQLite differ")
        say(f"PostgreSQL: search by plate {1000 * judge_search(server.place(), count):.0f} ms, program start included")

        # A bay records while the server is away, and catches up at its next start.
        server.stop()
        live = os.path.join(work, "live")
        begun = time.monotonic()
        alone = subprocess.run(command("demo", "--for", "3", "--listen", "off", "--data", live, "--bay", "live", "--index", server.place()),
                               capture_output=True, text=True, check=False)
        check(alone.returncode == 0, f"a job while the server is away: {alone.stderr}")
        check("index:" in alone.stderr, f"nothing is said of the server: {alone.stderr}")
        check(time.monotonic() - begun < 30, "the job was held up")
        jobs = [one for one in os.listdir(live) if one.endswith(".log")]
        check(subprocess.run(command("verify", os.path.join(live, jobs[0])), capture_output=True, check=False).returncode == 0,
              "the job that was recorded meanwhile")
        server.start()
        check(subprocess.run(command("demo", "--for", "2", "--listen", "off", "--data", live, "--bay", "live", "--index",
                                     server.place()), capture_output=True, check=False).returncode == 0, "a job afterwards")
        live_rows = server.ask("SELECT COUNT(*), COUNT(DISTINCT id), MIN(state) FROM job WHERE bay = 'live'")
        check(live_rows == "2|2|closed", f"what was recorded while the server was away: {live_rows}")
    finally:
        subprocess.run([*server.user, os.path.join(server.bin, "pg_ctl"), "stop", "-D", server.data, "-m", "immediate"],
                       capture_output=True, check=False)


if __name__ == "__main__":
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
