#!/usr/bin/env python3
"""Very many assessments through one running service: does anything grow?

    soak.py --program FOOTBRIDGE --work DIR [--count N] [--portion N]

Hands in N assessments (default 1,000,000), each with an identifier, a patient and, as a message, a number of its own:
by HTTP one by one and as NDJSON, and by MLLP, in turn, portion by portion. All are delivered to a record server that
stores nothing, and each portion is waited for, so that nothing heaps up. Payloads are erased once they are delivered
(keep_days = 0), and the trail turns over.

The memory of the service (RSS) after each portion is a row of the table; after the first tenth, its median may grow by
less than 10 % from the first third to the last. A run below 20,000 is too short to judge that, and shows only that all of it arrives.
"""
import argparse
import os
import pathlib
import re
import shutil
import statistics
import subprocess
import sys
import time

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))
sys.dont_write_bytecode = True
from intake import Service, assessment  # noqa: E402

TOP = HERE.parents[1]
LEAST_TO_JUDGE = 20_000
BAR = 0.10
ROWS = 25  # of the table, as printed


def message():
    """The example of a message; @ID@ stands for its number, its order and its patient."""
    text = (TOP / "examples/hl7v2/one.hl7").read_bytes().strip(b"\x0b\x1c\r\n") + b"\r"
    out = []
    for segment in text.split(b"\r"):
        fields = segment.split(b"|")
        for name, at, value in ((b"MSH", 9, b"C@ID@"), (b"OBR", 3, b"@ID@^MLF"), (b"PID", 3, b"P@ID@^^^MLF"),
                                (b"ORC", 3, b"")):
            if fields[0] == name and len(fields) > at:
                fields[at] = value
        out.append(b"|".join(fields))
    return b"\r".join(out)


def build(work):
    for name in ("sink", "flood"):
        subprocess.run(["c++", "-std=c++20", "-O2", "-o", str(work / name), str(HERE / f"{name}.cpp")], check=True)


def status(process, name):
    text = pathlib.Path(f"/proc/{process.pid}/status").read_text()
    return int(re.search(rf"^{name}:\s+(\d+)", text, re.M)[1])


