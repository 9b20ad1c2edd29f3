#!/usr/bin/env python3
"""The cases of wires.sh: wires.py PROGRAM [NAME...]"""
import csv
import io
import json
import pathlib
import random
import shutil
import socket
import sys
import tempfile

sys.dont_write_bytecode = True
for wire in ("hl7", "fhir"):
    sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / wire))
import to_hl7  # noqa: E402
import to_observations  # noqa: E402
from cases import case, equal, holds, main  # noqa: E402
from serve_support import Service  # noqa: E402

PROGRAM = sys.argv[1]
WORK = pathlib.Path(tempfile.mkdtemp(prefix="footbridge-wires-"))
COUNT = 60
SIGNALS = ("triphasic", "biphasic", "monophasic")
# Paths of readings, and what else a row of the table says.
READINGS = [f"arms.{side}.systolic" for side in ("right", "left")]
READINGS += [f"legs.{side}.{path}" for side in ("right", "left") for path in (
    "ankle.dorsalisPedis", "ankle.posteriorTibial", "toe.pressure", "doppler.dorsalisPedis",
    "doppler.posteriorTibial", "pulses.dorsalisPedis")]


def put(tree, path, value):
    *above, last = path.split(".")
    for name in above:
        tree = tree.setdefault(name, {})
    tree[last] = value


def reading(path, chance):
    """A value that every wire can say; the same chance gives the same."""
    if path.startswith("arms"):
        return chance.randint(100, 170)
    if "doppler" in path:
        return chance.choice(SIGNALS)
    if "pulses" in path:
        return chance.choice(("normal", "reduced", "absent"))
    if "toe" in path:
        return chance.choice((chance.randint(30, 110), {"absent": "not-performed"}))
    if chance.random() < 0.15:
        return {"finding": "incompressible", "limit": 300}
    return chance.randint(50, 180)


def visits():
    chance = random.Random(60)
    for i in range(COUNT):
        out = {"format": "footbridge-assessment-1",
               "identifier": {"system": "https://invented.example/assessments", "value": f"W-{i:03}"},
               "status": "final", "measuredAt": f"2026-01-{5 + i % 20:02}T{8 + i % 9:02}:{i % 60:02}:00+00:00",
               "patient": {"identifiers": [{"system": "https://invented.example/patients", "value": f"P-{i:03}"}],
                           "family": chance.choice(("Zoë", "O'Invented", "Made-Up")), "given": ["Ada"],
                           "birthDate": f"19{40 + i % 40}-0{1 + i % 9}-1{i % 9}",
                           "gender": chance.choice(("female", "male"))},
               "performer": {"name": "Rhona Askerby"}, "organization": {"name": "Invented Clinic"},
               "conditions": {"method": "manual-doppler", "posture": "supine", "restMinutes": 10 + i % 6},
               "instruments": [{"kind": "doppler"}, {"kind": "sphygmomanometer"}, {"kind": "toe-sensor"}],
               "note": f"Invented, number {i}: no real person, place or reading."}
        for path in READINGS:
            put(out, path, reading(path, chance))
        yield out


VISITS = list(visits())


def leaf(tree, path):
    for name in path.split("."):
        tree = tree[name]
    return tree


def cell(value):
    if not isinstance(value, dict):
        return str(value)
    return "NP" if "absent" in value else "300+"


HEAD = {"identifier": lambda v: v["identifier"]["value"], "patient": lambda v: v["patient"]["identifiers"][0]["value"],
        "patient.family": lambda v: v["patient"]["family"], "patient.given": lambda v: v["patient"]["given"][0],
        "patient.birthDate": lambda v: v["patient"]["birthDate"], "patient.gender": lambda v: v["patient"]["gender"],
        "measuredAt.date": lambda v: v["measuredAt"][:10], "measuredAt.time": lambda v: v["measuredAt"][11:16],
        "performer.name": lambda v: v["performer"]["name"], "conditions.posture": lambda v: v["conditions"]["posture"],
        "conditions.restMinutes": lambda v: v["conditions"]["restMinutes"], "note": lambda v: v["note"]}


def table():
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([*HEAD, *READINGS])
    for visit in VISITS:
        writer.writerow([*(get(visit) for get in HEAD.values()), *(cell(leaf(visit, path)) for path in READINGS)])
    return out.getvalue()


