#!/usr/bin/env python3
"""How fast `footbridge send` is beside libcurl alone posting the same bodies to the same sink.

    send.py --program FOOTBRIDGE --input FILE.ndjson --work DIR [--runs N] [--jobs N]

`send` starts as a process of its own, reads and grades the assessments, makes the bundles, stores the assessments
durably, posts the bundles and stores what was answered; `send --queued` makes the bundles again from the outbox. The yardstick has the finished bodies in memory. Both
use eight connections. Each run has a fresh outbox; the runs of both alternate; the median counts.
"""
import argparse
import json
import pathlib
import re
import shutil
import statistics
import subprocess
import sys
import time
from datetime import datetime

HERE = pathlib.Path(__file__).resolve().parent


def build(work):
    for name in ("sink", "bare"):
        subprocess.run(["c++", "-std=c++20", "-O2", "-o", str(work / name), str(HERE / f"{name}.cpp"), "-lcurl"],
                       check=True)


def milliseconds(row):
    began, ended = (datetime.fromisoformat(row[name]) for name in ("created", "changed"))
    return (ended - began).total_seconds() * 1000


def one_send(options, work, config, count):
    shutil.rmtree(work / "data", ignore_errors=True)
    began = time.perf_counter()
    done = subprocess.run([options.program, "send", "--config", str(config), "--to", "sink",
                           "--jobs", str(options.jobs), options.input],
                          capture_output=True, text=True)
    took = time.perf_counter() - began
    if done.returncode != 0 or f"{count} delivered" not in done.stderr:
        sys.exit("bench: send failed: " + done.stderr[-500:])
    rows = subprocess.run([options.program, "outbox", "list", "--config", str(config), "--json", "--state",
                           "delivered"], capture_output=True, text=True, check=True).stdout.splitlines()
    return took, sorted(milliseconds(json.loads(row)) for row in rows)


def one_drain(options, work, config, count):
    """Stores everything while nobody listens, then times the sending of what is stored."""
    shutil.rmtree(work / "data", ignore_errors=True)
    closed = work / "closed.toml"
    closed.write_text(config.read_text().replace(re.search(r"127.0.0.1:\d+", config.read_text())[0], "127.0.0.1:9"))
    subprocess.run([options.program, "send", "--config", str(closed), "--to", "sink", "--wait", "0",
                    options.input], capture_output=True)
    began = time.perf_counter()
    done = subprocess.run([options.program, "send", "--config", str(config), "--to", "sink", "--queued"],
                          capture_output=True, text=True)
    took = time.perf_counter() - began
    if done.returncode != 0 or f"{count} delivered" not in done.stderr:
        sys.exit("bench: send --queued failed: " + done.stderr[-500:])
    return took


def one_convert(options):
    began = time.perf_counter()
    subprocess.run([options.program, "convert", "--quiet", "--jobs", str(options.jobs), options.input],
                   stdout=subprocess.DEVNULL,
                   stderr=subprocess.DEVNULL, check=True)
    return time.perf_counter() - began

def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", required=True)
    parser.add_argument("--input", required=True)
    parser.add_argument("--work", required=True)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--jobs", type=int, default=1, help="of send and convert")
    options = parser.parse_args()
    work = pathlib.Path(options.work)
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir(parents=True)
    build(work)
    bundles = work / "bundles.ndjson"
    with open(bundles, "wb") as out:
        subprocess.run([options.program, "convert", "--quiet", options.input], stdout=out,
                       stderr=subprocess.DEVNULL, check=True)
    count = len(bundles.read_bytes().splitlines())
    sink = subprocess.Popen([str(work / "sink"), str(work / "port")])
    try:
        while not (work / "port").exists() or not (work / "port").read_text().strip():
            time.sleep(0.05)
        base = "http://127.0.0.1:" + (work / "port").read_text().strip()
        config = work / "footbridge.toml"
        config.write_text(f'data = "data"\n[destinations.sink]\nkind = "server"\nbase = "{base}"\n'
                          'identity = "trust"\nread_back = "never"\nstrategy = "transaction"\n')
        bare, send, waits, drain, convert = [], [], [], [], []
        for _ in range(options.runs):
            out = subprocess.run([str(work / "bare"), base, str(bundles), "8"], capture_output=True, text=True,
                                 check=True)
            bare.append(float(out.stdout.split()[0]))
            took, latencies = one_send(options, work, config, count)
            send.append(took)
            waits += latencies
            drain.append(one_drain(options, work, config, count))
            convert.append(one_convert(options))
    finally:
        sink.kill()
        sink.wait()
    waits.sort()
    size = bundles.stat().st_size / count / 1024
    mine, yardstick = count / statistics.median(send), count / statistics.median(bare)
    print(f"{count} assessments, {size:.0f} kB a bundle, {options.runs} runs each")
    print(f"libcurl alone {yardstick:.0f}/s (from {count / max(bare):.0f} to {count / min(bare):.0f})")
    print(f"footbridge send {mine:.0f}/s (from {count / max(send):.0f} to {count / min(send):.0f}), "
          f"acknowledged to delivered: median {waits[len(waits) // 2]:.0f} ms, "
          f"p99 {waits[int(len(waits) * 0.99)]:.0f} ms")
    print(f"of that reading, grading and writing the bundles, nothing else: {count / statistics.median(convert):.0f}/s")
    stored = count / statistics.median(drain)
    print(f"footbridge send --queued, bundles stored before: {stored:.0f}/s")
    print(f"ratio {mine / yardstick:.2f} from readings, {stored / yardstick:.2f} from the outbox")


if __name__ == "__main__":
    main()
