#!/usr/bin/env bash
# clang-tidy over every source of bridge/, two at a time; with --selftest proves that it can fail.
set -euo pipefail
cd "$(dirname "$0")/../.."

# Clang does not know GCC's switches for warnings; reserved names are a warning of its own.
extra=(--extra-arg=-Wno-unknown-warning-option --extra-arg=-Wreserved-identifier)

if [ "${1:-}" = --selftest ]; then
  bad=$(mktemp --suffix=.cpp)
  trap 'rm -f "$bad"' EXIT
  # finds WHAT: whether it is found in the file on standard input.
  finds() {
    cat >"$bad"
    if clang-tidy-14 --quiet --config-file=.clang-tidy "${extra[@]}" "$bad" -- -std=c++20 >/dev/null 2>&1; then
      echo "tidy: $1 was not found"
      exit 1
    fi
  }
  {
    printf '#include <string>\n#include <utility>\nstd::size_t f(std::string a) {\n'
    printf '  std::string b = std::move(a);\n  return a.size() + b.size();\n}\n'
  } | finds "a use after a move"
  printf 'int _Reserved = 1;\n' | finds "a reserved name"
  exit 0
fi

if [ ! -f build/release/compile_commands.json ]; then
  echo "tidy: configure first: cmake --preset release"
  exit 1
fi
mapfile -t files < <(find bridge -name '*.cpp')
# With the release flags, since it needs no sanitizer here.
printf '%s\0' "${files[@]}" | xargs -0 -P 2 -n 4 clang-tidy-14 --quiet -p build/release \
  "${extra[@]}" 2>/dev/null
echo "tidy: ${#files[@]} files without a finding"
