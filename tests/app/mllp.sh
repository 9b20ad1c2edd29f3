#!/usr/bin/env bash
# Messages of HL7 v2 over MLLP, as their senders meet the service: tests/app/mllp.sh PROGRAM
#
# Each case is one promise of docs/hl7v2.md. FOOTBRIDGE_MLLP_MESSAGES and FOOTBRIDGE_MLLP_KILLS say how much is
# sent while the service is killed. Ends with "N passed, M failed".
set -uo pipefail
cd "$(dirname "$0")/../.."
exec python3 tests/app/mllp.py "$(realpath "$1")"
