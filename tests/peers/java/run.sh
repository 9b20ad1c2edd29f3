#!/usr/bin/env bash
# Validates FHIR bundles with the HL7 validator: run.sh [options] INPUT... (see --help), run.sh --selftest
# run.sh --convert-bench TABLES ... runs the bench peer instead (see ConvertBench).
# Needs Java 17 and Maven; builds into $FOOTBRIDGE_PEER_DIR (default build/peers/java at the top).
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
out=${FOOTBRIDGE_PEER_DIR:-$here/../../../build/peers/java}
mkdir -p "$out"
out=$(cd "$out" && pwd)
log=$out/build.log

# The stamp also covers a local repository that was emptied after the build.
is_built() {
  [[ -f $out/built ]] || return 1
  [[ -z $(find "$here/pom.xml" "$here/src" -newer "$out/built" -print -quit) ]] || return 1
  local jar
  while IFS= read -r -d ':' jar; do
    [[ -f $jar ]] || return 1
  done < <(printf '%s:' "$(<"$out/classpath.txt")")
}

build() {
  rm -f "$out/built"
  if mvn -B -ntp -f "$here/pom.xml" -Dpeer.dir="$out" compile >"$log" 2>&1; then
    touch "$out/built"
    return
  fi
  if grep -qE 'Could not (transfer|find|resolve)|could not be resolved|Unknown host|offline mode' "$log"; then
    echo "cannot reach the Maven registry (details: $log)" >&2
    exit 77
  fi
  cat "$log" >&2
  exit 2
}

is_built || build

main=ValidateBundles
if [[ ${1:-} == --convert-bench ]]; then
  main=ConvertBench
  shift
fi
args=("$@")
if [[ ${#args[@]} -eq 1 && ${args[0]} == --selftest ]]; then
  args+=("$here/selftest")
fi
# One collector thread and a small heap are as fast here and leave the other core alone.
read -ra java_opts <<<"${FOOTBRIDGE_PEER_JAVA_OPTS:--XX:+UseSerialGC -Xmx1g}"
exec java "${java_opts[@]}" -cp "$out/classes:$(<"$out/classpath.txt")" "footbridge.peers.$main" "${args[@]}"
