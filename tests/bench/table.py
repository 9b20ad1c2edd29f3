#!/usr/bin/env python3
"""Reads the log of run.sh and prints its figures and ratios as Markdown: table.py LOG

Of each line that stands there several times the median counts. A peer counts with the better of its two
rates, by processor time or by the clock, so that a busy machine or a second thread is never held against it.
"""

import re
import statistics
import sys

BENCHMARK = re.compile(r"^(\w+)_median\s.*bytes_per_second=([\d.]+)(\w?)/s items_per_second=([\d.]+)(\w?)/s")
PEER = re.compile(
    r"^(node|java): (\d+) assessments/s, (\d+) resources/s, (\d+) bytes/s by processor time;"
    r" (\d+) assessments/s by the clock"
)
PROGRAM = re.compile(
    r"^convert: (\d+) assessments/s by processor time; (\d+) assessments/s by the clock; peak (\d+) MiB"
)
RESOURCES = re.compile(r"^footbridge (whole|shared): (\d+) resources for (\d+) assessments")
SKIPPED = re.compile(r"^skipped: (\w+): (.*)")
BINARY = {"": 1, "k": 1024, "M": 1024**2, "G": 1024**3}
DECIMAL = {"": 1, "k": 1e3, "M": 1e6, "G": 1e9}
# How many times the rate of the peer is wanted; of a ceiling, how many times its time is allowed.
BARS = {"node": 5, "java": 10}
CEILING_BAR = 0.67
NAMES = {
    "wholePath": "Footbridge, whole path",
    "wholePathCached": "- the same visit again and again",
    "sharedWork": "Footbridge, the peers' work",
    "readingOnly": "- reading only",
    "validationOnly": "- validation only",
    "findingsOnly": "- deriving and grading only",
    "writingOnly": "- writing only",
    "ceilingRapidJson": "RapidJSON Writer, tree at hand",
    "ceilingRapidJsonCached": "- the same tree again and again",
    "ceilingMemcpy": "memcpy of the bundle",
    "node": "Node (the peers' work)",
    "java": "Java (the peers' work)",
}


def read(log):
    """Rates by name: assessments, resources and bytes a second."""
    rates, programs, skipped, per_visit, runs = {}, [], {}, {}, {}
    for line in log:
        if found := RESOURCES.match(line):
            per_visit[found[1]] = int(found[2]) / int(found[3])
        elif found := BENCHMARK.match(line):
            assessments = float(found[4]) * DECIMAL[found[5]]
            each = per_visit["shared" if found[1] == "sharedWork" else "whole"]
            rates[found[1]] = (assessments, assessments * each, float(found[2]) * BINARY[found[3]])
        elif found := PEER.match(line):
            by_processor, resources, size, by_clock = map(int, found.groups()[1:])
            better = max(by_processor, by_clock) / by_processor
            runs.setdefault(found[1], []).append([one * better for one in (by_processor, resources, size)])
        elif found := PROGRAM.match(line):
            programs.append([int(one) for one in found.groups()])
        elif found := SKIPPED.match(line):
            skipped[found[1]] = found[2]
    for name, rounds in runs.items():
        rates[name] = tuple(map(statistics.median, zip(*rounds)))
    return rates, programs, skipped


def print_rates(rates, skipped):
    print("| | assessments/s | resources/s | MB/s | µs an assessment |")
    print("|---|---|---|---|---|")
    for name, label in NAMES.items():
        if name in skipped:
            print(f"| {label} | skipped: {skipped[name]} | | | |")
        if name in rates:
            assessments, resources, size = rates[name]
            figures = f"{assessments:,.0f} | {resources:,.0f} | {size / 1e6:,.0f} | {1e6 / assessments:,.1f}"
            print(f"| {label} | {figures} |")


def print_ratios(rates, skipped):
    print("\n| against | the same work | all our work, by assessments | by resources | bar | same work reaches it |")
    print("|---|---|---|---|---|---|")
    whole = rates["wholePath"]
    for peer, bar in BARS.items():
        if peer in skipped:
            print(f"| {peer.capitalize()} | skipped | | | {bar} times its rate | not measured |")
            continue
        ratios = [rates["sharedWork"][0] / rates[peer][0], *(whole[i] / rates[peer][i] for i in (0, 1))]
        cells = " | ".join(f"{ratio:.1f} times" for ratio in ratios)
        print(f"| {peer.capitalize()} | {cells} | {bar} times its rate | {'yes' if ratios[0] >= bar else 'no'} |")
    for name, own, ceiling in (("RapidJSON", "wholePath", "ceilingRapidJson"),
                               ("- both in the cache", "wholePathCached", "ceilingRapidJsonCached")):
        slower = rates[ceiling][0] / rates[own][0]
        verdict = "yes" if slower <= CEILING_BAR else "no"
        print(f"| {name} | - | {slower:.2f} times its time | the same | {CEILING_BAR} times its time | {verdict} |")
    slower = rates["ceilingMemcpy"][0] / whole[0]
    print(f"| memcpy | - | {slower:.0f} times its time | the same | none | |")


def print_program(programs):
    by_processor, by_clock, peak = map(statistics.median, zip(*programs))
    print(
        f"\n`footbridge convert` as a program, lines in, bundles out: {by_processor:,.0f} assessments/s by processor"
        f" time, {by_clock:,.0f} by the clock, peak memory {peak:,.0f} MiB (medians of {len(programs)} runs)."
    )


def main(path):
    with open(path, encoding="utf-8") as log:
        rates, programs, skipped = read(log)
    print_rates(rates, skipped)
    print_ratios(rates, skipped)
    print_program(programs)


if __name__ == "__main__":
    main(sys.argv[1])
