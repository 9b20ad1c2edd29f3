#!/usr/bin/env bash
# Delivery as a user runs it, without a server: tests/app/delivery.sh PROGRAM
#
# Each case is one promise of docs/delivery.md. Ends with "N passed, M failed".
set -uo pipefail
cd "$(dirname "$0")/../.."

program=$(realpath "$1")
examples=$(realpath examples)
tests=$(realpath tests/app)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
passed=0
failed=0

# Every case has an empty folder of its own to run in.
case_of() {
  local name=$1 folder
  shift
  folder=$(mktemp -d -p "$work")
  if (cd "$folder" && "$@") >"$work/case.log" 2>&1; then
    passed=$((passed + 1))
  else
    failed=$((failed + 1))
    echo "FAILED: $name"
    tail -n 8 "$work/case.log"
  fi
}

# exits CODE ARGUMENTS...: runs the program and compares its exit code; out and err are kept.
exits() {
  local wanted=$1 got=0
  shift
  "$program" "$@" >out 2>err || got=$?
  [ "$got" -eq "$wanted" ] || { echo "exit code $got instead of $wanted: $*"; tail -n 3 err; return 1; }
}

lines() { [ "$(wc -l <"$1")" -eq "$2" ] || { echo "$(wc -l <"$1") lines instead of $2"; return 1; }; }
says() { grep -qE -- "$2" "$1" || { echo "no '$2' in:"; tail -n 5 "$1"; return 1; }; }
files() { [ "$(find "$1" -type f -name "${3:-*}" | wc -l)" -eq "$2" ] || { echo "files:"; find "$1" -type f; return 1; }; }
mode() { [ "$(stat -c %a "$1")" = "$2" ] || { stat -c '%a %n' "$1"; return 1; }; }

one=$examples/clinic/01-normal-both-legs.json
two=$examples/clinic/03-toe-decides.json

# An assessment changed by a line of Python, in which it is called a.
changed() { python3 -c "import json,sys; a=json.load(open(sys.argv[1])); $2; json.dump(a,sys.stdout)" "$1"; }

# A server that nobody runs: the port was given by the system and is closed again.
closed_port() { python3 -c 'import socket; s=socket.socket(); s.bind(("127.0.0.1",0)); print(s.getsockname()[1])'; }

to_closed_port() {
  printf '[destinations.gp]\nkind = "server"\nbase = "http://127.0.0.1:%s"\nbackoff_milliseconds = [20]\n' \
    "$(closed_port)" >footbridge.toml
}

to_folder() { printf '[destinations.gp]\nkind = "folder"\npath = "arrived"\n' >footbridge.toml; }

without_a_file() {
  exits 0 send --to folder "$one" "$two" && lines out 2 && says out '^MF-26-0001 r1: delivered \(folder\)' &&
    says err '2 delivered to folder' && files footbridge-data/delivered 2 &&
    mode footbridge-data 700 && mode footbridge-data/outbox.db 600 && mode footbridge-data/outbox.key 600
}

