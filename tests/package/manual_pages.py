#!/usr/bin/env python3
"""The manual pages have no fault that mandoc or groff sees, and tell every option that --help tells.    BUILD"""

import glob
import os
import re
import subprocess
import sys

from installed import Installed, commands, must, run

with Installed(sys.argv[1]) as installed:
    pages = sorted(glob.glob(installed.path("share/man/man1/*.1")))
    told = commands(installed.path("bin/sumplog"))
    wanted = {"sumplog.1"} | {f"sumplog-{path[0]}.1" for path in told if path}
    must({os.path.basename(page) for page in pages} == wanted, f"pages: {pages}, wanted: {wanted}")
    text_of = {}
    for page in pages:
        run(["mandoc", "-Tlint", "-Wwarning", page])
        done = subprocess.run(["man", "--warnings", "-E", "UTF-8", "-l", "-Tutf8", "-Z", page], capture_output=True, text=True,
                              check=False, env={**os.environ, "LC_ALL": "C.UTF-8", "MANROFFSEQ": "", "MANWIDTH": "80"})
        must(done.returncode == 0 and not done.stderr, f"{page}: {done.stderr}")
        text_of[os.path.basename(page)] = re.sub(r".\x08", "", run(["mandoc", "-Tutf8", page]))
    options = 0
    for path, names in told.items():
        page = f"sumplog-{path[0]}.1" if path else "sumplog.1"
        text = text_of[page]
        for name in names:
            options += 1
            must(re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", text), f"{page} does not tell {' '.join(path)} {name}")
    must(options > 100, f"only {options} options were compared")
    for page, text in text_of.items():
        must(page == "sumplog.1" or "EXAMPLE\n" in text, f"{page} has no example")
print(f"{len(pages)} pages without a fault tell {options} options")
