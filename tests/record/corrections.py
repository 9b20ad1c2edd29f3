#!/usr/bin/env python3
"""A correction, a withdrawal and a wrong patient, from end to end on any record server.

    corrections.py --program FOOTBRIDGE --base http://127.0.0.1:8080/fhir --work DIR [--input FILE.json] [--strategy NAME]
        [--patient search] [--more 'gzip = "always"']

Sends an assessment, corrects it, has somebody else change it, withdraws it, and sends one for the wrong
patient. After each step the server itself is asked, by identifier and by history, what it holds. Uses
identifiers of its own in each run, so that a server can be used again. Ends with "N passed, M failed".
"""
import argparse
import copy
import json
import pathlib
import subprocess
import sys
import urllib.error
import urllib.parse
import urllib.request
import uuid

TOP = pathlib.Path(__file__).resolve().parents[2]
SYSTEM = "https://clinic.example/assessments"


class Server:
    def __init__(self, base):
        self.base = base.rstrip("/")

    def ask(self, path, method="GET", body=None, headers=None):
        sent = {"Accept": "application/fhir+json", "Content-Type": "application/fhir+json",
                "Cache-Control": "no-cache", **(headers or {})}
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(self.base + path, data=data, method=method, headers=sent)
        with urllib.request.urlopen(request, timeout=120) as answer:
            return json.load(answer)

    def search(self, kind, **terms):
        found, path = [], f"/{kind}?" + urllib.parse.urlencode({**terms, "_count": "200"})
        while path:
            page = self.ask(path)
            found += [e["resource"] for e in page.get("entry", []) if e["resource"]["resourceType"] == kind]
            following = [link["url"] for link in page.get("link", []) if link["relation"] == "next"]
            path = following[0][len(self.base):] if following and following[0].startswith(self.base) else None
        return found

    def of_patient(self, kind, patient):
        return self.search(kind, **{"subject" if kind != "Provenance" else "patient": f"Patient/{patient['id']}"})

    def history(self, resource):
        page = self.ask(f"/{resource['resourceType']}/{resource['id']}/_history")
        return [e["resource"] for e in page["entry"] if "resource" in e]


class Suite:
    def __init__(self, options):
        self.options, self.server = options, Server(options.base)
        self.work = pathlib.Path(options.work)
        self.work.mkdir(parents=True)
        self.config = self.work / "footbridge.toml"
        self.config.write_text(f'data = "data"\n[destinations.record]\nkind = "server"\nbase = "{options.base}"\n'
                               f'patient = "{options.patient}"\nstrategy = "{options.strategy}"\n'
                               f'backoff_milliseconds = [50, 200]\n{options.more}\n')
        self.run = uuid.uuid4().hex[:8]
        self.source = json.loads(pathlib.Path(options.input).read_text(encoding="utf-8"))
        self.passed = self.failed = 0

    def check(self, name, holds, seen=""):
        self.passed += bool(holds)
        self.failed += not holds
        if not holds:
            print(f"FAILED: {name}: {str(seen)[:1500]}")

    def footbridge(self, *arguments):
        return subprocess.run([self.options.program, *map(str, arguments)], capture_output=True, text=True)

    def identifier(self, patient):
        return {"system": "https://clinic.example/patients", "value": f"{patient}-{self.run}"}

    def register(self, patient):
        """For `search`: the record has the patient before."""
        self.server.ask("/Patient", "POST", {"resourceType": "Patient", "identifier": [self.identifier(patient)],
                                             "name": [{"family": "Invented"}], "birthDate": "1950-01-01"})

    def assessment(self, name, patient, revision=1, status="final", **changes):
        made = copy.deepcopy(self.source)
        made.update(identifier={"system": SYSTEM, "value": f"{name}-{self.run}"}, revision=revision, status=status)
        made["patient"] = {"identifiers": [self.identifier(patient)], "family": "Invented", "birthDate": "1950-01-01"}
        made.update(changes)
        return made

    def send(self, wanted, assessment=None):
        given = ["--queued"]
        if assessment is not None:
            file = self.work / "in.json"
            file.write_text(json.dumps(assessment), encoding="utf-8")
            given = [file]
        done = self.footbridge("send", "--config", self.config, "--to", "record", *given)
        self.check(f"send ends with {wanted}", done.returncode == wanted, (done.returncode, done.stdout, done.stderr))
        return done.stdout

    def rows(self, state):
        listed = self.footbridge("outbox", "list", "--config", self.config, "--json", "--state", state)
        return [json.loads(line) for line in listed.stdout.splitlines()]

    def patient(self, name):
        found = self.server.search("Patient", identifier=f"https://clinic.example/patients|{name}-{self.run}")
        self.check(f"one patient {name}", len(found) == 1, found)
        return found[0]

    def statuses(self, patient):
        resources = self.server.of_patient("Observation", patient) + self.server.of_patient("DiagnosticReport", patient)
        return resources, {r["status"] for r in resources}

    def provenances(self, resource):
        return self.server.search("Provenance", target=f"{resource['resourceType']}/{resource['id']}")


