"""Judges bundles (one a line, from standard input) by what must never be in them.

    judge_bundles.py [codes.json]

The rules are read from the bytes alone and share nothing with the program:
no code that has no verified evidence (the list of codes.json, where it is at hand); no code that would
claim another profile or another body site for an ankle or toe pressure; no index of a leg's ankles
where a tibial artery of that leg could not be compressed; no reference that leads nowhere.
"""

import json
import sys

# LOINC 8480-6, 8462-4 and 85354-9 imply the FHIR vital signs blood pressure profile; 35094-2 and 76534-7
# are blood pressures without a site (FHIR R4, vital signs profiles).
OTHER_PROFILES = {"8480-6", "8462-4", "85354-9", "35094-2", "76534-7", "85353-1"}
ARM_CODES = {"8508-4"}
ANKLE_ARTERIES = ("ankle-pressure-dorsalis-pedis", "ankle-pressure-posterior-tibial")


def codings(node):
    """Every system and code below a node."""
    if isinstance(node, dict):
        if "system" in node and "code" in node:
            yield node["system"], node["code"]
        for below in node.values():
            yield from codings(below)
    elif isinstance(node, list):
        for below in node:
            yield from codings(below)


def references(node):
    if isinstance(node, dict):
        if isinstance(node.get("reference"), str):
            yield node["reference"]
        for below in node.values():
            yield from references(below)
    elif isinstance(node, list):
        for below in node:
            yield from references(below)


def codes_of(observation):
    return {coding["code"] for coding in observation["code"]["coding"]}


def side_of(observation):
    text = json.dumps(observation.get("bodySite", {})).lower()
    return "left" if "left" in text else "right" if "right" in text else None


def is_incompressible(observation):
    parts = observation.get("interpretation", []) + [observation.get("dataAbsentReason", {})]
    return any(code == "incompressible" for _, code in codings(parts))


def faults(bundle, unverified):
    observations = [e["resource"] for e in bundle["entry"] if e["resource"]["resourceType"] == "Observation"]
    for system, code in codings(bundle):
        if (system, code) in unverified:
            yield f"{system} {code} has no verified evidence"
        if system == "http://loinc.org" and code in OTHER_PROFILES:
            yield f"{code} implies another profile"
    hard = {side_of(o) for o in observations if is_incompressible(o) and codes_of(o) & set(ANKLE_ARTERIES)}
    for observation in observations:
        codes = codes_of(observation)
        if any("ankle" in code or "toe" in code for code in codes) and codes & ARM_CODES:
            yield f"{sorted(codes)} stands under an arm pressure's code"
        if "ankle-brachial-index" in codes and side_of(observation) in hard and "valueQuantity" in observation:
            yield f"an ankle-brachial index of the {side_of(observation)} leg, whose artery was incompressible"
    known = {entry["fullUrl"] for entry in bundle["entry"]}
    for reference in references(bundle):
        if reference.startswith("urn:uuid:") and reference not in known:
            yield f"{reference} leads nowhere"


def main():
    unverified = set()
    if len(sys.argv) > 1:
        with open(sys.argv[1], encoding="utf-8") as file:
            unverified = {(c["system"], c["code"]) for c in json.load(file) if c["status"] != "VERIFIED"}
    bundles = wrong = 0
    for line in sys.stdin:
        bundles += 1
        for fault in faults(json.loads(line), unverified):
            wrong += 1
            print(f"bundle {bundles}: {fault}")
    print(f"{bundles} bundles, {wrong} faults")
    sys.exit(1 if wrong or not bundles else 0)


if __name__ == "__main__":
    main()
