#!/usr/bin/env bash
# Watched folders, as whoever puts files there meets them: tests/app/folder.sh PROGRAM
#
# Each case is one promise of docs/service.md. Ends with "N passed, M failed".
set -uo pipefail
cd "$(dirname "$0")/../.."
exec python3 tests/app/folder.py "$(realpath "$1")"
