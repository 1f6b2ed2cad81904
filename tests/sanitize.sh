#!/usr/bin/env bash
# Rounds of the suite beside a checker of memory, of undefined behaviour or of threads.       bash tests/sanitize.sh asan|tsan|valgrind...
#   asan      address and undefined behaviour: every test, 50 hostile seeds, the built program
#   tsan      data races: the tests that have threads, and the program where it works on several files at once
#   valgrind  memory that was never written, by the release build: what reads foreign bytes, 50 hostile seeds, every capture
# Builds in build/asan, build/tsan and build/release; CXX picks the compiler of a first build. Minutes each, valgrind longest.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
reports=$scratch/reports
mkdir "$reports"
failed=()

# A report goes into a file: a test that expects a failing program cannot swallow it.
export ASAN_OPTIONS=exitcode=99:log_path=$reports/asan UBSAN_OPTIONS=print_stacktrace=1:log_path=$reports/ubsan
export TSAN_OPTIONS=exitcode=99:second_deadlock_stack=1:log_path=$reports/tsan
no_room='BadInput.ALineOfOneGigabyte*'  # limits its address space; a checker reserves terabytes
under=()  # what stands before every program of a round

# run NAME COMMAND...: one line; the last lines of its output when it fails.
run() {
  local name=$1 log=$scratch/log started=$SECONDS status=0
  shift
  (cd "$scratch" && ${under[@]+"${under[@]}"} "$@") >"$log" 2>&1 || status=$?
  local checks
  checks=$(grep -oP '^\[==========\] \K[0-9]+ tests? .* ran' "$log" || true)
  echo "$name: exit status $status, $((SECONDS - started)) s${checks:+, $checks}"
  [ $status -eq 0 ] && return
  failed+=("$name")
  tail -n 40 "$log" >&2
}
build_all() {  # build_all PRESET TARGET...
  local preset=$1 log=$scratch/build.log
  shift
  if ! { cmake -S "$root" --preset "$preset" && cmake --build "$root/build/$preset" --parallel "$(nproc)" --target "$@"; } >"$log" 2>&1; then
    tail -n 60 "$log" >&2
    exit 1
  fi
  build=$root/build/$preset
}
# tests_in FOLDER...: a filter of all the tests whose sources lie there.
tests_in() {
  (cd "$root/tests" && grep -rhoP '^TEST(_F|_P)?\(\K\w+' "$@") | sort -u | sed 's/.*/&.*:*\/&.*/' | paste -sd :
}
seeds() {  # seeds COUNT
  SUMPLOG_HOSTILE_FIRST=30001 SUMPLOG_HOSTILE_COUNT=$1 run "hostile seeds 30001 to $((30000 + $1))" "$build/tests/hostile_tests" --gtest_filter='*EveryRule*'
}
replays() {
  local about decoder
  for about in "$root"/captures/*/*/about.toml; do
    local folder=${about%/*}
    [ -f "$folder/capture.log" ] || continue
    decoder=$(sed -n 's/^decoder = "\(.*\)"$/\1/p' "$about")
    [ "$decoder" = ./decoder ] && decoder=$folder/decoder
    run "replay ${folder#"$root"/captures/}" "$build/sumplog" replay "$folder/capture.log" --decoder "$decoder" --json
  done
}
whole_job() {
  local program=$build/sumplog job=$scratch/job.log form
  run "a whole job" "$program" simulate "$root/captures/demo-9/whole-job/scenario.toml" --job "$job"
  run "verify" "$program" verify "$job"
  run "replay of the job" "$program" replay "$job" --json
  run "report" "$program" report "$job" -o "$scratch/report.html"
  for form in candump pcapng asc csv archive; do run "export as $form" "$program" export "$job" --as "$form" -o "$scratch/job.$form"; done
  for form in pcapng asc; do run "replay of $form" "$program" replay "$scratch/job.$form" --decoder demo-9 --json; done
  run "demo" "$program" demo --once --data "$scratch/demo"
}
fifty_jobs() {
  local program=$build/sumplog jobs=$scratch/jobs
  [ -d "$jobs" ] || run "50 made-up jobs" env SUMPLOG="$program" python3 -B "$root/tests/index/synthetic_jobs.py" "$jobs" 1 50
  run "list of 50 jobs" "$program" jobs list --data "$jobs" --json
  run "index of 50 jobs" "$program" jobs rebuild --data "$jobs" --index "$scratch/jobs.sqlite"
}
# The program as it serves a page: recorder, photos, index and web server at work.
served() {
  local one
  for one in web/contract web/attacks web/watch web/first_steps; do
    SUMPLOG=$build/sumplog SOURCE=$root run "$one" python3 -B "$root/tests/${one}_on_the_program.py"
  done
}

asan() {
  build_all asan sumplog core_tests io_tests app_tests hostile_tests learn_tests
  for layer in core io app; do run "${layer}_tests" "$build/tests/${layer}_tests" --gtest_filter="-$no_room"; done
  SUMPLOG_CARS_COUNT=3 run "learn_tests" "$build/tests/learn_tests"
  seeds 50
  replays
  whole_job
  fifty_jobs
  served
}
tsan() {
  build_all tsan sumplog io_tests app_tests
  run "io_tests" "$build/tests/io_tests"
  run "app_tests" "$build/tests/app_tests" --gtest_filter="-$no_room"
  whole_job
  fifty_jobs
  served
}
valgrind() {
  build_all release sumplog core_tests hostile_tests
  under=(command valgrind -q --error-exitcode=9 --leak-check=full --trace-children=yes "--log-file=$reports/valgrind.%p")
  # Not those that try thousands of cuts and damages: they are too slow here.
  local many='*AnyStream*:*CaptureWalk*:*Property*:*FrameWalk*:*EveryReader*:*Damaged*:*Gigabyte*'
  run "core_tests" "$build/tests/core_tests" --gtest_filter="$(tests_in core/capture core/isotp core/j1939 core/job core/journal):-$many"
  seeds 50
  replays
}

[ $# -gt 0 ] || { sed -n '2,6s/^# \{0,1\}//p' "${BASH_SOURCE[0]}" >&2; exit 2; }
for round in "$@"; do
  case $round in
    asan | tsan | valgrind) echo "== $round" && under=() && $round ;;
    *) echo "sanitize.sh: '$round' is none of asan, tsan, valgrind" >&2; exit 2 ;;
  esac
done
find "$reports" -type f -size +0 -exec cat {} + | tee "$scratch/findings" | head -n 200
[ ! -s "$scratch/findings" ] || failed+=("reports of the checker")
[ ${#failed[@]} -eq 0 ] || { echo "sanitize.sh: failed: ${failed[*]}" >&2; exit 1; }
echo "no findings"
