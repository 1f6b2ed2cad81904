#!/usr/bin/env python3
"""Reports printed by Debian's Chromium without a network, and looked at as paper: the customer's sheet is exactly the first page.

   report_on_paper.py [FOLDER]      FOLDER keeps the reports, their PDF and a picture of each page

Checked against something outside: html5 as `tidy` knows it, XML as `xmllint` knows it (the drawings), text as `pdftotext` finds it."""

import hashlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
import zlib

PROGRAM = os.environ["SUMPLOG"]
SOURCE = os.environ["SOURCE"]
TECHNICIAN = "For the technician"
SKIPPED = 77


def must(condition, what):
    if not condition:
        raise SystemExit(what)


def run(*words, status=(0,), **more):
    done = subprocess.run(words, capture_output=True, check=False, text=True, **more)
    must(done.returncode in status, f"{words} ended with {done.returncode}: {done.stdout[-2000:]}{done.stderr[-2000:]}")
    return done.stdout, done.stderr


def sumplog(*words, status=(0,)):
    return run(PROGRAM, *words, status=status, env={**os.environ, "TZ": "UTC"})[0]


def png(width, height, grey):
    """A picture of its own, without a library (ISO/IEC 15948)."""
    def chunk(name, data):
        body = name + data
        return len(data).to_bytes(4, "big") + body + zlib.crc32(body).to_bytes(4, "big")
    head = width.to_bytes(4, "big") + height.to_bytes(4, "big") + bytes([8, 0, 0, 0, 0])
    rows = b"".join(b"\0" + bytes((grey + x + y) % 256 for x in range(width)) for y in range(height))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def whole_job(folder):
    job = os.path.join(folder, "whole.log")
    sumplog("simulate", os.path.join(SOURCE, "captures/demo-9/whole-job/scenario.toml"), "--job", job)
    return job


def longest_job(folder):
    """Everything that can get long, longer than a sheet has room for: the shipped job with other words, more codes, more of everything,
    and conditions that are not kept; changed afterwards."""
    text = ("Wörter, die kein Ende nehmen & <b>so</b> weiter, " * 100)[:3500]
    with open(os.path.join(SOURCE, "captures/demo-9/whole-job/scenario.toml"), encoding="utf-8") as file:
        scenario = file.read()
    scenario = re.sub(r'name = "intake", fields = {.*?} }', lambda _: 'name = "intake", fields = { ' + ", ".join(
        [f'{key} = "{text}"' for key in ("customer", "complaint", "technician", "unit", "fluid", "batch")] +
        [f'plate = "{"N" * 60}", vin = "{"M" * 60}", odometer_km = 999999, transmission = "wet dct"']) + " } }", scenario)
    scenario = "\n".join(line for line in scenario.splitlines() if 'name = "confirmed"' not in line and 'position = "R"' not in line)
    scenario = scenario.replace('by = "T. Example"', f'by = "{text}"')
    more = []
    for number in range(8):
        picture = png(300, 200 + 400 * (number % 2), 40 * number)
        file = f"photo-{number}.png"
        if number != 1:
            with open(os.path.join(folder, file), "wb") as photo:
                photo.write(picture)
        digest = hashlib.sha256(picture).hexdigest()
        more += [f'{{ at_s = 12211, name = "photo", fields = {{ file = "{file}", sha256 = "{digest}", type = "image/png", of = "{text}" }} }},',
                 f'{{ at_s = 12212, name = "part_used", fields = {{ part = "{text}", number = "{text}", count = 1.5 }} }},',
                 f'{{ at_s = 12213, name = "open_item", fields = {{ item = "item {number}", text = "{text}" }} }},']
    for part in ("top up", "level check"):
        more += [f'{{ at_s = 12214, name = "fluid_{way}", fields = {{ litres = 1, part = "{part}" }} }},' for way in ("out", "in")]
    scenario = scenario.replace("\n]\n\nevent = [", "\n" + "\n".join(more) + "\n]\n\nevent = [", 1)
    codes = "".join(f'[[ecu.code]]\ncode = "P07{number}-00"\nstatus = 0x08\n\n' for number in range(10, 40))
    scenario = scenario.replace("[[ecu.code]]", codes + "[[ecu.code]]", 1)
    path = os.path.join(folder, "longest.toml")
    with open(path, "w", encoding="utf-8") as file:
        file.write(scenario)
    job = os.path.join(folder, "longest.log")
    sumplog("simulate", path, "--job", job)
    with open(job, encoding="utf-8") as file:
        log = file.read()
    with open(job, "w", encoding="utf-8") as file:
        file.write(log.replace("case wiped", "case Wiped", 1))
    return job


