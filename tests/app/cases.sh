# What the scripts in this folder share: `. tests/app/cases.sh PROGRAM` at the top of the project. Sets
# program and work, a folder that goes at the end.
program=$(realpath "$1")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
passed=0
failed=0

# case NAME COMMAND...: passes if the command succeeds.
case_of() {
  local name=$1
  shift
  if "$@" >"$work/case.log" 2>&1; then
    passed=$((passed + 1))
  else
    failed=$((failed + 1))
    echo "FAILED: $name"
    tail -n 5 "$work/case.log"
  fi
}

# exits CODE ARGUMENTS...: runs the program and compares its exit code; out and err are kept.
exits() {
  local wanted=$1 got=0
  shift
  "$program" "$@" >"$work/out" 2>"$work/err" || got=$?
  [ "$got" -eq "$wanted" ] || { echo "exit code $got instead of $wanted"; tail -n 3 "$work/err"; return 1; }
}

says() { grep -qE -- "$2" "$1" || { echo "no '$2' in:"; tail -n 5 "$1"; return 1; }; }
all() { local step; for step in "$@"; do eval "$step" || return 1; done; }
