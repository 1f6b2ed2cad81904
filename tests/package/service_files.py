#!/usr/bin/env python3
"""systemd and udev read the installed unit and the samples beside it without a complaint, and the unit is closed in.     BUILD"""

import os
import re
import shutil
import subprocess
import sys
import tempfile

from installed import Installed, must, run

EXPOSURE = 1.8  # of systemd-analyze security, 0 to 10; what is left is told in docs/install.md
WITHOUT_LINK_RIGHTS = 1.3


def unit_with(installed, folder, instance, samples):
    """A folder with this instance of the unit, and samples as its drop-ins; out: the unit's path."""
    made = tempfile.mkdtemp(dir=folder)
    unit = os.path.join(made, f"sumplog@{instance}.service")
    shutil.copy(installed.path("lib/systemd/system/sumplog@.service"), unit)
    for sample in samples:
        os.makedirs(unit + ".d", exist_ok=True)
        shutil.copy(installed.path("share/doc/sumplog/examples", sample), unit + ".d")
    return unit


def verified(unit):
    done = subprocess.run(["systemd-analyze", "--man=no", "verify", unit], capture_output=True, text=True, check=False)
    must(done.returncode == 0 and not done.stderr, f"{unit}: {done.stdout}{done.stderr}")


def exposure(unit):
    """The figure, and it must not be more than what the documents say."""
    told = run(["systemd-analyze", "security", "--offline=true", "--no-pager", unit])
    return float(re.search(r"exposure level for \S+: ([\d.]+)", told).group(1))


def unit(installed, folder):
    plain = unit_with(installed, folder, "can0", [])
    text = open(plain, encoding="utf-8").read()
    for line in (f"ExecStart={installed.path('bin/sumplog')} serve", "Type=notify", "User=sumplog", "CapabilityBoundingSet=CAP_NET_ADMIN\n", "StandardError=journal\n"):
        must(line in text, f"the unit does not say '{line}'")
    verified(plain)
    bare = unit_with(installed, folder, "can0", ["no-link-rights.conf"])
    verified(bare)
    verified(unit_with(installed, folder, "-dev-ttyACM0", ["serial-adapter.conf"]))
    figures = exposure(plain), exposure(bare)
    must(figures[0] <= EXPOSURE and figures[1] <= WITHOUT_LINK_RIGHTS, f"exposure {figures}")
    # The call in the unit is one that the program takes: with a page that cannot be, nothing but that is wrong.
    call = re.search(r"ExecStart=(.*)", text).group(1).replace("%I", "can0").split()
    done = subprocess.run(call, capture_output=True, text=True, check=False, timeout=30,
                          env={**os.environ, "SUMPLOG_DATA": folder, "SUMPLOG_LISTEN": "nowhere"})
    must(done.returncode == 2 and "SUMPLOG_LISTEN" in done.stderr, done.stderr)
    return figures


def udev(installed, folder):
    """The rules as they are, and the first one turned to an interface that is there: it must ask for the unit."""
    with open(installed.path("share/doc/sumplog/examples/70-sumplog.rules"), encoding="utf-8") as file:
        rules = file.read()
    rules += rules.replace('KERNEL=="can[0-9]*", ATTR{type}=="280"', 'KERNEL=="lo", ATTR{type}=="772"')
    here = os.path.join(folder, "rules.d")
    os.makedirs(here)
    with open(os.path.join(here, "70-sumplog.rules"), "w", encoding="utf-8") as file:
        file.write(rules)
    in_place = ["unshare", "-m", "sh", "-c", 'mount --bind "$0" /etc/udev/rules.d && exec "$@"', here]
    if not os.path.isdir("/etc/udev/rules.d") or subprocess.run(in_place + ["true"], capture_output=True, check=False).returncode != 0:
        print("no mount namespace here: the udev rules are not looked at")
        return
    done = subprocess.run(in_place + ["udevadm", "test", "--action=add", "/sys/class/net/lo"], capture_output=True, text=True, check=False)
    told = done.stdout + done.stderr
    must("Reading rules file: /etc/udev/rules.d/70-sumplog.rules" in told, told)
    wrong = re.findall(r".*rules\.d/70-sumplog\.rules:\d+.*", told)
    must(not wrong, "\n".join(wrong))
    must(re.search(r"SYSTEMD_WANTS=\s*sumplog@lo\.service", told), told)


with Installed(sys.argv[1]) as everything, tempfile.TemporaryDirectory() as somewhere:
    exposed = unit(everything, somewhere)
    udev(everything, somewhere)
print(f"unit and rules are read; exposure {exposed[0]}, without the right to set links {exposed[1]}")
