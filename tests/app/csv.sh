#!/usr/bin/env bash
# Tables through source maps, as a user runs it: tests/app/csv.sh PROGRAM
#
# Sixty rows of which nine are wrong, corrected and fed again; one row a reading; drafts of maps for three
# clinics nobody wrote for; maps with faults; memory. Ends with "N passed, M failed".
set -uo pipefail
cd "$(dirname "$0")/../.."

. tests/app/cases.sh "$1"
count() { [ "$2" -eq "$3" ] || { echo "$1: $2 instead of $3"; return 1; }; }

visits=(--from csv --map examples/csv/visits.toml)
readings=(--from csv --map examples/csv/readings.toml)
first=$work/first
aside=$first/set-aside

# Sixty rows, nine of them wrong.
case_of "nine wrong rows: exit 1" exits 1 convert "${visits[@]}" --quiet --out "$first" examples/csv/visits.csv
case_of "the other 51 are converted" all 'says "$work/err" "^51 converted, 9 set aside"' 'count bundles "$(ls "$first"/*.json | wc -l)" 51'
case_of "one file of rows and one of reasons" count files "$(ls "$aside" | wc -l)" 2
rows=$(ls "$aside"/*.csv)
reasons=$(ls "$aside"/*.issues.txt)
case_of "header and rows as they came" python3 - examples/csv/visits.csv "$rows" <<'PY'
import sys
came = open(sys.argv[1], "rb").read().split(b"\r\n")
kept = open(sys.argv[2], "rb").read().split(b"\r\n")
wrong = [5, 10, 16, 22, 28, 35, 42, 48, 54]
assert kept == [came[0]] + [came[row - 1] for row in wrong] + [b""], kept
PY
# The sentence a nurse reads for each: row, column, what is wrong.
while IFS='|' read -r row column what; do
  case_of "row $row says what is wrong" says "$reasons" "error row $row, column '$column': .*$what"
done <<'ROWS'
5|NHS no|fails its check digit
10|NHS no|spreadsheet has cut a long number down to 9.99E\+09
16|Time|clocks of Europe/London never showed this time
22|Visit date|"31/04/2026" is not a day
28|R arm|"142/85" holds two numbers
35|L PT signal|"trip\?" is not a word
42|R toe|999 stands for not done
48|L DP|11.2 mmHg has a fraction
ROWS
case_of "row 54 says what is wrong" says "$reasons" "error row 54: The row has 32 cells and the header has 31"
case_of "each has its mend" count mends "$(grep -c '^    ' "$reasons")" 9
case_of "check says the same" all 'exits 1 check "${visits[@]}" examples/csv/visits.csv' 'says "$work/out" "row 16, column .Time.: The clocks"' 'says "$work/out" "51 accepted, 9 set aside"'
case_of "summary and explain take tables" all 'exits 1 summary "${visits[@]}" examples/csv/visits.csv' 'says "$work/out" "Ada Abbotsleigh"' 'exits 1 explain "${visits[@]}" --item abi examples/csv/visits.csv' 'says "$work/out" "arithmetic"'
case_of "converting again changes no byte" all 'cp -r "$first" "$work/before"' 'exits 1 convert "${visits[@]}" --quiet --out "$first" examples/csv/visits.csv' 'diff -r "$first" "$work/before"'
case_of "several at a time change no byte" all 'exits 1 convert "${visits[@]}" --quiet --jobs 4 --out "$work/jobs" examples/csv/visits.csv' 'diff -r "$work/jobs" "$work/before"'
case_of "standard input gives the same" all '"$program" convert "${visits[@]}" --quiet <examples/csv/visits.csv 2>/dev/null | sort >"$work/piped"; true' 'cat "$first"/*.json | sort | cmp - "$work/piped"'

case_of "a place that cannot be written is our own failure" all 'touch "$work/file"' 'exits 4 convert "${visits[@]}" --quiet --out "$work/file/below" examples/csv/visits.csv' 'says "$work/err" "file/below"'
case_of "nothing half written is left" all '[ -z "$(find "$first" -name "*.part")" ]'

# Corrected and fed again.
correct() {
  python3 - "$1" "$2" <<'PY'
import csv, sys
rows = list(csv.reader(open(sys.argv[1], encoding="utf-8-sig", newline="")))
def swapped(number, i): return number[:i] + number[i + 1] + number[i] + number[i + 2:]
def valid(number):
    check = (11 - sum((10 - i) * int(c) for i, c in enumerate(number[:9])) % 11) % 11
    return check == int(number[9])
columns = {name: i for i, name in enumerate(rows[0])}
for row in rows[1:]:
    if len(row) == 32: row[28:30] = [row[28] + "," + row[29]]
    number = row[columns["NHS no"]]
    if "E" in number: row[columns["NHS no"]] = "9990000018"
    elif not valid(number): row[columns["NHS no"]] = swapped(number, 5)
    for name, wrong, right in [("Time", "01:30", "02:30"), ("Visit date", "31/04/2026", "30/04/2026"),
                               ("R arm", "142/85", "142"), ("L PT signal", "trip?", "tri"), ("R toe", "999", "NP"),
                               ("L DP", "11.2", "112")]:
        if row[columns[name]] == wrong and (name != "Time" or row[columns["Visit date"]] == "29/03/2026"):
            row[columns[name]] = right
csv.writer(open(sys.argv[2], "w", encoding="utf-8", newline="")).writerows(rows)
PY
}
correct "$rows" "$work/corrected.csv"
case_of "the corrected rows are all converted" all 'exits 0 convert "${visits[@]}" --quiet --out "$first" "$work/corrected.csv"' 'says "$work/err" "^9 converted, 0 set aside"'
case_of "together they are the sixty" count bundles "$(ls "$first"/*.json | wc -l)" 60
case_of "with sixty identifiers and nothing doubled" python3 - "$first" examples/csv/visits.csv <<'PY'
import csv, glob, json, os, sys
reports = set()
files = glob.glob(sys.argv[1] + "/*.json")
for path in files:
    for entry in json.load(open(path))["entry"]:
        if entry["resource"]["resourceType"] == "DiagnosticReport": reports.add(entry["fullUrl"])
wanted = [row[0] for row in csv.reader(open(sys.argv[2], encoding="utf-8-sig"))][1:]
assert len(wanted) == 60 and len(reports) == 60, len(reports)
for visit in wanted: assert sum(os.path.basename(f).startswith(visit + ".r1.") for f in files) == 1, visit
PY
correct examples/csv/visits.csv "$work/whole.csv"
case_of "a corrected whole gives the same resources" all 'exits 0 convert "${visits[@]}" --quiet --out "$work/second" "$work/whole.csv"' "python3 - '$first' '$work/second' <<'PY'
import glob, json, os, sys
def urls(folder):
    return {os.path.basename(f): sorted(e['fullUrl'] for e in json.load(open(f))['entry'] if e['resource']['resourceType'] != 'Provenance')
            for f in glob.glob(folder + '/*.json')}
one, two = urls(sys.argv[1]), urls(sys.argv[2])
assert len(one) == 60 and one == two, [k for k in one if one[k] != two.get(k)][:3]
PY"
case_of "rows set aside and not corrected are set aside again" all 'exits 1 convert "${visits[@]}" --quiet --out "$work/again" "$rows"' 'says "$work/err" "^0 converted, 9 set aside"'
case_of "and keep their name and bytes" all 'cmp "$rows" "$work/again/set-aside/$(basename "$rows")"'

# The habits of spreadsheets.
case_of "blank rows, blank columns, sep= and no last line end" python3 - "$work" <<'PY'
import sys
lines = open("examples/csv/visits.csv", encoding="utf-8-sig", newline="").read().split("\r\n")
out = ["sep=,"] + [lines[0] + ",,"] + [line + ",," for line in lines[1:4]] + ["", "," * 32, lines[5] + ",,", "," * 32]
open(sys.argv[1] + "/habits.csv", "w", newline="").write("\r\n".join(out))
PY
case_of "are taken" all 'exits 0 convert "${visits[@]}" "$work/habits.csv"' 'says "$work/err" "habits.csv row 7: accepted"' 'says "$work/err" "^4 converted, 0 set aside"'
case_of "a visit that comes twice with another content is set aside" all '{ cat examples/csv/visits.csv; sed -n "2s/supine/sitting/p" examples/csv/visits.csv; } >"$work/twice.csv"' 'exits 1 check "${visits[@]}" "$work/twice.csv"' 'says "$work/out" "error row 62, column .Visit no.: .*came before"' 'says "$work/out" "51 accepted, 10 set aside"'
case_of "a quotation mark left open costs one row" all 'sed "3s/supine/\"supine/" examples/csv/visits.csv >"$work/quote.csv"' 'exits 1 check "${visits[@]}" "$work/quote.csv"' 'says "$work/out" "row 3: A quotation mark opened in line 3"' 'says "$work/out" "50 accepted, 10 set aside"'
case_of "UTF-16 is named" all 'iconv -f UTF-8 -t UTF-16LE examples/csv/visits.csv >"$work/utf16.csv"' 'exits 1 check "${visits[@]}" "$work/utf16.csv"' 'says "$work/out" "written in UTF-16"'
case_of "a column that the map does not name is said once" all 'sed "/ABPI/d" examples/csv/visits.toml >"$work/short.toml"' 'exits 1 check --from csv --map "$work/short.toml" examples/csv/visits.csv' 'count remarks "$(grep -c "not read: .R ABPI., .L ABPI." "$work/err")" 1'
case_of "columns that are missing stop before any row, all at once" all 'sed "1s/Surname/Sirname/;1s/,Time,/,Tyme,/" examples/csv/visits.csv >"$work/missing.csv"' 'exits 1 convert "${visits[@]}" --out "$work/missing" "$work/missing.csv"' 'says "$work/err" "column .Surname. of the map"' "says '$work/err' \"Is it 'Sirname'\"" 'says "$work/err" "column .Time. of the map"' 'says "$work/err" "^0 converted, 1 set aside"' 'ls "$work/missing/set-aside/"*.issues.txt'

# One row a reading.
case_of "one row a reading" all 'exits 0 convert "${readings[@]}" --out "$work/readings" examples/csv/readings.csv' 'says "$work/err" "^3 converted, 0 set aside"'
case_of "a pipe gives the same" all 'cat examples/csv/readings.csv | "$program" convert "${readings[@]}" --quiet - 2>/dev/null | sort >"$work/piped"' 'cat "$work/readings"/*.json | sort | cmp - "$work/piped"'
case_of "accents of Windows-1252 arrive" all 'exits 0 summary "${readings[@]}" examples/csv/readings.csv' 'says "$work/out" "Märta Ångström"' 'says "$work/out" "Zoë Pallisér"'
case_of "kPa, comma and side arrive" says "$work/out" "right  ABI 0.91"
{ sed -n 1,8p examples/csv/readings.csv; sed -n 13,23p examples/csv/readings.csv; sed -n 9,12p examples/csv/readings.csv; } >"$work/apart.csv"
case_of "a visit whose rows stand apart is set aside whole" all 'exits 1 convert "${readings[@]}" --out "$work/apart" "$work/apart.csv"' 'says "$work/err" "rows 2 to 8: The rows|row 2: The rows of this visit do not stand together"' 'says "$work/err" "^1 converted, 2 set aside"' 'count rows "$(wc -l <"$(ls "$work"/apart/set-aside/*.csv)")" 12'
case_of "its rows fed again are whole" all 'exits 0 convert "${readings[@]}" --out "$work/apart2" "$work"/apart/set-aside/*.csv' 'cmp "$work/apart2/$(basename "$(ls "$work"/apart2/*501*)")" "$(ls "$work"/readings/*501*)"'
case_of "a row that cannot be read takes its visit along" all 'sed "5s/;/,/g" examples/csv/readings.csv >"$work/cut.csv"' 'exits 1 convert "${readings[@]}" --out "$work/cut" "$work/cut.csv"' 'says "$work/err" "^2 converted, 1 set aside"' 'count rows "$(wc -l <"$(ls "$work"/cut/set-aside/*.csv)")" 12'
case_of "between two visits it takes both" all 'sed "12s/;/,/g" examples/csv/readings.csv >"$work/edge.csv"' 'exits 1 convert "${readings[@]}" --out "$work/edge" "$work/edge.csv"' 'says "$work/err" "may belong to this visit"' 'says "$work/err" "^1 converted, 2 set aside"'

# Maps.
case_of "a table needs its map" all 'exits 2 convert --from csv examples/csv/visits.csv' 'says "$work/err" "--map"'
case_of "a map needs --from csv" exits 2 convert --map examples/csv/visits.toml examples/csv/visits.csv
case_of "a map that is not there" exits 2 convert --from csv --map "$work/none.toml" examples/csv/visits.csv
sed -e 's/^zone = .*/zone = "Europe\/Londres"/' -e 's/^delimiter/delimeter/' -e 's/"legs.right.toe.pressure"/"legs.right.toe.presure"/' -e 's/"not felt" = .*/"not felt" = "gone"/' examples/csv/visits.toml >"$work/faults.toml"
case_of "all faults of a map at once, with line and neighbour" all 'exits 2 check --from csv --map "$work/faults.toml" examples/csv/visits.csv' 'says "$work/err" "line 7, file delimeter"' 'says "$work/err" "Did you mean \"delimiter\""' 'says "$work/err" "no time zone called Europe/Londres"' 'says "$work/err" "Did you mean \"legs.right.toe.pressure\""' 'says "$work/err" "\"gone\" is not a word"' '! says "$work/err" "accepted" >/dev/null'

# Drafts for three clinics with habits of their own: at most three lines are changed by hand.
draft() {
  local table=$1 name
  name=$(basename "$table")
  exits 0 check --from csv --draft-map "$table" || return 1
  cp "$work/out" "$work/$name.draft"
  sed -E -f "tests/app/clinics/$name.sed" "$work/$name.draft" >"$work/$name.toml"
  local changed
  changed=$(diff "$work/$name.draft" "$work/$name.toml" | grep -c '^>')
  [ "$changed" -le 3 ] || { echo "$changed lines changed"; return 1; }
  exits 0 summary --from csv --map "$work/$name.toml" "$table" || return 1
  grep -E '^  (right|left) ' "$work/out" |
    sed -E 's/^  (right|left) +ABI (none|[0-9.]+).*TBI (none|[0-9.]+).*/\1 \2 \3/' >"$work/$name.indices"
}
for table in tests/app/clinics/*.[ct]sv; do
  case_of "draft for $(basename "$table") with three lines at most" draft "$table"
  case_of "indices of $(basename "$table") are those worked out by hand" diff "$work/$(basename "$table").indices" <(grep -v "^#" "$table.indices")
done
case_of "a draft never gives a side that the heading does not" all 'printf "DP,R DP,PT L\n120,110,100\n" >"$work/sides.csv"' 'exits 0 check --from csv --draft-map "$work/sides.csv"' 'says "$work/out" "^\"DP\" = \"ignore\"  # unsure: no side"' 'says "$work/out" "^\"R DP\" = \"legs.right.ankle"' 'says "$work/out" "^\"PT L\" = \"legs.left.ankle"'
case_of "both sides in one heading are left out" all 'printf "R+L DP,x\n120,1\n" >"$work/sides.csv"' 'exits 0 check --from csv --draft-map "$work/sides.csv"' 'says "$work/out" "\"ignore\"  # unsure: both sides"'
case_of "a lone RDP is in doubt" all 'printf "RDP,x\n120,1\n" >"$work/sides.csv"' 'exits 0 check --from csv --draft-map "$work/sides.csv"' 'says "$work/out" "legs.right.*# unsure: is the first letter the side"'

# Memory: 20,000 rows within 64 MB.
python3 - "$work/whole.csv" >"$work/long.csv" <<'PY'
import csv, sys
rows = list(csv.reader(open(sys.argv[1], encoding="utf-8")))
out = csv.writer(sys.stdout)
out.writerow(rows[0])
for n in range(20000): out.writerow([f"L-{n}"] + rows[1 + n % 60][1:])
PY
case_of "20,000 rows within 64 MB" python3 - "$program" "$work/long.csv" <<'PY'
import os, subprocess, sys
process = subprocess.Popen([sys.argv[1], "convert", "--from", "csv", "--map", "examples/csv/visits.toml", "--quiet", sys.argv[2]],
                           stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
lines = 0
while block := process.stdout.read(1 << 20):
    lines += block.count(b"\n")
_, status, usage = os.wait4(process.pid, 0)
print(lines, "bundles,", usage.ru_maxrss // 1024, "MB")
assert lines == 20000 and usage.ru_maxrss <= 64 * 1024 and os.waitstatus_to_exitcode(status) == 0
PY

echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
