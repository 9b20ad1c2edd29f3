#!/usr/bin/env python3
"""Watched folders as their users meet them: folders.py PROGRAM [NAME...]

Each case is one promise of docs/service.md. Ends with "N passed, M failed".
"""
import csv
import io
import json
import os
import pathlib
import random
import shutil
import sys
import tempfile
import time
import traceback

sys.dont_write_bytecode = True
from serve_support import CLINIC, TOP, Service, example, named, patient_words  # noqa: E402

PROGRAM = sys.argv[1]
WORK = pathlib.Path(tempfile.mkdtemp(prefix="footbridge-folders-"))
TABLE = TOP / "examples/csv/visits.csv"
MAPS = f'[serve.maps]\npodiatry = "{TOP / "examples/csv/visits.toml"}"\n'
CASES = []


def case(function):
    CASES.append(function)
    return function


def equal(got, wanted, what=""):
    if got != wanted:
        raise AssertionError(f"{what}: {got!r:.300} instead of {wanted!r:.300}")


def holds(condition, what):
    if not condition:
        raise AssertionError(what)


def service(name, settings='format = "json"\nsettle_seconds = 0\npoll_seconds = 1\n', more="", serve=""):
    work = WORK / name
    (work / "in").mkdir(parents=True, exist_ok=True)
    return Service(PROGRAM, work, serve=f'{serve}{MAPS}[serve.folders.form]\npath = "in"\n{settings}{more}')


def put(s, name, content, folder="in"):
    """As a careful program does: written beside, then moved in."""
    text = content if isinstance(content, str) else json.dumps(content)
    beside = s.work / ("beside-" + name)
    beside.write_text(text)
    beside.rename(s.work / folder / name)


def names(s, folder):
    path = s.work / "in" / folder
    return sorted(each.name for each in path.iterdir() if each.is_file()) if path.exists() else []


def emptied(s, seconds=20):
    return s.until(lambda: not names(s, "."), seconds)


def rows(s):
    found = []
    for state in ("ready", "delivered", "refused", "held"):
        done = s.run("outbox", "list", "--json", "--state", state)
        found += [json.loads(line) for line in done.stdout.splitlines()]
    return sorted(found, key=lambda row: row["row"])


def values(s):
    return sorted(row["assessment"]["value"] for row in rows(s))


# --- what is taken

@case
def a_file_is_stored_delivered_and_moved_to_done():
    with service("one") as s:
        put(s, "visit.json", example())
        holds(emptied(s), "it was not taken")
        equal(names(s, "done"), ["visit.json"])
        equal(json.loads((s.work / "in/done/visit.json").read_text()), example(), "the file as it came")
        holds(s.until(lambda: len(list((s.work / "box").glob("*.json"))) == 1), "it was not delivered")
        equal(values(s), ["MF-26-0001"])


@case
def files_that_wait_at_the_start_are_taken():
    s = service("waiting")
    for number in range(5):
        put(s, f"{number}.json", named(f"W-{number}"))
    with s:
        holds(emptied(s), "they were not taken")
        equal(values(s), [f"W-{number}" for number in range(5)])


@case
def all_examples_give_the_bundles_that_convert_makes():
    with service("same") as s:
        for file in CLINIC.glob("*.json"):
            put(s, file.name, file.read_text())
        holds(s.until(lambda: len(list((s.work / "box").glob("*.json"))) == len(list(CLINIC.glob("*.json")))),
              "not all were delivered")
        s.run("convert", "--quiet", "--patient", "logical", "--out", "converted", *map(str, CLINIC.glob("*.json")))
        for file in (s.work / "converted").glob("*.json"):
            equal((s.work / "box" / file.name).read_text(), file.read_text(), file.name)


@case
def lines_are_taken_one_by_one():
    with service("lines", 'format = "ndjson"\nsettle_seconds = 0\npoll_seconds = 1\n') as s:
        good = [json.dumps(named(f"L-{number}")) for number in range(3)]
        put(s, "day.ndjson", "\n".join([*good[:2], '{"schema": 1', good[2]]) + "\n")
        holds(emptied(s), "it was not taken")
        equal(values(s), ["L-0", "L-1", "L-2"])
        equal(names(s, "done"), ["day.ndjson", "day.ndjson.issues.txt"])
        reasons = (s.work / "in/done/day.ndjson.issues.txt").read_text()
        holds("day.ndjson:3: refused" in reasons, f"which line it was is not told: {reasons:.200}")
        aside = names(s, "set-aside")
        equal(len(aside), 2, f"the line and its reasons, not {aside}")


