#!/usr/bin/env python3
"""What `footbridge convert` needs for a long table: rows.py --program FOOTBRIDGE --work DIR [--rows N] [--runs N]

Makes tables of a tenth of N rows and of N rows (default 1,000,000) from the rows of examples/csv that can be taken,
each visit with an identifier of its own, converts them with one job, and prints time and peak memory of both and
how many times as long ten times the rows took. Bundles are thrown away. The runs of both alternate; of each the
median counts.
"""
import argparse
import csv
import os
import pathlib
import statistics
import subprocess
import sys
import time

EXAMPLES = pathlib.Path(__file__).resolve().parents[2] / "examples" / "csv"
MAP = EXAMPLES / "visits.toml"


def accepted(program):
    """Header and those rows of the example that are converted one by one."""
    with open(EXAMPLES / "visits.csv", encoding="utf-8-sig", newline="") as file:
        head, *body = csv.reader(file)
    said = subprocess.run([program, "check", "--from", "csv", "--map", str(MAP), str(EXAMPLES / "visits.csv")],
                          capture_output=True, text=True).stdout
    refused = {int(line.split(" row ")[1].split(":")[0]) for line in said.splitlines()
               if " row " in line and "set aside" in line}
    return head, [row for number, row in enumerate(body, start=2) if number not in refused]


def write(path, count, head, rows):
    with open(path, "w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(head)
        for number in range(count):
            first, *rest = rows[number % len(rows)]
            out.writerow([f"{first}-{number}", *rest])


def convert(program, path):
    """Seconds by the clock, seconds of processor time, peak in MiB."""
    began = time.monotonic()
    with open(os.devnull, "wb") as nowhere:
        child = subprocess.Popen([program, "convert", "--quiet", "--from", "csv", "--map", str(MAP), str(path)],
                                 stdout=nowhere, stderr=subprocess.PIPE)
        said = child.stderr.read().decode()
        _, status, used = os.wait4(child.pid, 0)
    if os.waitstatus_to_exitcode(status) != 0:
        sys.exit(f"rows: convert failed: {said[-500:]}")
    return time.monotonic() - began, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", required=True)
    parser.add_argument("--work", required=True, type=pathlib.Path)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--runs", type=int, default=1)
    options = parser.parse_args()
    options.work.mkdir(parents=True, exist_ok=True)
    head, rows = accepted(options.program)
    if not rows:
        sys.exit("rows: no row of the example was taken")
    figures = {}
    tables = {count: options.work / f"rows-{count}.csv" for count in (options.rows // 10, options.rows)}
    for count, path in tables.items():
        write(path, count, head, rows)
    for _ in range(options.runs):
        for count, path in tables.items():
            figures.setdefault(count, []).append(convert(options.program, path))
    for path in tables.values():
        path.unlink()
    medians = {count: [statistics.median(one) for one in zip(*taken)] for count, taken in figures.items()}
    for count, (clock, processor, peak) in medians.items():
        print(f"{count:,} rows: {clock:.1f} s by the clock, {processor:.1f} s of processor time, peak {peak:.0f} MiB")
    few, many = medians.values()
    print(f"ten times the rows: {many[1] / few[1]:.2f} times the processor time, {many[0] / few[0]:.2f} by the clock")


if __name__ == "__main__":
    main()
