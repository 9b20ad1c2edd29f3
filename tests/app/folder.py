#!/usr/bin/env python3
"""The cases of folder.sh: folder.py PROGRAM [NAME...]"""
import json
import os
import pathlib
import random
import shutil
import sys
import tempfile
import time

sys.dont_write_bytecode = True
from cases import case, equal, holds, main  # noqa: E402
from serve_support import CLINIC, TOP, Service, example, named, patient_words  # noqa: E402

PROGRAM = sys.argv[1]
WORK = pathlib.Path(tempfile.mkdtemp(prefix="footbridge-folder-"))
MAPS = (f'[serve.maps]\nvisits = "{TOP}/examples/csv/visits.toml"\nclinic = "{TOP}/examples/hl7v2/clinic.toml"\n'
        f'app = "{TOP}/examples/observations/app.toml"\n')


class Folder(Service):
    """A service with one watched folder, `in`."""

    def __init__(self, name, keys="", made=True, serve="", **options):
        defaults = "".join(f"{key}\n" for key in ("stable_seconds = 1", "poll_seconds = 30") if key.split()[0] not in keys)
        super().__init__(PROGRAM, WORK / name, f'{serve}{MAPS}[serve.folders.clinic]\npath = "in"\n{defaults}{keys}',
                         **options)
        self.box = self.work / "in"
        if made:
            self.box.mkdir()

    def put(self, name, content, into=None):
        """Whole at once, as a rename does it."""
        text = content if isinstance(content, bytes) else (
            content if isinstance(content, str) else json.dumps(content)).encode()
        (self.work / "being-made").write_bytes(text)
        os.rename(self.work / "being-made", (into or self.box) / name)

    def names(self, folder):
        place = self.box / folder
        return sorted(each.name for each in place.iterdir()) if place.is_dir() else []

    def waiting(self):
        return sorted(each.name for each in self.box.iterdir() if each.name not in ("done", "set-aside"))

    def gone(self, seconds=20):
        return self.until(lambda: not self.waiting(), seconds)


@case
def files_of_every_format_are_taken_and_moved():
    for form, content, rows, keys in (
            ("json", example(), 1, ""), ("json", [named("a"), named("b")], 2, ""),
            ("ndjson", "\n".join(json.dumps(named(f"n{i}")) for i in range(70)), 70, ""),
            ("csv", b"".join((TOP / "examples/csv/visits.csv").read_bytes().splitlines(True)[:4]), 3,
             'map = "visits"\n'),
            ("hl7v2", (TOP / "examples/hl7v2/one.hl7").read_bytes(), 1, 'map = "clinic"\n'),
            ("fhir", (TOP / "examples/forms/one.json").read_bytes(), 1, ""),
            ("fhir", (TOP / "examples/observations/one.json").read_bytes(), 1, 'map = "app"\n')):
        with Folder(f"format-{form}-{rows}-{len(keys)}", f'format = "{form}"\n{keys}') as s:
            s.put("visit.x", content)
            holds(s.gone(), f"{form} stays: {s.log()[-400:]}")
            equal((s.names("done"), s.names("set-aside")), (["visit.x"], []), form)
            equal(len(s.values()), rows, form)
            original = content if isinstance(content, bytes) else (
                content if isinstance(content, str) else json.dumps(content)).encode()
            equal((s.box / "done/visit.x").read_bytes(), original, "byte for byte")
            holds(s.metric('footbridge_folder_files_total{outcome="done"}') == 1, "counted")
            trail = [line for line in (s.work / "data/audit.log").read_text().splitlines() if "folder clinic" in line]
            equal(len(trail), 1, "lines of the trail")


@case
def a_bundle_with_one_bad_assessment_is_set_aside_whole_and_its_good_one_stored():
    with Folder("bundle", 'format = "fhir"\nmap = "app"\n') as s:
        s.put("two.json", (TOP / "examples/observations/two.json").read_bytes())
        holds(s.gone(), "it stays")
        equal(s.names("set-aside"), ["two.json", "two.json.issues.json"])
        reasons = (s.box / "set-aside/two.json.issues.json").read_text()
        for word in ("mbar", "has no unit", "W9", "entry 8 valueQuantity"):
            holds(word in reasons, word)
        equal(len(s.values()), 1, "the good one")


@case
def resources_in_a_folder_of_assessments_are_set_aside_with_a_hint():
    with Folder("other") as s:
        s.put("form.json", (TOP / "examples/forms/one.json").read_bytes())
        holds(s.gone(), "it stays")
        equal(s.names("set-aside"), ["form.json", "form.json.issues.json"])
        holds("intake-resource" in (s.box / "set-aside/form.json.issues.json").read_text(), "the hint")


