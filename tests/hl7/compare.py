#!/usr/bin/env python3
"""Holds bundles of two wires against each other: tests/hl7/compare.py A.json B.json.

All resources but Provenance have to be the same. Ends with a line that says what was compared.
"""
import json
import sys


def resources(path):
    bundle = json.load(open(path, encoding="utf-8"))
    kept = [e for e in bundle["entry"] if e["resource"]["resourceType"] != "Provenance"]
    return {json.dumps(e["resource"], sort_keys=True): e["resource"]["resourceType"] for e in kept}


def main():
    one, other = resources(sys.argv[1]), resources(sys.argv[2])
    for text in sorted(set(one) ^ set(other)):
        print(("only first: " if text in one else "only second: ") + text[:3000])
    readings = sum(kind == "Observation" for kind in one.values())
    print(f"{readings} observations, {len(one)} resources")
    return 0 if one == other and readings > 0 else 1


if __name__ == "__main__":
    sys.exit(main())
