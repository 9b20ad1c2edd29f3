"""Cases of a check: registered in their order, run one by one, counted at the end."""
import sys
import time
import traceback

CASES = []


def case(function):
    CASES.append(function)
    return function


def equal(got, wanted, what=""):
    if got != wanted:
        raise AssertionError(f"{what}: {got!r:.300} instead of {wanted!r:.300}")


def holds(condition, what):
    if not condition:
        raise AssertionError(what)


def main(chosen, tidy):
    """Runs the cases whose names hold one of the words, all if there are none."""
    passed = failed = 0
    try:
        for each in CASES:
            if chosen and not any(word in each.__name__ for word in chosen):
                continue
            began = time.time()
            try:
                each()
                passed += 1
                print(f"{time.time() - began:5.1f} s  {each.__name__.replace('_', ' ')}", flush=True)
            except Exception:
                failed += 1
                print(f"FAILED: {each.__name__.replace('_', ' ')}")
                print("".join(traceback.format_exc().splitlines(keepends=True)[-8:]), flush=True)
    finally:
        tidy()
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed or not passed else 0)
