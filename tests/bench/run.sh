#!/usr/bin/env bash
# The benchmark and its peers in one run: tests/bench/run.sh [SECONDS]
#
# Builds the preset bench, has every peer's bundles compared with ours, then measures all of them and
# prints the table for docs/benchmarks.md. Each peer is timed for SECONDS (default 5) after as long a
# warm-up, five times in turn. The raw log is build/bench/log.txt. A peer whose tool or registry is
# missing is skipped by name. Exit: 0 measured, 1 a peer does not write equivalent resources.
set -euo pipefail
cd "$(dirname "$0")/../.."

seconds=${1:-5}
rounds=5
lines=20000
work=build/bench
log=$work/log.txt
source tests/bench/peers/peers.sh
peers=()

build() {
  cmake --preset bench >"$work/build.txt" 2>&1 && cmake --build --preset bench >>"$work/build.txt" 2>&1 && return
  tail -40 "$work/build.txt" >&2
  exit 1
}

skip() { echo "skipped: $1: $2" | tee -a "$log"; }

# Makes a peer's bundles of the examples and lets it take part if they are equivalent.
admit() {
  local peer=$1 status=0
  "${peer}_peer" --emit "${examples[@]}" >"$work/$peer.ndjson" 2>"$work/$peer.err" || status=$?
  if [ "$status" -eq 77 ]; then
    skip "$peer" "$(head -1 "$work/$peer.err" | cut -d'(' -f1)"
    return
  fi
  if [ "$status" -ne 0 ]; then
    cat "$work/$peer.err" >&2
    exit 1
  fi
  echo "$peer beside footbridge:" | tee -a "$log"
  python3 tests/bench/peers/equivalent.py "$work/ours.ndjson" "$work/$peer.ndjson" | tee -a "$log"
  python3 tests/bench/peers/equivalent.py --same-work "$work/shared.ndjson" "$work/$peer.ndjson" | tee -a "$log"
  peers+=("$peer")
}

admit_all() {
  "$work/footbridge" convert --quiet "${examples[@]}" >"$work/ours.ndjson" 2>/dev/null
  "$work/tests/bench/footbridge_bench" --emit-shared >"$work/shared.ndjson"
  python3 - "$work/ours.ndjson" "$work/shared.ndjson" <<'PY' | tee -a "$log"
import json, sys
for name, path in zip(("whole", "shared"), sys.argv[1:]):
    bundles = [json.loads(line) for line in open(path, encoding="utf-8")]
    print(f"footbridge {name}: {sum(len(one['entry']) for one in bundles)} resources for {len(bundles)} assessments")
PY
  python3 tests/bench/peers/equivalent.py --selftest "$work/ours.ndjson" | tee -a "$log"
  if command -v node >/dev/null; then admit node; else skip node "node is not installed"; fi
  if ! command -v java >/dev/null || ! command -v mvn >/dev/null; then
    skip java "java or mvn is not installed"
  else
    admit java
  fi
}

measure_all() {
  echo "load average before: $(cut -d' ' -f1-3 /proc/loadavg)"
  # Many short rounds in random order: what the machine does meanwhile falls on all alike.
  "$work/tests/bench/footbridge_bench" --benchmark_repetitions=15 --benchmark_min_time=0.2 \
    --benchmark_report_aggregates_only=true --benchmark_enable_random_interleaving=true
  local round peer
  for ((round = 0; round < rounds; ++round)); do
    for peer in "${peers[@]}"; do "${peer}_peer" --time "$seconds" "${examples[@]}"; done
    python3 tests/bench/measure.py convert "$lines" \
      "$work/footbridge" convert --quiet --from ndjson "$work/lines.ndjson"
  done
  echo "load average after: $(cut -d' ' -f1-3 /proc/loadavg)"
}

mkdir -p "$work"
build
: >"$log"
admit_all
python3 tests/bench/lines.py "$lines" examples/clinic >"$work/lines.ndjson"
measure_all 2>&1 | tee -a "$log"
rm "$work/lines.ndjson"
echo
python3 tests/bench/table.py "$log"
