#!/usr/bin/env bash
# Filled-in forms in FHIR, as a user runs them: tests/app/forms.sh PROGRAM FORM [GENERATED.ndjson]
#
# FORM is the published Questionnaire. The visits of examples/clinic, and those generated, filled in by it have to
# give the same resources as their JSON, all but Provenance. Ends with "N passed, M failed".
set -uo pipefail
cd "$(dirname "$0")/../.."

. tests/app/cases.sh "$1"
form=$2
shift 2

python3 tests/fhir/to_form.py --form "$form" --out "$work/visits" examples/clinic/*.json "$@" || failed=$((failed + 1))
same() {
  local stem=$1
  "$program" convert "$work/visits/$stem.json" --quiet >"$work/a.json" 2>"$work/a.err" || { cat "$work/a.err"; return 1; }
  "$program" convert --from form --quiet "$work/visits/$stem.form.json" >"$work/b.json" 2>"$work/b.err" || { cat "$work/b.err"; return 1; }
  python3 tests/hl7/compare.py "$work/a.json" "$work/b.json"
}
for file in "$work"/visits/*.form.json; do
  stem=$(basename "$file" .form.json)
  case_of "$stem: the same resources" same "$stem"
done

case_of "the example is converted" all 'exits 0 convert --from form --quiet examples/forms/one.json' 'says "$work/out" "MF-26-0951"'
case_of "of two forms the good one goes on" all 'exits 1 convert --from form --quiet --out "$work/two" examples/forms/two.json' 'says "$work/err" "^1 converted, 1 set aside"'
case_of "the bad one is kept as it came" python3 - examples/forms/two.json "$work"/two/set-aside/*[0-9a-f].json <<'PY'
import json, sys
assert json.load(open(sys.argv[2])) == json.load(open(sys.argv[1]))["entry"][1]["resource"]
PY
case_of "with its reasons, in its own terms" all 'says "$(ls "$work"/two/set-aside/*.issues.json)" "item arms.right.sistolic"' 'says "$(ls "$work"/two/set-aside/*.issues.json)" "in-progress"'
case_of "what was set aside can be mended and fed again" all 'kept=$(ls "$work"/two/set-aside/*.json | grep -v issues)' 'sed -e "s/in-progress/completed/" -e "s/arms.right.sistolic/conditions.room/" -e "s/\"valueInteger\": 140/\"valueString\": \"cold\"/" "$kept" >"$work/mended.json"' 'exits 0 convert --from form --quiet "$work/mended.json"'
case_of "check names the link id that was meant" all 'exits 1 check --from form examples/forms/two.json' 'says "$work/out" "Did you mean arms.right.systolic"'
case_of "standard input" all '"$program" convert --from form --quiet <examples/forms/one.json >"$work/piped" 2>/dev/null' 'exits 0 convert --from form --quiet examples/forms/one.json' 'cmp "$work/piped" "$work/out"'
case_of "explain and summary take forms too" all 'exits 0 explain --from form examples/forms/one.json' 'exits 0 summary --from form examples/forms/one.json'
case_of "no form in it" all 'exits 1 check --from form examples/clinic/01-normal-both-legs.json' 'says "$work/out" "fhir-resource"'
case_of "a map is refused" exits 2 check --from form --map examples/csv/visits.toml examples/forms/one.json
case_of "an empty file is refused" exits 1 check --from form /dev/null

echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
