#!/usr/bin/env python3
"""The cases of serve.sh: serve.py PROGRAM [NAME...]"""
import json
import os
import pathlib
import random
import re
import resource
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import tempfile
import threading
import time

sys.dont_write_bytecode = True
from cases import CASES, case, equal, holds, main as run_cases  # noqa: E402
from serve_support import CLINIC, TOP, Service, certificates, example, named, parse, patient_words  # noqa: E402

PROGRAM = sys.argv[1]
WORK = pathlib.Path(tempfile.mkdtemp(prefix="footbridge-serve-"))
SEEN = set()  # (method, path, status) of everything that curl asked for


def folder(name):
    return WORK / name


def service(name, **options):
    return Service(PROGRAM, folder(name), **options)


# --- handing in

@case
def an_assessment_is_stored_delivered_and_followed():
    with service("happy") as s:
        answer = s.post(example())
        equal(answer.status, 201, "status")
        equal(answer.json()["resourceType"], "OperationOutcome")
        holds("Stored; delivery begins at once." in answer.texts(), "the outcome does not say that it is stored")
        path = answer.fields["location"]
        holds(s.delivered(path), "it was not delivered")
        equal(len(list((s.work / "box").glob("*.json"))), 1, "files")
        row = s.deliveries(path)[0]
        equal((row["assessment"]["value"], row["revision"], row["destination"]), ("MF-26-0001", 1, "box"))
        holds(row["resources"] > 50, "the number of resources was not noted")
        bundle = s.curl(path + "/bundle")
        filed = next((s.work / "box").glob("*.json")).read_text().strip()
        equal(bundle.body, filed, "the bundle that is shown is the one that was delivered")
        found = s.curl("/assessments?identifier=https%3A%2F%2Fmereholt-clinic.example%2Fassessments%7CMF-26-0001")
        equal(found.json()["deliveries"][0]["row"], row["row"], "found by identifier")
        equal(s.curl("/assessments?identifier=x%7Cy").status, 404)


@case
def the_bundle_is_the_one_that_convert_makes():
    with service("same") as s:
        for file in sorted(CLINIC.glob("*.json")):
            equal(s.post(file.read_bytes()).status, 201, file.name)
        holds(s.until(lambda: len(list((s.work / "box").glob("*.json"))) == len(list(CLINIC.glob("*.json")))),
              "not all were delivered")
        s.run("convert", "--quiet", "--patient", "logical", "--out", "converted", *map(str, CLINIC.glob("*.json")))
        made = sorted(each.read_text() for each in (s.work / "converted").glob("*.json"))
        got = sorted(each.read_text() for each in (s.work / "box").glob("*.json"))

        equal(len(got), len(made), "bundles")
        for one, other in zip(got, made):
            at = next((i for i, (a, b) in enumerate(zip(one, other)) if a != b), 0)
            equal(one[at:at + 200].strip(), other[at:at + 200].strip(), "bundle")


@case
def the_same_again_changes_nothing_and_another_content_is_refused():
    with service("again") as s:
        first = s.post(example())
        again = s.post(example())
        equal((first.status, again.status), (201, 200))
        equal(again.fields["location"], first.fields["location"])
        changed = example()
        changed["arms"]["right"]["systolic"] = 131
        other = s.post(changed)
        equal(other.status, 409)
        equal(other.json()["issue"][-1]["code"], "duplicate")
        holds(s.delivered(first.fields["location"]), "not delivered")
        equal(len(list((s.work / "box").glob("*.json"))), 1, "files")
        changed["revision"], changed["status"] = 2, "corrected"
        equal(s.post(changed).status, 201, "as a higher revision")


@case
def what_is_wrong_is_refused_with_every_reason_and_kept_aside():
    with service("wrong") as s:
        bad = example()
        bad["arms"]["right"]["systolic"] = 13800
        bad["colour"] = "red"
        answer = s.post(bad)
        equal(answer.status, 422)
        places = [each for issue in answer.json()["issue"] for each in issue.get("location", [])]
        holds("/arms/right/systolic" in places and any("colour" in each for each in places), f"places: {places}")
        holds("location" not in answer.fields, "there is nothing to follow")
        equal(len(list((s.work / "data/set-aside").glob("*.issues.json"))), 1, "set aside")
        equal(s.post("{").status, 422, "half a text")
        equal(s.post("").status, 422, "nothing")
        equal(s.post(b"\xff\xfe").status, 422, "no text")


@case
def of_several_the_good_ones_are_stored_and_the_answer_is_still_no():
    with service("several") as s:
        bad = named("S-2")
        bad["arms"]["right"]["systolic"] = 13800
        answer = s.post([named("S-1"), bad, named("S-3")])
        equal(answer.status, 422)
        told = [(issue["details"]["text"], issue.get("location", [""])[0]) for issue in answer.json()["issue"]]
        stored = [place for text, place in told if text.startswith("Stored;")]
        equal(stored, ["[1]", "[3]"] if "[1]" in stored else ["[0]", "[2]"], "places of what is stored")
        lines = "\n".join(json.dumps(named(f"L-{i}")) for i in range(150))
        answer = s.post(lines, kind="application/x-ndjson")
        equal(answer.status, 201)
        equal(sum(text.startswith("Stored;") for text in answer.texts()), 150)
        twice = s.post("\n".join([json.dumps(named("T-1"))] * 2), kind="application/x-ndjson")
        equal(twice.status, 201, "one of them twice")
        holds(s.until(lambda: s.metric("footbridge_deliveries_total{outcome=\"delivered\"}") == 153), "not delivered")


@case
def a_correction_under_another_patient_is_told_as_held():
    with service("moved") as s:
        equal(s.post(named("M-1")).status, 201)
        other = named("M-1", 2)
        other["patient"] = example("02-borderline-and-half-millimetres")["patient"]
        answer = s.post(other)
        equal(answer.status, 201)
        holds(any("held until a person" in text for text in answer.texts()), str(answer.texts()))
        equal(s.deliveries(answer.fields["location"])[0]["state"], "held")


@case
def a_small_submission_cannot_stop_the_others():
    with service("many") as s:
        began = time.time()
        answer = s.post("{}\n" * 3000, kind="application/x-ndjson")
        equal(answer.status, 422)
        holds(any("2500 more were refused" in text for text in answer.texts()), "the rest is counted")
        equal(sum(text.startswith("Refused,") for text in answer.texts()), 500, "those that are listed")
        equal(len(list((s.work / "data/set-aside").glob("*.issues.json"))), 500, "those that are kept")
        equal(s.metric('footbridge_intake_assessments_total{outcome="refused"}'), 3000)
        print(f"       3000 refused in {time.time() - began:.1f} s")
        lines = "\n".join(json.dumps(named(f"T-{i}")) for i in range(101))
        equal(s.post(lines, "?dry-run=true", kind="application/x-ndjson").status, 413)
        equal(s.post(lines.split("\n", 1)[1], "?dry-run=true", kind="application/x-ndjson").status, 200)
        equal(s.values(), [], "a dry run stores nothing")