bundles_are_those_of_convert() {
  exits 0 send --to folder "$one" && "$program" convert --quiet "$one" >wanted 2>/dev/null &&
    cmp wanted footbridge-data/delivered/*.json && exits 0 outbox show 1 --bundle && cmp wanted out
}

second_run_adds_nothing() {
  exits 0 send --to folder "$one" "$two" && find footbridge-data/delivered -type f -printf '%p %T@\n' | sort >before &&
    exits 0 send --to folder "$two" "$one" && says out 'r1: already delivered' && says err '^0 delivered' &&
    find footbridge-data/delivered -type f -printf '%p %T@\n' | sort >after && cmp before after
}

lost_outbox_adds_nothing() {
  exits 0 send --to folder "$one" && mv footbridge-data/outbox.db elsewhere &&
    exits 0 send --to folder "$one" && files footbridge-data/delivered 1
}

other_file_is_not_overwritten() {
  exits 0 send --to folder "$one" && file=$(echo footbridge-data/delivered/*.json) && echo other >"$file" &&
    rm footbridge-data/outbox.db && exits 1 send --to folder "$one" && says out 'held .*other content' &&
    says "$file" '^other$' && rm "$file" && exits 0 outbox release 1 && exits 0 send --to folder --queued &&
    files footbridge-data/delivered 1
}

bad_input_is_kept_and_good_goes_on() {
  exits 1 send --to folder "$examples"/refused/*.json "$one" && says err '1 delivered to folder, 5 set aside' &&
    files footbridge-data/set-aside 10 && files footbridge-data/delivered 1
}

json_receipts() {
  exits 0 send --json --to folder "$one" && python3 -c '
import json; r = json.loads(open("out").read())
assert r["state"] == "delivered" and r["row"] == 1 and r["assessment"]["value"] == "MF-26-0001", r'
}

ndjson_by_type() {
  printf '[destinations.files]\nkind = "folder"\npath = "out-here"\nndjson = true\n' >footbridge.toml
  exits 0 send --to files "$one" && says out-here/ndjson/Observation.*.ndjson '^\{"resourceType":"Observation"' &&
    files out-here/ndjson 4 && exits 0 send --to files "$one" && files out-here/ndjson 4
}

unknown_destination() { exits 2 send --to foldr "$one" && says err 'Did you mean folder' && [ ! -e footbridge-data ]; }

all_faults_of_the_configuration() {
  printf 'dta = 1\n[destinations.gp]\nkind = "server"\nbase = "http://records.example"\nconections = 3\n' >footbridge.toml
  exits 2 send --to gp "$one" && says err 'Did you mean data' && says err 'Did you mean connections' &&
    printf '[destinations.gp]\nkind = "server"\nbase = "http://records.example"\n' >footbridge.toml &&
    exits 2 send --to gp "$one" && says err 'has to be https' &&
    exits 2 outbox list --config nowhere.toml && says err 'nowhere.toml'
}

unreachable_then_delivered() {
  to_closed_port
  exits 3 send --to gp --wait 1 "$one" "$two" && says err '2 left in the outbox' && says err 'cannot be reached' &&
    exits 0 outbox list --check && lines out 4 && says out 'ready .*MF-26-0001' &&
    exits 1 outbox list --check --older-than 0 && exits 3 probe --to gp &&
    to_folder && exits 0 send --to gp --queued && files arrived 2 && exits 0 outbox list --check --older-than 0 &&
    lines out 0
}

# To the program a destination is its name: what went to a folder is looked for on a server, too.
rechecked() {
  exits 0 outbox recheck && lines out 0 && says err '^0 as they were sent' || return 1
  to_folder
  exits 0 send --to gp "$one" "$two" && exits 2 outbox recheck --to gp && says err 'gp is a folder' &&
    exits 0 outbox recheck && lines out 0 && exits 2 outbox recheck --since 0 && exits 2 outbox recheck --to gpp || return 1
  to_closed_port
  exits 3 outbox recheck --to gp && lines out 4 && says out 'MF-26-0001 r1: unreachable' &&
    says err '2 could not be read' && exits 3 outbox recheck --json && says out '"result":"unreachable"' &&
    exits 0 outbox list --state delivered && lines out 2
}

recheck_without_payloads() {
  printf '[outbox]\nkeep_days = 0\n[destinations.gp]\nkind = "folder"\npath = "arrived"\n' >footbridge.toml
  exits 0 send --to gp "$one" && exits 0 send --to gp "$one" || return 1  # the second run erases
  to_closed_port
  exits 1 outbox recheck && says err '1 too old to compare' && says err 'Raise keep_days' &&
    exits 1 outbox recheck --json && says out '"result":"erased"'
}

# A statement with these interactions of the server, and these flags and profiles of each type.
statement() {
  python3 - "$@" >answer <<'PY'
import json, sys
types = [{"type": name, "interaction": [{"code": "create"}, {"code": "update"}], "searchParam": [{"name": "identifier"}],
          **json.loads(sys.argv[2])} for name in ("Observation", "DiagnosticReport", "Provenance", "Device", "Patient")]
print("200")
print(json.dumps({"resourceType": "CapabilityStatement", "fhirVersion": "4.0.1", "format": ["json"],
                  "rest": [{"interaction": [{"code": code} for code in sys.argv[1].split()], "resource": types}]}))
PY
}

probes_presets_and_profiles() {
  python3 "$tests/answering_server.py" port answer 2>/dev/null &
  local server=$! status=0
  for _ in $(seq 100); do [ -s port ] && break || sleep 0.1; done
  printf '[destinations.gp]\nkind = "server"\npreset = "narrow-line"\nbase = "http://127.0.0.1:%s"\n' "$(cat port)" >footbridge.toml
  statement "transaction batch" '{"conditionalCreate": true}' && exits 0 probe --to gp &&
    says out '^preset as configured: narrow-line$' && says out '^preset that fits the statement: whole-visits$' &&
    says out '^  short-bundles: ' && says out '^profiles: the statement lists none' || status=1
  statement "" '{"updateCreate": true, "profile": "http://hl7.org/fhir/us/core/StructureDefinition/us-core-patient|5.0.1",
    "supportedProfile": ["https://footbridge.example/fhir/StructureDefinition/patient"]}' && exits 0 probe --to gp &&
    says out 'statement: own-ids$' && says out '1 of ours: profiles = "ours"' && says out '1 of realm us-core: realm = "us-core"' &&
    exits 0 probe --to gp --json && says out '"preset":"own-ids","profiles":\{"ours":1,"us-core":1\}' || status=1
  statement "" '{}' && exits 0 probe --to gp && says out 'statement: plain$' || status=1
  kill "$server"
  return "$status"
}

# Nothing goes to a server that cannot take it by what it says; what comes in is stored all the same.
asks_before_it_sends() {
  python3 "$tests/answering_server.py" port answer 2>/dev/null &
  local server=$! status=0
  for _ in $(seq 100); do [ -s port ] && break || sleep 0.1; done
  to() { printf '[destinations.gp]\nkind = "server"\nbase = "http://127.0.0.1:%s"\nidentity = "trust"\n%s\n' "$(cat port)" "$1" >footbridge.toml; }
  to ''
  statement "transaction" '{"conditionalCreate": true}' && sed -i 's/"4.0.1"/"3.0.2"/' answer &&
    exits 1 send --to gp --wait 0 "$one" && says err 'It speaks FHIR 3.0.2; bundles are FHIR 4.0.1' &&
    exits 0 outbox list --state ready && lines out 1 || status=1
  statement "" '{}' && sed -i 's/"identifier"/"other"/' answer && exits 1 send --to gp --wait 0 --queued &&
    says err 'none of the ways' || status=1
  statement "transaction" '{"conditionalCreate": true}' && sed -i 's/"4.0.1"/"5.0.0"/' answer &&
    exits 1 send --to gp --wait 0 --queued && says err 'speaks FHIR 5.0.0' && exits 1 probe --to gp || status=1
  to 'fhir = "5.0"' && exits 0 probe --to gp && exits 1 send --to gp --wait 0 --queued &&
    says err '^what the server says of itself:' && says err 'does not say that it takes conditional updates' || status=1
  to 'strategy = "transaction"' && exits 1 send --to gp --wait 0 --queued && ! says err 'speaks FHIR' || status=1
  kill "$server"
  return "$status"
}

different_content_is_refused() {
  changed "$one" 'a["note"]="another"' >other.json
  exits 0 send --to folder "$one" && exits 1 send --to folder other.json && says out 'refused .*other content' &&
    says out 'higher revision' && exits 0 outbox list && lines out 0 && files footbridge-data/delivered 1
}

late_revision_is_held() {
  changed "$one" 'a["revision"]=2; a["status"]="corrected"' >second.json
  exits 0 send --to folder second.json && exits 1 send --to folder "$one" && says out 'held .*higher revision' &&
    exits 1 outbox list --check && exits 1 outbox release 2 && says err 'undo it' &&
    exits 0 outbox drop 2 --because 'came late' && exits 0 outbox list --check && exits 0 outbox show 2 &&
    says out 'came late'
}

correction_withdraws() {
  changed "$two" 'a["revision"]=2; a["status"]="corrected"; del a["legs"]["left"]["toe"]' >second.json
  exits 0 send --to folder "$two" && exits 0 send --to folder second.json && exits 0 outbox show 2 --bundle &&
    python3 -c '
import json
entries = json.load(open("out"))["entry"]
gone = [e for e in entries if e["resource"].get("status") == "entered-in-error"]
assert len(gone) == 3 and all(e["request"]["method"] == "PUT" for e in gone), len(gone)
assert any("Toe pressure, left" in e["resource"]["text"]["div"] for e in gone)'
}

correction_without_its_original_is_held() {
  printf '[outbox]\nkeep_days = 0\n' >footbridge.toml
  changed "$two" 'a["revision"]=2; a["status"]="corrected"' >second.json
  exits 0 send --to folder "$two" && exits 0 send --to folder "$two" && exits 1 send --to folder second.json &&
    says out 'held .*cannot be withdrawn' && exits 0 outbox show 1 && says out 'erased'
}

# Nothing goes out bare, and nothing is taken in for a destination that cannot be sent to.
token_missing() {
  to_closed_port
  (umask 077 && : >tok)
  printf 'bearer_file = "tok"\n' >>footbridge.toml
  exits 2 send --to gp "$one" && says err 'tok does not hold one token' && exits 0 outbox list && lines out 0 &&
    printf 'Bearer abc' >tok && exits 2 send --to gp "$one" && printf 'abc' >tok && exits 3 send --to gp --wait 0 "$one" &&
    chmod 640 tok && exits 2 send --to gp "$one" && says err 'chmod 600'
}

# Whatever contradicts itself is refused before anything is done.
contradictions() {
  to_closed_port
  exits 3 send --to gp --wait 0 "$one" && exits 2 send --to gp --queued "$two" && lines out 0 &&
    exits 2 outbox retry 1 --all && exits 2 outbox release 1 --all && exits 2 outbox retry 1 --to gp &&
    exits 2 outbox show 1 --json --bundle && exits 0 outbox list --json && lines out 1
}

# What stands in the record for good says something, and which program wrote it.
reasons_for_the_record() {
  exits 0 send --to folder "$one" && exits 2 outbox withdraw 1 --because ' ' --by 'A. Nurse' &&
    exits 2 outbox withdraw 1 --because 'other patient' --by '' && says err 'blank' &&
    exits 2 outbox accept 1 --because '' && exits 2 outbox drop 1 --because '' && exits 0 outbox list --state ready &&
    lines out 0 && exits 0 outbox withdraw 1 --because 'other patient' --by 'A. Nurse' &&
    exits 0 outbox show 2 --bundle && says out '"display":"Footbridge [0-9]+\.'
}

# 3 is for a destination that nobody answers at: one that answers 503 was reached.
answers_but_takes_nothing() {
  python3 - <<'PY' >server.log 2>&1 &
import http.server, os
class Busy(http.server.BaseHTTPRequestHandler):
    def do_GET(self): self.send_error(503)
    do_POST = do_GET
server = http.server.HTTPServer(("127.0.0.1", 0), Busy)
open("port.new", "w").write(str(server.server_address[1])); os.rename("port.new", "port")
server.serve_forever()
PY
  local server=$! status=0
  for _ in $(seq 50); do [ -s port ] && break; sleep 0.1; done
  printf '[destinations.gp]\nkind = "server"\nbase = "http://127.0.0.1:%s"\nbackoff_milliseconds = [20]\n' \
    "$(cat port)" >footbridge.toml
  exits 1 send --to gp --wait 1 "$one" && says err '1 left in the outbox' || status=1
  kill "$server"
  return "$status"
}

# A question stores nothing, so that nobody is told to wonder whether it did.
breaks_off() {
  python3 - <<'PY' >server.log 2>&1 &
import os, socket
server = socket.socket(); server.bind(("127.0.0.1", 0)); server.listen()
open("port.new", "w").write(str(server.getsockname()[1])); os.rename("port.new", "port")
while True:
    peer = server.accept()[0]
    peer.recv(65536)
    peer.close()
PY
  local server=$! status=0
  for _ in $(seq 50); do [ -s port ] && break; sleep 0.1; done
  printf '[destinations.gp]\nkind = "server"\nbase = "http://127.0.0.1:%s"\nbackoff_milliseconds = [20]\n' \
    "$(cat port)" >footbridge.toml
  { exits 3 probe --to gp && ! grep -q 'stored is not known' err; } || status=1
  { exits 3 send --to gp --wait 1 "$one" && says err 'Looking for the patient: .*cannot be reached' &&
    ! grep -q 'stored is not known' out err; } || status=1
  kill "$server"
  return "$status"
}

dropped_may_come_again() {
  to_closed_port
  exits 3 send --to gp --wait 0 "$one" && exits 2 outbox drop 1 && exits 0 outbox drop 1 --because 'typed twice' &&
    exits 1 outbox show 1 --bundle && to_folder && exits 0 send --to gp "$one" && files arrived 1
}

key_matters() {
  exits 0 send --to folder "$one" && mv footbridge-data/outbox.key key &&
    exits 4 send --to folder "$two" && says err 'Put back the file' && [ ! -e footbridge-data/outbox.key ] &&
    (umask 077 && printf '%064d\n' 7 >footbridge-data/outbox.key) && exits 4 outbox list && says err 'another key' &&
    mv key footbridge-data/outbox.key && chmod 644 footbridge-data/outbox.key && exits 4 outbox list &&
    says err 'others may read' && chmod 600 footbridge-data/outbox.key && exits 0 send --to folder "$two"
}

# Nothing is acknowledged that is not stored, and with room again everything arrives.
full_store() {
  python3 - "$one" >many.ndjson <<'PY'
import json, sys
a = json.load(open(sys.argv[1]))
for i in range(2000):
    a["identifier"]["value"] = f"FULL-{i}"
    print(json.dumps(a))
PY
  printf '[outbox]\nmax_megabytes = 1\n[destinations.gp]\nkind = "server"\nbase = "http://127.0.0.1:%s"\n' \
    "$(closed_port)" >footbridge.toml
  exits 4 send --to gp --wait 0 many.ndjson && says err 'no room' || return 1
  stored=$("$program" outbox list --json 2>/dev/null | wc -l)
  [ "$stored" -gt 0 ] && [ "$stored" -lt 2000 ] || { echo "$stored stored"; return 1; }
  to_folder
  exits 0 send --to gp many.ndjson && files arrived 2000
}

busy() {
  mkfifo pipe
  "$program" send --to folder - <pipe >/dev/null 2>&1 &
  local sending=$! status=0
  exec 7>pipe
  sleep 0.5
  exits 4 outbox list && says err 'another process' && says err 'by POST, or stop it' || status=1
  exec 7>&-
  wait "$sending" || true  # it was given nothing to send
  return "$status"
}

# What was read whole before the signal is stored or not acknowledged; the program ends by itself.
stops_while_it_reads() {
  mkfifo pipe
  "$program" send --to folder - <pipe >out 2>err &
  local sending=$! code=0
  exec 7>pipe
  sleep 0.5
  kill -TERM "$sending"
  timeout 5 tail --pid="$sending" -f /dev/null || { kill -9 "$sending"; exec 7>&-; return 1; }
  wait "$sending" || code=$?
  exec 7>&-
  [ "$code" -eq 1 ] && exits 0 send --to folder "$one"
}

# A server with a certificate that nobody vouches for, then one that the configuration vouches for. It
# knows no FHIR: that is told apart from a connection that is not to be trusted.
certificates() {
  openssl req -x509 -newkey rsa:2048 -nodes -keyout key.pem -out cert.pem -days 1 -subj /CN=invented \
    -addext subjectAltName=IP:127.0.0.1 2>/dev/null || return 1
  python3 - <<'PY' >server.log 2>&1 &
import http.server, ssl
server = http.server.HTTPServer(("127.0.0.1", 0), http.server.SimpleHTTPRequestHandler)
context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
context.load_cert_chain("cert.pem", "key.pem")
server.socket = context.wrap_socket(server.socket, server_side=True)
open("port.new", "w").write(str(server.server_address[1]))
import os; os.rename("port.new", "port")
server.serve_forever()
PY
  local server=$! status=0
  for _ in $(seq 50); do [ -s port ] && break; sleep 0.1; done
  printf '[destinations.gp]\nkind = "server"\nbase = "https://127.0.0.1:%s"\n' "$(cat port)" >footbridge.toml
  exits 1 send --to gp "$one" && says out 'held .*not to be trusted' || status=1
  echo 'ca_file = "cert.pem"' >>footbridge.toml
  exits 0 outbox release 1 && exits 1 send --to gp --queued && says out 'held .*Answer 404' || status=1
  kill "$server"
  return "$status"
}

# A server that takes nobody without a certificate of its own making.
mutual_tls() {
  openssl req -x509 -newkey rsa:2048 -nodes -keyout key.pem -out cert.pem -days 1 -subj /CN=invented \
    -addext subjectAltName=IP:127.0.0.1 2>/dev/null || return 1
  openssl req -x509 -newkey rsa:2048 -nodes -keyout client.key -out client.pem -days 1 -subj /CN=clinic \
    2>/dev/null || return 1
  python3 - <<'PY' >server.log 2>&1 &
import http.server, ssl
server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), http.server.SimpleHTTPRequestHandler)
context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
context.load_cert_chain("cert.pem", "key.pem")
context.verify_mode = ssl.CERT_REQUIRED
context.load_verify_locations("client.pem")
server.socket = context.wrap_socket(server.socket, server_side=True)
open("port.new", "w").write(str(server.server_address[1]))
import os; os.rename("port.new", "port")
server.serve_forever()
PY
  local server=$! status=0
  for _ in $(seq 50); do [ -s port ] && break; sleep 0.1; done
  printf '[destinations.gp]\nkind = "server"\nca_file = "cert.pem"\nbase = "https://127.0.0.1:%s"\n' \
    "$(cat port)" >footbridge.toml
  exits 3 probe --to gp || status=1
  printf 'certificate_file = "client.pem"\n' >>footbridge.toml
  exits 2 probe --to gp && says err 'belong together' || status=1
  printf 'certificate_key_file = "client.key"\n' >>footbridge.toml
  chmod 644 client.key
  exits 2 probe --to gp && says err 'chmod 600' || status=1
  chmod 600 client.key
  cp client.pem right.pem && cp cert.pem client.pem
  exits 2 probe --to gp && says err 'client.key is not the one of the certificate' || status=1
  exits 2 send --to gp "$one" && says err 'client.key is not the one of the certificate' || status=1
  : >client.pem
  exits 2 send --to gp "$one" && says err 'no certificate in .*client.pem' || status=1
  cp right.pem client.pem && cp cert.pem right.pem && : >cert.pem
  exits 2 send --to gp "$one" && says err 'no certificate in .*cert.pem' || status=1
  cp right.pem cert.pem
  exits 1 send --to gp "$one" && says out 'held .*Answer 404' || status=1
  kill "$server"
  return "$status"
}

case_of "without a configuration all goes into a folder, for this user only" without_a_file
case_of "what is delivered is what convert writes" bundles_are_those_of_convert
case_of "a second run adds nothing" second_run_adds_nothing
case_of "a lost outbox adds nothing to a folder" lost_outbox_adds_nothing
case_of "a file of other content is not overwritten" other_file_is_not_overwritten
case_of "bad input is kept with its reasons and the rest goes on" bad_input_is_kept_and_good_goes_on
case_of "receipts as JSON" json_receipts
case_of "resources by type" ndjson_by_type
case_of "an unknown destination" unknown_destination
case_of "all faults of the configuration at once" all_faults_of_the_configuration
case_of "unreachable: kept, told, delivered later" unreachable_then_delivered
case_of "what was delivered is looked at again" rechecked
case_of "what was erased cannot be compared" recheck_without_payloads
case_of "probe tells presets and profiles" probes_presets_and_profiles
case_of "a server that cannot take it by what it says" asks_before_it_sends
case_of "the same revision with other content" different_content_is_refused
case_of "an older revision after a newer one" late_revision_is_held
case_of "a correction withdraws what it no longer says" correction_withdraws
case_of "a correction whose original was erased is held" correction_without_its_original_is_held
case_of "a token file without a token" token_missing
case_of "arguments that contradict each other" contradictions
case_of "reasons for the record are never blank" reasons_for_the_record
case_of "a server that answers and takes nothing" answers_but_takes_nothing
case_of "a question that breaks off" breaks_off
case_of "what was dropped may come again" dropped_may_come_again
case_of "the key: missing, another, readable by others" key_matters
case_of "a full store" full_store
case_of "a second process is told" busy
case_of "SIGTERM while standard input is open" stops_while_it_reads
case_of "a certificate that nobody vouches for" certificates
case_of "a server that asks for our certificate" mutual_tls
printf '%s passed, %s failed\n' "$passed" "$failed"
[ "$failed" -eq 0 ]
