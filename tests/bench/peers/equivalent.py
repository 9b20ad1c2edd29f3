#!/usr/bin/env python3
"""Compares the bundles of a bench peer with ours: equivalent.py OURS.ndjson PEER.ndjson

Both hold one bundle a line of the same assessments in the same order. Each Observation of the peer must
have exactly one of ours with the same code and body site, and that one must say the same in everything
that decides its meaning. None of ours of the kinds that the peer makes may be missing from it: readings,
ankle-brachial and toe-brachial index, indices of single arteries and the classes of the rule set.
What is worded freely (narrative, notes, texts of methods and absences) is not compared, and figures are
compared as figures, since a plain JSON parser drops the 0 of 1.0.

equivalent.py --selftest OURS.ndjson changes copies of our bundles in every way that has to be found.

Exit codes: 0 equivalent, 1 any difference, 2 usage.
"""

import copy
import json
import pathlib
import sys
from collections import Counter
from decimal import Decimal

MAPPING = pathlib.Path(__file__).resolve().parents[3] / "mapping"
COVERED_INDICES = {"abi", "abi.dorsalis-pedis", "abi.posterior-tibial", "abi.peroneal", "abi.anterior-tibial", "tbi"}
# Compared as they stand; the others need a look inside.
PLAIN = ("status", "identifier", "category", "subject", "encounter", "effectiveDateTime", "issued", "performer")


def rows(name):
    return json.loads((MAPPING / f"{name}.json").read_text(encoding="utf-8"))["rows"]


def covered_codes():
    """Own codes of all kinds that a peer has to make, by kind."""
    kinds = {row["concept"]: "reading" for row in rows("items") if "concept" in row}
    for row in rows("indices"):
        if row["id"] in COVERED_INDICES:
            for concept in (row["concept"], *row.get("conceptBySide", {}).values()):
                kinds[concept] = "index"
    return kinds | {"abi-band": "class", "tbi-band": "class"}


def codes(concept):
    """The codings of a CodeableConcept, without the names."""
    return frozenset((one["system"], one["code"]) for one in (concept or {}).get("coding", []))


def own_code(observation):
    """Ours stands last among the codings of a code."""
    return observation["code"]["coding"][-1]["code"]


def key(observation):
    return own_code(observation), codes(observation.get("bodySite"))


def meaning(observation, names):
    """What has to agree, by the name it is reported under."""
    quantity = observation.get("valueQuantity", {})
    coded = observation.get("valueCodeableConcept")
    origins = [one["reference"] for one in observation.get("derivedFrom", [])]
    said = {name: observation.get(name) for name in PLAIN}
    said |= {f"quantity {name}": quantity.get(name) for name in ("value", "comparator", "unit", "system", "code")}
    said |= {
        "code": codes(observation["code"]),
        "coded value": None if coded is None else codes(coded),
        "coded value without code": coded["text"] if coded and not codes(coded) else None,
        "absence": codes(observation.get("dataAbsentReason")),
        "interpretation": [codes(one) for one in observation.get("interpretation", [])],
        "method": codes(observation.get("method")),
        "derivedFrom": frozenset(names.get(one, "leads nowhere") for one in origins),
    }
    return said


def observations(bundle):
    """Observations by code and body site; names of all by which they may be referred to."""
    found, names = {}, {}
    for entry in bundle["entry"]:
        resource = entry["resource"]
        names[entry["fullUrl"]] = key(resource) if resource["resourceType"] == "Observation" else None
        if resource["resourceType"] == "Observation":
            found.setdefault(key(resource), []).append((resource, entry["request"]))
    return found, names


def shown(one):
    return f"{one[0]} at {', '.join(sorted(code for _, code in one[1])) or 'no site'}"


def compare_one(what, ours, theirs):
    if len(ours) != 1 or len(theirs) != 1:
        yield f"{what}: {len(ours)} of ours, {len(theirs)} of the peer"
        return
    (mine, my_request), (other, other_request) = ours[0], theirs[0]
    for name in mine:
        if mine[name] != other[name]:
            yield f"{what}: {name}: ours {mine[name]!r}, peer {other[name]!r}"
    if my_request != other_request:
        yield f"{what}: request: ours {my_request}, peer {other_request}"


