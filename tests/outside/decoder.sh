#!/usr/bin/env bash
# A second decoder and receiver in Python, written from protocol/WIRE.md, against the worked examples and
# against the reference receiver: a byte stream, the same torn, a capture with its times, and packets that
# make little sense together.
# Needs Python 3.10 or later, no packages.
set -euo pipefail
cd "$(dirname "$0")/../.."
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
bench() { cargo run --quiet --release -p benchmast -- "$@"; }
decoder=tests/outside/decoder.py
compare=tests/outside/decoder_compare.py

vectors=$(python3 $decoder --vectors protocol/vectors)

bench play scenarios/hard_link.toml --to "file:$out/stream" --pace max 2> "$out/log"
bench listen --from "file:$out/stream" --every-head --json > "$out/listen" 2> "$out/log"
bench play scenarios/hard_link.toml --to - --pace max 2> "$out/log" | python3 $decoder > "$out/decoder"
stream=$(python3 $compare "$out/decoder" "$out/listen")

python3 tests/outside/decoder_noise.py 1 --tear < "$out/stream" > "$out/torn"
bench listen --from "file:$out/torn" --every-head --json > "$out/listen" 2> "$out/log"
python3 $decoder < "$out/torn" > "$out/decoder"
torn=$(python3 $compare "$out/decoder" "$out/listen")

bench run scenarios/hard_link.toml --format csv --out "$out/run" > "$out/log"
bench listen --from "file:$out/run/capture.ndjson" --json > "$out/listen" 2> "$out/log"
python3 $decoder --capture < "$out/run/capture.ndjson" > "$out/decoder"
capture=$(python3 $compare "$out/decoder" "$out/listen")

for seed in $(seq 20); do
    python3 tests/outside/decoder_noise.py "$seed" 3000 > "$out/noise"
    bench listen --from "file:$out/noise" --json >> "$out/listen_noise" 2> "$out/log"
    python3 $decoder --capture < "$out/noise" >> "$out/decoder_noise"
done
noise=$(python3 $compare "$out/decoder_noise" "$out/listen_noise")

echo "decoder: $vectors; like listen: stream $stream, torn stream $torn, capture $capture, noise $noise"
