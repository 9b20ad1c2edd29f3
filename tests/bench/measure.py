#!/usr/bin/env python3
"""Runs a program over COUNT assessments and tells its rates and peak memory: measure.py NAME COUNT COMMAND...

What the program writes is thrown away, what it says is kept back unless it fails.
"""

import os
import subprocess
import sys
import time


def main(name, count, command):
    started = time.monotonic()
    with open(os.devnull, "wb") as nowhere:
        child = subprocess.Popen(command, stdout=nowhere, stderr=subprocess.PIPE)
        said = child.stderr.read()
        _, status, used = os.wait4(child.pid, 0)
    took = time.monotonic() - started
    if os.waitstatus_to_exitcode(status) != 0:
        sys.stderr.buffer.write(said)
        return 1
    processor = used.ru_utime + used.ru_stime
    print(
        f"{name}: {count / processor:.0f} assessments/s by processor time; {count / took:.0f} assessments/s"
        f" by the clock; peak {used.ru_maxrss / 1024:.0f} MiB"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], int(sys.argv[2]), sys.argv[3:]))
