#!/usr/bin/env python3
"""Every code in bundles stands in a value set of the package and in a table with its evidence.

code_guard.py --package FILE.tgz --mapping DIR BUNDLES.ndjson...    or --selftest
"""

import argparse
import json
import sys
import tarfile
from pathlib import Path

UCUM = "http://unitsofmeasure.org"


def published(package):
    """(system, code) of all value sets of the package, which list every code one by one."""
    out = set()
    with tarfile.open(package) as archive:
        for member in archive.getmembers():
            if not member.name.startswith("package/ValueSet-"):
                continue
            for include in json.load(archive.extractfile(member))["compose"]["include"]:
                out |= {(include["system"], concept["code"]) for concept in include["concept"]}
    return out


def catalogued(mapping):
    """(system, code) of all rows with a source, and whether they may leave."""
    def rows(name):
        return json.loads((Path(mapping) / f"{name}.json").read_text(encoding="utf-8"))["rows"]

    concepts = json.loads((Path(mapping) / "concepts.json").read_text(encoding="utf-8"))
    own = concepts["canonicalBase"] + "/fhir/CodeSystem/footbridge"
    out = set()
    for row in concepts["rows"]:
        assert row["source"], row["id"]
        out |= {(c["system"], c["code"]) for c in row["codings"] if c["status"] == "verified" and c["source"]}
        if row["local"]:
            out.add((own, row["id"]))
    out |= {(own, row["id"]) for row in rows("rules") if row["stage"] == "flag" and row["source"]}
    out |= {(own, row["id"]) for row in rows("criteria") + rows("rutherford") if row["source"]}
    out |= {(own, "clti-definition-" + row["id"]) for row in rows("clti") if row["source"]}
    out |= {(UCUM, row["unit"]) for row in rows("items") + rows("indices") if row.get("unit") and row["source"]}
    return out


def codes(value, tags=False):
    """Every (system, code) pair below, except tags, which are names and not codes."""
    if isinstance(value, list):
        for each in value:
            yield from codes(each, tags)
    elif isinstance(value, dict):
        if "system" in value and "code" in value and not tags:
            yield value["system"], value["code"]
        for name, each in value.items():
            yield from codes(each, name == "tag")


def strays(bundle, *lists):
    """Codes of the bundle that one of the lists lacks; a coding without a system counts as one."""
    found = set(codes(bundle))
    return sorted(code for code in found if not all(code in known for known in lists)), len(found)


def selftest():
    bundle = {"entry": [{"resource": {"meta": {"tag": [{"system": "t", "code": "x"}]},
                                      "code": {"coding": [{"system": "a", "code": "1"}]}}}]}
    cases = [strays(bundle, {("a", "1")}, {("a", "1")})[0] == [],
             strays(bundle, set(), {("a", "1")})[0] == [("a", "1")],
             strays(bundle, {("a", "1")}, set())[0] == [("a", "1")]]
    print(f"{sum(cases)} passed, {len(cases) - sum(cases)} failed")
    return 0 if all(cases) else 1


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--package")
    parser.add_argument("--mapping")
    parser.add_argument("--selftest", action="store_true")
    parser.add_argument("bundles", nargs="*")
    options = parser.parse_args()
    if options.selftest:
        return selftest()
    lists = published(options.package), catalogued(options.mapping)
    seen, wrong, count = set(), set(), 0
    for path in options.bundles:
        for line in Path(path).read_text(encoding="utf-8").splitlines():
            bundle = json.loads(line)
            wrong |= set(strays(bundle, *lists)[0])
            seen |= set(codes(bundle))
            count += 1
    for system, code in sorted(wrong):
        print(f"{system}|{code} stands in no value set of the package, or in no table with its evidence")
    print(f"{count} bundles, {len(seen)} codes, {len(wrong)} strays")
    return 0 if count and seen and not wrong else 1


if __name__ == "__main__":
    sys.exit(main())