@case
def a_table_leaves_its_wrong_rows_ready_to_be_mended():
    with service("table", 'format = "csv"\nmap = "podiatry"\nsettle_seconds = 0\npoll_seconds = 1\n') as s:
        put(s, "visits.csv", TABLE.read_text(encoding="utf-8"))
        holds(emptied(s), "it was not taken")
        equal(len(rows(s)), 51, "rows stored")
        equal(names(s, "done"), ["visits.csv", "visits.csv.issues.txt"])
        aside = [name for name in names(s, "set-aside") if name.endswith(".csv")]
        equal(len(aside), 1, "one table of what was set aside")
        kept = list(csv.reader(io.StringIO((s.work / "in/set-aside" / aside[0]).read_text(encoding="utf-8-sig"))))
        equal(len(kept), 10, "its header and nine rows")
        # One of them is mended and the file put back as a whole: it completes what is there.
        text = (s.work / "in/set-aside" / aside[0]).read_text(encoding="utf-8")
        mended = text.replace("31/04/2026", "30/04/2026")
        holds(mended != text, "there was something to mend")
        put(s, aside[0], mended)
        holds(emptied(s), "the mended table was not taken")
        equal(len(rows(s)), 52, "rows stored")


@case
def a_correction_put_in_later_follows_its_original():
    with service("order") as s:
        put(s, "b.json", named("O-1"))
        time.sleep(0.02)
        put(s, "a.json", named("O-1", revision=2))
        holds(emptied(s), "they were not taken")
        holds(s.until(lambda: all(row["state"] == "delivered" for row in rows(s))), "not all were delivered")
        equal([row["revision"] for row in rows(s)], [1, 2], "in the order in which they were written")


# --- what is not

@case
def what_was_refused_stands_in_set_aside_with_its_reasons():
    with service("refused") as s:
        wrong = example()
        wrong["patient"]["birthDate"] = "2031-01-01"
        put(s, "wrong.json", wrong)
        put(s, "empty.json", "")
        put(s, "good.json", named("R-1"))
        holds(emptied(s), "they were not taken")
        equal(values(s), ["R-1"])
        aside = names(s, "set-aside")
        holds(any(name.startswith("wrong") and name.endswith(".issues.json") for name in aside), f"{aside}")
        said = (s.work / "in/done/wrong.json.issues.txt").read_text()
        holds(said.startswith("wrong.json: refused\n  error /patient/birthDate"), said[:100])
        holds((s.work / "in/done/empty.json.issues.txt").exists(), "that the file is empty is told")


@case
def other_content_of_a_revision_is_told_and_changes_nothing():
    with service("differs") as s:
        put(s, "a.json", named("D-1"))
        holds(emptied(s), "it was not taken")
        other = named("D-1")
        other["legs"]["right"]["ankle"]["dorsalisPedis"] = 99
        put(s, "a.json", other)
        holds(emptied(s), "the second was not taken")
        equal(len(rows(s)), 1, "rows")
        equal(names(s, "done"), ["a.2.json", "a.2.json.issues.txt", "a.json"], "nothing is written over")
        holds("higher revision" in (s.work / "in/done/a.2.json.issues.txt").read_text(), "how to mend it")


@case
def the_same_file_again_is_known():
    with service("again") as s:
        for _ in range(3):
            put(s, "a.json", named("A-1"))
            holds(emptied(s), "it was not taken")
        equal(len(rows(s)), 1, "rows")
        equal(names(s, "done"), ["a.2.json", "a.3.json", "a.json"])
        equal(s.metric('footbridge_intake_assessments_total{outcome="known"}'), 2.0, "known")


