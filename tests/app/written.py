"""What a command writes, held against its inputs: arguments, a folder to work in, and counting."""
import argparse
import pathlib
import shutil


class Written:
    """PROGRAM, a fresh folder and the inputs, as given on the command line: --program P --work DIR INPUT..."""

    def __init__(self):
        parser = argparse.ArgumentParser()
        parser.add_argument("--program", required=True)
        parser.add_argument("--work", required=True)
        parser.add_argument("inputs", nargs="+")
        given = parser.parse_args()
        self.program, self.inputs, self.work = given.program, given.inputs, pathlib.Path(given.work)
        shutil.rmtree(self.work, ignore_errors=True)
        self.work.mkdir(parents=True)
        self.passed = self.failed = 0

    def holds(self, name, fine):
        self.passed, self.failed = self.passed + bool(fine), self.failed + (not fine)
        if not fine:
            print("FAILED:", name)

    def end(self):
        print(f"{self.passed} passed, {self.failed} failed")
        raise SystemExit(self.failed > 0)
