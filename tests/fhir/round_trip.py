#!/usr/bin/env python3
"""Bundles fed back have to say the same: tests/fhir/round_trip.py HOW VISITS FIRST AGAIN

VISITS has one assessment a line, FIRST the bundles of them, AGAIN those that were made of FIRST. Every resource of
FIRST has to be in AGAIN under its name, and the same in every element: readings, indices, grades, flags, report.
What a bundle does not carry back is listed in LOST, with where it may differ. HOW is "all": each of the list has to
be met at least once, so that it cannot grow stale; "some"; or "referred", for bundles without the patient, whose
name and birth date the report then asks for. Prints how many were compared.
"""
import json
import sys


def notes(resource):
    return [note["text"] for note in resource.get("note", [])]


def noted(start):
    """Resources with a note of ours that begins so, and the report that repeats what they say."""
    def may(visit, resource, part, bundle):
        if resource["resourceType"] == "DiagnosticReport":
            return part in ("text", "conclusion") and any(may(visit, other, part, {}) for other in bundle.values())
        return part in ("text", "note", "conclusion") and any(note.startswith(start) for note in notes(resource))
    return may


def of_report(member):
    return lambda visit, resource, part, bundle: (
        resource["resourceType"] == "DiagnosticReport" and part in ("text", "conclusion") and member(visit))


def toes(visit):
    return {side: leg.get("toe", {}) for side, leg in visit.get("legs", {}).items()}


def toe_alone(visit, resource, part, bundle):
    """Which toe is told by the body site of its pressure; without one only the index of that side, absent, tells it."""
    alone = {side for side, toe in toes(visit).items() if toe and "pressure" not in toe}
    if resource["resourceType"] == "DiagnosticReport":
        return part in ("text", "conclusion") and bool(alone)
    code = resource.get("code", {}).get("text", "")
    return part == "bodySite" and code.endswith("toe-brachial index") and code.split()[0].lower() in alone


def other_sensor(visit, resource, part, bundle):
    words = [toe.get(name) for toe in toes(visit).values() for name in ("digit", "sensor")]
    lost = any(word == "other" or isinstance(word, dict) for word in words)
    return resource["resourceType"] == "DiagnosticReport" and part in ("text", "conclusion") and lost


LOST = {
    "figures as they were sent (kPa, repeats): the note tells them, and becomes one of the clinician's":
        noted("Sent as "),
    "the grade of a pulse whose scale says what it means: the word stays, the note tells the grade":
        noted("Written as "),
    "the note on the whole visit": of_report(lambda visit: "note" in visit),
    "the room": of_report(lambda visit: "room" in visit.get("conditions", {})),
    "toe and sensor where there is no toe pressure": toe_alone,
    "that the sensor was another one, or that toe or sensor are not known": other_sensor,
    "the day on which an instrument was calibrated":
        lambda visit, resource, part, bundle: resource["resourceType"] == "Device" and part == "note",
}


def resources(line):
    return {entry["fullUrl"]: entry["resource"] for entry in json.loads(line, parse_float=str, parse_int=str)["entry"]
            if entry["resource"]["resourceType"] != "Provenance"}


def faults(visit, first, again, met):
    for name in set(first) ^ set(again):
        yield f"only {'before' if name in first else 'after'}: {json.dumps(first.get(name) or again[name])[:300]}"
    for name in first.keys() & again.keys():
        one, other = first[name], again[name]
        for part in set(one) | set(other):
            if one.get(part) == other.get(part):
                continue
            why = [what for what, may in LOST.items() if may(visit, one, part, first)]
            met.update(why)
            if not why:
                yield f"{part} of {one.get('code', one).get('text')}: {json.dumps(one.get(part))[:300]} " \
                      f"{json.dumps(other.get(part))[:300]}"


def main():
    visits, first, again = (open(name, encoding="utf-8").read().splitlines() for name in sys.argv[2:5])
    met = set()
    if sys.argv[1] == "referred":
        LOST["who the patient is"] = of_report(lambda visit: True)
    found = [] if len(visits) == len(first) == len(again) else [f"{len(visits)}, {len(first)}, {len(again)} lines"]
    count = 0
    for visit, one, other in zip(map(json.loads, visits), map(resources, first), map(resources, again)):
        count += len(one)
        found += [f"{visit['identifier']['value']}: {fault}" for fault in faults(visit, one, other, met)]
    found += [] if sys.argv[1] != "all" else [f"never met: {what}" for what in LOST if what not in met]
    print(*found[:20], sep="\n", file=sys.stderr)
    print(f"{count} resources of {len(visits)} assessments")
    return 1 if found or count == 0 else 0


if __name__ == "__main__":
    sys.exit(main())
