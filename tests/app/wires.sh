#!/usr/bin/env bash
# The same assessments by every way into the service: tests/app/wires.sh PROGRAM
#
# What comes out has to be the same, all but Provenance. Ends with "N passed, M failed".
set -uo pipefail
cd "$(dirname "$0")/../.."
exec python3 tests/app/wires.py "$(realpath "$1")"
