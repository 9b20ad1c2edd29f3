#!/usr/bin/env python3
"""Makes COUNT assessments of the example visits, one a line, each under an identifier of its own:
lines.py COUNT FOLDER. All of them are as invented as the examples."""

import itertools
import json
import pathlib
import sys


def main(count, folder):
    texts = [path.read_text(encoding="utf-8") for path in sorted(pathlib.Path(folder).glob("*.json"))]
    for number, text in zip(range(1, count + 1), itertools.cycle(texts)):
        visit = json.loads(text)
        visit["identifier"]["value"] += f"-{number}"
        print(json.dumps(visit, ensure_ascii=False))


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2])
