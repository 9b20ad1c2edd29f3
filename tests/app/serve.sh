#!/usr/bin/env bash
# The service as its users meet it: tests/app/serve.sh PROGRAM
#
# Each case is one promise of docs/service.md. Ends with "N passed, M failed".
set -uo pipefail
cd "$(dirname "$0")/../.."
ulimit -n 8192 2>/dev/null || true
exec python3 tests/app/serve.py "$(realpath "$1")"
