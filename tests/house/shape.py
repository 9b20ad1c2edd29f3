#!/usr/bin/env python3
"""Prints how long functions and files are, and fails on the caps of DEVELOPERS.md."""
import json
import pathlib
import subprocess
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parents[2]
FUNCTION_CAP, FUNCTION_P95, FILE_CAP, HEADER_CAP = 60, 40, 400, 200


def functions(files):
    """(lines, file, line, name) of every function with a body, by universal-ctags"""
    command = ["ctags", "--output-format=json", "--fields=+ne", "--kinds-c++=f", "-o", "-", *map(str, files)]
    for line in subprocess.run(command, check=True, capture_output=True, text=True).stdout.splitlines():
        tag = json.loads(line)
        if "end" in tag:
            yield tag["end"] - tag["line"] + 1, tag["path"], tag["line"], tag["name"]


def percentile(sizes, share):
    return sorted(sizes)[min(len(sizes) - 1, int(len(sizes) * share))] if sizes else 0


def findings(root):
    files = sorted(root.rglob("*.[ch]pp"))
    sizes = list(functions(files))
    lengths = [size for size, *_ in sizes]
    found = [f"{path}:{line}: {name} has {size} lines, {FUNCTION_CAP} are allowed"
             for size, path, line, name in sizes if size > FUNCTION_CAP]
    if percentile(lengths, 0.95) > FUNCTION_P95:
        found.append(f"{root}: 95 of 100 functions should be within {FUNCTION_P95} lines")
    for path in files:
        count = len(path.read_text(encoding="utf-8").splitlines())
        cap = HEADER_CAP if path.suffix == ".hpp" else FILE_CAP
        # A header that is one table (items, tables) is held to the cap of a file.
        if count > (FILE_CAP if path.name in ("items.hpp", "tables.hpp") else cap):
            found.append(f"{path}: {count} lines, {cap} are allowed")
    summary = (f"shape: {len(lengths)} functions, median {percentile(lengths, 0.5)}, "
               f"p95 {percentile(lengths, 0.95)}, longest {max(lengths, default=0)} lines; {len(files)} files, "
               f"longest {max((len(p.read_text(encoding='utf-8').splitlines()) for p in files), default=0)}")
    return found, summary


def selftest():
    with tempfile.TemporaryDirectory() as name:
        body = "\n".join("  ++x;" for _ in range(70))
        (pathlib.Path(name) / "long.cpp").write_text(f"int f(int x) {{\n{body}\n  return x;\n}}\n" * 7)
        found, _ = findings(pathlib.Path(name))
        return len(found) == 9


def main():
    if "--selftest" in sys.argv:
        sys.exit(0 if selftest() else "shape: a function that is too long was not found")
    found, summary = findings(TOP / "bridge")
    print("\n".join(found))
    print(summary)
    sys.exit(1 if found else 0)


main()