def activities(found):
    return sorted(p["activity"]["coding"][0]["code"] for p in found)


def ankle(assessment, value):
    assessment["legs"]["right"]["ankle"]["posteriorTibial"] = value


def corrected_then_withdrawn(suite):
    first = suite.assessment("A", "P1")
    ankle(first, 120)
    suite.send(0, first)
    patient = suite.patient("P1")
    before, states = suite.statuses(patient)
    suite.check("all is final", states == {"final"}, states)
    second = suite.assessment("A", "P1", 2, "corrected")
    ankle(second, 110)
    suite.send(0, second)
    after, states = suite.statuses(patient)
    suite.check("nothing was made beside it", {r["id"] for r in before} <= {r["id"] for r in after}, len(after))
    suite.check("the correction shows", "corrected" in states and "final" not in states, states)
    values = lambda found: [r["valueQuantity"]["value"] for r in found if "valueQuantity" in r]
    suite.check("the new value is there", 110 in values(after) and 120 not in values([r for r in after if r["status"] == "corrected" and "ankle" in json.dumps(r["code"]).lower()]), values(after))
    changed = next(r for r in after if r.get("valueQuantity", {}).get("value") == 110)
    report = next(r for r in after if r["resourceType"] == "DiagnosticReport")
    suite.check("its history holds both values", values(suite.server.history(changed))[:2] == [110, 120], values(suite.server.history(changed)))
    suite.check("provenance tells both", activities(suite.provenances(report)) == ["CREATE", "UPDATE"], suite.provenances(report))
    late = suite.send(1, suite.assessment("A", "P1", 1, note="late"))
    suite.check("an older revision that comes late is not delivered", "delivered (record)" not in late, late)
    third = suite.assessment("A", "P1", 3, "entered-in-error", note="Entered for the wrong visit.")
    for part in ("legs", "arms"):
        third.pop(part, None)
    suite.send(0, third)
    withdrawn, states = suite.statuses(patient)
    suite.check("all is withdrawn", states == {"entered-in-error"}, states)
    suite.check("nothing vanished", {r["id"] for r in after} == {r["id"] for r in withdrawn}, len(withdrawn))
    suite.check("what was withdrawn keeps its value", 110 in values(withdrawn), values(withdrawn))
    told = suite.provenances(report)
    suite.check("provenance tells the withdrawal", activities(told) == ["CREATE", "NULLIFY", "UPDATE"], activities(told))
    suite.check("and why", "Entered for the wrong visit." in json.dumps(told), told)
    suite.check("history holds every status", [r["status"] for r in suite.server.history(changed)] == ["entered-in-error", "corrected", "final"],
                [r["status"] for r in suite.server.history(changed)])


def changed_by_another(suite):
    suite.send(0, suite.assessment("B", "P2"))
    patient = suite.patient("P2")
    resources, _ = suite.statuses(patient)
    other = next(r for r in resources if "valueQuantity" in r)
    edited = {**other, "valueQuantity": {**other["valueQuantity"], "value": 77}}
    suite.server.ask(f"/Observation/{other['id']}", "PUT", edited)
    suite.send(1, suite.assessment("B", "P2", 2, "corrected"))
    kept = suite.server.ask(f"/Observation/{other['id']}")
    suite.check("what another wrote stays", kept["valueQuantity"]["value"] == 77, kept)
    held = suite.rows("held")
    suite.check("the correction is held and says why", held and "Somebody else changed" in held[-1]["reason"], held)
    row = held[-1]["row"] if held else 0
    suite.check("both versions are kept", held and "differences" in held[-1].get("receipt", {}), held)
    suite.footbridge("outbox", "release", "--config", suite.config, row)
    suite.send(0)
    now = suite.server.ask(f"/Observation/{other['id']}")
    suite.check("a person's release replaces it", now["valueQuantity"]["value"] != 77, now)


def wrong_patient(suite):
    suite.send(0, suite.assessment("C", "P3"))
    wrong = suite.patient("P3")
    suite.send(1, suite.assessment("C", "P4", 2, "corrected"))
    _, states = suite.statuses(wrong)
    suite.check("nothing moved by itself", states == {"final"}, states)
    suite.send(0, suite.assessment("D", "P4", replaces={"system": SYSTEM, "value": f"C-{suite.run}"}))
    right = suite.patient("P4")
    resources, states = suite.statuses(wrong)
    suite.check("withdrawn under the wrong patient", states == {"entered-in-error"}, states)
    issued, states = suite.statuses(right)
    suite.check("issued for the right one", states == {"final"}, states)
    suite.check("under identifiers of its own", not {r["identifier"][0]["value"] for r in resources} & {r["identifier"][0]["value"] for r in issued})
    report = next(r for r in issued if r["resourceType"] == "DiagnosticReport")
    entities = json.dumps([p.get("entity") for p in suite.provenances(report)])
    suite.check("its provenance names what it replaces", f"C-{suite.run}" in entities, entities)


