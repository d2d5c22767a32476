#!/usr/bin/env bash
# Other people's readers open a run's files: pandas and pyarrow must see in the Parquet files what stands in
# the CSV files, and the manifest's SHA-256 must be those of the files.
set -euo pipefail
cd "$(dirname "$0")/../.."
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
cargo run --quiet --release -p benchmast -- run scenarios/hard_link.toml --format csv,parquet --out "$out/run" > "$out/said"
target/outside/venv/bin/python tests/outside/readers.py "$out/run"
