#!/usr/bin/env bash
# The formatter decides layout: any file it would change is a finding.
set -euo pipefail
cd "$(dirname "$0")/../.."

if [ "${1:-}" = --selftest ]; then
  if echo 'int  f( ){return 1 ;}' | clang-format-14 --dry-run -Werror --assume-filename=bridge/x.cpp 2>/dev/null; then
    echo "format: a bad layout was not found"
    exit 1
  fi
  exit 0
fi

mapfile -t files < <(find bridge tests -name '*.cpp' -o -name '*.hpp')
clang-format-14 --dry-run -Werror "${files[@]}"
echo "format: ${#files[@]} files as clang-format has them"
