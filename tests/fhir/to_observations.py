#!/usr/bin/env python3
"""Writes assessments as Bundles of Observations, as some maker's app might: tests/fhir/to_observations.py --out DIR
FILE...

FILE is one assessment, or .ndjson with one a line; for each a NAME.bundle.json and the NAME.json it stands for, and
one app.toml, the source map for the codes of the app. Codes, body sites, values, references and what holds the
Observations together change from one to the next, so that each way of saying a thing comes up. What a Bundle cannot
say is left out of NAME.json. Shares no code with Footbridge.
"""
import argparse
import json
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "schemas" / "fhir"))
from digits import read, text_of  # noqa: E402

ROOT = pathlib.Path(__file__).resolve().parents[2]
OWN = "https://footbridge.example/fhir/CodeSystem/footbridge"
APP = "https://app.invented.example/codes"
REASONS = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
UCUM = "http://unitsofmeasure.org"


def table(name):
    return json.load(open(ROOT / f"mapping/{name}.json", encoding="utf-8"))["rows"]


ITEMS = {row["path"]: row for row in table("items")}
WORDS = {row["id"]: {word["word"]: word["concept"] for word in row["words"]} for row in table("words")}
CODINGS = {row["id"]: [c for c in row["codings"] if c["status"] == "verified"] for row in table("concepts")}
LOCAL = {row["id"] for row in table("concepts") if row.get("local")}


def codings(concept):
    out = [{"system": c["system"], "code": c["code"]} for c in CODINGS[concept]]
    return out + ([{"system": OWN, "code": concept}] if concept in LOCAL else [])


def readings(visit):
    """(row of the item, side, path with dots, value) of every reading."""
    for path, row in ITEMS.items():
        for side in (("right", "left") if row["side"] else ("",)):
            node = visit
            names = path.replace("{side}", side)[1:].split("/")
            for name in names:
                node = node.get(name) if isinstance(node, dict) else None
            if node is not None:
                yield row, side, ".".join(names), node


def sayable(visit):
    """The visit without what a Bundle of Observations has no element for."""
    out = {**visit, "conditions": {k: v for k, v in visit.get("conditions", {}).items() if k != "room"}}
    measured = {row.get("instrument") for row, _, path, _ in readings(visit) if not path.startswith("previous")}
    out["instruments"] = [{k: v for k, v in each.items() if k != "calibratedOn"}
                          for each in visit.get("instruments", []) if each["kind"] in measured]
    return out


