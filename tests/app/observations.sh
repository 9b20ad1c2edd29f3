#!/usr/bin/env bash
# Bundles of Observations in FHIR, as a user runs them: tests/app/observations.sh PROGRAM [GENERATED.ndjson]
#
# Our own bundles fed back have to say what they said; the visits of examples/clinic and those generated, written as
# an app of another maker might, have to give the same resources as their JSON, all but Provenance. Ends with
# "N passed, M failed".
set -uo pipefail
cd "$(dirname "$0")/../.."

. tests/app/cases.sh "$1"
shift

# One assessment a line, digits as they stand.
lines() {
  for file in "$@"; do
    case $file in
      *.ndjson) cat "$file" ;;
      *) tr '\n' ' ' <"$file"; echo ;;
    esac
  done
}
# fed_back HOW PATIENT OPTION... -- FILE...: with these options of convert.
fed_back() {
  local how=$1 patient=$2 shape=()
  shift 2
  while [ "$1" != -- ]; do
    shape+=("$1")
    shift
  done
  shift
  lines "$@" >"$work/visits.ndjson"
  "$program" convert --quiet --patient "$patient" "${shape[@]}" --from ndjson "$work/visits.ndjson" >"$work/first.ndjson" 2>"$work/first.err" || return 1
  "$program" convert --quiet --patient "$patient" "${shape[@]}" --from fhir "$work/first.ndjson" >"$work/again.ndjson" 2>"$work/again.err" || { cat "$work/again.err"; return 1; }
  python3 tests/fhir/round_trip.py "$how" "$work/visits.ndjson" "$work/first.ndjson" "$work/again.ndjson"
}
how=some
[ $# -eq 0 ] || how=all  # the examples alone do not have everything that is lost
case_of "our own bundles fed back say the same" fed_back $how create -- examples/clinic/*.json "$@"
case_of "those that only refer to the patient too" fed_back referred conditional -- examples/clinic/*.json
for realm in us-core uk-core ips; do
  case_of "those of the realm $realm too" fed_back some create --realm "$realm" -- examples/clinic/*.json
done
case_of "those of FHIR R5 too" fed_back some create --fhir 5.0 -- examples/clinic/*.json

python3 tests/fhir/to_observations.py --out "$work/app" examples/clinic/*.json "$@" || failed=$((failed + 1))
same() {
  local stem=$1
  "$program" convert "$work/app/$stem.json" --quiet >"$work/a.json" 2>"$work/a.err" || { cat "$work/a.err"; return 1; }
  "$program" convert --from fhir --map "$work/app/app.toml" --quiet "$work/app/$stem.bundle.json" >"$work/b.json" 2>"$work/b.err" || { cat "$work/b.err"; return 1; }
  python3 tests/hl7/compare.py "$work/a.json" "$work/b.json"
}
for file in "$work"/app/*.bundle.json; do
  stem=$(basename "$file" .bundle.json)
  case_of "$stem: the same resources" same "$stem"
done

map=examples/observations/app.toml
case_of "the example is converted" all 'exits 0 convert --from fhir --map $map --quiet examples/observations/one.json' 'says "$work/out" "APP-1207"'
case_of "a code that nobody maps is told" all 'exits 0 check --from fhir --map $map examples/observations/one.json' 'says "$work/out" "codes|GLU"' 'says "$work/out" "not read: 1"'
case_of "without the map nothing is known, and all codes are named" all 'exits 1 check --from fhir examples/observations/one.json' 'says "$work/out" "fhir-observations-none"' 'says "$work/out" "codes|SYS"'
case_of "of two assessments the good one goes on" all 'exits 1 convert --from fhir --map $map --quiet --out "$work/two" examples/observations/two.json' 'says "$work/err" "^1 converted, 1 set aside"'
case_of "the bad one is kept with what it needs, and nothing else" python3 - "$work"/two/set-aside/*[0-9a-f].json <<'PY'
import json, sys
kinds = [e["resource"]["id"] for e in json.load(open(sys.argv[1]))["entry"]]
assert kinds == ["p1", "n1", "e3", "1302", "a3", "c3", "f3"], kinds
PY
case_of "with its reasons, in its own terms" all 'reasons=$(ls "$work"/two/set-aside/*.issues.json)' 'says "$reasons" "entry 8 valueQuantity"' 'says "$reasons" "mbar"' 'says "$reasons" "has no unit"' 'says "$reasons" "W9"'
case_of "what was set aside can be mended and fed again" all 'kept=$(ls "$work"/two/set-aside/*.json | grep -v issues)' 'sed -e "s/mbar/mm[Hg]/g" -e "s/W9/W1/" "$kept" >"$work/half.json"' 'python3 -c "import json,sys; b=json.load(open(sys.argv[1])); [e[\"resource\"].get(\"valueQuantity\", {}).update(unit=\"mmHg\") for e in b[\"entry\"]]; json.dump(b, open(sys.argv[2], \"w\"))" "$work/half.json" "$work/mended.json"' 'exits 0 convert --from fhir --map $map --quiet "$work/mended.json"' 'says "$work/out" "APP-1302"'
case_of "explain and summary take them too" all 'exits 0 explain --from fhir --map $map examples/observations/one.json' 'exits 0 summary --from fhir --map $map examples/observations/one.json' 'says "$work/out" "Hollins"'
case_of "a map of tables is refused" all 'exits 2 check --from fhir --map examples/csv/visits.toml examples/observations/one.json' 'says "$work/err" "with \[fhir\] for fhir"'
case_of "a map of resources is refused for tables" exits 2 check --from csv --map $map examples/csv/visits.csv
case_of "forms take what the map states" all 'python3 -c "import json,sys; t=json.load(open(sys.argv[1])); cut=lambda i: dict(i, item=[cut(x) for x in i[\"item\"] if not x[\"linkId\"].startswith(\"organization\")]) if \"item\" in i else i; json.dump(cut(t), open(sys.argv[2], \"w\"))" examples/forms/one.json "$work/no-organization.json"' 'exits 1 check --from form "$work/no-organization.json"' 'exits 0 check --from form --map $map "$work/no-organization.json"'
case_of "history is no intake" all 'sed s/collection/history/ examples/observations/one.json >"$work/history.json"' 'exits 1 check --from fhir --map $map "$work/history.json"' 'says "$work/out" "fhir-bundle-type"'
case_of "the same bundle again is the same assessment" all 'exits 0 convert --from fhir --map $map --quiet examples/observations/one.json' 'cp "$work/out" "$work/before"' 'exits 0 convert --from fhir --map $map --quiet examples/observations/one.json' 'cmp "$work/before" "$work/out"'
withdrawn() {
  sed -e 's/"final"/"entered-in-error"/' -e 's/"revision": 1/"revision": 2/' examples/clinic/21-smallest.json >"$work/gone.json"
  "$program" convert --quiet "$work/gone.json" >"$work/gone.bundle.json" 2>/dev/null || return 1
  exits 0 check --from fhir "$work/gone.bundle.json" && says "$work/out" "status-withdrawn"
}
case_of "a withdrawal of ours withdraws" withdrawn

echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
