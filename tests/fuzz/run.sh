#!/usr/bin/env bash
# Fuzzes each target for a while.     run.sh SECONDS [TARGET...]
# Builds with the preset fuzz (clang), makes the seeds, runs the targets and prints a table: executions, code
# reached (edges, features), inputs kept, processor time. What was kept is gone on with the next time. A finding is left in
# build/fuzz/findings/TARGET; once it is mended it moves to tests/fuzz/regressions/TARGET/NAME, and the default tests run it.
# FUZZ_JOBS: targets at the same time (1). FUZZ_SEED: what the fuzzer's chance begins with (by default another one each time).
# FUZZ_NO_BUILD: with the programs that are there.
# Exit status: 1 when there is a finding, 77 without clang.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)
build=$root/build/fuzz
[[ ${1:-} =~ ^[0-9]+$ ]] || { sed -n '2s/^# *//p' "${BASH_SOURCE[0]}" >&2; exit 2; }
seconds=$1
shift
if ! command -v clang++ >/dev/null; then
  echo "fuzz: clang++ is missing: bash src/setup.sh test installs it" >&2
  exit 77
fi
all=()
for source in "$here"/*_target.cpp; do all+=("$(basename "${source%_target.cpp}")"); done
targets=("$@")
[ $# -gt 0 ] || targets=("${all[@]}")
for target in "${targets[@]}"; do
  [ -f "$here/${target}_target.cpp" ] || { echo "fuzz: there is no target '$target'; there are: ${all[*]}" >&2; exit 2; }
done

mkdir -p "$build/logs"
if [ -z "${FUZZ_NO_BUILD:-}" ]; then
  { cd "$root" && cmake --preset fuzz && cmake --build "$build" --target "${targets[@]/#/fuzz_}"; } >"$build/logs/build" 2>&1 ||
    { tail -n 40 "$build/logs/build" >&2; exit 1; }
  rm -rf "$build/seeds"
  python3 -B "$here/make_corpora.py" "$build/seeds" >/dev/null
fi

# Inputs longer than these find nothing that shorter ones do not, and take longer.
declare -A longest=([decoder]=4096 [service_file]=4096 [code_file]=4096 [scenario]=8192 [capture]=8192 [job_file]=8192
  [whole_way]=2048 [redaction]=1024 [http]=4096)

# round TARGET: fuzzes it and prints its row of the table.
round() {
  local target=$1 corpus=$build/corpus/$1 found=$build/findings/$1 log=$build/logs/$1
  local before cpu_s status=0 extra=() executed last count
  mkdir -p "$corpus" "$found" "$build/seeds/$target"
  before=$(find "$found" -type f | wc -l)
  [ -d "$here/regressions/$target" ] && extra=("$here/regressions/$target")
  [ -f "$build/seeds/words/$target" ] && extra+=("-dict=$build/seeds/words/$target")
  cpu_s=$({ TIMEFORMAT=%0U; time "$build/fuzz_$target" -seed="${FUZZ_SEED:-0}" -max_total_time="$seconds" \
    -max_len="${longest[$target]:-2048}" -timeout=20 -rss_limit_mb=1024 -print_final_stats=1 \
    -artifact_prefix="$found/" "$corpus" "$build/seeds/$target" "${extra[@]}" >"$log" 2>&1; } 2>&1) || status=$?
  executed=$(sed -n 's/^stat::number_of_executed_units: *//p' "$log")
  last=$(grep -aE '^#[0-9]+.* cov: ' "$log" | tail -n 1 || true)
  count=$(($(find "$found" -type f | wc -l) - before))
  [ "$status" -eq 0 ] || [ "$count" -gt 0 ] || count=1
  printf '%-18s %12s %8s %8s %8s %9s  %s\n' "$target" "${executed:-?}" "$(sed -n 's/.* cov: \([0-9]*\).*/\1/p' <<<"$last")" \
    "$(sed -n 's/.* ft: \([0-9]*\).*/\1/p' <<<"$last")" "$(find "$corpus" -type f | wc -l)" "$cpu_s" "$count" |
    tee -a "$rows"
  [ "$status" -eq 0 ] && return
  grep -aE -m 3 -A 3 'terminate called|what\(\)|ERROR: |runtime error|SUMMARY' "$log" | head -n 12 >&2 || true
  echo "fuzz: $target: the whole of it is in $log" >&2
}

rows=$(mktemp)
trap 'rm -f "$rows"' EXIT
printf '%-18s %12s %8s %8s %8s %9s  %s\n' target executions edges features kept 'cpu s' findings
for target in "${targets[@]}"; do
  while [ "$(jobs -rp | wc -l)" -ge "${FUZZ_JOBS:-1}" ]; do wait -n || true; done
  round "$target" &
done
wait
[ "$(grep -c ' 0$' "$rows")" -eq ${#targets[@]} ]
