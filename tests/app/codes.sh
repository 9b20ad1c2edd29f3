#!/usr/bin/env bash
# The catalogue as a user runs it: overlays, realms, and the check against a terminology server.
# codes.sh FOOTBRIDGE
set -uo pipefail
cd "$(dirname "$0")/../.."
footbridge=$PWD/$1
work=$(mktemp -d)
passed=0
failed=0

check() {
  local name=$1
  shift
  if "$@"; then
    passed=$((passed + 1))
  else
    failed=$((failed + 1))
    echo "FAILED: $name"
  fi
}

exits() {
  local wanted=$1 status=0
  shift
  "$@" >"$work/out" 2>"$work/err" || status=$?
  [ "$status" -eq "$wanted" ] || { echo "exit $status, not $wanted"; tail -n 3 "$work/err"; false; }
}

"$footbridge" codes list --json >"$work/list"
python3 tests/app/terminology_server.py "$work/port" "$work/list" &
server=$!
trap 'kill $server 2>/dev/null; rm -rf "$work"' EXIT
for _ in $(seq 100); do [ -s "$work/port" ] && break; sleep 0.1; done
base=http://127.0.0.1:$(cat "$work/port")

check "a code out of use is a finding" exits 1 "$footbridge" codes validate --server "$base" --stamp "$work/stamp.json"
check "unknown is told" grep -q $'^unknown\tarm-systolic\thttp://loinc.org|8508-4' "$work/out"
check "inactive is told" grep -q $'^inactive\tankle-brachial-index\t' "$work/out"
check "another name is told with the name" grep -q $'^wrong display.*77194-9.*Index of ankle and arm' "$work/out"
check "the rest is active" test "$(grep -c '^active' "$work/out")" -gt 90
check "the sum is told" grep -q '3 of those that are sent need looking at' "$work/err"

check "the stamp can be laid over" exits 0 "$footbridge" --codes "$work/stamp.json" codes list
check "the server's answer is evidence" grep -q "77194-9.*Index of ankle and arm.*wrong display.*stamp.json" "$work/out"
"$footbridge" --codes "$work/stamp.json" convert --quiet examples/clinic/01*.json >"$work/bundle" 2>/dev/null
check "a code out of use no longer leaves" bash -c "! grep -q 446841001 '$work/bundle'"
check "a code that the server does not know no longer leaves" bash -c "! grep -q 8508-4 '$work/bundle'"
check "the others do" grep -q 77194-9 "$work/bundle"

check "as JSON" exits 1 "$footbridge" codes validate --server "$base" --json
check "one line a coding" grep -q '"verdict":"inactive","concept":"ankle-brachial-index"' "$work/out"
echo wrong >"$work/token"
chmod 600 "$work/token"
check "a refused token is no answer" exits 3 "$footbridge" codes validate --server "$base" --bearer-file "$work/token"
check "nobody there" exits 3 "$footbridge" codes validate --server http://127.0.0.1:1
check "no plain http to others" exits 2 "$footbridge" codes validate --server http://terminology.example/fhir

check "an unknown realm" exits 2 "$footbridge" convert --realm us-cor examples/clinic/01*.json
check "is guessed" grep -q "Did you mean us-core?" "$work/err"
check "profiles of another release" exits 2 "$footbridge" convert --fhir 5.0 --profiles ours examples/clinic/01*.json
for release in 4.0 4.3 5.0; do
  "$footbridge" convert --quiet --fhir $release examples/clinic/01*.json >"$work/fhir-$release" 2>/dev/null
done
check "FHIR 4.3 has the bytes of 4.0" cmp "$work/fhir-4.0" "$work/fhir-4.3"
check "FHIR 5.0 has not" bash -c "! cmp -s '$work/fhir-4.0' '$work/fhir-5.0'"
cat >"$work/footbridge.toml" <<TOML
codes = "stamp.json"
[destinations.folder]
kind = "folder"
path = "held"
realm = "uk-core"
profiles = "ours"
TOML
check "a destination has its realm" exits 0 "$footbridge" send --to folder --config "$work/footbridge.toml" examples/clinic/01*.json
check "in what arrives" grep -rq "millimeter of mercury" "$work/held"
check "with its profiles" grep -rq '/StructureDefinition/arm-systolic"' "$work/held"
check "and the overlay of the file" bash -c "! grep -rq 446841001 '$work/held'"

echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
