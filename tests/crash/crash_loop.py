#!/usr/bin/env python3
"""Kills the program again and again while it delivers, and counts what a record server then holds.

    crash_loop.py --program FOOTBRIDGE --input FILE.ndjson --work DIR [--kills N] [--seed N]
        [--server "node tests/peers/npm/record-server.mjs"]

Each round offers a little more of the input to `footbridge send`, has the record server go wrong in
ways drawn from the seed (503, 429, connections dropped before and after the commit, answers lost) and
kills the program with SIGKILL at a moment drawn from the seed. At the end everything is sent without
faults, and programs that share no code with Footbridge count: exactly one of each resource, none
missing, none different. Any record server will do that takes faults as that of tests/peers/npm does.
"""
import argparse
import collections
import json
import pathlib
import random
import re
import shlex
import subprocess
import sys
import time
import urllib.request

TOP = pathlib.Path(__file__).resolve().parents[2]
PEERS = TOP / "tests" / "peers" / "npm"
FAULTS = [
    {"status": 503},
    {"status": 503, "commit": True},
    {"status": 429},
    {"status": 500, "commit": True},
    {"drop": True},
    {"drop": True, "commit": True},
]


def ask(base, path, body=None):
    data = None if body is None else json.dumps(body).encode()
    with urllib.request.urlopen(urllib.request.Request(base + path, data=data), timeout=60) as answer:
        return json.load(answer)


def use_up_fault(base):
    try:
        ask(base, "/metadata")
    except OSError:
        pass


def start_server(command, work):
    port = work / "port"
    port.unlink(missing_ok=True)
    with open(work / "server.out", "wb") as out:
        server = subprocess.Popen([*shlex.split(command), "--port", "0", "--port-file", str(port)],
                                  stdout=out, stderr=out)
    for _ in range(1200):
        if port.exists():
            return server, "http://127.0.0.1:" + port.read_text().strip()
        time.sleep(0.1)
    server.kill()
    sys.exit("crash loop: the record server did not start")


def configure(work, base):
    config = work / "footbridge.toml"
    config.write_text('data = "data"\n[destinations.record]\nkind = "server"\n'
                      f'base = "{base}"\npatient = "create"\nbackoff_milliseconds = [2, 5, 10]\n')
    return config


class Loop:
    def __init__(self, options, work, base):
        self.options, self.work, self.base = options, work, base
        self.random = random.Random(options.seed)
        self.lines = pathlib.Path(options.input).read_text(encoding="utf-8").splitlines(keepends=True)
        self.config = configure(work, base)
        self.kills = self.rounds = self.faults = 0
        self.moments = collections.Counter()

    def send(self, count, wait):
        offered = self.work / "offered.ndjson"
        offered.write_text("".join(self.lines[:count]), encoding="utf-8")
        return subprocess.Popen([self.options.program, "send", "--config", str(self.config), "--to", "record",
                                 "--wait", str(wait), str(offered)],
                                stdout=open(self.work / "receipts", "ab"),
                                stderr=open(self.work / "messages", "ab"))

    def round(self):
        self.rounds += 1
        for _ in range(self.random.randrange(4)):
            self.faults += 1
            ask(self.base, "/$test/fault", self.random.choice(FAULTS))
        share = min(1.0, (self.kills + 1) / self.options.kills)
        program = self.send(max(1, int(len(self.lines) * share)), 5)
        # Half of the kills fall into the start and the storing, half into the sending.
        time.sleep(self.random.uniform(0, 0.06 if self.random.random() < 0.5 else 0.6))
        if program.poll() is None:
            program.kill()
            self.kills += 1
        program.wait()

    def finish(self):
        while ask(self.base, "/$test/fault", {"times": 0})["waiting"]:
            use_up_fault(self.base)
        for runs in range(1, 21):
            if self.send(len(self.lines), 30).wait() == 0:
                return runs
        sys.exit("crash loop: not everything was delivered:\n" + (self.work / "messages").read_text()[-2000:])


def expected_counts(bundles):
    """How many distinct resources of each type the bundles hold, by the condition of their creation"""
    conditions = collections.defaultdict(set)
    for line in bundles.splitlines():
        for entry in json.loads(line)["entry"]:
            conditions[entry["request"]["url"]].add(entry["request"]["ifNoneExist"])
    return {kind: len(found) for kind, found in conditions.items()}


def count_failures(base, wanted):
    failures = []
    counts = ask(base, "/$test/counts")
    counts.pop("total", None)
    if counts != wanted:
        failures.append(f"the server holds {counts}, wanted {wanted}")
    doubles = ask(base, "/$test/doubles")
    if doubles:
        failures.append(f"{len(doubles)} identifiers are borne by more than one resource")
    return failures


def add_double(base, bundles):
    """Makes one resource of the bundles a second time: the counters have to see it."""
    resource = next(entry["resource"] for entry in json.loads(bundles.splitlines()[0])["entry"]
                    if entry["request"]["url"] == "Patient")
    request = urllib.request.Request(base + "/Patient", data=json.dumps(resource).encode(),
                                     headers={"Content-Type": "application/fhir+json"})
    with urllib.request.urlopen(request, timeout=60):
        pass


def judge(loop, work, base):
    bundles = work / "bundles.ndjson"
    with open(bundles, "wb") as out:
        subprocess.run([loop.options.program, "convert", "--quiet", "--patient", "create", loop.options.input],
                       stdout=out, stderr=subprocess.DEVNULL, check=True)
    sent = bundles.read_text(encoding="utf-8")
    wanted = expected_counts(sent)
    failures = count_failures(base, wanted)
    compared = subprocess.run(["node", str(PEERS / "roundtrip.mjs"), "--base", base, "--bundles", str(bundles)],
                              capture_output=True, text=True)
    if compared.returncode != 0:
        failures.append("what the server holds differs: " + (compared.stdout + compared.stderr)[-1500:])
    listed = subprocess.run([loop.options.program, "outbox", "list", "--config", str(loop.config), "--json",
                             "--state", "delivered"], capture_output=True, text=True)
    if len(listed.stdout.splitlines()) != len(loop.lines):
        failures.append(f"{len(listed.stdout.splitlines())} of {len(loop.lines)} rows are delivered")
    once = re.findall(r"^\S+ r\d+: delivered", (work / "receipts").read_text(encoding="utf-8"), re.M)
    add_double(base, sent)
    if len(count_failures(base, wanted)) != 2:
        failures.append("a resource that was made twice on purpose was not found")
    return failures, sum(wanted.values()), len(once)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", required=True)
    parser.add_argument("--input", required=True)
    parser.add_argument("--work", required=True)
    parser.add_argument("--kills", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--server", default=f"node {shlex.quote(str(PEERS / 'record-server.mjs'))}")
    options = parser.parse_args()
    work = pathlib.Path(options.work)
    work.mkdir(parents=True)
    server, base = start_server(options.server, work)
    try:
        loop = Loop(options, work, base)
        began = time.time()
        while loop.kills < options.kills and loop.rounds < 10 * options.kills:
            loop.round()
        runs = loop.finish()
        failures, resources, receipts = judge(loop, work, base)
    finally:
        server.kill()
        server.wait()
    for failure in failures:
        print("FAILED: " + failure)
    print(f"crash loop: {loop.kills} kills in {loop.rounds} rounds, {loop.faults} faults, seed {options.seed}, "
          f"{len(loop.lines)} assessments, {resources} resources, {receipts} receipts, "
          f"{runs} runs to finish, {time.time() - began:.0f} s, {len(failures)} failures")
    sys.exit(1 if failures or loop.kills < options.kills else 0)


if __name__ == "__main__":
    main()
