#!/usr/bin/env bash
# The whole job on the invented clinic: build, convert, write the bundles as files, show them in short,
# post them to an independent record server on this machine, read them back, say what arrived.
# Installs what is missing on Debian, can be run again, leaves no process behind.
set -euo pipefail
cd "$(dirname "$0")/.."

say() { printf '\n== %s\n' "$*"; }

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

need g++ cmake ninja-build ccache rapidjson-dev libcli11-dev libboost1.81-dev libspdlog-dev prometheus-cpp-dev libcurl4-openssl-dev libssl-dev \
  libsqlite3-dev libzstd-dev libgoogle-perftools-dev libtomlplusplus-dev libhowardhinnant-date-dev tzdata

say "building (release)"
cmake --preset release >/dev/null
cmake --build --preset release | tail -n 1
footbridge=build/release/footbridge

out=build/examples
rm -rf "$out"
mkdir -p "$out"

say "what the readings come to"
"$footbridge" summary examples/clinic/*.json | tee "$out/summary.txt"

say "bundles as files"
"$footbridge" convert --quiet --out "$out/bundles" examples/clinic/*.json
echo "written to $out/bundles"

say "what is refused, and why"
refused=0
"$footbridge" convert --quiet --out "$out/refused" examples/refused/*.json || refused=$?
if [ "$refused" -ne 1 ]; then
  echo "the refused examples should have given exit code 1, not $refused" >&2
  exit 1
fi

say "a clinic's table: sixty rows, nine of them wrong"
wrong=0
"$footbridge" convert --quiet --from csv --map examples/csv/visits.toml --out "$out/table" \
  examples/csv/visits.csv 2>"$out/table.txt" || wrong=$?
tail -n 1 "$out/table.txt"
if [ "$wrong" -ne 1 ]; then
  echo "the table should have given exit code 1, not $wrong" >&2
  exit 1
fi
echo "what to correct: $(ls "$out"/table/set-aside/*.issues.txt)"

say "an independent record server on loopback"
command -v node >/dev/null && command -v npm >/dev/null || need nodejs npm
status=0
tests/peers/npm/install.sh || status=$?
if [ "$status" -eq 77 ]; then
  echo "record server left out: its packages cannot be had from the npm registry here"
  say "done: all bundles are in $out/bundles"
  exit 0
elif [ "$status" -ne 0 ]; then
  exit "$status"
fi

server=
trap '[ -z "$server" ] || kill "$server" 2>/dev/null || true' EXIT
rm -f "$out/port"
node tests/peers/npm/record-server.mjs --port 0 --port-file "$out/port" --log "$out/server.log" \
  >"$out/server.out" 2>&1 &
server=$!
for _ in $(seq 100); do
  [ -s "$out/port" ] && break
  kill -0 "$server" 2>/dev/null || { cat "$out/server.out" >&2; exit 1; }
  sleep 0.1
done
base="http://127.0.0.1:$(cat "$out/port")"

cat "$out"/bundles/*.json >"$out/bundles.ndjson"
tr -d '\n' <examples/patients.json >"$out/patients.ndjson"

echo "registering the invented patients, as the surgery's record would have them:"
"$footbridge" post --base "$base" "$out/patients.ndjson"
echo "posting the bundles:"
"$footbridge" post --base "$base" "$out/bundles.ndjson"
echo "posting them once more, which must make nothing twice:"
"$footbridge" post --base "$base" "$out/bundles.ndjson"

say "read back from the record server by search"
node tests/peers/npm/roundtrip.mjs --base "$base" --bundles "$out/bundles.ndjson" \
  --patients examples/patients.json

arrived=$(wc -l <"$out/bundles.ndjson")
say "done: $arrived of $(ls examples/clinic/*.json | wc -l) assessments arrived on the record server"
