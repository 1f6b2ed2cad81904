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
    """in   samples  [(time, KiB, descriptors, KiB that are kept on purpose)]; warm_up  how many of the first do not count
    out  what is wrong, empty when memory (without what is kept) and descriptors are flat"""
    counted = samples[warm_up:]
    if len(counted) < 4:
        return f"only {len(counted)} samples behind the first {warm_up}"
    third = max(1, len(counted) // 3)
    first = max(kib - kept for _, kib, _, kept in counted[:third])
    last = max(kib - kept for _, kib, _, kept in counted[-third:])
    most = max(count for _, _, count, _ in counted[:third])
    wrong = []
    if last > first + kib_allowed:
        wrong.append(f"memory grows: {first} KiB in the first third, {last} KiB in the last")
    now = min(count for _, _, count, _ in counted[-third:])
    if now > most:
        wrong.append(f"descriptors leak: at most {most} at first, never fewer than {now} at the end")
    return "; ".join(wrong)
