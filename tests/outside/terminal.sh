#!/usr/bin/env bash
# A plain terminal tool on the pseudo-terminal of `play` gets the very bytes that go to standard output.
set -euo pipefail
cd "$(dirname "$0")/../.."
out=$(mktemp -d)
trap 'rm -rf "$out"; kill $(jobs -p) 2>/dev/null || true' EXIT
cargo build --quiet --release -p benchmast
bench=target/release/benchmast
scenario=scenarios/hard_link.toml
$bench play $scenario --to - --pace max > "$out/expected"
link=$out/head0

# With cat, which takes the line as it finds it.
$bench play $scenario --to "pty:$link" --pace max 2> "$out/play.log" &
player=$!
for _ in $(seq 100); do [ -e "$link" ] && break; sleep 0.1; done
timeout 60 cat "$link" > "$out/cat" || true
wait $player
cmp "$out/expected" "$out/cat"

# With picocom, a terminal program that opens the line, sets it up anew and passes on what comes.
$bench play $scenario --to "pty:$link" --pace max 2> "$out/play.log" &
player=$!
for _ in $(seq 100); do [ -e "$link" ] && break; sleep 0.1; done
timeout 60 script --quiet --return --command "picocom --quiet --nolock --noreset --baud 9600 --exit-after 3000 --logfile $out/picocom $link" /dev/null > /dev/null || true
wait $player
cmp "$out/expected" "$out/picocom"
echo "terminal: cat and picocom each got all $(stat -c %s "$out/expected") bytes, unchanged"
