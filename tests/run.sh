#!/usr/bin/env bash
# Installs what the tests need, builds, runs the tests.       bash tests/run.sh [-L LABEL]... [--all]
#   without options   every test but the slow ones
#   -L LABEL          only the tests with this label (may be given several times), slow or not
#   --all             every test
# Slow labels: lab (real kernel; lab-short: three of them, three minutes), browser (the page through a whole job), lab-long (fresh Debian), builds (other compilers), tidy (clang-tidy), and those in `slow` below.
# A second run builds only what changed. BUILD_PRESET picks another preset of CMakePresets.json (default: release).
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
preset=${BUILD_PRESET:-release}
build=$root/build/$preset
slow='^(lab|lab-long|browser|builds|builds-short|tidy|bench|long|fuzz|fuzz-short|mutation|soak)$'

usage() { sed -n '2,6s/^# \{0,1\}//p' "${BASH_SOURCE[0]}"; }
labels=()
select=(-LE "$slow")
while [ $# -gt 0 ]; do
  case $1 in
    -L) labels+=("${2:?-L needs a label}"); shift 2 ;;
    --all) select=(); shift ;;
    -h | --help) usage; exit 0 ;;
    *) echo "run.sh: '$1' is no option of this script" >&2; usage >&2; exit 2 ;;
  esac
done
repeat=()
if [ ${#labels[@]} -gt 0 ]; then
  # A lab runs against the wall clock: on a busy machine it gets a second chance. The tests of the default round do not.
  repeat=(--repeat until-pass:2)
  select=(-L "^($(IFS='|'; echo "${labels[*]}"))\$")
fi

# step NAME COMMAND...: one line for a step that works; the end of its output when it fails.
step() {
  local name=$1 log=$build/log/$1.log started=$SECONDS
  shift
  if ! "$@" >"$log" 2>&1; then
    tail -n 80 "$log" >&2
    echo "run.sh: $name failed; all of its output is in $log" >&2
    exit 1
  fi
  echo "$name: $((SECONDS - started)) s"
}

mkdir -p "$build/log"
step install bash "$root/src/setup.sh" test
step configure cmake -S "$root" --preset "$preset"
step build cmake --build "$build" --parallel "$(nproc)"

# Passed tests are counted, not listed; the whole list is in build/…/Testing/Temporary/LastTest.log.
ctest --test-dir "$build" --output-on-failure --no-tests=error --parallel "$(nproc)" ${repeat[@]+"${repeat[@]}"} "${select[@]}" |
  grep -vE '^ +Start +[0-9]+: |^ *[0-9]+/[0-9]+ Test +#[0-9]+: .* Passed +[0-9.]+ sec$'
