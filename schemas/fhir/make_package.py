#!/usr/bin/env python3
"""Makes the FHIR package: make_package.py --mapping DIR --program FOOTBRIDGE --examples DIR --out FILE.tgz [--form FILE]

The profiles, value sets and maps come from mapping/, the code system and the examples from the program itself,
so that what is published is what is written. The same input gives the same bytes; nothing is fetched.
"""

import argparse
import gzip
import io
import json
import subprocess
import sys
import tarfile
from pathlib import Path

from catalogue import Catalogue
from digits import read, text_of
from profiles import Profiles, narrative
from questionnaire import questionnaire
from terminology import ValueSets, concept_maps

HERE = Path(__file__).resolve().parent
NAME = "footbridge.fhir"
# The day on which what is published was last changed; not the day of the build, which would change the bytes.
DATE = "2026-11-25"


def run(program, *arguments):
    return subprocess.run([str(program), *arguments], check=True, capture_output=True, text=True).stdout


def bases():
    return {path.stem: json.loads(path.read_text(encoding="utf-8")) for path in (HERE / "base").glob("*.json")}


def examples(program, directory):
    """The first examples as the program writes them, with profiles."""
    out = []
    for path in sorted(Path(directory).glob("*.json")):
        bundle = read(run(program, "convert", "--profiles", "ours", "--quiet", str(path)))
        out.append({"resourceType": "Bundle", "id": "example-" + path.stem, **bundle})
    return out


def capability_statement(catalogue, version):
    """What a record server has to do for the bundles to arrive."""
    title = "What Footbridge asks of a record server"
    text = ("A transaction with conditional creates and conditional updates by identifier; a search for the patient "
            "by identifier. Where a server has no transaction, the resources are sent one by one.")
    profile = catalogue.base + "/fhir/StructureDefinition/"

    def resource(name, *profiles, search="identifier"):
        kind = {"identifier": "token", "_tag": "token"}[search]
        out = {"type": name, "interaction": [{"code": "create"}, {"code": "update"}, {"code": "search-type"}],
               "conditionalCreate": True, "conditionalUpdate": True,
               "searchParam": [{"name": search, "type": kind}]}
        if profiles:
            out["supportedProfile"] = [profile + each for each in profiles]
        return out

    return {
        "resourceType": "CapabilityStatement", "id": "record-server",
        "text": {"status": "generated", "div": narrative(title, text)},
        "url": catalogue.base + "/fhir/CapabilityStatement/record-server", "version": version,
        "name": "FootbridgeRecordServer", "title": title, "status": "active", "experimental": False, "date": DATE,
        "publisher": "Footbridge", "description": text, "kind": "requirements", "fhirVersion": "4.0.1",
        "format": ["json"],
        "rest": [{
            "mode": "server", "documentation": text,
            "resource": [
                resource("Observation", *[kind.id for kind in catalogue.kinds]),
                resource("DiagnosticReport", "arterial-assessment"),
                resource("Provenance", "provenance", search="_tag"),
                resource("Device", "instrument"),
                {"type": "Patient", "supportedProfile": [profile + "patient"],
                 "interaction": [{"code": "read"}, {"code": "search-type"}],
                 "searchParam": [{"name": "identifier", "type": "token"}]},
            ],
            "interaction": [{"code": "transaction"}],
        }],
    }


def implementation_guide(catalogue, version, resources):
    title = "Footbridge: readings of a lower-limb arterial assessment"
    text = "Every resource that Footbridge writes, with its codes and where they come from."
    return {
        "resourceType": "ImplementationGuide", "id": NAME,
        "text": {"status": "generated", "div": narrative(title, text)},
        "url": f"{catalogue.base}/fhir/ImplementationGuide/{NAME}", "version": version, "name": "FootbridgeFhir",
        "title": title, "status": "active", "experimental": False, "date": DATE, "publisher": "Footbridge",
        "description": text, "packageId": NAME, "license": "MIT", "fhirVersion": ["4.0.1"],
        "definition": {"resource": [
            {"reference": {"reference": f"{r['resourceType']}/{r['id']}"}, "name": r.get("title", r["id"]),
             "exampleBoolean": r["resourceType"] == "Bundle"} for r in resources]},
    }


def package_json(catalogue, version):
    return {
        "name": NAME, "version": version, "type": "IG", "tools-version": 3, "license": "MIT",
        "canonical": catalogue.base + "/fhir", "url": catalogue.base + "/fhir",
        "title": "Footbridge", "description": "Every resource that Footbridge writes, as FHIR R4 profiles and codes.",
        "fhirVersions": ["4.0.1"], "dependencies": {"hl7.fhir.r4.core": "4.0.1"}, "author": "Footbridge",
        "date": DATE.replace("-", "") + "000000", "directories": {"lib": "package", "example": "example"},
    }


INDEXED = ("url", "version", "kind", "type", "supplements", "content", "valueSet", "derivation")


def index(files):
    """.index.json of the package format, version 2."""
    out = []
    for name, resource in files:
        row = {"filename": name, "resourceType": resource["resourceType"], "id": resource["id"]}
        row.update({key: resource[key] for key in INDEXED if isinstance(resource.get(key), str)})
        out.append(row)
    return {"index-version": 2, "files": out}


def write(path, members):
    """A tar of sorted names without times or owners, in a gzip without a time."""
    tar = io.BytesIO()
    with tarfile.open(fileobj=tar, mode="w", format=tarfile.USTAR_FORMAT) as archive:
        for name, text in sorted(members.items()):
            data = text.encode()
            header = tarfile.TarInfo(name)
            header.size = len(data)
            header.mode = 0o644
            archive.addfile(header, io.BytesIO(data))
    Path(path).write_bytes(gzip.compress(tar.getvalue(), mtime=0))


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    for name in ("mapping", "program", "examples", "out"):
        parser.add_argument("--" + name, required=True)
    parser.add_argument("--form", help="write the Questionnaire to this file too")
    options = parser.parse_args()
    code_system = json.loads(run(options.program, "--tables", options.mapping, "codes", "list", "--fhir"))
    version = code_system["version"]
    catalogue = Catalogue(options.mapping)
    value_sets = ValueSets(catalogue, version)
    resources = [code_system, *value_sets.all(), *concept_maps(catalogue, version),
                 *Profiles(catalogue, bases(), version, value_sets).all(), capability_statement(catalogue, version)]
    form = questionnaire(catalogue, version, DATE)
    resources.append(form)
    shown = examples(options.program, options.examples)
    guide = implementation_guide(catalogue, version, resources + shown)
    members = {"package/package.json": text_of(package_json(catalogue, version))}
    for folder, group in (("package", resources + [guide]), ("package/example", shown)):
        files = sorted((f"{r['resourceType']}-{r['id']}.json", r) for r in group)
        members.update({f"{folder}/{name}": text_of(resource) for name, resource in files})
        members[f"{folder}/.index.json"] = text_of(index(files))
    write(options.out, members)
    if options.form:
        Path(options.form).write_text(json.dumps(form, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    print(f"{options.out}: {len(resources) + 1} definitions, {len(shown)} examples")


if __name__ == "__main__":
    sys.exit(main())
