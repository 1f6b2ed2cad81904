#!/usr/bin/env bash
# One capture gives one journal, whatever compiled the program: g++ and clang++, without and with optimisation.
#   four_builds.sh all|short [JOBS]     short: the built program itself (SUMPLOG) and clang++ -O0
set -euo pipefail
what=$1
jobs=${2:-$(nproc)}
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT

# build COMPILER LEVEL: only the program; prints its path
build() {
  local folder=$root/build/compilers/$1$2
  mkdir -p "$folder"
  { cmake -S "$root" -B "$folder" -G Ninja -DSUMPLOG_TESTS=OFF -DCMAKE_DISABLE_PRECOMPILE_HEADERS=ON -DCMAKE_BUILD_TYPE=None -DCMAKE_CXX_COMPILER="$1" \
      -DCMAKE_CXX_FLAGS="$2" && cmake --build "$folder" --parallel "$jobs" --target sumplog; } >"$folder.log" 2>&1 ||
    { tail -n 40 "$folder.log" >&2; echo "four_builds: $1 $2 does not build" >&2; return 1; }
  echo "$folder/sumplog"
}
declare -A programs
case $what in
  all) for compiler in g++ clang++; do for level in -O0 -O2; do programs[$compiler$level]=$(build $compiler $level); done; done ;;
  short) programs=([built]=${SUMPLOG:?SUMPLOG must name the program} [clang++-O0]=$(build clang++ -O0)) ;;
  *) echo "four_builds: '$what' is neither all nor short" >&2; exit 2 ;;
esac

python3 -B "$root/tests/reference/samples.py" "$out/sample"
captures=("$root"/captures/*/*/capture.log "$out"/sample/*/capture.log)
reference=
differ=0
lines=0
for name in "${!programs[@]}"; do
  mkdir "$out/$name"
  for capture in "${captures[@]}"; do
    [ -f "$capture" ] || continue
    folder=$(dirname "$capture")
    decoder=$(sed -n 's/^decoder *= *"\(.*\)".*/\1/p' "$folder/about.toml" 2>/dev/null || true)
    [[ $decoder != */* ]] || decoder=$folder/$decoder
    journal=$(basename "$(dirname "$folder")")-$(basename "$folder").jsonl
    "${programs[$name]}" replay "$capture" ${decoder:+--decoder "$decoder"} --json >"$out/$name/$journal"
  done
  if [ -z "$reference" ]; then
    reference=$name
    lines=$(cat "$out/$name"/* | wc -l)
  elif ! diff -rq "$out/$reference" "$out/$name"; then
    diff -r "$out/$reference" "$out/$name" | head -n 20 || true
    differ=1
  fi
done
echo "${#programs[@]} builds (${!programs[*]}), $(ls "$out/$reference" | wc -l) captures, $lines journal lines each"
[ "$lines" -gt 0 ] || { echo "four_builds: nothing was compared"; exit 1; }
exit $differ
