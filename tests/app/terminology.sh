#!/usr/bin/env bash
# `codes validate` against a FHIR terminology server of others: tests/app/terminology.sh PROGRAM BASE PACKAGE.tgz
#
# The server holds what terminology_codes.json says: one code out of use, one that LOINC calls deprecated, one with
# another name, one with the same name in capitals, one gone. All else has to be as the catalogue has it.
set -uo pipefail
cd "$(dirname "$0")/../.."

. tests/app/cases.sh "$1"
base=$2
package=$3

case_of "the code systems are taken, ours too" python3 tests/app/terminology_load.py "$base" "$package"
case_of "what is out of use is a finding" exits 1 codes validate --server "$base" --stamp "$work/stamp.json"
cp "$work/out" "$work/first"
case_of "out of use" says "$work/first" $'^inactive\tankle-brachial-index\thttp://snomed.info/sct\\|446841001'
case_of "out of use, as LOINC says it" says "$work/first" $'^inactive\t.*http://loinc.org\\|44974-4'
case_of "another name, with that name" says "$work/first" $'^wrong display\tankle-brachial-index\t.*77194-9.*Index of ankle and arm'
case_of "the same name in capitals is no other" says "$work/first" $'^active\t.*8462-4'
case_of "unknown, in the server's words" says "$work/first" $'^unknown\tarm-systolic\thttp://loinc.org\\|8508-4.*Unable to find code'
# Nothing but what was changed may be found: else the catalogue or the reader is wrong.
of_sent() { awk -F'\t' '$4 == "sent" && $1 != "active" { print $3 }' "$work/first" | sort -u | tr '\n' ' '; }
case_of "of what is sent nothing else is found" test "$(of_sent)" = "http://loinc.org|44974-4 http://loinc.org|77194-9 http://loinc.org|8508-4 http://snomed.info/sct|446841001 "
case_of "most of it is active" test "$(grep -c '^active' "$work/first")" -gt 80
case_of "with the stamp laid over, all that is sent is well" exits 0 --codes "$work/stamp.json" codes validate --server "$base"

lookup() {
  curl -sS -H 'Content-Type: application/fhir+json' "$base/CodeSystem/\$lookup" --data \
    "{\"resourceType\":\"Parameters\",\"parameter\":[{\"name\":\"system\",\"valueUri\":\"$1\"},{\"name\":\"code\",\"valueCode\":\"$2\"}]}" |
    grep -q "\"valueString\":\"$3\""
}
case_of "the server knows a code of ours by its name" lookup "$("$program" codes list --fhir | grep -oE '"url":"[^"]+' | head -n 1 | cut -d'"' -f4)" leg-panel "Arterial readings of one leg"

echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