def compare(ours, theirs, kinds, counts):
    """Differences of two bundles of one assessment."""
    mine, my_names = observations(ours)
    other, other_names = observations(theirs)
    wanted = {one for one in mine if one[0] in kinds}
    for one in sorted(wanted | set(other), key=shown):
        counts[kinds.get(one[0], "of no covered kind")] += 1
        yield from compare_one(
            shown(one),
            [(meaning(resource, my_names), request) for resource, request in mine.get(one, [])],
            [(meaning(resource, other_names), request) for resource, request in other.get(one, [])],
        )
    counts["ours only, not the peer's work"] += sum(len(mine[one]) for one in mine if one not in wanted)


def bundles(path):
    with open(path, encoding="utf-8") as lines:
        return [json.loads(line, parse_float=Decimal, parse_int=Decimal) for line in lines if line.strip()]


def first(bundle, wanted):
    return next(entry for entry in bundle["entry"] if wanted(entry["resource"]))


def change_member(member, name, value):
    """Changes a part of the first Observation that has it."""

    def change(bundle):
        part = first(bundle, lambda resource: member in resource)["resource"][member]
        part[name] = value

    return change


def drop(wanted):
    return lambda bundle: bundle["entry"].remove(first(bundle, wanted))


def twice(bundle):
    bundle["entry"].append(copy.deepcopy(first(bundle, lambda resource: "valueQuantity" in resource)))


def is_kind(*wanted):
    return lambda resource: resource["resourceType"] == "Observation" and own_code(resource) in wanted


def swap_sides(bundle):
    arms = [entry["resource"] for entry in bundle["entry"] if is_kind("arm-systolic")(entry["resource"])]
    arms[0]["bodySite"], arms[1]["bodySite"] = arms[1]["bodySite"], arms[0]["bodySite"]


def wrong_origin(bundle):
    resource = first(bundle, lambda resource: len(resource.get("derivedFrom", [])) > 1)["resource"]
    resource["derivedFrom"].pop()


def selftest(path):
    """Number of changes that went unseen, after telling which."""
    ours = bundles(path)[0]
    kinds = covered_codes()
    alone = copy.deepcopy(ours)
    alone["entry"] = [one for one in ours["entry"] if is_kind(*kinds)(one["resource"])]
    changes = {
        "another value": change_member("valueQuantity", "value", Decimal("1000")),
        "another comparator": change_member("valueQuantity", "comparator", "<"),
        "another unit": change_member("valueQuantity", "code", "kPa"),
        "another coded value": change_member("valueCodeableConcept", "coding", []),
        "another subject": change_member("subject", "reference", "Patient/1"),
        "a reading less": drop(is_kind("pulse-femoral")),
        "an index less": drop(is_kind("ankle-brachial-index")),
        "a class less": drop(is_kind("tbi-band")),
        "one twice": twice,
        "sides exchanged": swap_sides,
        "an input of an index less": wrong_origin,
    }
    unseen = [] if not list(compare(ours, alone, kinds, Counter())) else ["nothing changed, yet a difference"]
    for name, change in changes.items():
        changed = copy.deepcopy(alone)
        change(changed)
        if not list(compare(ours, changed, kinds, Counter())):
            unseen.append(name)
    print(f"comparison of peers: {len(changes)} changes, unseen: {', '.join(unseen) or 'none'}")
    return 1 if unseen else 0


def main(arguments):
    if len(arguments) == 2 and arguments[0] == "--selftest":
        return selftest(arguments[1])
    if len(arguments) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    ours, theirs = map(bundles, arguments)
    kinds, counts, differences = covered_codes(), Counter(), []
    if len(ours) != len(theirs) or not ours:
        differences.append(f"{len(ours)} bundles of ours, {len(theirs)} of the peer")
    for number, pair in enumerate(zip(ours, theirs), 1):
        differences += [f"assessment {number}: {one}" for one in compare(*pair, kinds, counts)]
    for one in differences[:40]:
        print(one)
    told = ", ".join(f"{count} {kind}" for kind, count in sorted(counts.items()))
    print(f"{len(ours)} assessments, {told}: {len(differences)} differences")
    return 1 if differences else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
