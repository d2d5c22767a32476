#!/usr/bin/env bash
# A statistician as judge: can gradient-boosted trees tell a day of the open hourly year from a simulated one?
# Usage: discriminator.sh [SEED]; DISCRIMINATOR_VENV names a virtual environment to use or to make.
set -euo pipefail
cd "$(dirname "$0")/../.."
venv=${DISCRIMINATOR_VENV:-target/outside/discriminator-venv}
if [ ! -x "$venv/bin/python" ]; then
  python3 -m venv "$venv"
  "$venv/bin/pip" --quiet install -r tests/outside/discriminator_requirements.txt
fi
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
cargo run --quiet --release -p benchmast-tests --bin believe -- --seed "${1:-1}" --hourly "$out/hours.csv" > "$out/table"
"$venv/bin/python" tests/outside/discriminator.py "$out/hours.csv"
