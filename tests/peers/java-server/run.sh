#!/usr/bin/env bash
# Starts a record server made of the HL7 Java libraries: run.sh --port 0 --port-file FILE [--lacks NAME,...]
# run.sh --build only builds it. Needs Java 17 and Maven; builds into $FOOTBRIDGE_SERVER_DIR (default
# build/peers/java-server at the top). Exit: 77 if the Maven registry cannot be reached.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
out=${FOOTBRIDGE_SERVER_DIR:-$here/../../../build/peers/java-server}
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
[[ ${1:-} != --build ]] || exit 0

# One collector thread and a small heap leave the other core alone; the quick compiler alone starts sooner.
read -ra java_opts <<<"${FOOTBRIDGE_SERVER_JAVA_OPTS:--XX:+UseSerialGC -Xmx1g -XX:TieredStopAtLevel=1 -Dorg.slf4j.simpleLogger.defaultLogLevel=off}"
exec java "${java_opts[@]}" -cp "$out/classes:$(<"$out/classpath.txt")" footbridge.peers.RecordServer "$@"