@case
def a_file_is_taken_once_it_is_finished():
    with Folder("partial") as s:
        text = json.dumps(example())
        with open(s.box / "slow.json", "w") as out:
            for at in range(0, len(text), len(text) // 4):
                out.write(text[at:at + len(text) // 4])
                out.flush()
                time.sleep(0.4)
            time.sleep(2.5)  # longer than stable_seconds: it is open still
            equal((s.waiting(), s.values()), (["slow.json"], []), "while it is written")
        holds(s.gone(), "it stays")
        equal((s.names("done"), s.names("set-aside"), len(s.values())), (["slow.json"], [], 1))
        lines = [json.dumps(named(f"p{i}")) for i in range(4)]
        for line in lines:  # opened and closed again for each line
            with open(s.box / "lines.ndjson", "a") as out:
                out.write(line + "\n")
            time.sleep(0.5)
        holds(s.gone(), "it stays")
        equal(len(s.values()), 5, "all lines")
        equal(s.metric("footbridge_folder_files_total"), 2, "taken once")


@case
def temporary_names_are_left_alone():
    with Folder("temporary", "stable_seconds = 0\n") as s:
        names = (".hidden.json", "a.json.tmp", "b.json.part", "~c.json", "d.json~")
        for name in names:
            s.put(name, named(name))
        s.put("real.json", named("real"))
        holds(s.until(lambda: s.values() == ["real"]), "the finished one")
        time.sleep(0.5)
        equal((s.waiting(), s.values()), (sorted(names), ["real"]))
        os.rename(s.box / "a.json.tmp", s.box / "a.json")
        holds(s.until(lambda: s.names("done") == ["a.json", "real.json"]), "renamed into place")


@case
def a_name_that_is_taken_gets_a_number():
    with Folder("collisions") as s:
        for i in range(3):
            s.put("visit.json", named(f"c{i}"))
            holds(s.gone(), "it stays")
        equal(s.names("done"), ["visit.2.json", "visit.3.json", "visit.json"])
        equal(json.loads((s.box / "done/visit.2.json").read_text())["identifier"]["value"], "c1")
        for i in range(2):
            s.put("bad.json", "{")
            holds(s.gone(), "it stays")
        equal(s.names("set-aside"), ["bad.2.json", "bad.2.json.issues.json", "bad.json", "bad.json.issues.json"])
        s.put("n" * 240 + ".json", "[")
        holds(s.gone(), "a very long name")
        equal(len(s.names("set-aside")), 6)


@case
def what_is_wrong_is_set_aside_beside_its_reasons():
    with Folder("wrong") as s:
        bad = named("w2")
        bad["arms"]["right"]["systolic"] = 13800
        s.put("several.json", [named("w1"), bad, named("w3")])
        holds(s.gone(), "it stays")
        equal(s.values(), ["w1", "w3"], "the good ones")
        equal(s.names("set-aside"), ["several.json", "several.json.issues.json"])
        issues = json.loads((s.box / "set-aside/several.json.issues.json").read_text())["issue"]
        places = [place for issue in issues for place in issue.get("location", [])]
        holds(any(place.endswith("/arms/right/systolic") for place in places), f"{places}")
        equal(list((s.work / "data/set-aside").glob("*")) if (s.work / "data/set-aside").exists() else [], [], "kept once")
        mended = json.loads((s.box / "set-aside/several.json").read_text())
        mended[1]["arms"]["right"]["systolic"] = 138
        s.put("several.json", mended)
        holds(s.gone(), "it stays")
        equal((s.values(), s.names("done")), (["w1", "w2", "w3"], ["several.json"]), "mended and put back")
        other = named("w1")
        other["arms"]["right"]["systolic"] = 131
        s.put("other.json", other)
        holds(s.gone(), "it stays")
        holds("other.json" in s.names("set-aside"), "other content of the same revision")
    with Folder("wrong-csv", 'format = "csv"\nmap = "visits"\n') as s:
        s.put("table.csv", "no,such,columns\n1,2,3\n")
        holds(s.gone(), "it stays")
        equal(s.names("set-aside"), ["table.csv", "table.csv.issues.txt"])
        holds((s.box / "set-aside/table.csv.issues.txt").read_text().strip(), "reasons")
        s.put("header.csv", (TOP / "examples/csv/visits.csv").read_bytes().splitlines(True)[0])
        holds(s.gone(), "a header alone stays")
        holds("no rows below it" in (s.box / "set-aside/header.csv.issues.txt").read_text(), "a header alone is no success")


@case
def what_is_no_sound_file_is_set_aside_with_a_clear_reason():
    with Folder("unsound", "max_megabytes = 1\n") as s:
        (s.box / "empty.json").touch()
        (s.box / "large.json").write_bytes(b" " * ((1 << 20) + 1))
        secret = s.work / "secret.json"
        secret.write_text(json.dumps(named("secret")))
        (s.box / "link.json").symlink_to(secret)
        os.mkfifo(s.box / "pipe.json")
        (s.box / "below").mkdir()
        (s.box / "below/inner.json").write_text(json.dumps(named("inner")))
        reasons = {"empty.json": "is empty", "large.json": "longer than 1048576 bytes", "link.json": "is a link",
                   "pipe.json": "no regular file"}
        if os.geteuid() != 0:
            (s.box / "locked.json").write_text(json.dumps(named("locked")))
            (s.box / "locked.json").chmod(0)
            reasons["locked.json"] = "may not read"
        holds(s.until(lambda: s.waiting() == ["below"]), f"left: {s.waiting()}")
        for name, reason in reasons.items():
            text = (s.box / "set-aside" / (name + ".issues.json")).read_text()
            holds(reason in text, f"{name}: {text}")
        equal(s.values(), [], "nothing of them")
        equal(json.loads(secret.read_text())["identifier"]["value"], "secret", "the target of the link stays")
        holds((s.box / "below/inner.json").exists() and '"sub-folders"' in s.log(), "sub-folders stay and are told")


@case
def without_being_told_of_changes_it_looks_by_itself():
    first, second = WORK / "drive-1", WORK / "drive-2"
    first.mkdir(), second.mkdir()
    s = Folder("poll", "poll_seconds = 1\n", made=False)
    s.box.symlink_to(first)
    with s:
        time.sleep(0.5)
        # What is mounted over a folder is like this: the system tells of the one below.
        (s.work / "link").symlink_to(second)
        os.rename(s.work / "link", s.box)
        (second / "far.json").write_text(json.dumps(named("far")))
        holds(s.until(lambda: s.values() == ["far"]), "not taken")
        holds(s.until(lambda: (second / "done/far.json").exists()), "not moved")


@case
def a_folder_that_is_away_is_an_alarm_until_it_is_back():
    s = Folder("away", "poll_seconds = 1\n", made=False)
    with s:
        holds(s.until(lambda: any(each.startswith("folder") for each in s.curl("/health/ready").json()["alarms"])),
              "no alarm")
        s.box.mkdir()
        s.put("back.json", named("back"))
        holds(s.until(lambda: s.values() == ["back"]), "not taken")
        holds(s.until(lambda: not any(each.startswith("folder") for each in s.curl("/health/ready").json()["alarms"])),
              "the alarm stays")


@case
def a_file_that_cannot_be_moved_stays_and_is_stored_once():
    s = Folder("stuck", 'poll_seconds = 1\ndone = "taken"\n')
    (s.work / "taken").write_text("a file where the folder should be")
    with s:
        s.put("stuck.json", named("stuck"))
        holds(s.until(lambda: s.values() == ["stuck"]), "not stored")
        holds(s.until(lambda: any(each.startswith("folder") for each in s.curl("/health/ready").json()["alarms"])),
              "no alarm")
        equal(s.waiting(), ["stuck.json"])
        (s.work / "taken").unlink()
        holds(s.gone(), "it is moved once it can be")
        equal((s.values(), os.listdir(s.work / "taken")), (["stuck"], ["stuck.json"]))


@case
def a_file_that_is_replaced_while_it_is_stored_is_read_too():
    with Folder("replaced", "stable_seconds = 0\n") as s:
        for round_ in range(12):
            s.put("visits.json", [named(f"r{round_}-{i}") for i in range(60)])
            time.sleep(0.15)
        holds(s.gone(), "it stays")
        read = {value.split("-")[0] for value in s.values()}
        done = {json.loads((s.box / "done" / name).read_text())[0]["identifier"]["value"].split("-")[0]
                for name in s.names("done")}
        holds(done and done <= read, f"moved unread: {sorted(done - read)}")
        equal(s.names("set-aside"), [])


@case
def a_file_that_was_being_moved_when_the_service_ended_is_taken_again():
    s = Folder("moving")
    (s.box / ".footbridge-moving.visit.json").write_text(json.dumps(named("moving")))
    with s:
        holds(s.gone(), "it stays")
        equal((s.values(), s.names("done")), (["moving"], ["visit.json"]))


@case
def done_may_be_on_another_drive():
    elsewhere = pathlib.Path(tempfile.mkdtemp(prefix="footbridge-folder-", dir="/dev/shm"))
    try:
        holds(elsewhere.stat().st_dev != WORK.stat().st_dev, "two drives")
        with Folder("drives", f'done = "{elsewhere}/done"\n') as s:
            s.put("far.json", example())
            holds(s.gone(), "it stays")
            equal(json.loads((elsewhere / "done/far.json").read_text()), example())
    finally:
        shutil.rmtree(elsewhere)


@case
def revisions_are_taken_in_the_order_of_their_files():
    s = Folder("order")
    for revision in (1, 2, 3):
        read = named("o", revision)
        file = s.box / f"{9 - revision}.json"
        file.write_text(json.dumps(read))
        os.utime(file, (1_790_000_000 + revision, 1_790_000_000 + revision))
    with s:
        holds(s.gone(), "they stay")
        equal([row["revision"] for row in s.rows()], [1, 2, 3])
        holds(s.until(lambda: all(row["state"] == "delivered" for row in s.rows())), "none is held")


@case
def thousands_of_files():
    count = int(os.environ.get("FOOTBRIDGE_FOLDER_FILES", "2000"))
    with Folder("thousands") as s:
        began = time.time()
        for i in range(count):
            read = named(f"t{i}")
            read["patient"]["identifiers"] = [{"system": "https://clinic.example/p", "value": f"t{i}"}]
            s.put(f"{i}.json", read)
        holds(s.gone(300), f"{len(s.waiting())} stay")
        print(f"       {count} files in {time.time() - began:.1f} s")
        values = s.values()
        equal((len(values), len(set(values)), len(s.names("done"))), (count, count, count))


@case
def killed_at_any_moment_nothing_is_lost_or_taken_twice():
    count = int(os.environ.get("FOOTBRIDGE_FOLDER_FILES", "600"))
    kills = int(os.environ.get("FOOTBRIDGE_FOLDER_KILLS", "6"))
    random.seed(3)
    s = Folder("kill", "stable_seconds = 0\n")
    bad = 0
    interrupted = 0

    def put(i):
        read = named(f"k{i}")
        read["patient"]["identifiers"] = [{"system": "https://clinic.example/p", "value": f"k{i}"}]
        if i % 20 == 7:
            read["arms"]["right"]["systolic"] = 13800
        s.put(f"{i}.json", read)
        return i % 20 == 7

    # Before each run as many more are put there as take it longer than it is given.
    rounds = [range(count)[number::kills + 1] for number in range(kills + 1)]
    for numbers in rounds[:-1]:
        bad += sum(put(i) for i in numbers)
        left = len(s.waiting())
        s.start()
        s.until(lambda: len(s.waiting()) < left, 60, 0.002)
        time.sleep(random.uniform(0, 0.05))
        s.kill()
        interrupted += 1 if s.waiting() else 0
    holds(interrupted > kills // 2, f"only {interrupted} of {kills} runs were killed with something left to do")
    bad += sum(put(i) for i in rounds[-1])
    with s:
        holds(s.gone(120), "they stay")
        values = s.values()
        equal((len(values), len(set(values))), (count - bad, count - bad), "rows")
        equal(len(s.names("done")), count - bad, "done")
        aside = s.names("set-aside")
        equal(len([each for each in aside if not each.endswith(".issues.json")]), bad, "set aside")
        holds(all(each + ".issues.json" in aside for each in aside if not each.endswith(".issues.json")), "reasons")
    print(f"       {count} files, {kills} kills")
    equal(s.run("audit", "verify").returncode, 0, "the trail")


@case
def faults_of_the_configuration_are_told():
    for keys, told in (('format = "xml"\n', "format cannot be"), ('format = "csv"\n', "needs a source map"),
                       ('map = "visits"\n', "JSON needs no source map"), ('format = "csv"\nmap = "x"\n', "no source map"),
                       ('done = "in"\n', "is the watched folder itself"), ('set_aside = "in/"\n', "is the watched folder"),
                       ('format = "csv"\nmap = "clinic"\n', "is not one of tables"), ("stabel = 1\n", "no key"),
                       ('done = "box"\n[serve.folders.second]\npath = "in"\n', "what is also serve.folders.second"),
                       ('[serve.folders.second]\npath = "in/done"\n', "what is also done of serve.folders.clinic"),
                       ('[serve.folders.second]\npath = "box"\n', "what is also destinations.box")):
        s = Folder("faults", keys, made=False)
        done = s.run("serve")
        equal(done.returncode, 2, told)
        holds(told in done.stderr, f"{told}: {done.stderr}")


@case
def nothing_about_patients_is_in_journal_trail_and_metrics():
    words = patient_words()
    with Folder("leaks") as s:
        for file in CLINIC.glob("*.json"):
            s.put(f"Hollins 9992900741 {file.name}", file.read_bytes())
        s.put("Hollins 9992900741 bad.json", '{"patient": {"family": "Hollins"')
        holds(s.gone(40), "they stay")
        text = s.curl("/metrics").body
        s.stop()
        text += s.log() + (s.work / "data/audit.log").read_text()
    holds(text.count('"folder clinic"') > 40, "each is in journal and trail")
    equal({word for word in words | {"Hollins", "9992900741"} if word in text}, set(), "patient data")


if __name__ == "__main__":
    main(sys.argv[2:], lambda: shutil.rmtree(WORK, ignore_errors=True))