def table_map():
    columns = "".join(f'"{path}" = "{path}"\n' for path in [*HEAD, *READINGS] if path not in ("patient", "identifier"))
    return f"""format = "footbridge-source-map-1"
[file]
delimiter = ","
encoding = "utf-8"
rows = "assessment"
decimal = "."
date = "yyyy-mm-dd"
zone = "Europe/London"
[defaults]
status = "final"
organization = {{ name = "Invented Clinic" }}
conditions = {{ method = "manual-doppler" }}
instruments = [{{ kind = "doppler" }}, {{ kind = "sphygmomanometer" }}, {{ kind = "toe-sensor" }}]
[words]
"300+" = {{ finding = "incompressible", limit = 300 }}
"NP" = {{ absent = "not-performed" }}
[columns]
"identifier" = {{ to = "identifier", system = "https://invented.example/assessments" }}
"patient" = {{ to = "patient.identifiers", system = "https://invented.example/patients" }}
{columns}"""


def messages():
    made = [to_hl7.Message(json.loads(json.dumps(visit))) for visit in VISITS]
    return [message.bytes() for message in made], made[0].source_map()


def app_bundles():
    """As an app's Bundles of Observations, each written in another way than the one before."""
    for turn, visit in enumerate(VISITS):
        kept = to_observations.read(json.dumps(visit))
        yield to_observations.text_of(to_observations.App(to_observations.sayable(kept), turn).bundle())


def by_json(s):
    for visit in VISITS:
        equal(s.post(visit).status, 201)


def by_ndjson(s):
    equal(s.post("\n".join(map(json.dumps, VISITS)), kind="application/x-ndjson").status, 201)


def by_csv(s):
    answer = s.post(table(), query="?map=table", kind="text/csv")
    equal(answer.status, 201, answer.body[:600])


def by_fhir(s):
    for bundle in app_bundles():
        answer = s.post(bundle, query="?map=app", kind="application/fhir+json")
        equal(answer.status, 201, answer.body[:600])


def by_folder(s):
    for i, visit in enumerate(VISITS):
        (s.work / f"in/{i}.json").write_text(json.dumps(visit))


def by_mllp(s):
    holds(s.until(lambda: (s.work / "mllp-port").exists() and (s.work / "mllp-port").read_text()), "no port")
    with socket.create_connection(("127.0.0.1", int((s.work / "mllp-port").read_text())), timeout=30) as sock:
        for message in messages()[0]:
            sock.sendall(b"\x0b" + message + b"\x1c\r")
            got = b""
            while not got.endswith(b"\x1c\r"):
                got += sock.recv(65536) or b"\x1c\r"
            holds(b"MSA|AA|" in got, got[:600])


def bundles(name, hand_in):
    """What is delivered when the visits come in by this wire, by their names: resources without Provenance."""
    work = WORK / name
    (work / "in").mkdir(parents=True)
    (work / "table.toml").write_text(table_map())
    (work / "messages.toml").write_text(messages()[1])
    (work / "app.toml").write_text(to_observations.source_map())
    serve = ('[serve.maps]\ntable = "table.toml"\nmessages = "messages.toml"\napp = "app.toml"\n[serve.mllp]\nport = 0\n'
             'port_file = "mllp-port"\nmap = "messages"\n[serve.folders.clinic]\npath = "in"\nstable_seconds = 0\n')
    with Service(PROGRAM, work, serve, destinations=Service.FOLDER.replace("logical", "create")) as s:
        hand_in(s)
        holds(s.until(lambda: len(list((work / "box").glob("*.json"))) == COUNT, 60), f"{name}: not all were delivered")
    out = {}
    for file in (work / "box").glob("*.json"):
        entries = json.loads(file.read_text())["entry"]
        kept = [each["resource"] for each in entries if each["resource"]["resourceType"] != "Provenance"]
        report = next(each for each in kept if each["resourceType"] == "DiagnosticReport")
        out[report["identifier"][0]["value"]] = sorted(json.dumps(each, sort_keys=True) for each in kept)
        holds(len(entries) == len(kept) + 1, "one Provenance")
    return out


FIRST = {}


def same_as_json(name, hand_in):
    if not FIRST:
        FIRST.update(bundles("json", by_json))
        equal(len(FIRST), COUNT, "assessments")
        holds(min(len(each) for each in FIRST.values()) > 20, "few resources")
    got = bundles(name, hand_in)
    equal(sorted(got), sorted(FIRST), "assessments")
    for key, resources in FIRST.items():
        only = [each for each in got[key] if each not in resources]
        missing = [each for each in resources if each not in got[key]]
        equal((only[:1], missing[:1]), ([], []), key)


@case
def ndjson_gives_the_same():
    same_as_json("ndjson", by_ndjson)


@case
def a_table_gives_the_same():
    same_as_json("csv", by_csv)


@case
def observations_give_the_same():
    same_as_json("fhir", by_fhir)


@case
def a_folder_gives_the_same():
    same_as_json("folder", by_folder)


@case
def messages_give_the_same():
    same_as_json("mllp", by_mllp)


if __name__ == "__main__":
    main(sys.argv[2:], lambda: shutil.rmtree(WORK, ignore_errors=True))
