#!/usr/bin/env python3
"""Bundles have what their realm asks for wherever it is known, and nothing that it forbids.

realm_guard.py --mapping DIR REALM=BUNDLES.ndjson...    or --selftest

Reads mustSupport and forbidden of mapping/realms.json. What is not there has to be explained: a value by why there
is none, by the parts or by the members; that there was an encounter is known from the report.
"""

import argparse
import json
import sys
from pathlib import Path

BLOOD_PRESSURE = ("http://loinc.org", "85354-9")
# Each is there if what it stands for is: parts belong to what has parts, a reason to what has no value.
INSTEAD = {
    "value[x]": ("dataAbsentReason", "component", "hasMember"),
    "dataAbsentReason": ("value[x]", "component", "hasMember"),
    "component": ("value[x]", "dataAbsentReason", "hasMember"),
}


def has(resource, name):
    if name.endswith("[x]"):
        return any(member.startswith(name[:-3]) and member[len(name) - 3:][:1].isupper() for member in resource)
    return name in resource


def kind(resource):
    codings = resource.get("code", {}).get("coding", [])
    panel = any((each.get("system"), each.get("code")) == BLOOD_PRESSURE for each in codings)
    return "blood-pressure" if panel else "result"


def faults(bundle, realm):
    """What is missing and what should not be there; how many places were looked at."""
    resources = [entry["resource"] for entry in bundle["entry"]]
    known = any("encounter" in each for each in resources if each["resourceType"] == "DiagnosticReport")
    out, looked = [], 0
    for resource in resources:
        if resource["resourceType"] != "Observation":
            continue
        for asked, rows in ((True, realm["mustSupport"]), (False, realm["forbidden"])):
            for row in rows:
                # A result of any kind is a result; the rows of a blood pressure are of it alone.
                if row["of"] not in ("result", kind(resource)):
                    continue
                for element in row["elements"]:
                    name = element.removeprefix("Observation.")
                    looked += 1
                    there = has(resource, name)
                    explained = any(has(resource, other) for other in INSTEAD.get(name, ()))
                    explained = explained or (name == "encounter" and not known)
                    if asked and not there and not explained:
                        out.append(f"{element} is missing: {resource.get('code', {}).get('text')}")
                    elif not asked and there:
                        out.append(f"{element} is forbidden: {resource.get('code', {}).get('text')}")
    return out, looked


def realms(mapping):
    rows = json.loads((Path(mapping) / "realms.json").read_text(encoding="utf-8"))["rows"]
    for row in rows:
        for each in row["mustSupport"] + row["forbidden"]:
            assert each["source"] and each["certainty"] and each["elements"], row["id"]
    return {row["id"]: row for row in rows}


def selftest():
    asked = ["Observation.status", "Observation.value[x]", "Observation.encounter"]
    realm = {"mustSupport": [{"of": "result", "elements": asked}],
             "forbidden": [{"of": "blood-pressure", "elements": ["Observation.specimen", "Observation.value[x]"]}]}

    def said(observation, report=None):
        entries = [{"resourceType": "Observation", **observation}, {"resourceType": "DiagnosticReport", **(report or {})}]
        return len(faults({"entry": [{"resource": each} for each in entries]}, realm)[0])

    panel = {"code": {"coding": [{"system": BLOOD_PRESSURE[0], "code": BLOOD_PRESSURE[1]}]}, "status": "final"}
    cases = [said({"status": "final", "valueQuantity": {}}) == 0,
             said({"status": "final", "dataAbsentReason": {}}) == 0,
             said({"status": "final", "values": 1}) == 1,
             said({"valueQuantity": {}}) == 1,
             said({"status": "final", "valueQuantity": {}}, {"encounter": {}}) == 1,
             said({"status": "final", "valueQuantity": {}, "encounter": {}}, {"encounter": {}}) == 0,
             said({"status": "final", "valueQuantity": {}, "specimen": {}}) == 0,
             said({**panel, "component": []}) == 0,
             said({**panel, "component": [], "specimen": {}}) == 1,
             said({**panel, "valueQuantity": {}}) == 1]
    print(f"{sum(cases)} passed, {len(cases) - sum(cases)} failed")
    return 0 if all(cases) else 1


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--mapping")
    parser.add_argument("--selftest", action="store_true")
    parser.add_argument("bundles", nargs="*", metavar="REALM=FILE")
    options = parser.parse_args()
    if options.selftest:
        return selftest()
    rows, wrong, looked, seen = realms(options.mapping), 0, 0, set()
    for each in options.bundles:
        name, path = each.split("=", 1)
        for number, line in enumerate(Path(path).read_text(encoding="utf-8").splitlines(), 1):
            found, places = faults(json.loads(line), rows[name])
            looked += places
            wrong += len(found)
            seen.add(name)
            for text in found[:5]:
                print(f"{path}:{number}: {text}")
    for name in sorted(set(rows) - seen):
        print(f"there is no bundle for {name}")
        wrong += 1
    print(f"{len(seen)} realms, {looked} elements looked for, {wrong} faults")
    return 0 if looked and not wrong else 1


if __name__ == "__main__":
    sys.exit(main())
