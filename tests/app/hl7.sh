#!/usr/bin/env bash
# Messages of HL7 v2, as a user runs them: tests/app/hl7.sh PROGRAM
#
# The visits of examples/clinic as messages have to give the same resources as their JSON, all but Provenance.
# Ends with "N passed, M failed".
set -uo pipefail
cd "$(dirname "$0")/../.."

. tests/app/cases.sh "$1"

# The same visits by both wires.
python3 tests/hl7/to_hl7.py --out "$work/visits" examples/clinic/*.json >"$work/left-out"
same() {
  local stem=$1
  "$program" convert "$work/visits/$stem.json" --quiet >"$work/a.json" 2>"$work/a.err" || { cat "$work/a.err"; return 1; }
  "$program" convert --from hl7v2 --map "$work/visits/$stem.toml" --quiet "$work/visits/$stem.hl7" \
    >"$work/b.json" 2>"$work/b.err" || { cat "$work/b.err"; return 1; }
  python3 tests/hl7/compare.py "$work/a.json" "$work/b.json"
}
for file in "$work"/visits/*.json; do
  stem=$(basename "$file" .json)
  case_of "$stem: the same resources" same "$stem"
done
case_of "at most one visit of the examples cannot be said in a message" [ "$(wc -l <"$work/left-out")" -le 1 ]

map=(--from hl7v2 --map examples/hl7v2/clinic.toml)
case_of "the example is converted" all 'exits 0 convert "${map[@]}" --quiet examples/hl7v2/one.hl7' 'says "$work/out" "MF-26-0901"'
case_of "of two messages the good one goes on" all 'exits 1 convert "${map[@]}" --quiet --out "$work/two" examples/hl7v2/two.hl7' 'says "$work/err" "^1 converted, 1 set aside"'
case_of "the bad one is kept as it came" all 'tail -c +1 "$work"/two/set-aside/*.hl7 | head -c 4 | grep -q "^MSH|"' 'python3 - examples/hl7v2/two.hl7 "$work"/two/set-aside/*.hl7 <<PY
import sys
assert open(sys.argv[2], "rb").read() == open(sys.argv[1], "rb").read().split(b"\x0b")[2][:-2]
PY'
case_of "with its reasons" says "$work"/two/set-aside/*.issues.txt 'OBX\[4\]-5: .*11o'
case_of "what was set aside can be mended and fed again" all 'sed -i "s/11o/110/" "$work"/two/set-aside/*.hl7' 'exits 0 convert "${map[@]}" --quiet "$work"/two/set-aside/*.hl7'
case_of "check says where" all 'exits 1 check "${map[@]}" examples/hl7v2/two.hl7' 'says "$work/out" "OBX\[4\]-5"'
case_of "standard input" all '"$program" convert "${map[@]}" --quiet <examples/hl7v2/one.hl7 >"$work/piped" 2>/dev/null' 'exits 0 convert "${map[@]}" --quiet examples/hl7v2/one.hl7' 'cmp "$work/piped" "$work/out"'
case_of "a map of tables is refused" all 'exits 2 check --from hl7v2 --map examples/csv/visits.toml examples/hl7v2/one.hl7' 'says "$work/err" "hl7"'
case_of "a map of messages is refused for tables" exits 2 check --from csv --map examples/hl7v2/clinic.toml examples/csv/visits.csv
case_of "without a map the authorities are missing, and named" all 'exits 1 check --from hl7v2 examples/hl7v2/one.hl7' 'says "$work/out" "PID\[1\]-3"' 'says "$work/out" "hl7.authorities"'
printf 'format = "footbridge-source-map-1"\n[hl7]\ncharsets = "x"\n[columns]\n"a" = "note"\n' >"$work/bad.toml"
case_of "faults of a map are told together" all 'exits 2 check --from hl7v2 --map "$work/bad.toml" examples/hl7v2/one.hl7' 'says "$work/err" "charset"' 'says "$work/err" "columns"'
case_of "Provenance names the digest that docs/hl7v2.md says" all 'exits 0 convert "${map[@]}" --quiet examples/hl7v2/one.hl7' 'says "$work/out" "SHA-256 $(perl -0pe "s/^MSH[^\r]*\r//" examples/hl7v2/one.hl7 | sha256sum | cut -c1-64)"'
case_of "an empty file is refused" exits 1 check --from hl7v2 /dev/null

echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
