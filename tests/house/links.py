#!/usr/bin/env python3
"""Fails where a page of the project names a file, a heading or a link that is not there."""
import pathlib
import re
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parents[2]
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
# A path in code: below one of our folders, without gaps to be filled in.
PATH = re.compile(r"`((?:bridge|mapping|schemas|tests|examples|docs)/[A-Za-z0-9_./-]*[A-Za-z0-9_])`")


def prose(text):
    """The text without blocks of code, line numbers kept."""
    return re.sub(r"^```.*?^```", lambda block: "\n" * block.group().count("\n"), text, flags=re.S | re.M)


def anchors(text):
    """The headings as links name them: small letters, spaces as hyphens, no other marks."""
    out = set()
    for heading in re.findall(r"^#+ (.*)$", prose(text), flags=re.M):
        heading = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", heading).lower()
        out.add(re.sub(r"[^\w\- ]", "", heading).strip().replace(" ", "-"))
    return out


def fault_of(target, page, text):
    """What is wrong with the target of a link, "" if nothing is."""
    if re.match(r"[a-z]+:", target):
        return ""
    name, _, anchor = target.partition("#")
    file = page.parent / name if name else page
    if not file.exists():
        return f"there is no {target}"
    if not anchor or file.suffix != ".md":
        return ""
    headings = anchors(file.read_text(encoding="utf-8") if name else text)
    return "" if anchor in headings else f"{name or page.name} has no heading #{anchor}"


def findings(top):
    pages = [*top.glob("*.md"), *(page for folder in ("docs", "examples", "mapping", "schemas", "tests", "bridge")
                                  for page in (top / folder).rglob("*.md"))]
    for page in sorted(pages):
        text = page.read_text(encoding="utf-8")
        for number, line in enumerate(prose(text).splitlines(), 1):
            for target in LINK.findall(line):
                if fault := fault_of(target, page, text):
                    yield f"{page}:{number}: {fault}"
            for path in PATH.findall(line):
                if not (top / path).exists():
                    yield f"{page}:{number}: there is no {path}"


def selftest():
    with tempfile.TemporaryDirectory() as name:
        top = pathlib.Path(name)
        (top / "docs").mkdir()
        (top / "tests").mkdir()
        (top / "docs/a.md").write_text("# Heading, of one\n\n[b](../README.md#two) `docs/a.md`\n")
        (top / "README.md").write_text("## Two\n\n[a](docs/a.md#heading-of-one) [w](https://x.example) [self](#two)\n"
                                       "```\n[not](read.md)\n```\n"
                                       "[gone](docs/b.md) [gone](docs/a.md#three) `tests/gone.py` [gone](#four)\n")
        return len(list(findings(top))) == 4


def main():
    if "--selftest" in sys.argv:
        sys.exit(0 if selftest() else "links: a dead one was not found, or a good one was")
    found = list(findings(TOP))
    print("\n".join(found))
    print(f"links: {len(found)} dead")
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    main()
