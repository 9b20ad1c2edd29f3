#!/usr/bin/env python3
"""Compares the bundles of a bench peer with ours: equivalent.py [--same-work] OURS.ndjson PEER.ndjson

Both hold one bundle a line of the same assessments in the same order. Each Observation of the peer must
have exactly one of ours with the same code and body site, and that one must say the same in everything
that decides its meaning. None of ours of the kinds that the peer makes may be missing from it: readings,
ankle-brachial and toe-brachial index, indices of single arteries, the classes of the rule set and the
panels of the legs. Instruments, report and provenance are paired by their identifiers and compared whole.
What is worded freely (narrative, notes, conclusion, names to be read) is not compared, and figures are
compared as figures, since a plain JSON parser drops the 0 of 1.0. Where a resource lists others (members,
results, targets), those that only we make are left out of ours. With --same-work ours may hold nothing else.

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
PLAIN = ("status", "identifier", "category", "subject", "encounter", "effectiveDateTime", "issued", "performer", "device")
RECORD = {"Device": "instrument", "DiagnosticReport": "report", "Provenance": "provenance"}
WORDED = {"text", "display", "conclusion", "note"}
LISTS = ("result", "target")
ONLY_OURS = "ours only, not the peer's work"


def rows(name):
    return json.loads((MAPPING / f"{name}.json").read_text(encoding="utf-8"))["rows"]


def covered_codes():
    """Own codes of all kinds that a peer has to make, by kind."""
    kinds = {row["concept"]: "reading" for row in rows("items") if "concept" in row}
    for row in rows("indices"):
        if row["id"] in COVERED_INDICES:
            for concept in (row["concept"], *row.get("conceptBySide", {}).values()):
                kinds[concept] = "index"
    return kinds | {"abi-band": "class", "tbi-band": "class", "leg-panel": "panel"}


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
    listed = {name: [one["reference"] for one in observation.get(name, [])] for name in ("derivedFrom", "hasMember")}
    said = {name: observation.get(name) for name in PLAIN}
    said |= {f"quantity {name}": quantity.get(name) for name in ("value", "comparator", "unit", "system", "code")}
    said |= {
        "code": codes(observation["code"]),
        "coded value": None if coded is None else codes(coded),
        "coded value without code": coded["text"] if coded and not codes(coded) else None,
        "absence": codes(observation.get("dataAbsentReason")),
        "interpretation": [codes(one) for one in observation.get("interpretation", [])],
        "method": codes(observation.get("method")),
    }
    return said | {name: frozenset(names.get(one, "leads nowhere") for one in listed[name]) for name in listed}


def observations(bundle):
    """Observations by code and body site; names of all by which they may be referred to."""
    found, names = {}, {}
    for entry in bundle["entry"]:
        resource = entry["resource"]
        names[entry["fullUrl"]] = key(resource) if resource["resourceType"] == "Observation" else None
        if resource["resourceType"] == "Observation":
            found.setdefault(key(resource), []).append((resource, entry["request"]))
    return found, names


def unworded(value):
    """The value without what is worded freely."""
    if isinstance(value, dict):
        return {name: unworded(part) for name, part in value.items() if name not in WORDED}
    return [unworded(part) for part in value] if isinstance(value, list) else value


def records(bundle):
    """Entries of instruments, reports and provenances by type and address."""
    return {
        (entry["resource"]["resourceType"], entry["fullUrl"]): entry
        for entry in bundle["entry"]
        if entry["resource"]["resourceType"] in RECORD
    }


def told(entry, made):
    """What a record says, and of the resources that it lists only those made by both."""
    said = unworded(entry["resource"])
    for name in LISTS:
        if name in said:
            said[name] = sorted(one["reference"] for one in said[name] if one["reference"] in made)
    return said | {"request": entry["request"]}


def compare_records(ours, theirs, counts):
    mine, other = records(ours), records(theirs)
    made = {entry["fullUrl"] for entry in theirs["entry"]}
    for one in sorted(set(mine) | set(other)):
        counts[RECORD[one[0]]] += 1
        if one not in mine or one not in other:
            yield f"{one[0]}: only {'of the peer' if one in other else 'of ours'}"
            continue
        a, b = told(mine[one], made), told(other[one], made)
        dangling = [url for name in LISTS for url in unlisted(other[one], name, made)]
        if dangling:
            yield f"{one[0]}: points at what the peer did not make: {', '.join(dangling)}"
        for name in sorted(set(a) | set(b)):
            if a.get(name) != b.get(name):
                yield f"{one[0]}: {name}: ours {a.get(name)!r}, peer {b.get(name)!r}"


def unlisted(entry, name, made):
    return [one["reference"] for one in entry["resource"].get(name, []) if one["reference"] not in made]


def shown(one):
    return f"{one[0]} at {', '.join(sorted(code for _, code in one[1])) or 'no site'}"


def limited(said, of_both):
    """A panel of ours has members of kinds that the peer does not make."""
    return said | {"hasMember": frozenset(one for one in said["hasMember"] if one in of_both)}


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
    of_both = frozenset(one for one in mine if one in other)
    for one in sorted(wanted | set(other), key=shown):
        counts[kinds.get(one[0], "of no covered kind")] += 1
        yield from compare_one(
            shown(one),
            [(limited(meaning(resource, my_names), of_both), request) for resource, request in mine.get(one, [])],
            [(meaning(resource, other_names), request) for resource, request in other.get(one, [])],
        )
    yield from compare_records(ours, theirs, counts)
    counts[ONLY_OURS] += sum(len(mine[one]) for one in mine if one not in wanted)


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


def is_type(name):
    return lambda resource: resource["resourceType"] == name


def change_resource(kind, name, value):
    def change(bundle):
        first(bundle, is_type(kind))["resource"][name] = value

    return change


def shorten(name):
    return lambda bundle: first(bundle, lambda resource: name in resource)["resource"][name].pop()


def use_other_instrument(bundle):
    first(bundle, lambda resource: "device" in resource)["resource"]["device"] = {"reference": "urn:uuid:other"}


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
    alone["entry"] = [
        one for one in ours["entry"] if one["resource"]["resourceType"] in RECORD or is_kind(*kinds)(one["resource"])
    ]
    made = {one["fullUrl"] for one in alone["entry"]}
    for entry in alone["entry"]:
        for name in {"hasMember", *LISTS} & set(entry["resource"]):
            entry["resource"][name] = [one for one in entry["resource"][name] if one["reference"] in made]
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
        "an instrument less": drop(is_type("Device")),
        "a report less": drop(is_type("DiagnosticReport")),
        "another serial number": change_resource("Device", "serialNumber", "0"),
        "another time of the provenance": change_resource("Provenance", "recorded", "2026-01-01"),
        "a member of a panel less": shorten("hasMember"),
        "a result of the report less": shorten("result"),
        "a target of the provenance less": shorten("target"),
        "an instrument that was not used": use_other_instrument,
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
    same_work = arguments[:1] == ["--same-work"]
    arguments = arguments[same_work:]
    if len(arguments) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    ours, theirs = map(bundles, arguments)
    kinds, counts, differences = covered_codes(), Counter(), []
    if len(ours) != len(theirs) or not ours:
        differences.append(f"{len(ours)} bundles of ours, {len(theirs)} of the peer")
    for number, pair in enumerate(zip(ours, theirs), 1):
        differences += [f"assessment {number}: {one}" for one in compare(*pair, kinds, counts)]
    if same_work and counts[ONLY_OURS]:
        differences.append(f"{counts[ONLY_OURS]} resources that only we make")
    for one in differences[:40]:
        print(one)
    told = ", ".join(f"{count} {kind}" for kind, count in sorted(counts.items()))
    print(f"{len(ours)} assessments, {told}: {len(differences)} differences")
    return 1 if differences else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
