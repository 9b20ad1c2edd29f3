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
# The survey table is too large for the project, so its test alone may go without it.
MAY_SKIP = "assess/nhanes_test.cpp"


def code_only(text):
    """The text with comments and string contents blanked, line numbers kept."""
    # Character literals first: the quote in '"' opens no string.
    pattern = re.compile(r"""'(?:\\.|[^'\\\n])'|R"([^(]*)\(.*?\)\1"|"(?:\\.|[^"\\])*"|//[^\n]*|/\*.*?\*/""", re.S)

    def blank(match):
        return '"' * match.group().startswith(("'", '"', "R")) + "\n" * match.group().count("\n")

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
                if re.search(pattern, line):
                    yield f"{path}:{number}: {reason}: {line.strip()}"


def skips(tests):
    for path in sorted(tests.rglob("*.[ch]pp")):
        if path.as_posix().endswith(MAY_SKIP):
            continue
        for number, line in enumerate(code_only(path.read_text(encoding="utf-8")).splitlines(), 1):
            if "GTEST_SKIP" in line or re.search(r"\bDISABLED_", line):
                yield f"{path}:{number}: a test that does not run tests nothing: {line.strip()}"


def selftest():
    bad = ["double x = 1;", "int y = atoi(s);", "auto* p = new int;", "using namespace std;", "// TODO later",
           "std::shared_ptr<int> q;", "char c = '\"'; float y; char d = '\"';"]
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name) / "model"
        folder.mkdir()
        for number, line in enumerate(bad):
            (folder / f"bad{number}.cpp").write_text(line + "\n")
        (folder / "good.cpp").write_text('// double in a comment\nauto s = "double";\n')
        (folder / "skip_test.cpp").write_text("TEST(A, B) { GTEST_SKIP(); }\nTEST(A, DISABLED_C) {}\n")
        return len(list(findings(pathlib.Path(name)))) == len(bad) and len(list(skips(pathlib.Path(name)))) == 2


def main():
    if "--selftest" in sys.argv:
        sys.exit(0 if selftest() else "banned: something banned was not found")
    found = [*findings(TOP / "bridge"), *skips(TOP / "tests")]
    print("\n".join(found))
    print(f"banned: {len(RULES) + 1} rules, {len(found)} findings")
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    main()
