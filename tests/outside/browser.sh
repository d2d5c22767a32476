#!/usr/bin/env bash
# The report in headless Chromium, at a desk's and a phone's width, with no network to reach.
set -euo pipefail
cd "$(dirname "$0")/../.."
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
cargo run --quiet --release -p benchmast -- run scenarios/first_week.toml --only report --out "$out/run" > /dev/null
flags=(--headless --no-sandbox --disable-gpu --no-first-run --disable-background-networking
    --disable-component-update --disable-sync --hide-scrollbars --host-resolver-rules='MAP * ~NOTFOUND')
for width in 1200 400; do
    chromium "${flags[@]}" --user-data-dir="$out/profile$width" --window-size=$width,6000 \
        --screenshot="$out/report$width.png" "file://$out/run/report.html" 2> "$out/chromium.log"
    target/outside/venv/bin/python tests/outside/browser.py "$out/report$width.png" $width
done
if grep -nE '(src|href)="?(https?:)?//|@import|url\(' "$out/run/report.html"; then
    echo "the report reaches for the network" >&2
    exit 1
fi
