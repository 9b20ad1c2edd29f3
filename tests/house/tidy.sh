#!/usr/bin/env bash
# clang-tidy over every source of bridge/, two at a time; with --selftest proves that it can fail.
set -euo pipefail
cd "$(dirname "$0")/../.."

if [ "${1:-}" = --selftest ]; then
  bad=$(mktemp --suffix=.cpp)
  trap 'rm -f "$bad"' EXIT
  # A value used after it was moved from.
  printf '#include <string>\n#include <utility>\nstd::size_t f(std::string a) {\n' >"$bad"
  printf '  std::string b = std::move(a);\n  return a.size() + b.size();\n}\n' >>"$bad"
  if clang-tidy-14 --quiet --config-file=.clang-tidy "$bad" -- -std=c++20 >/dev/null 2>&1; then
    echo "tidy: a use after a move was not found"
    exit 1
  fi
  exit 0
fi

if [ ! -f build/release/compile_commands.json ]; then
  echo "tidy: configure first: cmake --preset release"
  exit 1
fi
mapfile -t files < <(find bridge -name '*.cpp')
# The release flags: clang does not know GCC's switches for warnings, and needs no sanitizer here.
printf '%s\0' "${files[@]}" | xargs -0 -P 2 -n 4 clang-tidy-14 --quiet -p build/release \
  --extra-arg=-Wno-unknown-warning-option 2>/dev/null
echo "tidy: ${#files[@]} files without a finding"
