#!/usr/bin/env python3
"""Each way of storing a visit, from end to end on a record server that lacks the better ways.

    strategies.py --program FOOTBRIDGE --server "node tests/peers/npm/record-server.mjs" --work DIR
        [--unlisted batch,client-ids]

The server is told for each strategy what it lacks, and refuses that. It is asked by `probe`, sent some
visits, sent them again by a bridge that has lost its outbox, broken off after and before it stored
something, and killed several times while it is sent to. In the end it has to hold each resource once,
beside those of the strategies before. A strategy that it can take though its statement does not list
what that needs is named by --unlisted: then it is pinned. Ends with "N passed, M failed".
"""
import argparse
import json
import pathlib
import shlex
import shutil
import signal
import subprocess
import sys
import time

sys.dont_write_bytecode = True
from corrections import SYSTEM, TOP, Server  # noqa: E402

# What the server lacks, and the strategy that has to be chosen because of it.
# The preset of that kind of server pins it, too.
CASES = [("", "transaction", "whole-visits"),
         ("transaction", "batch", "batches"),
         ("transaction,batch", "single", "one-by-one"),
         ("transaction,batch,conditionalCreate", "client-ids", "own-ids"),
         ("transaction,batch,conditionalCreate,updateCreate", "conditional-update", "replacing"),
         ("transaction,batch,conditionalCreate,updateCreate,conditionalUpdate", "search", "plain")]
KILLS = (0.03, 0.08, 0.15, 0.25, 0.4)  # seconds after the start of a run
FAULTS = ({"drop": True, "commit": True}, {"drop": True}, {"status": 503}, {"status": 500, "commit": True})


class Record:
    """The server, and the files whose visits it has to hold."""

    def __init__(self, options):
        port = pathlib.Path(options.work) / "port"
        port.parent.mkdir(parents=True, exist_ok=True)
        port.unlink(missing_ok=True)
        self.process = subprocess.Popen([*shlex.split(options.server), "--port", "0", "--port-file", str(port)])
        for _ in range(1200):
            if port.exists():
                break
            time.sleep(0.1)
        self.server = Server(f"http://127.0.0.1:{port.read_text().strip()}")
        self.files = []

    def lack(self, abilities):
        self.server.ask("/$test/lacks", "POST", [each for each in abilities.split(",") if each])
        self.server.ask("/metadata")  # a statement that was kept is made anew

    def stop(self):
        self.process.terminate()
        self.process.wait()


