# Sourced by lab tests: LAB_DIR is the folder named as first argument, or one that vanishes when the test ends well.
if [ -n "${1:-}" ]; then
  mkdir -p "$1"
  LAB_DIR=$(cd "$1" && pwd)
else
  LAB_DIR=$(mktemp -d)
  trap 'ended=$?; if [ $ended -eq 0 ] || [ $ended -eq 77 ]; then rm -rf "$LAB_DIR"; else echo "recorded: $LAB_DIR"; fi' EXIT
fi
export LAB_DIR
: "${SUMPLOG:?SUMPLOG must name the program}"