@case
def two_tables_at_once_are_set_aside_apart():
    head, *rows = (TOP / "examples/csv/visits.csv").read_text("utf-8-sig").splitlines(True)
    with service("apart", serve=f'[serve.maps]\nvisits = "{TOP}/examples/csv/visits.toml"\n') as s:
        def post(who):
            for i in range(8):
                cells = rows[0].split(",")
                bad = "".join(",".join([f"{who}{i}-{k}", *cells[1:4], "99/99/2020", *cells[5:]]) for k in range(30))
                file = s.work / f"table-{who}"
                file.write_text(head + bad)
                equal(s.curl("/assessments?map=visits", "-H", "Content-Type: text/csv", "--data-binary",
                             f"@{file}").status, 422)
        posting = [threading.Thread(target=post, args=(who,)) for who in "AB"]
        for each in posting:
            each.start()
        for each in posting:
            each.join()
        kept = [file.read_text().splitlines()[1:] for file in (s.work / "data/set-aside").glob("*.csv")]
        holds(all(len({line.split("-")[0] for line in table}) == 1 for table in kept), "tables are mixed")
        equal(len({line.split(",")[0] for table in kept for line in table}), 480, "rows that are kept")


@case
def a_table_is_read_through_the_map_that_is_named():
    table = (TOP / "examples/csv/visits.csv").read_bytes()
    with service("table", serve=f'[serve.maps]\nvisits = "{TOP}/examples/csv/visits.toml"\n') as s:
        equal(s.post(table, kind="text/csv").status, 400, "no map")
        equal(s.post(table, query="?map=other", kind="text/csv").status, 400, "another map")
        row = table.splitlines()[1].replace(b"MV-26-0001", b"MV-26-9002").replace(b"02/01/2026", b"31/04/2026")
        told = s.post(table.splitlines()[0] + b"\n" + table.splitlines()[1] + b",\n" + row, query="?map=visits",
                      kind="text/csv").json()["issue"]
        holds(not any("row 2 row 2" in place for issue in told for place in issue.get("location", [])), told)
        equal(s.post(table.splitlines()[0] + b"\n", query="?map=visits", kind="text/csv").status, 422, "a header alone")
        for kind in ("application/json", "application/x-ndjson"):
            equal(s.post(json.dumps(named("M-1")), query="?map=visits", kind=kind).status, 400, "a map of nothing")
        lines = table.decode("utf-8-sig").splitlines()
        more = "\n".join([lines[0] + ",Sock colour", lines[1].replace("MV-26-0001", "MV-26-9001") + ",blue"]) + "\n"
        texts = s.post(more, query="?map=visits", kind="text/csv").texts()
        holds(any("Sock colour" in text for text in texts), f"a column that nobody reads is not told: {texts}")
        answer = s.post(table, query="?map=visits", kind="text/csv")
        rows = s.run("convert", "--quiet", "--from", "csv", "--map", f"{TOP}/examples/csv/visits.toml",
                     f"{TOP}/examples/csv/visits.csv").stdout.splitlines()
        holds(len(rows) > 1, "the example converts")
        equal(sum(text.startswith("Stored;") for text in answer.texts()), len(rows), "stored")


@case
def resources_of_fhir_are_read():
    form = (TOP / "examples/forms/one.json").read_text()
    one = (TOP / "examples/observations/one.json").read_text()
    two = (TOP / "examples/observations/two.json").read_text()
    kind = "application/fhir+json; charset=utf-8"
    with service("resources", serve=f'[serve.maps]\napp = "{TOP}/examples/observations/app.toml"\n'
                                    f'visits = "{TOP}/examples/csv/visits.toml"\n') as s:
        equal(s.post(form, kind=kind).status, 201, "a form")
        equal(s.post(form, kind=kind).status, 200, "a form again")
        equal(s.post(one, query="?map=visits", kind=kind).status, 400, "a map of tables")
        equal(s.post(one, query="?map=other", kind=kind).status, 400, "no such map")
        equal(s.post(one, kind=kind).status, 422, "codes that nobody knows")
        answer = s.post(one, query="?map=app", kind=kind)
        equal(answer.status, 201, answer.body[:600])
        holds(any("codes|GLU" in text for text in answer.texts()), "what nobody maps is not told")
        equal(s.post(one, query="?map=app", kind=kind).status, 200, "the same again")
        answer = s.post(two, query="?map=app", kind=kind)
        equal(answer.status, 422)
        places = [issue.get("location", [""])[0] for issue in answer.json()["issue"]]
        holds("entries 7 to 10 entry 8 valueQuantity" in places, places)
        equal(sum(text.startswith("Stored;") for text in answer.texts()), 1, "the good one")
        equal(s.post(json.dumps({"resourceType": "Patient"}), kind=kind).status, 422, "another resource")
        equal(s.post(one).status, 422, "as an assessment")
        kept = [file for file in (s.work / "data/set-aside").iterdir() if "issues" not in file.name]
        holds(any("APP-1302" in file.read_text() for file in kept), "what is refused is not kept")


@case
def a_dry_run_gives_the_bundle_and_stores_nothing():
    with service("dry") as s:
        answer = s.post(example(), query="?dry-run=true")
        equal((answer.status, answer.json()["resourceType"]), (200, "Bundle"))
        two = s.post([named("D-1"), named("D-2")], query="?dry-run=true")
        equal(len(two.body.strip().splitlines()), 2)
        equal(s.post("{}", query="?dry-run=true").status, 422)
        equal(s.post(example(), query="?dry-run=yes").status, 400)
        equal(s.post(example(), query="?dryrun=true").status, 400, "a mistyped dry-run must not store")
        equal(s.curl("/outbox").json()["deliveries"], [])
        holds(not (s.work / "data/set-aside").exists(), "a dry run sets nothing aside")


@case
def every_destination_gets_it():
    both = Service.FOLDER + '[destinations.other]\nkind = "folder"\npath = "other"\npatient = "create"\n'
    with service("both", destinations=both) as s:
        path = s.post(example()).fields["location"]
        holds(s.delivered(path), "not delivered")
        equal(sorted(each["destination"] for each in s.deliveries(path)), ["box", "other"])
        equal(len(list((s.work / "other").glob("*.json"))), 1)
    with service("one", destinations=both, serve='to = ["other"]\n') as s:
        path = s.post(example()).fields["location"]
        equal([each["destination"] for each in s.deliveries(path)], ["other"])


# --- admission

def status(got):
    return int(got.split(b" ", 2)[1]) if got.startswith(b"HTTP/1.1 ") else None