@case
def what_is_still_being_written_is_left():
    with service("writing", 'format = "json"\nsettle_seconds = 2\npoll_seconds = 1\n') as s:
        text = json.dumps(example())
        with open(s.work / "in/slow.json", "w") as file:
            for start in range(0, len(text), len(text) // 5 + 1):
                file.write(text[start:start + len(text) // 5 + 1])
                file.flush()
                time.sleep(0.7)
        equal(names(s, "set-aside"), [], "half a file was taken")
        for name in (".hidden.json", "a.json.part", "b.json.tmp", "~c.json", "d.json~", "e.PARTIAL"):
            (s.work / "in" / name).write_text(json.dumps(named("never")))
        holds(s.until(lambda: names(s, "done") == ["slow.json"]), "the finished file was not taken")
        time.sleep(3)
        equal(len(names(s, ".")), 6, "unfinished names are left")
        equal(values(s), ["MF-26-0001"])
        (s.work / "in/a.json.part").rename(s.work / "in/a.json")
        holds(s.until(lambda: "a.json" in names(s, "done")), "it was not taken once it had its name")


@case
def links_pipes_folders_and_large_files():
    with service("odd", more="", serve="max_megabytes = 1\n") as s:
        (s.work / "elsewhere.json").write_text(json.dumps(named("E-1")))
        (s.work / "in/link.json").symlink_to(s.work / "elsewhere.json")
        os.mkfifo(s.work / "in/pipe.json")
        (s.work / "in/sub").mkdir()
        (s.work / "in/sub/inner.json").write_text(json.dumps(named("E-2")))
        put(s, "large.json", " " * (1 << 20) + json.dumps(named("E-3")))
        put(s, "good.json", named("E-4"))
        holds(s.until(lambda: names(s, "done") == ["good.json"]), "the good one was not taken")
        holds(s.until(lambda: "large.json" in names(s, "set-aside")), "the large one was not set aside")
        holds("larger than" in (s.work / "in/set-aside/large.json.issues.txt").read_text(), "why")
        holds((s.work / "in/link.json").is_symlink(), "the link is left")
        holds("links are not followed" in (s.work / "in/set-aside/link.json.issues.txt").read_text(), "why not")
        holds((s.work / "in/set-aside/pipe.json.issues.txt").exists(), "the pipe is told of")
        equal(values(s), ["E-4"])


@case
def a_folder_that_comes_later_and_goes():
    with service("late") as s:
        (s.work / "in").rmdir()
        holds(s.until(lambda: s.metric('footbridge_alarm{kind="folder"}') == 1), "no alarm that it is gone")
        (s.work / "in").mkdir()
        put(s, "a.json", named("C-1"))
        holds(emptied(s), "it was not taken once the folder was there")
        holds(s.until(lambda: s.metric('footbridge_alarm{kind="folder"}') == 0), "the alarm did not end")
        shutil.rmtree(s.work / "in")
        (s.work / "in").mkdir()
        put(s, "b.json", named("C-2"))
        holds(emptied(s), "it was not taken from the folder that took its place")
        equal(values(s), ["C-1", "C-2"])


@case
def what_cannot_be_moved_is_taken_once_and_is_an_alarm():
    if os.geteuid() == 0:
        # Rights do not hold root back: a plain file where the folder should be does.
        with service("stuck", more='done = "nowhere"\n') as s:
            (s.work / "nowhere").write_text("")
            put(s, "a.json", named("S-1"))
            holds(s.until(lambda: s.metric('footbridge_alarm{kind="folder"}') == 1), "no alarm")
            time.sleep(2.5)
            equal(values(s), ["S-1"], "stored once")
            (s.work / "nowhere").unlink()
            holds(emptied(s), "it was not moved once it could be")
            holds(s.until(lambda: s.metric('footbridge_alarm{kind="folder"}') == 0), "the alarm did not end")


@case
def faults_of_the_configuration():
    for settings, said in (('format = "xml"\n', "format"), ('format = "csv"\n', "map"),
                           ('format = "json"\nmap = "podiatry"\n', "map"), ("pol_seconds = 3\n", "poll_seconds")):
        s = service("config", settings)
        done = s.run("serve")
        equal(done.returncode, 2, settings)
        holds(said in done.stderr, f"{said} is not named: {done.stderr:.300}")


# --- killed

@case
def killed_at_any_moment_nothing_is_lost_or_doubled():
    chance = random.Random(7)
    s = service("killed")
    wanted = [f"K-{number:04}" for number in range(400)]
    waiting = list(wanted)
    for _ in range(8):
        s.start()
        end = time.time() + chance.uniform(0.2, 1.0)
        while time.time() < end and waiting:
            value = waiting.pop()
            put(s, value + ".json", named(value))
        s.kill()
    for value in waiting:
        put(s, value + ".json", named(value))
    with s:
        holds(emptied(s, 60), f"{len(names(s, '.'))} were not taken")
        equal(values(s), wanted, "each once")
        equal(names(s, "done"), [value + ".json" for value in wanted], "each file is there")
        equal(names(s, "set-aside"), [], "nothing was refused")
        holds(s.until(lambda: len(list((s.work / "box").glob("*.json"))) == len(wanted), 60), "not all were delivered")


@case
def trail_and_journal_hold_no_names_of_files():
    with service("trail") as s:
        put(s, "Askerby-Rhona.json", example())
        holds(emptied(s), "it was not taken")
        trail = (s.work / "data/audit.log").read_text()
        holds('"who":"folder form"' in trail and '"what":"file"' in trail, "the trail has the file")
        text = trail + s.log() + s.curl("/metrics").body
        leaked = [word for word in [*patient_words(), "Askerby"] if word in text]
        equal(leaked, [], "what must not be there")
        equal(s.run("audit", "verify").returncode, 0, "the trail is sound")


def main():
    passed = failed = 0
    try:
        for each in CASES:
            if sys.argv[2:] and not any(word in each.__name__ for word in sys.argv[2:]):
                continue
            began = time.time()
            try:
                each()
                passed += 1
                print(f"{time.time() - began:5.1f} s  {each.__name__.replace('_', ' ')}", flush=True)
            except Exception:
                failed += 1
                print(f"FAILED: {each.__name__.replace('_', ' ')}")
                print("".join(traceback.format_exc().splitlines(keepends=True)[-8:]), flush=True)
    finally:
        shutil.rmtree(WORK, ignore_errors=True)
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed or not passed else 0)


if __name__ == "__main__":
    main()