class Case:
    def __init__(self, options, record, strategy, preset):
        self.options, self.record, self.strategy, self.preset = options, record, strategy, preset
        self.server = record.server
        self.work = pathlib.Path(options.work) / strategy
        self.work.mkdir(parents=True)
        self.source = json.loads((TOP / "examples/clinic/01-normal-both-legs.json").read_text(encoding="utf-8"))
        self.passed = self.failed = 0

    def check(self, name, holds, seen=""):
        self.passed += bool(holds)
        self.failed += not holds
        if not holds:
            print(f"FAILED: {self.strategy}: {name}: {str(seen)[:1500]}")

    def start(self):
        self.config = self.work / "footbridge.toml"
        self.listed = self.strategy not in self.options.unlisted.split(",")
        self.configure('strategy = "auto"' if self.listed else f'preset = "{self.preset}"')

    def configure(self, how):
        self.config.write_text(f'data = "data"\n[destinations.record]\nkind = "server"\nbase = "{self.server.base}"\n'
                               f'patient = "create"\n{how}\nconnections = 4\n'
                               'backoff_milliseconds = [20, 50]\n', encoding="utf-8")

    def footbridge(self, *arguments):
        return subprocess.run([self.options.program, *map(str, arguments)], capture_output=True, text=True)

    def visits(self, name, count):
        """Visits of two patients that share instruments of this case; few readings, so that the test is quick."""
        name = f"{self.strategy}-{name}"
        instruments = [{**each, "serial": f"{each['serial']}-{self.strategy}"}
                       for each in self.source["instruments"] if "serial" in each]
        out = self.work / f"{name}.ndjson"
        with out.open("w", encoding="utf-8") as file:
            for i in range(count):
                visit = {**self.source, "identifier": {"system": SYSTEM, "value": f"{name}-{i}"}}
                visit["patient"] = {"identifiers": [{"system": "https://clinic.example/patients",
                                                     "value": f"{name}-P{i % 2}"}],
                                    "family": "Invented", "birthDate": "1950-01-01"}
                visit["instruments"] = instruments
                visit["legs"] = {"right": {"ankle": self.source["legs"]["right"]["ankle"]}}
                file.write(json.dumps(visit) + "\n")
        self.record.files.append(out)
        return out

    def send(self, file, wanted=0):
        done = self.footbridge("send", "--config", self.config, "--to", "record", "--from", "ndjson", file)
        self.check(f"send ends with {wanted}", done.returncode == wanted, (done.returncode, done.stdout, done.stderr))
        return done

    def wanted(self):
        """How many resources of each type the record has to hold."""
        names = {}
        for file in self.record.files:
            done = self.footbridge("convert", "--quiet", "--patient", "create", "--from", "ndjson", file)
            for line in done.stdout.splitlines():
                for entry in json.loads(line)["entry"]:
                    names.setdefault(entry["resource"]["resourceType"], set()).add(entry["request"]["ifNoneExist"])
        return {kind: len(found) for kind, found in names.items()}

    def holds_once(self, what):
        counts, wanted = self.server.ask("/$test/counts"), self.wanted()
        counts.pop("total")
        self.check(f"{what}: each resource is there once", counts == wanted, (counts, wanted))
        self.check(f"{what}: no doubles", self.server.ask("/$test/doubles") == [])

    def probed(self):
        done = self.footbridge("probe", "--config", self.config, "--to", "record", "--json")
        told = json.loads(done.stdout)
        self.check("each has its reason", len(told["strategies"]) == len(CASES) and
                   all(row["because"] for row in told["strategies"]), told)
        if not self.listed:
            pinned = f"The configuration pins {self.strategy}."
            self.check("probe says that it is pinned", pinned in told["because"], told)
            return
        self.check("probe chooses it", told["strategy"] == self.strategy and told["usable"], done.stdout)
        self.check("probe names the preset", told.get("preset") == self.preset, told.get("preset"))
        fits = [row["strategy"] for row in told["strategies"] if row["fits"]]
        self.check("it is the first that fits", fits[:1] == [self.strategy], fits)

    def twice(self):
        first = self.visits("A", 3)
        done = self.send(first)
        told = f"sent as: {self.strategy}" in done.stderr
        self.check("send tells it", told == (self.strategy != "transaction"), done.stderr)
        self.holds_once("sent once")
        shutil.rmtree(self.work / "data")
        self.send(first)
        self.holds_once("sent again without its outbox")

    def broken(self):
        """Breaks off at several places of a visit; pinned, so that /metadata is not what breaks."""
        self.configure(f'preset = "{self.preset}"')
        for number, fault in enumerate(FAULTS):
            for after in (2, 5) if self.strategy != "transaction" else (1,):
                self.server.ask("/$test/fault", "POST", {**fault, "after": after})
                self.send(self.visits(f"B{number}{after}", 1))
        self.holds_once("after faults")

    def killed(self):
        last = self.visits("C", 6)
        for seconds in KILLS:
            process = subprocess.Popen([self.options.program, "send", "--config", self.config, "--to", "record",
                                        "--from", "ndjson", last], stdout=subprocess.DEVNULL,
                                       stderr=subprocess.DEVNULL)
            time.sleep(seconds)
            process.send_signal(signal.SIGKILL)
            process.wait()
        self.send(last)
        self.holds_once("after kills")

    def run(self):
        self.start()
        try:
            self.probed()
            self.twice()
            self.broken()
            self.killed()
        except (OSError, KeyError, ValueError) as error:
            self.check("it comes to its end", False, repr(error))


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", required=True)
    parser.add_argument("--server", required=True)
    parser.add_argument("--work", required=True)
    parser.add_argument("--unlisted", default="")
    options = parser.parse_args()
    options.program = str(pathlib.Path(options.program).resolve())
    passed = failed = 0
    record = Record(options)
    try:
        for lacks, strategy, preset in CASES:
            record.lack(lacks)
            case = Case(options, record, strategy, preset)
            case.run()
            passed, failed = passed + case.passed, failed + case.failed
    finally:
        record.stop()
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
