#!/usr/bin/env python3
"""bash and zsh complete every command and option that --help tells, and the values that are known.      BUILD

   The shells themselves complete, on the installed files; CAN interfaces are made up in a mount namespace where that may be had."""

import os
import pty
import shutil
import subprocess
import sys
import tempfile
import time

from installed import Installed, commands, must

BASH = """
source "$1"; shift
COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1))
_sumplog
printf '%s\\n' "${COMPREPLY[@]}"
"""
# What the completion offers goes into a file, by way of compadd, which every completion ends in.
ZSH = """
fpath=({folder} $fpath); autoload -U compinit; compinit -u -D; PROMPT=; setopt no_beep
path=({bin} $path); cd {here}; export SUMPLOG_DATA={here}/data
compadd() {{
  if [[ ${{@[1,(i)(-|--)]}} == *-(O|A|D)\\ * ]]; then builtin compadd "$@"; return $?; fi
  local -a hits; builtin compadd -A hits "$@"; print -rl -- $hits >>{out}
  builtin compadd "$@"
}}
ready() {{ print -r -- READY >>{out}; zle kill-whole-line }}; zle -N ready; bindkey '^G' ready; bindkey '^I' complete-word
"""
PATIENCE = 20  # seconds for one answer of zsh


class Zsh:
    """An interactive zsh on a terminal of its own."""

    def __init__(self, installed, here):
        self.out = os.path.join(here, "offered")
        setup = os.path.join(here, "setup.zsh")
        with open(setup, "w", encoding="utf-8") as file:
            file.write(ZSH.format(folder=installed.path("share/zsh/vendor-completions"), bin=installed.path("bin"), here=here, out=self.out))
        self.pid, self.terminal = pty.fork()
        if self.pid == 0:
            os.environ["TERM"] = "dumb"
            os.execvp("zsh", ["zsh", "-f", "-i"])
        os.set_blocking(self.terminal, False)
        self.keys(f"source {setup}\n")
        self.offered("")

    def keys(self, text):
        os.write(self.terminal, text.encode())

    def offered(self, line):
        with open(self.out, "w", encoding="utf-8"):
            pass
        self.keys((line + "\t" if line else "") + "\x07")
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            try:
                os.read(self.terminal, 65536)
            except (BlockingIOError, OSError):
                pass
            with open(self.out, encoding="utf-8") as file:
                text = file.read()
            if text.endswith("READY\n"):
                return set(text.splitlines()) - {"READY", ""}
            time.sleep(0.01)
        raise SystemExit(f"completion.py: zsh says nothing to '{line}'")

    def end(self):
        self.keys("exit\n")
        os.close(self.terminal)
        os.waitpid(self.pid, 0)


class Bash:
    def __init__(self, installed, here):
        self.script = installed.path("share/bash-completion/completions/sumplog")
        self.here = here
        self.env = {**os.environ, "SUMPLOG_DATA": os.path.join(here, "data"), "PATH": installed.path("bin") + ":" + os.environ["PATH"]}
        self.before = []

    def offered(self, line):
        words = [part for word in line.split(" ") for part in word.replace("=", " = ").strip(" ").split(" ")]
        if line.endswith("="):
            words = line[:-1].split(" ") + ["="]
        done = subprocess.run(self.before + ["bash", "--norc", "-c", BASH, "bash", self.script, *words], capture_output=True, text=True,
                              check=False, cwd=self.here, env=self.env)
        must(done.returncode == 0 and not done.stderr, f"bash on '{line}': {done.stderr}")
        return set(done.stdout.split("\n")) - {""}


def every_option(shell, name, told):
    count = 0
    for path, options in told.items():
        line = " ".join(["sumplog", *path])
        below = {one[len(path)] for one in told if len(one) == len(path) + 1 and one[:len(path)] == path}
        if below:
            must(below <= shell.offered(line + " "), f"{name}: '{line} ' offers {shell.offered(line + ' ')}, not all of {below}")
        for dashes in ("-", "--"):
            wanted = {one for one in options if one.startswith("--") or dashes == "-"}
            got = {one.rstrip("=") for one in shell.offered(f"{line} {dashes}")}
            must(wanted <= got, f"{name}: '{line} {dashes}' does not offer {wanted - got}")
            must(got <= options, f"{name}: '{line} {dashes}' offers {got - options}, which --help does not tell")
            count += len(wanted)
    return count


def values(shell, name):
    decoders = {"demo-9", "j1939-transmission", "obd-generic"}
    for line, wanted in [("sumplog serve --decoder ", decoders), ("sumplog serve --decoder=", decoders),
                         ("sumplog serve --decoder=dem", {"demo-9"}), ("sumplog decoders show ", decoders),
                         ("sumplog decoders check demo-9 ob", {"obd-generic"}), ("sumplog replay --rounding ", {"round", "floor", "unknown"}),
                         ("sumplog scan --stage ", {"before", "after"}), ("sumplog export --as pc", {"pcapng"}),
                         ("sumplog serve --sound off --record ", {"needed", "all"}), ("sumplog replay dri", {"drive.log"}),
                         ("sumplog jobs show 2025", {"20251125-101500-3f2a91c0"}), ("sumplog jobs list --data da", {"data"}),
                         ("sumplog record drive.log plug_", {"plug_out", "plug_in"}), ("sumplog jobs re", {"redact", "rebuild"})]:
        got = {one.rstrip("/") for one in shell.offered(line)}
        must(wanted <= got, f"{name}: '{line}' offers {got}, not {wanted}")
    for line in ("sumplog serve --window ", "sumplog jobs new --plate "):
        must(not shell.offered(line), f"{name}: '{line}' offers {shell.offered(line)}, where only a person knows")
    must("drive.log" not in shell.offered("sumplog serve --data "), f"{name}: a file is no folder")


def interfaces(shell, here):
    """Two CAN interfaces and an Ethernet one, as the kernel shows them."""
    made_up = os.path.join(here, "net")
    for interface, kind in [("can0", "280"), ("vcan1", "280"), ("eth0", "1")]:
        os.makedirs(os.path.join(made_up, interface))
        with open(os.path.join(made_up, interface, "type"), "w", encoding="utf-8") as file:
            file.write(kind + "\n")
    shell.before = ["unshare", "-m", "sh", "-c", 'mount --bind "$0" /sys/class/net && exec "$@"', made_up]
    if subprocess.run(shell.before + ["true"], capture_output=True, check=False).returncode != 0:
        print("no mount namespace here: CAN interfaces are not looked at")
        return
    got = {one for one in shell.offered("sumplog serve --interface ") if not one.startswith("/dev/")}
    must(got == {"can0", "vcan1"}, f"bash: interfaces {got}")


with Installed(sys.argv[1]) as everything, tempfile.TemporaryDirectory() as folder:
    os.makedirs(os.path.join(folder, "data"))
    for made in ("drive.log", "data/20251125-101500-3f2a91c0.log"):
        with open(os.path.join(folder, made), "w", encoding="utf-8"):
            pass
    told_by_help = commands(everything.path("bin/sumplog"))
    bash = Bash(everything, folder)
    options_of_bash = every_option(bash, "bash", told_by_help)
    values(bash, "bash")
    interfaces(bash, folder)
    must(shutil.which("zsh"), "zsh is not installed: bash src/setup.sh test")
    zsh = Zsh(everything, folder)
    options_of_zsh = every_option(zsh, "zsh", told_by_help)
    values(zsh, "zsh")
    zsh.end()
    must(options_of_bash > 100, "too few options were looked at")
print(f"bash offers {options_of_bash} options, zsh {options_of_zsh}, and both the values that are known")
