# Sourced by the peers that are built with Maven: builds the project in $here into $out, unless it is built.
# Sets $log. Exit: 77 if the Maven registry cannot be reached, 2 if it does not compile.

mkdir -p "$out"
out=$(cd "$out" && pwd)
log=$out/build.log

# The stamp also covers a local repository that was emptied after the build.
is_built() {
  [[ -f $out/built ]] || return 1
  [[ -z $(find "$here/pom.xml" "$here/src" -newer "$out/built" -print -quit) ]] || return 1
  local jar
  while IFS= read -r -d ':' jar; do
    [[ -f $jar ]] || return 1
  done < <(printf '%s:' "$(<"$out/classpath.txt")")
}

build() {
  rm -f "$out/built"
  if mvn -B -ntp -f "$here/pom.xml" -Dpeer.dir="$out" compile >"$log" 2>&1; then
    touch "$out/built"
    return
  fi
  if grep -qE 'Could not (transfer|find|resolve)|could not be resolved|Unknown host|offline mode' "$log"; then
    echo "cannot reach the Maven registry (details: $log)" >&2
    exit 77
  fi
  cat "$log" >&2
  exit 2
}

is_built || build
