#!/usr/bin/env bash
# A full disk and a store that cannot be written: tests/app/disk.sh PROGRAM VISITS.ndjson
#
# What is not durable is never acknowledged, the message says what is wrong, and once there is room the
# same command ends well without any repair. The disk is a small tmpfs where one may be mounted; always
# also a limit on the size of files (the write fails with EFBIG as it would with ENOSPC, since SIGXFSZ is
# ignored). Ends with "N passed, M failed".
set -uo pipefail
cd "$(dirname "$0")/../.."

program=$(realpath "$1")
visits=$(realpath "$2")
count=$(wc -l <"$visits")
work=$(mktemp -d)
mounted=""
trap '[ -z "$mounted" ] || umount "$mounted"; rm -rf "$work"' EXIT
passed=0
failed=0

good() { passed=$((passed + 1)); }
bad() { failed=$((failed + 1)); echo "FAILED: $*"; tail -n 4 err 2>/dev/null; }
check() { local name=$1; shift; if "$@"; then good; else bad "$name"; fi; }

# The server that nobody runs keeps everything in the outbox, so that only storing is looked at.
configure() {
  local port
  port=$(python3 -c 'import socket; s=socket.socket(); s.bind(("127.0.0.1",0)); print(s.getsockname()[1])')
  printf 'data = "%s"\n[destinations.gp]\nkind = "server"\nbase = "http://127.0.0.1:%s"\nbackoff_milliseconds = [20]\n' \
    "$1" "$port" >footbridge.toml
}

stored() { "$program" outbox list --json --state ready 2>/dev/null | wc -l; }

# Each row that is there has a whole bundle, and the database is sound.
sound() {
  python3 - "$1" <<'PY'
import sqlite3, sys
print(sqlite3.connect(sys.argv[1]).execute("PRAGMA integrity_check").fetchone()[0])
PY
}

whole_bundles() {
  local row
  for row in $("$program" outbox list --json --state ready 2>/dev/null | python3 -c 'import json,sys; [print(json.loads(l)["row"]) for l in sys.stdin]'); do
    "$program" outbox show "$row" --bundle 2>/dev/null | python3 -c 'import json,sys; assert json.load(sys.stdin)["entry"]' || return 1
  done
}

# Sends under the given limit (a command prefix), then without; $1 names the case.
fills_up() {
  local name=$1 data=$2 got=0
  shift 2
  "$@" "$program" send --to gp --wait 0 --json "$visits" >out 2>err || got=$?
  check "$name: exit code 4" [ "$got" -eq 4 ]
  check "$name: says that it cannot be written and what to do" \
    grep -qiE 'full|room|cannot be written|disk|too large' err
  check "$name: not all was taken" [ "$(stored)" -lt "$count" ]
  # A receipt line is an acknowledgement: none may be for a row that is not there.
  "$program" outbox list --json --state ready 2>/dev/null >there
  check "$name: what was acknowledged is there" python3 - out there <<'PY'
import json, sys
value = lambda line: json.loads(line)["assessment"]["value"]
told = {value(l) for l in open(sys.argv[1]) if l.strip()}
there = {value(l) for l in open(sys.argv[2])}
sys.exit(0 if told <= there else 1)
PY
  check "$name: every row is whole" whole_bundles
}

recovers() {
  local name=$1 data=$2 got=0
  "$program" send --to gp --wait 0 "$visits" >out 2>err || got=$?
  check "$name: the same command then stores all" [ "$got" -eq 3 ]
  check "$name: each once" [ "$(stored)" -eq "$count" ]
  check "$name: the database is sound" [ "$(sound "$data/outbox.db")" = ok ]
}

# limited BLOCKS COMMAND...: no file may grow beyond that many blocks of 1,024 bytes.
limited() { (trap '' XFSZ; ulimit -f "$1"; shift; "$@"); }

file_limit() {
  mkdir "$work/limit" && cd "$work/limit" || return
  configure data
  for blocks in 20 100 300; do fills_up "files of $blocks KiB at most" data limited "$blocks"; done
  recovers "without the limit" data
}

small_disk() {
  mkdir -p "$work/small/disk" && cd "$work/small" || return
  if ! mount -t tmpfs -o size=600k none disk 2>/dev/null; then
    echo "no tmpfs may be mounted here: the limit on files stands in for it"
    return
  fi
  mounted=$work/small/disk
  configure disk/data
  fills_up "a disk of 600 KiB" disk/data env
  mount -o remount,size=64m disk
  recovers "a larger disk" disk/data
}

# Root writes everywhere, so the program runs as somebody else then.
as_nobody() {
  if [ "$(id -u)" -eq 0 ]; then
    setpriv --reuid=65534 --regid=65534 --clear-groups "$@"
  else
    "$@"
  fi
}

read_only() {
  mkdir "$work/read" && cd "$work/read" || return
  chmod 755 "$work" "$work/read"
  cp "$program" program && cp "$visits" visits.ndjson
  configure data
  head -n 1 visits.ndjson >one.ndjson
  [ "$(id -u)" -ne 0 ] || { mkdir data; chown 65534:65534 data . ; }
  as_nobody ./program send --to gp --wait 0 one.ndjson >out 2>err
  check "before: one is stored" [ "$(as_nobody ./program outbox list --json --state ready 2>err | wc -l)" -eq 1 ]
  chmod 444 data/outbox.db* && chmod 555 data
  local got=0
  as_nobody ./program send --to gp --wait 0 visits.ndjson >out 2>err || got=$?
  check "read-only: exit code 4" [ "$got" -eq 4 ]
  check "read-only: nothing is acknowledged" [ ! -s out ]
  check "read-only: says so" grep -qiE 'read-only|readonly|cannot be written|permission|writ' err
  chmod 755 data && chmod 600 data/outbox.db*
  got=0
  as_nobody ./program send --to gp --wait 0 visits.ndjson >out 2>err || got=$?
  check "writable again: the same command stores all" [ "$got" -eq 3 ]
  check "writable again: each once" \
    [ "$(as_nobody ./program outbox list --json --state ready 2>err | wc -l)" -eq "$count" ]
}

file_limit
small_disk
read_only
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
