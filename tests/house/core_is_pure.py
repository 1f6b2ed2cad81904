#!/usr/bin/env python3
"""The core has no system call, network, thread, logger or clock, and no arithmetic that differs between machines."""

import re

from tree import Report, code, files

SYSTEM = re.compile(
    r"(sys|linux|net|netinet|arpa|boost|spdlog|fmt|soci|CLI|openssl)/.*|soci\.h"
    r"|(unistd|fcntl|poll|signal|pthread|dlfcn|time|dirent|stdio)\.h"
    r"|[io]?fstream|iostream|filesystem|c?signal|ctime|random|locale"
    r"|thread|mutex|shared_mutex|condition_variable|future|semaphore|barrier|latch|atomic|stop_token")
PARSER = re.compile(r"(nlohmann|toml\+\+)/.*|toml\.hpp")
RULES = [
    (re.compile(r"\b(system|steady|high_resolution|utc|tai|gps|file)_clock\b|_clock::now\b"
                r"|(\bstd|(?<![\w>]))::(time|clock)\s*\(|\btime\s*\(\s*(nullptr|NULL|0|&\w+)\s*\)"
                r"|\b(clock_gettime|gettimeofday|timespec_get|localtime(_r)?|gmtime(_r)?|mktime)\s*\("),
     "asks a clock; in the core time is an argument"),
    (re.compile(r"\b(getenv|setlocale|s?rand|random_device)\b\s*[({]|\brandom_device\b"),
     "asks the environment or chance"),
    (re.compile(r"\b(fopen|freopen|fwrite|fputs|puts|printf|fprintf|perror)\s*\(|\bstd::(cout|cerr|clog|cin)\b"),
     "opens a file or writes to a stream"),
    (re.compile(r"\b(socket|ioctl|read|write|open|poll|select)\s*\(\s*(AF_|PF_|fd\b|STD)"), "makes a system call"),
    (re.compile(r"\bstd::(exp|exp2|expm1|log|log2|log10|log1p|pow|erf|erfc|tgamma|lgamma|sin|cos|tan|asin|acos|atan"
                r"|atan2|sinh|cosh|tanh|cbrt|hypot)[fl]?\s*\("),
     "calls the C library's mathematics, whose last digit differs between processors; the core has its own"),
]

report = Report()
core = files("src/core/*.h", "src/core/*.cpp")
if not core:
    report.add("src/core", 0, "no files found")
for path in core:
    for number, line in enumerate(code(path).splitlines(), 1):
        include = re.match(r"\s*#\s*include\s*<([^>]*)>", line)
        if include:
            name = include.group(1)
            if SYSTEM.fullmatch(name):
                report.add(path, number, f"includes <{name}>: no system, network, thread or logger in the core")
            elif re.match(r"(io|app|page)/", name):
                report.add(path, number, f"includes {name}: the core knows no other layer")
            elif path.endswith(".h") and PARSER.fullmatch(name):
                report.add(path, number, f"includes <{name}>: parser libraries stay in .cpp files")
            continue
        for rule, what in RULES:
            if rule.search(line):
                report.add(path, number, what)
report.end(f"{len(core)} core files are pure")
