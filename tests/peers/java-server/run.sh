#!/usr/bin/env bash
# Starts a record server made of the HL7 Java libraries: run.sh --port 0 --port-file FILE
# run.sh --build only builds it. Needs Java 17 and Maven; builds into $FOOTBRIDGE_SERVER_DIR (default
# build/peers/java-server at the top). Exit: 77 if the Maven registry cannot be reached.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
out=${FOOTBRIDGE_SERVER_DIR:-$here/../../../build/peers/java-server}
source "$here/../maven.sh"
[[ ${1:-} != --build ]] || exit 0

# One collector thread and a small heap leave the other core alone; the quick compiler alone starts sooner.
read -ra java_opts <<<"${FOOTBRIDGE_SERVER_JAVA_OPTS:--XX:+UseSerialGC -Xmx1g -XX:TieredStopAtLevel=1 -Dorg.slf4j.simpleLogger.defaultLogLevel=off}"
exec java "${java_opts[@]}" -cp "$out/classes:$(<"$out/classpath.txt")" footbridge.peers.RecordServer "$@"