class Soak:
    WAYS = (("http", None, 0.4), ("http", 10, 0.4), ("mllp", None, 0.2))  # lines of a request, share of a portion

    def __init__(self, options, work, sink_port):
        self.options, self.work = options, work
        self.service = Service(
            options.program, work / "service",
            f'[outbox]\nkeep_days = 0\n[destinations.gp]\nkind = "server"\nbase = "http://127.0.0.1:{sink_port}"\n'
            'identity = "trust"\nread_back = "never"\n',
            f'[serve.maps]\nclinic = "{TOP}/examples/hl7v2/clinic.toml"\n'
            '[serve.mllp]\nport = 0\nport_file = "mllp-port"\nmap = "clinic"\n')
        while not (work / "service/mllp-port").exists():
            time.sleep(0.02)
        self.mllp = int((work / "service/mllp-port").read_text())
        (work / "assessment").write_text(assessment())
        (work / "message").write_bytes(message())
        self.sent, self.rows = 0, []
        self.began = time.perf_counter()

    def hand_in(self, way, lines, count):
        port, template = (self.mllp, "message") if way == "mllp" else (self.service.port, "assessment")
        command = [self.work / "flood", way, port, self.work / template, "S", self.sent, count, 16]
        done = subprocess.run([str(each) for each in command + ([lines] if lines else [])], capture_output=True, text=True)
        if done.returncode:
            sys.exit(f"soak: not all were stored by {way}: {done.stdout}{done.stderr[:1000]}")
        self.sent += count

    def delivered(self):
        return int(self.service.metric('footbridge_deliveries_total{outcome="delivered"}'))

    def portion(self, count):
        left = count
        for way, lines, share in self.WAYS:
            part = min(left, max(1, round(count * share)))
            if part:
                self.hand_in(way, lines, part)
            left -= part
        if left:
            self.hand_in("http", None, left)
        end, last = time.time() + 120, -1
        while (now := self.delivered()) < self.sent:
            if now != last:
                end, last = time.time() + 120, now
            if time.time() > end:
                sys.exit(f"soak: {now} of {self.sent} were delivered, then nothing more")
            time.sleep(0.05)
        self.sample()

    def sample(self):
        process, data = self.service.process, self.work / "service/data"
        size = {name: sum(file.stat().st_size for file in data.glob(name)) / 2**20
                for name in ("outbox.db", "outbox.db-wal", "audit*.log")}
        self.rows.append({
            "sent": self.sent, "seconds": time.perf_counter() - self.began, "rss": status(process, "VmRSS") / 1024,
            "threads": status(process, "Threads"), "files": len(os.listdir(f"/proc/{process.pid}/fd")),
            "metrics": len(self.service.metrics().splitlines()), "db": size["outbox.db"],
            "wal": size["outbox.db-wal"], "trail": size["audit*.log"]})

    def print(self):
        print(f"{'handed in':>10} {'seconds':>8} {'RSS MiB':>8} {'threads':>8} {'open files':>10} {'lines of metrics':>16} "
              f"{'outbox MiB':>10} {'its log MiB':>11} {'trail MiB':>9}")
        step = max(1, len(self.rows) // ROWS)
        for row in self.rows[::step] + ([] if (len(self.rows) - 1) % step == 0 else self.rows[-1:]):
            print(f"{row['sent']:>10,} {row['seconds']:>8.0f} {row['rss']:>8.1f} {row['threads']:>8} {row['files']:>10} "
                  f"{row['metrics']:>16} {row['db']:>10.1f} {row['wal']:>11.1f} {row['trail']:>9.1f}")

    def growth(self):
        """Of the median of the last third over that of the first third, after the warm-up: what was freed goes back to
        the system now and then only, so that single samples differ by what is under way at a time."""
        warm = [row["rss"] for row in self.rows if row["sent"] >= self.options.count / 10]
        some = max(1, len(warm) // 3)
        return statistics.median(warm[-some:]) / statistics.median(warm[:some]) - 1


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", required=True)
    parser.add_argument("--work", required=True)
    parser.add_argument("--count", type=int, default=1_000_000)
    parser.add_argument("--portion", type=int, default=0, help="default: a hundredth, at least 500, at most 5,000")
    options = parser.parse_args()
    options.program = str(pathlib.Path(options.program).resolve())
    portion = options.portion or min(5_000, max(500, options.count // 100))
    work = pathlib.Path(options.work).resolve()
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir(parents=True)
    build(work)
    sink = subprocess.Popen([str(work / "sink"), str(work / "port")])
    try:
        while not (work / "port").exists() or not (work / "port").read_text().strip():
            time.sleep(0.02)
        soak = Soak(options, work, int((work / "port").read_text()))
        try:
            while soak.sent < options.count:
                soak.portion(min(portion, options.count - soak.sent))
        finally:
            soak.service.stop()
    finally:
        sink.kill()
        sink.wait()
    soak.print()
    took = soak.rows[-1]["seconds"]
    print(f"{soak.sent:,} handed in and delivered in {took:.0f} s ({soak.sent / took:.0f}/s)")
    audit = subprocess.run([options.program, "audit", "verify"], cwd=work / "service", capture_output=True, text=True)
    print("trail: " + (audit.stdout.strip() or audit.stderr.strip()))
    if audit.returncode:
        sys.exit("soak: the trail is not sound: " + audit.stderr[:500])
    if soak.sent < LEAST_TO_JUDGE:
        return print(f"too short to judge growth; all {soak.sent:,} arrived")
    growth = soak.growth()
    print(f"growth of memory after the first tenth, from the first third to the last: {growth * 100:+.1f} % (bar {BAR * 100:.0f} %)")
    if growth >= BAR:
        sys.exit("soak: the service grows")


if __name__ == "__main__":
    main()
