# To be sourced, at the top of the project: the programs that make the same bundles, and the visits they are given.
# node_peer and java_peer take --emit or --time SECONDS and files; 77 is that what they need cannot be had.

# Repeated readings and figures of earlier visits, which example 27 has, are not the peers' work.
examples=(examples/clinic/[01]*.json examples/clinic/2[0-6]*.json)

node_peer() { node tests/bench/peers/convert.mjs "$@"; }
java_peer() { tests/peers/java/run.sh --convert-bench mapping "$@"; }