def by_command(suite):
    out = suite.send(0, suite.assessment("E", "P5"))
    row = next(r["row"] for r in suite.rows("delivered") if r["assessment"]["value"] == f"E-{suite.run}")
    done = suite.footbridge("outbox", "withdraw", "--config", suite.config, row, "--because", "typed twice", "--by", "A. Nurse (invented)")
    suite.check("withdraw is queued", done.returncode == 0, done.stderr + out)
    suite.send(0)
    _, states = suite.statuses(suite.patient("P5"))
    suite.check("withdrawn by command", states == {"entered-in-error"}, states)


def looked(suite, name, wanted, *more):
    """What `outbox recheck` says of that assessment."""
    done = suite.footbridge("outbox", "recheck", "--config", suite.config, "--to", "record", "--json", *more)
    suite.check(f"recheck ends with {wanted}", done.returncode == wanted, (done.returncode, done.stdout, done.stderr))
    found = [json.loads(line) for line in done.stdout.splitlines()]
    suite.check("each assessment is told once", len({f["assessment"]["value"] for f in found}) == len(found), found)
    return next((f for f in found if f["assessment"]["value"] == f"{name}-{suite.run}"), {})


def rechecked(suite):
    """First, while nothing else was delivered that somebody changed since."""
    suite.send(0, suite.assessment("F", "P6"))
    suite.check("recheck finds it as it was sent", looked(suite, "F", 0)["result"] == "same")
    other = next(r for r in suite.statuses(suite.patient("P6"))[0] if "valueQuantity" in r)
    edited = {**other, "valueQuantity": {**other["valueQuantity"], "value": 77}}
    suite.server.ask(f"/Observation/{other['id']}", "PUT", edited)
    told = looked(suite, "F", 1)
    suite.check("recheck finds what another changed", told["result"] == "differs", told)
    suite.check("it says what", f"Observation/{other['id']} valueQuantity.value" in told["reason"], told["reason"])
    both = [d for d in told["differences"] if d["resource"] == f"Observation/{other['id']}"]
    suite.check("with both versions", len(told["differences"]) == 1 and both and
                both[0]["stored"]["valueQuantity"]["value"] == 77 != both[0]["sent"]["valueQuantity"]["value"], told)
    done = suite.footbridge("outbox", "recheck", "--config", suite.config)
    suite.check("it says so to people", done.returncode == 1 and "differs" in done.stdout and "stored 77" in done.stdout,
                (done.stdout, done.stderr))
    suite.server.ask(f"/Observation/{other['id']}", "PUT", other)
    suite.check("put back it is well again", looked(suite, "F", 0)["result"] == "same")
    suite.send(1, suite.assessment("F", "P6", 2, "corrected"))  # the version is another one by now
    suite.footbridge("outbox", "release", "--config", suite.config, suite.rows("held")[-1]["row"])
    suite.send(0)
    told = looked(suite, "F", 0)
    suite.check("of a correction the last revision counts", (told["result"], told["revision"]) == ("same", 2), told)
    suite.server.ask(f"/Observation/{other['id']}", "PUT", edited)
    suite.send(1, suite.assessment("F", "P6", 3, "corrected"))
    held = suite.rows("held")
    suite.footbridge("outbox", "accept", "--config", suite.config, held[-1]["row"], "--because", "as the ward says")
    suite.check("what was accepted is no alarm", looked(suite, "F", 0)["result"] == "accepted")
    suite.server.ask(f"/Observation/{other['id']}", "PUT", {**edited, "status": "cancelled"})
    suite.check("unless it changed since", looked(suite, "F", 1)["result"] == "differs")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", required=True)
    parser.add_argument("--base", required=True)
    parser.add_argument("--work", required=True)
    parser.add_argument("--input", default=str(TOP / "examples/clinic/01-normal-both-legs.json"))
    parser.add_argument("--strategy", default="auto")
    parser.add_argument("--patient", default="create", choices=("create", "search"))
    parser.add_argument("--more", default="", help="more lines for the destination")
    suite = Suite(parser.parse_args())
    for patient in ("P1", "P2", "P3", "P4", "P5", "P6") if suite.options.patient == "search" else ():
        suite.register(patient)
    for part in (rechecked, corrected_then_withdrawn, changed_by_another, by_command, wrong_patient):
        try:
            part(suite)
        except (OSError, KeyError, StopIteration, IndexError) as error:
            suite.check(f"{part.__name__} comes to its end", False, repr(error))
    print(f"{suite.passed} passed, {suite.failed} failed")
    sys.exit(1 if suite.failed else 0)


if __name__ == "__main__":
    main()
