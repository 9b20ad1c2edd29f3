#!/usr/bin/env python3
"""Prints how long functions and files are, and fails on the caps of DEVELOPERS.md."""
import json
import pathlib
import re
import subprocess
import sys
import tempfile

sys.dont_write_bytecode = True
from banned import code_only  # noqa: E402

TOP = pathlib.Path(__file__).resolve().parents[2]
FUNCTION_CAP, FUNCTION_P95, FILE_CAP, HEADER_CAP, NESTING_CAP = 60, 40, 400, 200, 3
WITH_HEADER = {"if", "for", "while", "switch", "catch"}
TOKEN = re.compile(r"\b(?:if|for|while|switch|catch|else|do|try)\b|[(){};]")


def functions(files):
    """(lines, file, line, name) of every function with a body, by universal-ctags"""
    command = ["ctags", "--output-format=json", "--fields=+ne", "--kinds-c++=f", "-o", "-", *map(str, files)]
    for line in subprocess.run(command, check=True, capture_output=True, text=True).stdout.splitlines():
        tag = json.loads(line)
        if "end" in tag:
            yield tag["end"] - tag["line"] + 1, tag["path"], tag["line"], tag["name"]


class Nesting:
    """Counts how many control statements stand around each place, with braces or without."""

    def __init__(self, text):
        self.text = text
        self.open = []  # "control": a body in braces; "single": one without; "other": any other braces
        self.headers = []  # depth of parentheses at which the header of a control statement closes
        self.parens = 0
        self.expects = False  # a keyword was seen, its header or its braces are to come

    def body_follows(self, at):
        rest = self.text[at:].lstrip()
        if rest.startswith("{"):
            self.expects = True
        elif not re.match(r"if\b", rest) or self.text[:at].rstrip().endswith(")"):
            self.open.append("single")

    def end_statement(self):
        while self.open and self.open[-1] == "single":
            self.open.pop()

    def take(self, token, at):
        if token in WITH_HEADER:
            self.headers.append(self.parens)
        elif token in ("else", "do", "try"):
            self.body_follows(at)
        elif token == "(":
            self.parens += 1
        elif token == ")":
            self.parens -= 1
            if self.headers and self.headers[-1] == self.parens:
                self.headers.pop()
                self.body_follows(at)
        elif token == "{":
            self.open.append("control" if self.expects else "other")
            self.expects = False
        elif token == "}":
            self.end_statement()
            if self.open and self.open.pop() == "control":
                self.end_statement()
        elif self.parens == 0 or "other" in self.open[-1:]:
            self.end_statement()

    def depths(self):
        for match in TOKEN.finditer(self.text):
            self.take(match.group(), match.end())
            depth = sum(kind != "other" for kind in self.open)
            yield depth, self.text.count("\n", 0, match.start()) + 1


def nesting(path):
    """The deepest place of a file and its line"""
    return max(Nesting(code_only(path.read_text(encoding="utf-8"))).depths(), default=(0, 0), key=lambda p: p[0])


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
    deepest = {path: nesting(path) for path in files}
    found += [f"{path}:{line}: {depth} levels of nesting, {NESTING_CAP} are allowed"
              for path, (depth, line) in deepest.items() if depth > NESTING_CAP]
    summary = (f"shape: {len(lengths)} functions, median {percentile(lengths, 0.5)}, "
               f"p95 {percentile(lengths, 0.95)}, longest {max(lengths, default=0)} lines; {len(files)} files, "
               f"longest {max((len(p.read_text(encoding='utf-8').splitlines()) for p in files), default=0)}; "
               f"nesting {max((depth for depth, _ in deepest.values()), default=0)}")
    return found, summary


DEEP = """void f(int x) {
  for (int i = 0; i < x; ++i) {
    while (x > (i + 1)) if (x) { g([&] { return 1; });
      if (i) ++x;
    } else {
      --x;
    }
  }
}
"""
FLAT = """void f(int x) {
  for (int i = 0; i < x; ++i) if (i) { ++x; } else if (x) --x; else if (i) --i; else ++i;
  if (x) return;
  do { ++x; } while (x < 9);
  if (x) { g({1, 2}); } else if (x == 1) { g({}); } else if (x == 2) { g({}); } else if (x == 3) { g({}); }
  switch (x) { case 1: if (x) { ++x; } break; default: break; }
}
"""


def selftest():
    with tempfile.TemporaryDirectory() as name:
        body = "\n".join("  ++x;" for _ in range(70))
        (pathlib.Path(name) / "long.cpp").write_text(f"int f(int x) {{\n{body}\n  return x;\n}}\n" * 7)
        (pathlib.Path(name) / "deep.cpp").write_text(DEEP)
        (pathlib.Path(name) / "flat.cpp").write_text(FLAT)
        found, _ = findings(pathlib.Path(name))
        # seven long functions, the share of long ones, the long file, the deep place
        return len(found) == 10 and f"{name}/deep.cpp:4: 4 levels" in "\n".join(found)


def main():
    if "--selftest" in sys.argv:
        sys.exit(0 if selftest() else "shape: a function that is too long was not found")
    found, summary = findings(TOP / "bridge")
    print("\n".join(found))
    print(summary)
    sys.exit(1 if found else 0)


main()
