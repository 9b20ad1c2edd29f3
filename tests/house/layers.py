#!/usr/bin/env python3
"""Holds the folder table of DEVELOPERS.md against the #include lines of bridge/."""
import pathlib
import re
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parents[2]
# Headers by which a third party is recognised, under the name that the table's last column uses.
THIRD_PARTIES = {"rapidjson": "rapidjson/", "curl": "curl/", "openssl": "openssl/", "CLI": "CLI/", "toml++": "toml++/",
                 "date": "date/", "sqlite": "sqlite3", "zstd": "zstd", "zlib": "zlib.h",
                 "boost": "boost/", "prometheus": "prometheus/", "spdlog": "spdlog/"}


def read_table(text):
    """folder -> (folders it may include, third parties that only it may use)"""
    table = {}
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
        if len(cells) != 4 or not re.fullmatch(r"`[a-z0-9]+/`", cells[0]):
            continue
        folders = set() if cells[2] == "-" else set(cells[2].split())
        users = set() if cells[3] == "-" else set(cells[3].split())
        table[cells[0].strip("`/")] = (folders, users)
    return table


def includes(path):
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        found = re.match(r'\s*#\s*include\s*(["<])([^">]+)[">]', line)
        if found:
            yield number, found.group(2), found.group(1) == '"'


def findings(bridge, table):
    folders = {path.name for path in bridge.iterdir() if path.is_dir()}
    for folder in sorted(folders - set(table)):
        yield f"bridge/{folder}: not in the folder table of DEVELOPERS.md"
    for folder in sorted(set(table) - folders):
        yield f"DEVELOPERS.md: there is no folder bridge/{folder}"
    for path in sorted([*bridge.glob("*/*.[ch]pp"), *bridge.glob("*.cpp")]):
        # What stands beside the folders is the program, and knows the commands only.
        folder = path.parent.name if path.parent != bridge else "main"
        allowed, _ = table.get(folder, ({"app"}, set()))
        for number, header, own in includes(path):
            target = header.split("/")[0]
            if own and target not in folders:
                yield f"{path}:{number}: {header} is not named from bridge/ down"
            # Standard headers have no folder; of the system's only sys/ has one.
            if not own and "/" in header and not header.startswith((*THIRD_PARTIES.values(), "sys/", "arpa/")):
                yield f"{path}:{number}: {header} belongs to a third party that the table does not name"
            if target in folders and target != folder and target not in allowed:
                yield f"{path}:{number}: {folder}/ may not include {target}/"
            for name, prefix in THIRD_PARTIES.items():
                users = {user for user, (_, libraries) in table.items() if name in libraries}
                if header.startswith(prefix) and folder not in users:
                    yield f"{path}:{number}: only {', '.join(sorted(users))}/ may use {name}"


def selftest(table):
    with tempfile.TemporaryDirectory() as name:
        bridge = pathlib.Path(name)
        for folder in table:
            (bridge / folder).mkdir()
        (bridge / "core" / "up.cpp").write_text('#include "app/commands.hpp"\n')
        (bridge / "app" / "json.cpp").write_text("#include <rapidjson/reader.h>\n")
        (bridge / "app" / "other.cpp").write_text("#include <boost/asio.hpp>\n#include <sys/stat.h>\n")
        (bridge / "app" / "near.cpp").write_text('#include "../json/value.hpp"\n')
        (bridge / "main.cpp").write_text('#include "app/commands.hpp"\n#include "json/value.hpp"\n')
        (bridge / "stray").mkdir()
        return len(list(findings(bridge, table))) == 6


def main():
    table = read_table((TOP / "DEVELOPERS.md").read_text(encoding="utf-8"))
    if len(table) < 5:
        sys.exit("DEVELOPERS.md: the folder table was not found")
    if "--selftest" in sys.argv:
        sys.exit(0 if selftest(table) else "layers: a wrong arrow was not found")
    found = list(findings(TOP / "bridge", table))
    print("\n".join(found))
    print(f"layers: {len(table)} folders, {len(found)} wrong arrows")
    sys.exit(1 if found else 0)


main()