def pages_of(pdf):
    text = run("pdftotext", "-layout", pdf, "-")[0]
    pages = text.split("\f")
    return pages[:-1] if not pages[-1].strip() else pages


def well_formed(html):
    # tidy of Debian 12 does not know attributes of SVG inside HTML, and says so as a warning; errors are what counts.
    done = subprocess.run(["tidy", "-qe", "--show-body-only", "no", html], capture_output=True, check=False, text=True)
    bad = [line for line in done.stderr.splitlines() if "Error" in line or ("Warning" in line and "proprietary attribute" not in line)]
    must(not bad, f"{html}: {bad[:5]}")
    text = open(html, encoding="utf-8").read()
    drawings = re.findall(r"<svg.*?</svg>", text, re.S)
    for drawing in drawings:
        done = subprocess.run(["xmllint", "--noout", "-"], input=drawing, capture_output=True, check=False, text=True)
        must(done.returncode == 0, f"{html}: {done.stderr[:500]}")
    must("<script" not in text and "http" not in re.sub(r'http-equiv|xmlns="http://www.w3.org/2000/svg"', "", text), "fetches or runs something")
    return len(drawings)


def print_to_pdf(html, pdf, folder):
    """Without a network: a namespace of its own where that is allowed, and no name resolves."""
    words = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", f"--user-data-dir={folder}/browser",
             "--host-resolver-rules=MAP * ~NOTFOUND", f"--print-to-pdf={pdf}", html]
    if subprocess.run(["unshare", "-rn", "true"], capture_output=True, check=False).returncode == 0:
        words = ["unshare", "-rn", *words]
    run(*words)


def check(job, folder, name, status, *options):
    html, pdf = (os.path.join(folder, f"{name}.{kind}") for kind in ("html", "pdf"))
    sumplog("report", job, "-o", html, *options, status=(status,))
    drawings = well_formed(html)
    print_to_pdf(html, pdf, folder)
    pages = pages_of(pdf)
    must(len(pages) >= 3, f"{name}: {len(pages)} pages")
    must(TECHNICIAN not in pages[0], f"{name}: the technician's part begins on the first page")
    must(pages[1].strip().startswith(TECHNICIAN), f"{name}: the sheet is longer than a page; the second begins with {pages[1].strip()[:200]!r}")
    must("The record behind this sheet" in pages[0], f"{name}: the end of the sheet is not on it: {pages[0][-300:]!r}")
    fingerprint = "".join(re.findall(r"\b[0-9a-f]{8}\b", pages[0].split("The record behind this sheet")[1]))
    must(len(fingerprint) == 64, f"{name}: fingerprint on paper: {fingerprint!r}")
    verified = sumplog("verify", job, "--fingerprint", fingerprint, status=(status,))
    must("the fingerprint fits" in verified, f"{name}: {verified}")
    run("pdftoppm", "-r", "70", "-png", pdf, os.path.join(folder, name))
    print(f"{name}: {len(pages)} pages, {drawings} drawings, sheet is the first page")
    return pages


def main():
    for tool in ("chromium", "pdftotext", "tidy", "xmllint"):
        if shutil.which(tool) is None:
            print(f"skipped: {tool} is missing (src/setup.sh test)")
            sys.exit(SKIPPED)
    kept = sys.argv[1] if len(sys.argv) > 1 else None
    with tempfile.TemporaryDirectory() as temporary:
        folder = os.path.abspath(kept or temporary)
        os.makedirs(folder, exist_ok=True)
        sheet = check(whole_job(folder), folder, "whole", 0)[0]
        for words in ("XX 0000", "0TESTCAR7FAKE0001", "84210 km", "Conditions kept", "16.27 L", "16.60 L", "P0897-00", "36 °C", "drip"):
            must(words in sheet, f"{words!r} is not on the customer's sheet: {sheet}")
        must("mL too" not in sheet, "the estimate of the level is for the technician alone")
        check(os.path.join(folder, "whole.log"), folder, "whole-fahrenheit", 0, "--fahrenheit")
        pages = check(longest_job(folder), folder, "longest", 1)
        must("Conditions not kept" in pages[0], pages[0])
        must(pages[0].count("more: see the technician") >= 5, f"what is left out is not said: {pages[0]}")
        must("cannot be relied on" in pages[0], pages[0])


main()
