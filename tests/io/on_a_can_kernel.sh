#!/usr/bin/env bash
# The socket, link and clock tests on a kernel with CAN.    on_a_can_kernel.sh IO_TESTS
set -euo pipefail
tests=${1:?names the test program}
here=$(dirname "${BASH_SOURCE[0]}")
export SUMPLOG_CAN_KERNEL=1
status=0
said=$(bash "$here/../lab/uml.sh" --timeout 400 "$tests" --gtest_filter='CanKernel*:*/CanKernel*:JobTime*:KernelJ1939*' 2>&1) || status=$?
[ "$status" -eq 77 ] && { echo "$said"; exit 77; }
if [ "$status" -ne 0 ]; then printf '%s\n' "$said"; exit 1; fi
if grep -q SKIPPED <<<"$said"; then printf '%s\n' "$said"; echo "a test was skipped in the lab"; exit 1; fi
tail -n 3 <<<"$said"
