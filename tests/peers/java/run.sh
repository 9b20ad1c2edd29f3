#!/usr/bin/env bash
# Validates FHIR bundles with the HL7 validator: run.sh [options] INPUT... (see --help), run.sh --selftest
# run.sh --convert-bench TABLES ... runs the bench peer instead (see ConvertBench).
# Needs Java 17 and Maven; builds into $FOOTBRIDGE_PEER_DIR (default build/peers/java at the top).
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
out=${FOOTBRIDGE_PEER_DIR:-$here/../../../build/peers/java}
source "$here/../maven.sh"

main=ValidateBundles
# Room for one validator on each processor; -Dfootbridge.lanes=N says how many.
options="-XX:+UseParallelGC -Xmx3g"
if [[ ${1:-} == --convert-bench ]]; then
  main=ConvertBench
  # One collector thread and a small heap are as fast here and leave the other core alone.
  options="-XX:+UseSerialGC -Xmx1g"
  shift
fi
args=("$@")
if [[ ${#args[@]} -eq 1 && ${args[0]} == --selftest ]]; then
  args+=("$here/selftest")
fi
read -ra java_opts <<<"${FOOTBRIDGE_PEER_JAVA_OPTS:-$options}"
exec java "${java_opts[@]}" -cp "$out/classes:$(<"$out/classpath.txt")" "footbridge.peers.$main" "${args[@]}"
