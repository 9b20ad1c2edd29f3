#!/bin/sh
# Installs the npm test peers into FOOTBRIDGE_PEER_DIR (default build/peers/npm at the
# top of the repository) and does nothing if they are already there.
# Exit: 0 installed, 77 the packages cannot be had, other: a real failure.
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
top=$(CDPATH='' cd -- "$here/../../.." && pwd)
dir=${FOOTBRIDGE_PEER_DIR:-$top/build/peers/npm}
mkdir -p "$dir"
dir=$(CDPATH='' cd -- "$dir" && pwd)
export FOOTBRIDGE_PEER_DIR="$dir"

if ! command -v npm >/dev/null 2>&1; then
  echo "npm is not installed, so the npm test peers cannot be had" >&2
  exit 77
fi

# The copy of the lock is written last: an interrupted install is done again.
if [ -d "$dir/node_modules" ] && cmp -s "$here/package-lock.json" "$dir/installed-lock.json"; then
  echo "npm test peers are up to date in $dir"
else
  rm -f "$dir/installed-lock.json"
  cp "$here/package.json" "$here/package-lock.json" "$dir/"
  log="$dir/install.log"
  # No package here needs an install script, so none is allowed to run.
  if ! (cd "$dir" && npm ci --ignore-scripts --no-audit --no-fund \
        --fetch-retries=1 --fetch-timeout=60000) >"$log" 2>&1; then
    cat "$log" >&2
    if grep -Eq 'E(NOTFOUND|CONNREFUSED|CONNRESET|TIMEDOUT|AI_AGAIN|HOSTUNREACH|NETUNREACH)|EAI_AGAIN|ETIMEDOUT|E40[0-9]|E50[0-9]|network' "$log"; then
      echo "cannot reach the npm registry" >&2
      exit 77
    fi
    exit 1
  fi
  cp "$here/package-lock.json" "$dir/installed-lock.json"
  echo "npm test peers installed in $dir"
fi
# The definitions of IPS: HL7's own package, by itself, since what it depends on is not all to be had.
ips=hl7.fhir.uv.ips-2.0.0.tgz
ips_sha256=4a5cff17580f869140614ac51097d81540c63644d550ced8d4cd9b9bce7345c4
if [ ! -e "$dir/$ips" ]; then
  mkdir -p "$dir/new"
  if (cd "$dir/new" && npm pack hl7.fhir.uv.ips@2.0.0 --fetch-retries=1) >>"$dir/install.log" 2>&1; then
    echo "$ips_sha256  $dir/new/$ips" | sha256sum -c - >/dev/null || { echo "$ips is not the file that it was" >&2; exit 1; }
    mv "$dir/new/$ips" "$dir/$ips"
  else
    echo "the definitions of IPS cannot be had" >&2
  fi
fi
node "$here/definitions.mjs"
