"""What a process holds, and whether that stays as it is."""

import os
import re


def sample(pid):
    """Resident memory in KiB and number of open descriptors. An OSError when it has ended."""
    with open(f"/proc/{pid}/status") as file:
        found = re.search(r"VmRSS:\s+(\d+) kB", file.read())
    if not found:
        raise ProcessLookupError(pid)
    return int(found.group(1)), len(os.listdir(f"/proc/{pid}/fd"))


def verdict(samples, warm_up, kib_allowed):
    """in   samples  [(time, KiB, descriptors)]; warm_up  how many of the first do not count
    out  what is wrong, empty when memory and descriptors are flat"""
    kept = samples[warm_up:]
    if len(kept) < 4:
        return f"only {len(kept)} samples behind the first {warm_up}"
    third = max(1, len(kept) // 3)
    first = max(kib for _, kib, _ in kept[:third])
    last = max(kib for _, kib, _ in kept[-third:])
    fewest = min(count for _, _, count in kept[:third])
    most = max(count for _, _, count in kept[:third])
    wrong = []
    if last > first + kib_allowed:
        wrong.append(f"memory grows: {first} KiB in the first third, {last} KiB in the last")
    now = min(count for _, _, count in kept[-third:])
    if now > most:
        wrong.append(f"descriptors leak: {fewest} to {most} at first, never fewer than {now} at the end")
    return "; ".join(wrong)
