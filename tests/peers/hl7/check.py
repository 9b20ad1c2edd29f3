#!/usr/bin/env python3
"""Has messages and acknowledgements read by python3-hl7, which shares no code with Footbridge.

tests/peers/hl7/check.py --acknowledge PROGRAM: the test messages have to hold what was meant, and the answers to
them have to be acknowledgements of just these messages. Ends with "N passed, M failed".
"""
import argparse
import pathlib
import subprocess
import sys
import tempfile

import hl7

TOP = pathlib.Path(__file__).resolve().parents[3]
passed = failed = 0


def expect(good, what):
    global passed, failed
    passed, failed = passed + bool(good), failed + (not good)
    if not good:
        print(f"failed: {what}")


def frames(content):
    return [part.rstrip(b"\x1c\r") for part in content.split(b"\x0b") if part.strip()]


def answers(program, messages, source_map):
    framed = b"".join(b"\x0b" + message + b"\x1c\r" for message in messages)
    out = subprocess.run([program, source_map], input=framed, stdout=subprocess.PIPE, check=True).stdout
    return [hl7.parse(frame.decode()) for frame in frames(out)]


def check_answer(sent, got, code, what):
    expect(str(got["MSH"][0][9]) == "ACK^R01^ACK", f"{what}: MSH-9 is {got['MSH'][0][9]}")
    expect(str(got["MSA"][0][1]) == code, f"{what}: MSA-1 is {got['MSA'][0][1]}")
    expect(str(got["MSA"][0][2]) == str(sent["MSH"][0][10]), f"{what}: MSA-2 is {got['MSA'][0][2]}")
    expect(str(got["MSH"][0][5]) == str(sent["MSH"][0][3]), f"{what}: the receiver is not the sender")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--acknowledge", required=True)
    program = parser.parse_args().acknowledge

    with tempfile.TemporaryDirectory() as work:
        subprocess.run([sys.executable, TOP / "tests/hl7/to_hl7.py", "--out", work,
                        *sorted((TOP / "examples/clinic").glob("*.json"))], check=True, stdout=subprocess.DEVNULL)
        for path in sorted(pathlib.Path(work).glob("*.hl7")):
            message = hl7.parse(path.read_bytes().decode())
            got = answers(program, [path.read_bytes()], path.with_suffix(".toml"))
            expect(len(got) == 1, f"{path.name}: {len(got)} answers")
            check_answer(message, got[0], "AA", path.name)

    two = frames((TOP / "examples/hl7v2/two.hl7").read_bytes())
    sent = [hl7.parse(message.decode()) for message in two]
    got = answers(program, two, TOP / "examples/hl7v2/clinic.toml")
    expect(len(got) == 2, f"two.hl7: {len(got)} answers")
    check_answer(sent[0], got[0], "AA", "the first of two.hl7")
    check_answer(sent[1], got[1], "AE", "the second of two.hl7")
    errors = [segment for segment in got[1] if str(segment[0]) == "ERR"]
    where = [str(segment[2]) for segment in errors]
    expect("OBX^4^5" in where, f"ERR-2 says {where}")
    expect(all(str(segment[3]).endswith("^HL70357") for segment in errors), "ERR-3 names its table")
    expect(all(str(segment[4]) in ("E", "W") for segment in errors), "ERR-4 is a severity")
    expect(any("11o" in hl7.parse(str(got[1])).unescape(str(segment[8])) for segment in errors), "ERR-8 says what")

    wrong = two[0].replace(b"ORU^R01^ORU_R01", b"ADT^A01^ADT_A01")
    check_answer(sent[0], answers(program, [wrong], TOP / "examples/hl7v2/clinic.toml")[0], "AR", "another event")
    both = two[0].replace(b"|P|2.5.1||||||", b"|P|2.5.1|||AL|AL||")
    got = answers(program, [both], TOP / "examples/hl7v2/clinic.toml")
    expect([str(answer["MSA"][0][1]) for answer in got] == ["CA", "AA"], "enhanced mode answers twice")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
