#!/usr/bin/env bash
# Which lines and branches of the core its tests reach.     tests/coverage.sh [FILTER]
# Builds with the preset coverage, runs the unit tests and goldens, some seeds of the hostile bus and some made-up cars, and prints a table
# for each folder; every branch that was never taken is listed in build/coverage/untested.txt, but for those that stand with their reason in
# tests/coverage_left.txt. One without a reason, or a place of that list that is tested by now, is a failure. FILTER is that of gtest, for
# the unit tests alone, and then nothing of the kind is judged. Without one, tests stay out that try very many cases of what others try
# once: unoptimised they take most of an hour, and reach nothing more.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
build=$root/build/coverage
many_cases='AnyStream.*:EveryReader.*:FlowProperty.*:FullRate.*:GuardTest.Lets*:VerdictProperty.*:*CaptureWalk*:*.EveryLengthOf*:*.EverySizeFrom*:*.NeverCrashes*:*.StaysSound*:WholeJob.*Replay*'
# Programs of their own, which judge what they run: the rules of a bus that wants to see us fail, and the search for a fluid temperature.
hostile_seeds=60
made_up_cars=2
mkdir -p "$build"
{ cd "$root" && cmake --preset coverage && nice cmake --build "$build" --target core_tests hostile_tests learn_tests --parallel "$(nproc)"; } >"$build/build.log" 2>&1 ||
  { tail -n 40 "$build/build.log" >&2; exit 1; }
find "$build" -name '*.gcda' -delete

# One part a processor; what they count is added up when they end.
shards=$(nproc)
running=()
for ((shard = 0; shard < shards; ++shard)); do
  GTEST_TOTAL_SHARDS=$shards GTEST_SHARD_INDEX=$shard "$build/tests/core_tests" --gtest_brief=1 --gtest_filter="${1:--$many_cases}" \
    >"$build/tests-$shard.log" &
  running+=($!)
done
for ((shard = 0; shard < shards; ++shard)); do
  wait "${running[shard]}" || { tail -n 40 "$build/tests-$shard.log" >&2; exit 1; }
done
if (($# == 0)); then
  SUMPLOG_HOSTILE_COUNT=$hostile_seeds "$build/tests/hostile_tests" --gtest_brief=1 >"$build/hostile.log" || { tail -n 40 "$build/hostile.log" >&2; exit 1; }
  SUMPLOG_CARS_COUNT=$made_up_cars "$build/tests/learn_tests" --gtest_brief=1 >"$build/learn.log" || { tail -n 40 "$build/learn.log" >&2; exit 1; }
fi
python3 -B "$root/tests/coverage_table.py" "$build" ${1+--part} | tee "$build/table.txt"
