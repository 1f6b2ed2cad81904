#!/usr/bin/env bash
# Our transport against the kernel's own ISO-TP sockets, over two emulated controllers.    kernel_isotp.sh IO_TESTS
set -euo pipefail
tests=${1:?names the test program}
here=$(dirname "${BASH_SOURCE[0]}")
export LAB_KERNEL_ISOTP=1
status=0
said=$(bash "$here/../lab/qemu.sh" --timeout 400 "$tests" --gtest_filter='KernelIsotp*' 2>&1) || status=$?
printf '%s\n' "$said" | grep -vE '^\[ +(RUN|OK)|^Note:|^$' || true
[ "$status" -eq 0 ] || exit "$status"
if grep -q SKIPPED <<<"$said"; then echo "a test was skipped in the lab"; exit 1; fi
