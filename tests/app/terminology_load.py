#!/usr/bin/env python3
"""Loads code systems into a terminology server: terminology_load.py BASE PACKAGE.tgz

A part of LOINC and of SNOMED CT by terminology_codes.json, five of its codes changed as "seeded" there says, and the
CodeSystem of our package. Ends when the server answers for each of them.
"""

import json
import sys
import tarfile
import time
import urllib.error
import urllib.request
from pathlib import Path

base, package = sys.argv[1:]


def ask(path, body):
    request = urllib.request.Request(base + path, json.dumps(body).encode(),
                                     {"Content-Type": "application/fhir+json"})
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as error:
        return error.code, json.load(error)


def system_of(url, rows):
    concepts = []
    for row in rows:
        concept = {"code": row["code"], "display": row["display"]}
        if "property" in row:
            concept["property"] = [row["property"]]
        concepts.append(concept)
    return {"resourceType": "CodeSystem", "url": url, "version": "part", "status": "active", "content": "complete",
            "caseSensitive": True, "property": [{"code": "inactive", "type": "code"}, {"code": "STATUS", "type": "string"}],
            "concept": concepts}


def parts():
    file = json.loads((Path(__file__).parent / "terminology_codes.json").read_text(encoding="utf-8"))
    changes = {(row["system"], row["code"]): row for row in file["seeded"]}
    assert len(changes) == 5 and all(any(key == (r["system"], r["code"]) for r in file["rows"]) for key in changes)
    rows = [{**row, **changes.get((row["system"], row["code"]), {})} for row in file["rows"]]
    for url in sorted({row["system"] for row in rows}):
        yield system_of(url, [row for row in rows if row["system"] == url and "gone" not in row])


def ours():
    with tarfile.open(package) as archive:
        names = [name for name in archive.getnames() if name.startswith("package/CodeSystem-")]
        for name in names:
            yield json.load(archive.extractfile(name))


def wait_for(url, code):
    asked = {"resourceType": "Parameters", "parameter": [{"name": "system", "valueUri": url},
                                                         {"name": "code", "valueCode": code}]}
    for _ in range(100):
        status, answer = ask("/CodeSystem/$lookup", asked)
        if status == 200:
            return
        time.sleep(0.2)
    sys.exit(f"{url}|{code}: HTTP {status} {answer}")


for resource in [*parts(), *ours()]:
    status, answer = ask("/CodeSystem", resource)
    if status != 201:
        sys.exit(f"{resource['url']}: HTTP {status} {answer}")
    wait_for(resource["url"], resource["concept"][-1]["code"])
    print(f"{resource['url']}: {len(resource['concept'])} concepts")