class App:
    """One assessment in the app's manner; `turn` is which of them."""
    def __init__(self, visit, turn):
        self.visit, self.turn = visit, turn
        self.entries = []
        self.devices = {}

    def add(self, resource):
        name = f"urn:uuid:00000000-0000-4000-8000-{len(self.entries):012}"
        self.entries.append({"fullUrl": name, "resource": resource})
        return {"reference": name}

    def patient(self):
        patient = self.visit["patient"]
        name = {k: patient[k] for k in ("family", "given") if k in patient}
        return {"resourceType": "Patient", "identifier": patient["identifiers"], **({"name": [name]} if name else {}),
                **{k: patient[k] for k in ("gender", "birthDate") if k in patient}}

    def performers(self):
        performer, organization = self.visit["performer"], self.visit["organization"]

        def party(kind, who):
            return {"type": kind, **({"identifier": who["identifier"]} if "identifier" in who else {}),
                    **({"display": who["name"]} if "name" in who else {})}
        if "role" not in performer:
            return [party("Practitioner", performer), party("Organization", organization)]
        return [self.add({"resourceType": "PractitionerRole", "practitioner": party("Practitioner", performer),
                          "organization": party("Organization", organization), "code": [{"text": performer["role"]}]})]

    def code(self, row, path, turn):
        """By the code of the app, by that of the concept, or by the path."""
        if turn % 3 == 0:
            return {"coding": [{"system": APP, "code": row["id"].upper()}]}
        if turn % 3 == 1 and "concept" in row:
            return {"coding": codings(row["concept"])}
        return {"coding": [{"system": OWN, "code": path}], "text": row["label"]}

    def site(self, row, side, turn):
        if not side:
            return {}
        if turn % 3 == 0:
            return {"bodySite": {"coding": [{"system": APP, "code": side[0].upper() + "LE"}]}}
        if turn % 3 == 1 and "site" in row:
            return {"bodySite": {"coding": codings(row["site"][side])}}
        return {"bodySite": {"text": side}}

    def value(self, row, given, turn):
        given = given if isinstance(given, dict) else {"value": given}
        value = given.get("value")
        out = {"note": [{"text": given["note"]}]} if "note" in given else {}
        if "absent" in given:
            out["dataAbsentReason"] = {"coding": [{"system": REASONS, "code": given["absent"]}]}
        elif "finding" in given and "limit" in given:
            out["valueQuantity"] = {"value": given["limit"], "comparator": ">", "unit": "mmHg"}
            out["interpretation"] = [{"coding": codings(given["finding"])}]
        elif "finding" in given:
            out["valueCodeableConcept"] = {"coding": codings(given["finding"])}
        elif "grade" in given:
            out["valueString"] = f"grade:{given['grade']}:{given['scale']}"
        elif "words" not in row:
            unit = given.get("unit", row["unit"])
            out["valueQuantity"] = {"value": value, "unit": "any", "system": UCUM, "code": unit,
                                    **({"comparator": given["comparator"]} if "comparator" in given else {})}
        elif turn % 2:
            out["valueCodeableConcept"] = {"coding": codings(WORDS[row["words"]][value])}
        else:
            out["valueCodeableConcept"] = {"coding": [{"system": APP, "code": value}]}
        return out

    def device(self, row):
        """Of the first instrument of the kind that measures this."""
        for instrument in self.visit.get("instruments", []):
            if instrument["kind"] != row.get("instrument"):
                continue
            if set(instrument) == {"kind"}:
                return {"device": {"display": instrument["kind"]}}
            if instrument["kind"] not in self.devices:
                made = {"resourceType": "Device", "type": {"coding": codings("instrument-" + instrument["kind"])},
                        **({"manufacturer": instrument["manufacturer"]} if "manufacturer" in instrument else {}),
                        **({"serialNumber": instrument["serial"]} if "serial" in instrument else {})}
                if "model" in instrument:
                    made["deviceName"] = [{"name": instrument["model"], "type": "model-name"}]
                self.devices[instrument["kind"]] = self.add(made)
            return {"device": self.devices[instrument["kind"]]}
        return {}

    def observations(self, common, state):
        for turn, (row, side, path, given) in enumerate(readings(self.visit), self.turn):
            said = {**common, **({"effectiveDateTime": self.visit["previous"]["measuredOn"]}
                                 if path.startswith("previous") else {})}
            if not path.startswith("previous"):
                said.update(self.device(row))
            yield self.add({"resourceType": "Observation", "status": state, **said, "code": self.code(row, path, turn),
                            **self.site(row, side, turn), **self.value(row, given, turn)})

    def bundle(self):
        visit = self.visit
        # A panel can hold a note on the whole; without a report or a panel earlier figures would stand alone.
        loose = self.turn % 3 == 2 and "note" not in visit and "previous" not in visit
        report = self.turn % 3 == 0 and "note" not in visit
        subject = self.add(self.patient())
        if self.turn % 2:
            subject["identifier"] = visit["patient"]["identifiers"][0]
        common = {"subject": subject, "effectiveDateTime": visit["measuredAt"], "performer": self.performers()}
        if "issuedAt" in visit:
            common["issued"] = visit["issuedAt"]
        if "encounter" in visit:
            common["encounter"] = self.add({"resourceType": "Encounter", "status": "finished",
                                            "identifier": [visit["encounter"]["identifier"]]})
        if "order" in visit:
            common["basedOn"] = [{"identifier": visit["order"]["identifier"]}]
        state = visit["status"]
        members = list(self.observations(common, state))
        out = {"resourceType": "Bundle", "type": ("collection", "transaction", "searchset")[self.turn % 3]}
        if loose:
            out["identifier"] = visit["identifier"]
        else:
            lead = {"status": state, **common, "identifier": [visit["identifier"]], "code": {"text": "The visit"},
                    "meta": {"versionId": str(visit.get("revision", 1))}}
            if report:
                self.add({"resourceType": "DiagnosticReport", **lead, "result": members})
            else:
                self.add({"resourceType": "Observation", **lead, "hasMember": members,
                          **({"note": [{"text": visit["note"]}]} if "note" in visit else {})})
        out["entry"] = self.entries
        return out


def source_map():
    items = "".join(f'"{APP}|{row["id"].upper()}" = "{path[1:].replace("/", ".")}"\n' for path, row in ITEMS.items())
    return (f'format = "footbridge-source-map-1"\n[fhir]\n[reading.sides]\n"RLE" = "right"\n"{APP}|LLE" = "left"\n'
            f'[reading.items]\n{items}')


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--out", required=True)
    parser.add_argument("files", nargs="+")
    options = parser.parse_args()
    out = pathlib.Path(options.out)
    out.mkdir(parents=True, exist_ok=True)
    (out / "app.toml").write_text(source_map(), encoding="utf-8")
    turn = 0
    for file in map(pathlib.Path, options.files):
        text = file.read_text(encoding="utf-8")
        lines = text.splitlines() if file.suffix == ".ndjson" else [text]
        for i, line in enumerate(lines):
            visit = read(line)
            if any("repeats" in given for _, _, _, given in readings(visit) if isinstance(given, dict)):
                continue  # an Observation has one value
            stem = f"{file.stem}-{i}" if len(lines) > 1 else file.stem
            visit = sayable(visit)
            (out / f"{stem}.json").write_text(text_of(visit), encoding="utf-8")
            (out / f"{stem}.bundle.json").write_text(text_of(App(visit, turn).bundle()), encoding="utf-8")
            turn += 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
