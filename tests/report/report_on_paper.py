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
    """Everything that a person can make long, longer than a sheet has room for."""
    words = "Wörter, die kein Ende nehmen & <b>so</b> weiter, "
    text = (words * 100)[:3500]
    name = "N" * 60
    out = sumplog("jobs", "new", "--plate", name, "--vin", name, "--odometer", "999999", "--customer", text, "--complaint", text,
                  "--technician", text, "--transmission", "converter", "--unit", text, "--fluid", text, "--batch", text,
                  "--decoder", "demo-9", "--data", folder)
    job = out.strip().split(": ", 1)[1]
    stages = re.search(r"kStages\{(.*?)\}", open(os.path.join(SOURCE, "src/core/job/stages.h"), encoding="utf-8").read(), re.S)[1]
    for stage in re.findall(r'"([^"]+)"', stages):
        sumplog("record", job, "stage_begun", f"stage={stage}")
        sumplog("record", job, "stage_ended", f"stage={stage}")
    for part in ("sample", "exchange", "drain", "pan", "refill", "top up", "level check"):
        sumplog("record", job, "fluid_out", "litres=10", f"part={part}")
        sumplog("record", job, "fluid_in", "litres=9.5", f"part={part}", f"fluid={text}", f"batch={text}")
    for number in range(8):
        sumplog("record", job, "part_used", f"part={text}", f"number={text}", "count=1.5")
        sumplog("record", job, "open_item", f"item=item {number}", f"text={text}")
        picture = png(300, 200 + 400 * (number % 2), 40 * number)
        file = f"photo-{number}.png"
        if number != 1:
            with open(os.path.join(folder, file), "wb") as photo:
                photo.write(picture)
        sumplog("record", job, "photo", f"file={file}", f"sha256={hashlib.sha256(picture).hexdigest()}", "type=image/png", f"of={text}")
    sumplog("record", job, "plug_out")
    sumplog("record", job, "level_seen", "flow=thread", "ml_in_10_s=12", "--by", text)
    sumplog("record", job, "plug_in")
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
    sumplog("verify", job, "--fingerprint", fingerprint, status=(status,))
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
        must("more: see the technician" in pages[0], "what is left out is not said")


main()
