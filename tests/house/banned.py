#!/usr/bin/env python3
"""Fails on what the house does not use: see "Rules of the house" in DEVELOPERS.md."""
import pathlib
import re
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parents[2]
# pattern, folders it is banned in (None: everywhere under bridge/), reason
RULES = [
    (r"\b(double|float)\b", {"model", "assess", "package"}, "numbers are exact here"),
    (r"\b(atoi|atof|strtok|localtime|gmtime|sprintf|strcpy|strcat|gets|rand)\s*\(", None, "banned call"),
    (r"\bnew\s+[A-Za-z_:]+|\bdelete\s+[A-Za-z_(*]", None, "own memory by value or unique_ptr"),
    (r"\busing\s+namespace\b", None, "name what you use"),
    (r"\bshared_ptr\b", None, "ownership is single"),
    (r"\bTODO\b|\bFIXME\b|\bXXX\b", None, "finish it or open an issue"),
    (r"\bconst_cast\b|\breinterpret_cast\b", None, "say what you mean with types"),
    (r"rapidjson::", {"core", "model", "tables", "intake", "assess", "package", "deliver", "app"}, "only json/"),
]
# A pimpl in a constructor is the one place for a bare new, since its type is private.
ALLOWED = {("intake/texts.cpp", r"\bnew\s+State\b")}


def code_only(text):
    """The text with comments and string contents blanked, line numbers kept."""
    pattern = re.compile(r'R"([^(]*)\(.*?\)\1"|"(?:\\.|[^"\\])*"|//[^\n]*|/\*.*?\*/', re.S)

    def blank(match):
        return '"' * match.group().startswith(('"', "R")) + "\n" * match.group().count("\n")

    return pattern.sub(blank, text)


def findings(bridge):
    for path in sorted(bridge.rglob("*.[ch]pp")):
        folder = path.relative_to(bridge).parts[0]
        raw = path.read_text(encoding="utf-8")
        lines = code_only(raw).splitlines()
        for pattern, folders, reason in RULES:
            if folders is not None and folder not in folders:
                continue
            # Leftover marks are looked for in comments too.
            for number, line in enumerate(raw.splitlines() if "TODO" in pattern else lines, 1):
                allowed = any(str(path).endswith(name) and re.search(what, line) for name, what in ALLOWED)
                if re.search(pattern, line) and not allowed:
                    yield f"{path}:{number}: {reason}: {line.strip()}"


def selftest():
    bad = ["double x = 1;", "int y = atoi(s);", "auto* p = new int;", "using namespace std;", "// TODO later",
           "std::shared_ptr<int> q;"]
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name) / "model"
        folder.mkdir()
        for number, line in enumerate(bad):
            (folder / f"bad{number}.cpp").write_text(line + "\n")
        (folder / "good.cpp").write_text('// double in a comment\nauto s = "double";\n')
        return len(list(findings(pathlib.Path(name)))) == len(bad)


def main():
    if "--selftest" in sys.argv:
        sys.exit(0 if selftest() else "banned: something banned was not found")
    found = list(findings(TOP / "bridge"))
    print("\n".join(found))
    print(f"banned: {len(RULES)} rules, {len(found)} findings")
    sys.exit(1 if found else 0)


main()
