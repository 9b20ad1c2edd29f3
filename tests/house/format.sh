#!/usr/bin/env bash
# The formatter decides layout: any file it would change is a finding.
set -euo pipefail
cd "$(dirname "$0")/../.."
mapfile -t files < <(find bridge tests -name '*.cpp' -o -name '*.hpp')
clang-format-14 --dry-run -Werror "${files[@]}"
echo "format: ${#files[@]} files as clang-format has them"