@case
def what_is_no_sound_request_is_refused_before_its_body():
    host = b"Host: 127.0.0.1\r\n"
    json_type = b"Content-Type: application/json\r\n"
    post = b"POST /assessments HTTP/1.1\r\n"
    long = str(17 << 20).encode()
    table = [
        (b"POST /assessments HTTP/1.0\r\n" + host + json_type + b"Content-Length: 2\r\n\r\n{}", 505),
        (post + json_type + b"Content-Length: 2\r\n\r\n{}", 400),
        (post + host + host + json_type + b"Content-Length: 2\r\n\r\n{}", 400),
        (post + b"Host: \r\n" + json_type + b"Content-Length: 2\r\n\r\n{}", 400),
        (post + host + json_type + b"\r\n", 411),
        (post + host + json_type + b"Content-Length: " + long + b"\r\n\r\n", 413),
        (post + host + json_type + b"Content-Length: -1\r\n\r\n", 400),
        (post + host + json_type + b"Content-Length: 2\r\nContent-Length: 2\r\n\r\n{}", 400),
        (post + host + json_type + b"Content-Length: 2\r\nContent-Length: 3\r\n\r\n{}", 400),
        (post + host + json_type + b"Transfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\n\r\n", 501),
        (post + host + json_type + b"Transfer-Encoding: gzip, chunked\r\n\r\n0\r\n\r\n", 501),
        (post + host + json_type + b"Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n", 400),
        (post + host + json_type + b"Transfer-Encoding : chunked\r\nContent-Length: 2\r\n\r\n{}", 400),
        (post + host + json_type + b"Content-Length: 2\r\nX-A: 1\r\n folded\r\n\r\n{}", 400),
        (post + host + json_type + b"Content-Encoding: gzip\r\nContent-Length: 2\r\n\r\n{}", 415),
        (post + host + b"Content-Type: text/plain\r\nContent-Length: 2\r\n\r\n{}", 415),
        (post + host + b"Content-Length: 2\r\n\r\n{}", 415),
        (post + host + json_type + json_type + b"Content-Length: 2\r\n\r\n{}", 400),
        (post + host + json_type + b"Expect: tea\r\nContent-Length: 2\r\n\r\n{}", 417),
        (b"GET /health/live HTTP/1.1\r\n" + host + b"Content-Length: 2\r\n\r\n{}", 400),
        (b"GET http://127.0.0.1/health/live HTTP/1.1\r\n" + host + b"\r\n", 400),
        (b"GET /assessments?identifier=%zz HTTP/1.1\r\n" + host + b"\r\n", 400),
        (b"GET /health/live HTTP/1.1\n" + host + b"\r\n\r\n", 400),
        (b"GET /health/live HTTP/1.1\r\nX: " + b"a" * 20000 + b"\r\n\r\n", 431),
        (b"DELETE /assessments/1 HTTP/1.1\r\n" + host + b"\r\n", 405),
        (b"BREW /assessments HTTP/1.1\r\n" + host + b"\r\n", 405),
        (b"GET /Patient/9992900741 HTTP/1.1\r\n" + host + b"\r\n", 404),
        (b"GET /assessments/0 HTTP/1.1\r\n" + host + b"\r\n", 404),
        (b"GET /assessments/1x HTTP/1.1\r\n" + host + b"\r\n", 404),
        (b"GET /outbox HTTP/1.1\r\nHost: records.example\r\n\r\n", 421),
        (b"GET /outbox HTTP/1.1\r\nHost: 127.records.example:80\r\n\r\n", 421),
        (b"GET /outbox HTTP/1.1\r\nHost: 127.0.0.1.records.example\r\n\r\n", 421),
        (b"GET /outbox HTTP/1.1\r\nHost: 127.1\r\n\r\n", 421),
        (b"GET /outbox HTTP/1.1\r\nHost: localhost\r\nOrigin: https://records.example\r\n\r\n", 403),
        (b"GET /outbox HTTP/1.1\r\nHost: localhost\r\nOrigin: http://localhost.records.example\r\n\r\n", 403),
        (b"GET /outbox HTTP/1.1\r\nHost: localhost\r\nOrigin: null\r\n\r\n", 403),
        (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n", 400),
        (b"\x00\x00\r\n\r\n", 400),
    ]
    with service("admission") as s:
        for data, wanted in table:
            got, _ = s.raw(data, wait=0.4)
            equal(status(got), wanted, repr(data[:120]))
            holds(b"OperationOutcome" in got, f"{data[:60]!r}: no outcome in {got[:200]!r}")
            # Nothing after a refused body may be read as a request of its own.
            if wanted in (501, 411, 413):
                tail, closed = s.raw(data + b"GET /health/live HTTP/1.1\r\n" + host + b"\r\n", wait=4)
                holds(closed and tail.count(b"HTTP/1.1 ") == 1, f"{data[:60]!r}: went on with {tail[-200:]!r}")
        equal(s.curl("/health/live").status, 200, "it lives")
        equal(s.metric("footbridge_intake_assessments_total"), 0)


@case
def without_tokens_this_machine_is_served_and_no_page_from_elsewhere():
    with service("origin") as s:
        s.post(named("A-1"))
        for host in ("localhost", "127.0.0.1", "127.8.9.10", "[::1]", f"localhost:{s.port}"):
            equal(s.curl("/outbox", "-H", f"Host: {host}").status, 200, host)
            equal(s.curl("/outbox", "-H", f"Host: {host}", "-H", f"Origin: http://{host}").status, 200, host)
        drop = ("-H", "Content-Type: text/plain", "--data-binary", '{"because": "x"}')
        equal(s.curl("/outbox/1/drop", "-H", "Origin: https://records.example", *drop).status, 403, "a page's drop")
        equal(s.curl("/assessments/1/bundle").status, 200, "nothing was dropped")


@case
def to_head_no_body_is_sent():
    with service("head") as s:
        two = (b"HEAD /assessments/1 HTTP/1.1\r\nHost: localhost\r\n\r\n"
               b"GET /health/live HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
        got, closed = s.raw(two)
        head, _, rest = got.partition(b"\r\n\r\n")
        equal(status(head), 405)
        holds(b"Content-Length: " in head and b"Content-Length: 0" not in head, "the length of what GET would give")
        holds(closed and rest.startswith(b"HTTP/1.1 200 "), f"what follows is the next answer: {rest[:80]!r}")


@case
def requests_may_come_in_any_pieces_and_one_after_another():
    with service("pieces") as s:
        body = json.dumps(named("P-1")).encode()
        head = (b"POST /assessments HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
                b"Content-Length: %d\r\n\r\n" % len(body))
        live = b"GET /health/live HTTP/1.1\r\nHost: localhost\r\n\r\n"
        with socket.create_connection(("127.0.0.1", s.port)) as sock:
            sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            for at in range(len(head) + 40):
                sock.sendall((head + body)[at:at + 1])
            sock.sendall((head + body)[len(head) + 40:] + live + live)
            got = b""
            while got.count(b"\"alive\"") < 2:
                piece = sock.recv(65536)
                holds(piece, f"closed after {got!r}")
                got += piece
        equal(re.findall(rb"HTTP/1.1 (\d+)", got), [b"201", b"200", b"200"])
        half, closed = s.raw(head + body[:100], wait=3, finish=True)
        equal((half, closed), (b"", True), "half a body and no more")
        expecting = s.curl("/assessments", "-H", "Content-Type: application/json", "-H", "Expect: 100-continue",
                           "--data-binary", json.dumps(named("P-2")))
        equal(expecting.status, 201, "after 100 Continue")


@case
def who_is_slow_is_cut_off_and_disturbs_nobody():
    with service("slow", serve="header_milliseconds = 600\nbody_milliseconds = 600\nidle_milliseconds = 900\n"
                               "connections = 40\n") as s:
        began = time.time()
        for data in (b"GET /health/live HT", b"POST /assessments HTTP/1.1\r\nHost: localhost\r\nContent-Type: "
                     b"application/json\r\nContent-Length: 5\r\n\r\n{", b""):
            _, closed = s.raw(data, wait=5)
            holds(closed, f"{data!r} was not cut off")
        holds(time.time() - began < 5, "it took too long")
        # A byte now and then does not help: the time is for the whole header.
        with socket.create_connection(("127.0.0.1", s.port)) as sock:
            began = time.time()
            try:
                for byte in b"GET /health/live HTTP/1.1\r\nHost: localhost\r\nX-Slow: " + b"a" * 100:
                    sock.sendall(bytes([byte]))
                    time.sleep(0.05)
                raise AssertionError("a drip was not cut off")
            except ConnectionError:
                holds(time.time() - began < 4, "the drip went on for too long")
        crowd = [socket.create_connection(("127.0.0.1", s.port)) for _ in range(100)]
        equal(s.curl("/health/live").status, 200, "beside a crowd of idle ones")
        for each in crowd:
            each.close()


# --- access

def make_token(s, name, *roles):
    done = s.run("tokens", "new", "--name", name, "--role", ",".join(roles))
    equal(done.returncode, 0, done.stderr)
    return done.stdout.strip()


@case
def each_role_may_do_its_own_and_nothing_else():
    s = service("roles", serve='tokens_file = "tokens"\n')
    tokens = {role: make_token(s, f"the-{role}", role) for role in ("submit", "look", "operate", "audit")}
    equal(oct((s.work / "tokens").stat().st_mode & 0o777), "0o600")
    kept = (s.work / "tokens").read_text()
    holds(not any(token in kept for token in tokens.values()), "a token stands in the file")
    with s:
        submit = {"submit"}
        follow = {"submit", "look", "operate"}
        table = [
            ("/assessments/1", follow, []), ("/assessments?identifier=a%7Cb", follow, []),
            ("/assessments/1/bundle", {"look"}, []), ("/outbox", {"look", "operate"}, []),
            ("/outbox/1/retry", {"operate"}, ["-d", ""]), ("/outbox/1/release", {"operate"}, ["-d", ""]),
            ("/outbox/1/drop", {"operate"}, ["-d", "{}"]), ("/outbox/command", set(), ["-d", "{}"]),
            ("/audit", {"audit"}, []), ("/metrics", {"look", "operate"}, []),
            ("/openapi.json", set(tokens), []), ("/health/ready", set(tokens), []),
        ]
        for role, token in tokens.items():
            equal(s.post(named(role), token=token).status, 201 if role in submit else 403, role)
        for path, allowed, options in table:
            for role, token in tokens.items():
                got = s.curl(path, *options, token=token).status
                holds((got == 403) != (role in allowed), f"{role} {path}: {got}")
            equal(s.curl(path, *options, token="").status, 401, path)
        equal(s.curl("/nothing", token="").status, 401, "what there is is not told to strangers")
        equal(s.curl("/health/live", token="").status, 200)
        first = s.curl("/health/ready", token="").fields
        equal(first.get("www-authenticate"), "Bearer")
        for header in ("Authorization: Basic YTpi", "Authorization: Bearer", "Authorization: Bearer " + "0" * 64,
                       f"Authorization: {tokens['look']}", f"X-Token: Bearer {tokens['look']}"):
            equal(s.curl("/health/ready", "-H", header, token="").status, 401, header)
        # A trailer or a second header is no way in.
        got, _ = s.raw(b"GET /health/ready HTTP/1.1\r\nHost: a\r\nAuthorization: Bearer x\r\nAuthorization: Bearer "
                       + tokens["look"].encode() + b"\r\n\r\n", wait=0.4)
        equal(status(got), 400)


@case
def wrong_tokens_wait_longer_each_time_and_right_ones_do_not():
    s = service("guess", serve='tokens_file = "tokens"\n')
    token = make_token(s, "right", "look")
    with s:
        waits = []
        for _ in range(4):
            began = time.time()
            equal(s.curl("/health/ready", token="footbridge_wrong").status, 401)
            waits.append(time.time() - began)
        holds(waits[0] >= 0.15 and waits[3] >= 1.5 and waits[3] > waits[1], f"waits {waits}")
        began = time.time()
        equal(s.curl("/health/ready", token=token).status, 200)
        holds(time.time() - began < 0.5, "the right one had to wait")


@case
def tokens_come_and_go_without_a_restart():
    s = service("renew", serve='tokens_file = "tokens"\n')
    first = make_token(s, "first", "look")
    equal(s.run("tokens", "new", "--name", "first", "--role", "look").returncode, 2, "a name twice")
    equal(s.run("tokens", "new", "--name", "x", "--role", "king").returncode, 2, "no such role")
    with s:
        second = make_token(s, "second", "look")
        equal(s.run("tokens", "revoke", "first").returncode, 0)
        equal(s.curl("/health/ready", token=first).status, 200, "until told")
        s.process.send_signal(signal.SIGHUP)
        holds(s.until(lambda: s.curl("/health/ready", token=second).status == 200), "the new one is not known")
        equal(s.curl("/health/ready", token=first).status, 401, "the old one still works")
        (s.work / "tokens").write_text("nonsense\n")
        s.process.send_signal(signal.SIGHUP)
        holds(s.until(lambda: "reload-failed" in s.log()), "a broken file was not told of")
        equal(s.curl("/health/ready", token=second).status, 200, "the old file stands")


@case
def an_address_that_others_reach_needs_tls_and_tokens():
    told = {}
    for name, extra in (("open1", 'address = "0.0.0.0"\n'), ("open2", 'address = "0.0.0.0"\ntokens_file = "t"\n'),
                        ("open3", 'address = "::"\n'), ("open4", 'address = "records.example"\n'),
                        ("open5", 'adress = "127.0.0.1"\n'), ("open6", 'tokens_file = "missing"\n'),
                        ("open7", 'certificate_file = "missing.pem"\n'), ("open8", 'to = ["nowhere"]\n')):
        s = service(name, serve=extra)
        done = s.run("serve")
        equal(done.returncode, 2, f"{extra}: {done.stderr}")
        told[name] = done.stderr
    holds("TLS" in told["open1"] and "tokens" in told["open1"], "not both are told of")
    holds("TLS" in told["open2"] and "TLS" in told["open3"], "TLS is not told of")
    holds("Did you mean address?" in told["open5"], "the nearest key is not told")
    holds("nowhere" in told["open8"] and "missing.pem" in told["open7"], "what is missing is not told")


@case
def tls_is_modern_and_certificates_are_renewed_without_a_restart():
    s = service("tls", serve='certificate_file = "c/cert.pem"\ncertificate_key_file = "c/key.pem"\n', scheme="https")
    made = certificates(s.work / "c")
    shutil.copy(made / "server.pem", made / "cert.pem")
    shutil.copy(made / "server.key", made / "key.pem")
    with s:
        s.curl_options = ["--cacert", str(made / "ca.pem")]
        equal(s.post(example()).status, 201)
        for version, works in (("1.1", False), ("1.2", True), ("1.3", True)):
            done = subprocess.run(["openssl", "s_client", "-connect", f"127.0.0.1:{s.port}", f"-tls{version.replace('.', '_')}",
                                   "-cipher", "DEFAULT:@SECLEVEL=0"], input=b"", capture_output=True)
            equal(b"Cipher is (NONE)" not in done.stdout and done.returncode == 0, works, f"TLS {version}")
        plain, _ = s.raw(b"GET /health/live HTTP/1.1\r\nHost: a\r\n\r\n", wait=1)
        holds(b"200 OK" not in plain, "plain text was answered")
        shutil.copy(made / "next.pem", made / "cert.pem")
        shutil.copy(made / "next.key", made / "key.pem")
        s.process.send_signal(signal.SIGHUP)

        def shown():
            return subprocess.run(["openssl", "s_client", "-connect", f"127.0.0.1:{s.port}"], input=b"",
                                  capture_output=True).stdout
        holds(s.until(lambda: b"CN = next" in shown()), "the old certificate is shown")
        # That one ends within 30 days.
        holds(s.until(lambda: s.metric('footbridge_alarm{kind="certificate"}') == 1), "no alarm")
        (made / "cert.pem").write_text("nothing")
        s.process.send_signal(signal.SIGHUP)
        holds(s.until(lambda: "reload-failed" in s.log()), "a broken certificate was not told of")
        holds(b"CN = next" in shown(), "what was right does not stand")


@case
def with_client_certificates_strangers_get_no_connection():
    s = service("mutual", serve='certificate_file = "c/server.pem"\ncertificate_key_file = "c/server.key"\n'
                                'client_ca_file = "c/ca.pem"\nconnections = 5\n', scheme="https")
    made = certificates(s.work / "c")
    with s:
        authority = ["--cacert", str(made / "ca.pem")]
        known = [*authority, "--cert", str(made / "client.pem"), "--key", str(made / "client.key")]
        s.curl_options = known
        equal(s.curl("/health/ready").status, 200)
        for options in (authority, [*authority, "--cert", str(made / "stranger.pem"), "--key", str(made / "stranger.key")]):
            s.curl_options = options
            try:
                s.curl("/health/live")
            except AssertionError:
                continue
            raise AssertionError("a stranger was served")
        s.curl_options = known
        context = ssl.create_default_context(cafile=str(made / "ca.pem"))
        context.load_cert_chain(made / "client.pem", made / "client.key")
        idle = context.wrap_socket(socket.create_connection(("127.0.0.1", s.port)), server_hostname="127.0.0.1")
        crowd = [socket.create_connection(("127.0.0.1", s.port)) for _ in range(8)]
        began = time.time()
        equal(s.curl("/health/ready").status, 200, "beside strangers who say nothing")
        holds(time.time() - began < 5, "it waited for their handshakes")
        idle.sendall(b"GET /health/live HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
        holds(idle.recv(100).startswith(b"HTTP/1.1 200"), "who has a certificate and waits had to go")
        idle.close()
        for each in crowd:
            each.close()


@case
def an_address_that_is_taken_is_for_the_person_to_mend():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        s = service("taken")
        config = (s.work / "footbridge.toml").read_text()
        (s.work / "footbridge.toml").write_text(config.replace("port = 0", f"port = {taken.getsockname()[1]}"))
        done = s.run("serve")
        equal((done.returncode, "Cannot listen" in done.stderr), (2, True), done.stderr)


@case
def keys_and_certificates_are_looked_at_before_anything_starts():
    server = '[destinations.gp]\nkind = "server"\nbase = "http://127.0.0.1:9/fhir"\n'
    for name, keys, told in (("pair1", 'certificate_file = "c/client.pem"\ncertificate_key_file = "c/server.key"\n', "is not the one of"),
                             ("pair2", 'ca_file = "c/empty"\n', "no certificate in"),
                             ("pair3", 'certificate_file = "c/client.pem"\ncertificate_key_file = "c/open.key"\n', "chmod 600")):
        s = service(name, destinations=server + keys)
        made = certificates(s.work / "c")
        (made / "empty").write_text("")
        shutil.copy(made / "client.key", made / "open.key")
        (made / "open.key").chmod(0o644)
        done = s.run("serve")
        equal((done.returncode, told in done.stderr), (2, True), f"{told}: {done.stderr}")
    s = service("pair4", serve='certificate_file = "c/server.pem"\ncertificate_key_file = "c/server.key"\n')
    (certificates(s.work / "c") / "server.key").chmod(0o640)
    done = s.run("serve")
    equal((done.returncode, "chmod 600" in done.stderr), (2, True), done.stderr)


@case
def a_map_at_fault_is_named():
    good = f'{TOP}/examples/csv/visits.toml'
    s = service("maps", serve=f'[serve.maps]\ngood = "{good}"\nbad = "bad.toml"\n')
    (s.work / "bad.toml").write_text("format = 3\n")
    done = s.run("serve")
    equal((done.returncode, "bad.toml, line" in done.stderr, good in done.stderr), (2, True, False), done.stderr)


@case
def without_a_token_nothing_is_sent_and_an_alarm_says_why():
    folder("bare").mkdir()
    with Records(folder("bare")) as records:
        s = service("bare", destinations=to_records(records) + 'bearer_file = "tok"\n')
        (s.work / "tok").write_text("")
        (s.work / "tok").chmod(0o600)
        with s:
            path = s.post(named("B-1")).fields["location"]
            holds(s.until(lambda: s.metric('footbridge_alarm{kind="destination"}') == 1), "no alarm")
            equal(s.deliveries(path)[0]["state"], "ready")
            holds("tok does not hold one token" in s.log(), "the journal does not say why")
            (s.work / "tok").write_text("abc")
            equal(s.run("outbox", "retry", "--all").returncode, 0)
            holds(s.delivered(path), "not delivered with a token")


# --- the trail

@case
def the_trail_tells_every_access_and_shows_every_change():
    s = service("trail", serve='tokens_file = "tokens"\n')
    token = make_token(s, "form", "submit")
    reader = make_token(s, "reader", "audit")
    with s:
        path = s.post(example(), token=token).fields["location"]
        s.curl(path, token=token)
        s.curl("/Patient/9992900741", token=token)
        s.curl("/audit", token="wrong")
        lines = [json.loads(line) for line in s.curl("/audit", token=reader).body.splitlines()]
        equal([(each["who"], each["what"], each["outcome"]) for each in lines],
              [("form", "POST /assessments", 201), ("form", "GET /assessments/{row}", 200),
               ("form", "(no such path)", 404), ("unknown", "GET /audit", 401)])
        holds("row 1" in lines[0]["about"] and "MF-26" not in lines[0]["about"], lines[0]["about"])
        equal(len(s.curl("/audit?after=3", token=reader).body.splitlines()), 2)
        done = s.run("audit", "verify")
        equal(done.returncode, 0, done.stderr)
    trail = s.work / "data/audit.log"
    whole = trail.read_text()
    count = len(whole.splitlines())
    equal(json.loads(s.run("audit", "show").stdout.splitlines()[0])["n"], 1)
    equal(s.run("audit", "verify", "--least", str(count)).returncode, 0)
    done = s.run("audit", "verify", "--from", "99999")
    equal((done.returncode, "Line 99999" in done.stderr), (1, True), "a first line beyond the end")
    rows = whole.splitlines(keepends=True)
    forged = {
        "changed": whole.replace('"who":"form"', '"who":"mole"', 1),
        "left out": "".join(rows[:1] + rows[2:]),
        "exchanged": "".join(rows[:1] + [rows[2], rows[1]] + rows[3:]),
        "put in": "".join(rows[:2] + rows[1:]),
        "begun later": "".join(rows[1:]),
    }
    for what, text in forged.items():
        trail.write_text(text)
        equal(s.run("audit", "verify").returncode, 1, what)
    trail.write_text("".join(rows[:-1]))
    equal(s.run("audit", "verify", "--least", str(count)).returncode, 1, "the end cut off")
    trail.write_text(whole + '{"n":9')  # a power cut
    with s:
        s.curl("/health/ready", token=token)
    equal(s.run("audit", "verify").returncode, 0, "goes on after a power cut")
    equal(len(trail.read_text().splitlines()), count + 1)
    equal(oct(trail.stat().st_mode & 0o777), "0o600")


@case
def the_service_goes_on_once_the_trail_can_be_written_again():
    folder("full").mkdir()
    program = folder("full") / "program"
    program.write_text(f"#!/bin/sh\ntrap '' XFSZ  # a write fails then as on a full disk\nexec {PROGRAM} \"$@\"\n")
    program.chmod(0o755)
    with Service(str(program), folder("full")) as s:
        for _ in range(40):  # so that the trail is the longest of its files that grow
            s.curl("/health/ready")
        trail = s.work / "data/audit.log"
        before = resource.prlimit(s.process.pid, resource.RLIMIT_FSIZE)
        resource.prlimit(s.process.pid, resource.RLIMIT_FSIZE, (trail.stat().st_size + 20, before[1]))
        holds(s.until(lambda: s.curl("/health/ready").status == 503), "it serves without a trail")
        resource.prlimit(s.process.pid, resource.RLIMIT_FSIZE, before)
        holds(s.until(lambda: s.curl("/health/ready").status == 200), "it does not go on")
        holds("trail resumed" in trail.read_text(), "the trail does not tell of it")
        done = s.run("audit", "verify")
        equal(done.returncode, 0, done.stdout + done.stderr)


def many_lines_of_the_trail(s, count):
    """Asks for something that is not there over one connection, as often as that."""
    ask = b"GET /none HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
    with socket.create_connection(("127.0.0.1", s.port), timeout=30) as sock:
        reader = sock.makefile("rb")
        for _ in range(count):
            sock.sendall(ask)
            length = 0
            for line in iter(reader.readline, b"\r\n"):
                if line.lower().startswith(b"content-length:"):
                    length = int(line.split(b":")[1])
            reader.read(length)


@case
def the_trail_turns_over_and_stays_one_chain():
    s = service("turning", serve="[serve.trail]\nmax_megabytes = 1\n")
    data = s.work / "data"

    def closed():
        return sorted(data.glob("audit-*.log"))

    with s:
        for _ in range(20):
            if closed():
                break
            many_lines_of_the_trail(s, 1000)
        holds(s.until(closed), "a file of the trail was closed")
        s.curl("/outbox")
        equal(closed()[0].name, "audit-000000000001.log")
        count = sum(len(file.read_text().splitlines()) for file in [*closed(), data / "audit.log"])
        for after in (0, 999, count - 2):
            numbers = [json.loads(line)["n"] for line in s.curl(f"/audit?after={after}").body.splitlines()]
            equal(numbers[0], after + 1, "the first line after that")
            equal(numbers, list(range(after + 1, after + 1 + len(numbers))))
    s.start()
    s.stop()
    done = s.run("audit", "verify", "--least", str(count))
    equal(done.returncode, 0, done.stderr)
    shown = s.run("audit", "show").stdout.splitlines()
    equal(f"{len(shown)} lines" in done.stdout, True, done.stdout)
    equal([json.loads(line)["n"] for line in shown], list(range(1, len(shown) + 1)))
    first = closed()[0]
    text = first.read_text()
    first.write_text("".join(text.splitlines(keepends=True)[:-1]))
    done = s.run("audit", "verify")
    equal((done.returncode, "are missing" in done.stderr), (1, True), "a closed file cut short")
    first.rename(s.work / "archive.log")
    after = len(text.splitlines()) + 1
    done = s.run("audit", "verify")
    equal((done.returncode, f"--from {after}" in done.stderr), (1, True), done.stderr)
    done = s.run("audit", "verify", "--from", str(after))
    equal(done.returncode, 0, done.stderr)
    holds(done.stdout.startswith(f"lines {after} to "), done.stdout)


# --- operation

class Records:
    """A record server as far as delivery needs one: counts what it is sent, and answers as it is told."""

    def __init__(self, work):
        self.work = work
        self.process = None

    def __enter__(self):
        port = self.work / "records-port"
        port.unlink(missing_ok=True)
        self.process = subprocess.Popen([sys.executable, str(TOP / "tests/app/record_sink.py"), str(port),
                                         str(self.work / "records"), str(self.work / "mode")])
        while not port.exists() or not port.read_text().strip():
            time.sleep(0.02)
        self.base = "http://127.0.0.1:" + port.read_text().strip()
        return self

    def mode(self, word):
        (self.work / "mode").write_text(word)

    def reports(self):
        """How often each report was sent, by what its conditional create asks for"""
        file = self.work / "records"
        return file.read_text().splitlines() if file.exists() else []

    def __exit__(self, *ignored):
        self.process.kill()
        self.process.wait()


def to_records(records):
    return (f'[destinations.gp]\nkind = "server"\nbase = "{records.base}"\nidentity = "trust"\n'
            'backoff_milliseconds = [50, 100, 200]\nread_back = "never"\n')


@case
def a_record_server_gets_it_at_once_and_again_after_it_was_away():
    folder("records").mkdir()
    with Records(folder("records")) as records:
        with service("records", destinations=to_records(records)) as s:
            path = s.post(named("R-1")).fields["location"]
            holds(s.delivered(path), "not delivered")
            row = s.deliveries(path)[0]
            wait = time.mktime(time.strptime(row["changed"][:19], "%Y-%m-%dT%H:%M:%S"))
            holds(wait - time.mktime(time.strptime(row["created"][:19], "%Y-%m-%dT%H:%M:%S")) <= 2, "it took long")
            records.mode("503")
            path = s.post(named("R-2")).fields["location"]
            holds(s.until(lambda: s.deliveries(path)[0]["attempts"] >= 2), "it is not tried again")
            records.mode("200")
            holds(s.delivered(path), "not delivered after the server came back")


@case
def what_a_person_decides_takes_effect_in_the_running_service():
    folder("decide").mkdir()
    with Records(folder("decide")) as records:
        records.mode("422")
        with service("decide", destinations=to_records(records)) as s:
            path = s.post(named("D-1")).fields["location"]
            s.post(named("D-2"))
            holds(s.until(lambda: len(s.curl("/outbox?state=refused").json()["deliveries"]) == 2), "not refused")
            done = s.run("outbox", "list", "--check")
            equal(done.returncode, 1, "the command line asks the service")
            equal(len([line for line in done.stdout.splitlines() if line[:1].isdigit()]), 2)
            holds(s.until(lambda: s.metric('footbridge_alarm{kind="person"}') == 1), "no alarm")
            holds("alarm: person" in s.run("outbox", "list", "--check").stderr, "the command does not tell of it")
            records.mode("200")
            equal(s.curl("/outbox/1/retry", "-d", "").status, 200)
            holds(s.delivered(path), "not sent again")
            equal(s.curl("/outbox/1/retry", "-d", "").status, 409, "twice")
            equal(s.curl("/outbox/2/drop", "-d", "{}").status, 422, "without a reason")
            equal(s.curl("/outbox/2/drop", "-d", '{"because": "  "}').status, 422, "with a blank one")
            equal(s.run("outbox", "drop", "2", "--because", "typed twice").returncode, 0)
            equal(s.deliveries("/assessments/2")[0]["dropped"], True)
            holds(s.until(lambda: s.metric('footbridge_alarm{kind="person"}') == 0), "the alarm goes on")
            equal(s.run("outbox", "list", "--check").returncode, 0)
            equal(s.run("outbox", "show", "1").returncode, 0)
            holds('"Bundle"' in s.run("outbox", "show", "1", "--bundle").stdout, "no bundle")


@case
def what_was_delivered_is_looked_at_again_beside_the_running_service():
    folder("looked").mkdir()
    with Records(folder("looked")) as records:
        with service("looked", destinations=to_records(records)) as s:
            holds(s.delivered(s.post(named("L-1")).fields["location"]), "not delivered")
            done = s.run("outbox", "recheck", "--json")
            equal(done.returncode, 1, "the sink keeps nothing, so that everything is missing")
            told = json.loads(done.stdout)
            equal((told["row"], told["result"], told["revision"]), (1, "differs", 1))
            holds("(missing)" in told["reason"], told["reason"])
            equal(s.deliveries("/assessments/1")[0]["state"], "delivered", "nothing is changed by looking")
            equal(s.run("outbox", "recheck", "--to", "nowhere").returncode, 2)


@case
def silence_and_waiting_are_told():
    with service("alarms", destinations='[destinations.gp]\nkind = "server"\nbase = "http://127.0.0.1:9"\n',
                 serve="[serve.alarms]\nundelivered_minutes = 0\nsilence_minutes = 0\n") as s:
        s.post(example())
        holds(s.until(lambda: s.metric('footbridge_alarm{kind="undelivered"}') == 1), "no alarm")
        equal(s.metric('footbridge_outbox_rows{destination="gp",state="ready"}'), 1)
        holds('"event":"alarm","kind":"undelivered"' in s.log(), "the journal does not tell")
        holds(any("undelivered" in each for each in s.curl("/health/ready").json()["alarms"]), "health does not tell")
        equal(s.metric('footbridge_alarm{kind="silence"}'), 0)


@case
def the_manager_is_told_of_readiness_and_life():
    address = folder("notify")
    address.mkdir()
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(address / "n"))
        manager.settimeout(10)
        with service("notify", env={"NOTIFY_SOCKET": str(address / "n"), "WATCHDOG_USEC": "10000000"}) as s:
            equal(manager.recv(100), b"READY=1")
            equal(manager.recv(100), b"WATCHDOG=1")
            s.process.send_signal(signal.SIGHUP)
            heard = [manager.recv(100) for _ in range(3)]
            holds(b"RELOADING=1" in heard and b"READY=1" in heard, f"{heard}")
            s.process.terminate()
            equal([each for each in iter(lambda: manager.recv(100), b"STOPPING=1") if each != b"WATCHDOG=1"], [])


@case
def the_metrics_are_well_formed():
    with service("metrics") as s:
        s.post(example())
        holds(s.until(lambda: s.metric("footbridge_http_connections") >= 0 and "outbox_rows" in s.curl("/metrics").body),
              "the gauges are not set")
        answer = s.curl("/metrics")
        holds(answer.fields["content-type"].startswith("text/plain; version=0.0.4"), "type")
        helped, typed, names = set(), {}, set()
        for line in answer.body.splitlines():
            if line.startswith("# HELP "):
                helped.add(line.split()[2])
            elif line.startswith("# TYPE "):
                typed[line.split()[2]] = line.split()[3]
            else:
                found = re.fullmatch(r'([a-z_]+)(\{[a-z_]+="[^"]*"(,[a-z_]+="[^"]*")*\})? [-+0-9.eInf]+', line)
                holds(found, f"no sample: {line}")
                names.add(found.group(1))
        for name in names:
            base = re.sub(r"_(bucket|sum|count)$", "", name)
            kind = typed.get(name) or typed.get(base)
            holds(kind and (name in helped or base in helped), f"{name} without type or help")
            holds((kind == "counter") == name.endswith("_total"), f"{name} is a {kind}")
        holds(len(names) > 15, "few metrics")


@case
def openapi_describes_what_is_served():
    with service("openapi") as s:
        described = s.curl("/openapi.json").json()
        equal(described["openapi"], "3.1.0")
        for path, methods in described["paths"].items():
            real = path.replace("{row}", "1")
            for method in methods:
                got = s.curl(real, "-X", method.upper(), *(["-d", "{}"] if method == "post" else [])).status
                holds(got not in (404, 405) or "{row}" in path, f"{method} {path}: {got}")
        source = (TOP / "bridge/app/access.cpp").read_text()
        served = set(re.findall(r'"((?:GET|POST) /[^"]*)",\s+For::(?!Local)', source))
        equal({f"{method.upper()} {path}" for path, methods in described["paths"].items() for method in methods},
              served, "described and served")
        undocumented = set()
        for method, path, code in SEEN:
            pattern = re.sub(r"/\d+", "/{row}", path.split("?")[0])
            known = described["paths"].get(pattern, {}).get(method.lower())
            if known and str(code) not in known["responses"]:
                undocumented.add(f"{method} {pattern} {code}")
        equal(undocumented, set(), "answers that the description does not know")


# --- nothing is lost

@case
def a_stop_finishes_what_was_taken_and_a_restart_goes_on():
    folder("stop").mkdir()
    with Records(folder("stop")) as records:
        records.mode("503")
        s = service("stop", destinations=to_records(records)).start()
        lines = "\n".join(json.dumps(named(f"Z-{i}")) for i in range(200))
        answers = []
        thread = threading.Thread(target=lambda: answers.append(s.post(lines, kind="application/x-ndjson")))
        thread.start()
        holds(s.until(lambda: "POST" in s.log() or s.process.poll() is None), "")
        time.sleep(0.05)
        s.process.terminate()
        thread.join()
        equal(s.process.wait(40), 0, "exit code")
        stored = 200 if answers and answers[0].status == 201 else 0
        records.mode("200")
        with s:
            rows = s.curl("/outbox").json()["deliveries"]
            holds(len(rows) >= stored, f"{len(rows)} rows after {stored} were acknowledged")
            again = s.post(lines, kind="application/x-ndjson")
            holds(again.status in (200, 201), f"{again.status}")
            holds(s.until(lambda: not s.curl("/outbox?state=ready").json()["deliveries"], 40), "not delivered")
            equal(len(s.curl("/outbox").json()["deliveries"]), 200, "rows")


@case
def a_service_that_is_killed_keeps_exactly_what_it_acknowledged():
    rounds = int(os.environ.get("FOOTBRIDGE_KILLS", "8"))
    folder("kill").mkdir()
    random.seed(5)
    acknowledged, sent = set(), set()
    with Records(folder("kill")) as records:
        s = service("kill", destinations=to_records(records))
        for number in range(rounds):
            s.start()
            stop = threading.Event()

            def client(who):
                count = 0
                try:
                    with socket.create_connection(("127.0.0.1", s.port), timeout=20) as sock:
                        while not stop.is_set():
                            name = f"K-{number}-{who}-{count}"
                            count += 1
                            read = named(name)  # one patient's visits would be delivered one after another
                            read["patient"]["identifiers"] = [{"system": "https://clinic.example/p", "value": name}]
                            body = json.dumps(read).encode()
                            sent.add(name)
                            sock.sendall(b"POST /assessments HTTP/1.1\r\nHost: localhost\r\nContent-Type: "
                                         b"application/json\r\nContent-Length: %d\r\n\r\n" % len(body) + body)
                            got = b""
                            while b"\r\n\r\n" not in got or len(got.split(b"\r\n\r\n", 1)[1]) < int(
                                    re.search(rb"Content-Length: (\d+)", got).group(1)):
                                piece = sock.recv(65536)
                                if not piece:
                                    return
                                got += piece
                            if status(got) == 201:
                                acknowledged.add(name)
                            time.sleep(0.02)
                except OSError:
                    pass

            threads = [threading.Thread(target=client, args=(who,)) for who in range(8)]
            for each in threads:
                each.start()
            time.sleep(random.uniform(0.15, 0.8))
            s.kill()
            stop.set()
            for each in threads:
                each.join()
        holds(len(acknowledged) > rounds, f"only {len(acknowledged)} were acknowledged")
        with s:
            rows, after = [], 0
            while True:
                page = s.curl(f"/outbox?after={after}").json()["deliveries"]
                if not page:
                    break
                rows += page
                after = page[-1]["row"]
            names = [row["assessment"]["value"] for row in rows]
            equal(len(names), len(set(names)), "something is there twice")
            equal(acknowledged - set(names), set(), "acknowledged and lost")
            equal(set(names) - sent, set(), "never sent")
            holds(s.until(lambda: not s.curl("/outbox?state=ready").json()["deliveries"], 60), "not delivered")
        equal(s.run("audit", "verify").returncode, 0, "the trail")
        reports = records.reports()
        equal(len(set(reports)), len(names), "reports that the record server saw")


@case
def nothing_about_patients_is_in_journal_trail_metrics_or_refusals():
    words = patient_words()
    holds(len(words) > 40, "the examples have patients")
    text = ""
    for each in WORK.iterdir():
        for name in ("log", "out", "data/audit.log", "metrics"):
            if (each / name).exists():
                text += (each / name).read_text()
    with service("scan") as s:
        for file in CLINIC.glob("*.json"):
            s.post(json.loads(file.read_text()))
        s.curl("/assessments?identifier=https://fhir.nhs.uk/Id/nhs-number%7C9992900741")
        s.curl("/Patient/9992900741", "-H", "X-Request-Id: 9992900741")
        text += s.curl("/metrics").body + s.curl("/health/ready").body
        for bad in ("{", '{"patient": {"family": "Hollins"', '"Hollins"'):
            text += s.post(bad).body
        s.stop()
        text += s.log() + (s.work / "data/audit.log").read_text()
    holds(len(text) > 20_000, "there is enough to look at")
    found = {word for word in words if word in text}
    equal(found, set(), "patient data")
    holds("9992900741" not in text, "a number from a path, query or header")


def main():
    original = Service.curl

    def noting(self, path, *options, token=None):
        answer = original(self, path, *options, token=token)
        method = options[options.index("-X") + 1] if "-X" in options else (
            "POST" if "-d" in options or "--data-binary" in options else "GET")
        SEEN.add((method, path, answer.status))
        return answer

    Service.curl = noting
    # The description is checked when all others have been seen, the leaks at the very end.
    CASES.sort(key=lambda each: (each.__name__.startswith("nothing_about"), each.__name__.startswith("openapi")))
    run_cases(sys.argv[2:], lambda: shutil.rmtree(WORK, ignore_errors=True))


if __name__ == "__main__":
    main()
