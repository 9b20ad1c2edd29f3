#!/usr/bin/env python3
"""The coded table read back by Python's own csv and json: every figure of the input is in it, and no person.

    export.py --program FOOTBRIDGE --work DIR INPUT...

The pseudonyms are keyed (UK GDPR recital 26: without the key nobody is found again); the quoting is RFC 4180's.
"""
import csv
import io
import json
import pathlib
import subprocess
import sys

sys.dont_write_bytecode = True
from written import Written  # noqa: E402

options = Written()
work, holds = options.work, options.holds


def run(*arguments, key="key"):
    return subprocess.run([options.program, "export", "--key", str(work / key), *arguments], capture_output=True)


def rows(text):
    return list(csv.DictReader(io.StringIO(text.decode(), newline="")))


first = run(*options.inputs)
table = rows(first.stdout)
visits = [json.loads(pathlib.Path(name).read_text()) for name in options.inputs]
holds("it ends well", first.returncode == 0)
holds("each line ends as RFC 4180 says", first.stdout.endswith(b"\r\n") and first.stdout.count(b"\r\n") == len(table) + 1)
holds("one visit for each input", len({row["visit"] for row in table}) == len(visits))
holds("every row says what it is", all(row["code"] and row["kind"] and row["measured"] for row in table))
holds("every row holds something", all(row["value"] or row["answer"] or row["absent"] or row["kind"] == "flag"
                                       for row in table))
holds("a figure has a unit", all(row["unit"] or row["code"].startswith("pulse") for row in table if row["value"]))

words = set()
for visit in visits:
    words.update(filter(None, [visit["patient"].get("family"), *visit["patient"].get("given", []), visit.get("note"),
                               visit["performer"].get("name"), visit["identifier"]["value"],
                               *(each["value"] for each in visit["patient"]["identifiers"]),
                               *(each.get("serial") for each in visit.get("instruments", []))]))
holds("no name, number or note is in it", not [word for word in words if word in first.stdout.decode()])

# Each plain ankle, toe and arm pressure of the input, found by a way of its own.
CODES = {"dorsalisPedis": "ankle-pressure-dorsalis-pedis", "posteriorTibial": "ankle-pressure-posterior-tibial"}
for visit in visits:
    day = visit["measuredAt"][:10]
    mine = [row for row in table if row["measured"] == day]
    for side, leg in visit.get("legs", {}).items():
        for artery, code in CODES.items():
            value = leg.get("ankle", {}).get(artery)
            value = value.get("value") if isinstance(value, dict) and "unit" not in value else value
            if not isinstance(value, (int, float)):
                continue
            holds(f"{visit['identifier']['value']} {artery} {side}",
                  any(row["side"] == side and float(row["value"]) == value
                      and row["unit"] == "mm[Hg]" for row in mine if row["code"] == code and row["value"]))

# Which toe, and by which sensor.
METHODS = {"photoplethysmography": "method-photoplethysmography", "laser-doppler": "method-laser-doppler",
           "doppler": "method-doppler"}
for visit in visits:
    for side, leg in visit.get("legs", {}).items():
        toe = leg.get("toe", {})
        if not isinstance(toe.get("pressure"), (int, float)):
            continue
        digit = toe["digit"] + "-" if toe.get("digit") else ""
        holds(f"{visit['identifier']['value']} toe {side}",
              any(row["site"] == f"site-{digit}toe-{side}" and row["method"] == METHODS.get(toe.get("sensor"), "")
                  for row in table if row["code"] == "toe-pressure" and row["measured"] == visit["measuredAt"][:10]))

again = run(*options.inputs)
holds("the same key gives the same bytes", again.stdout == first.stdout)
other = rows(run(*options.inputs, key="other").stdout)
holds("another key gives other pseudonyms", not {row["patient"] for row in other} & {row["patient"] for row in table})
holds("and the same figures", [row["value"] for row in other] == [row["value"] for row in table])
lines = [json.loads(line) for line in run("--as", "ndjson", *options.inputs).stdout.decode().splitlines()]
holds("the lines hold the cells", lines == [{k: v for k, v in row.items() if v} for row in table])
holds("the key is for its owner alone", (work / "key").stat().st_mode & 0o77 == 0)
(work / "key").chmod(0o644)
holds("a key that others may read is refused", run(*options.inputs).returncode == 2)
holds("without a key nothing is written", subprocess.run([options.program, "export", *options.inputs],
                                                         capture_output=True).returncode == 2)
bad = work / "bad.json"
bad.write_text("{}")
mixed = run(str(bad), options.inputs[0], key="other")
holds("what is refused is told and the rest goes on", mixed.returncode == 1 and len(rows(mixed.stdout)) > 10
      and b"1 set aside" in mixed.stderr)
options.end()
