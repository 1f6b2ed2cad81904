#!/usr/bin/env bash
# Which lines and branches of the core its unit tests and goldens reach.     tests/coverage.sh [FILTER]
# Builds with the preset coverage, runs core_tests (FILTER: as --gtest_filter) and prints a table for each folder; every branch
# that was never taken is listed in build/coverage/untested.txt.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
build=$root/build/coverage
mkdir -p "$build"
{ cd "$root" && cmake --preset coverage && nice cmake --build "$build" --target core_tests --parallel "$(nproc)"; } >"$build/build.log" 2>&1 ||
  { tail -n 40 "$build/build.log" >&2; exit 1; }
find "$build" -name '*.gcda' -delete
"$build/tests/core_tests" --gtest_brief=1 --gtest_filter="${1:-*}" >"$build/tests.log" || { tail -n 40 "$build/tests.log" >&2; exit 1; }
python3 -B "$root/tests/coverage_table.py" "$build" >"$build/table.txt"
cat "$build/table.txt"
