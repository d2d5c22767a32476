#!/usr/bin/env bash
# Each fuzz target for some seconds (the first argument, or 10) from the corpus in the repository; a finding stops it and
# leaves the input beside the corpus, in artifacts.
#     tests/outside/fuzz.sh 600        ten minutes each, for a long run
# Needs a C++ compiler for the fuzzer's own library. cargo-fuzz is built once, into target/outside.
set -euo pipefail
cd "$(dirname "$0")/../.."
seconds=${1:-10}
tool=$PWD/target/outside/cargo/bin/cargo-fuzz
if ! [ -x "$tool" ]; then
    cargo install --quiet --locked --version 0.13.2 --root target/outside/cargo cargo-fuzz
fi
# Safe Rust has nothing for an address sanitizer to find; coverage alone works on a stable toolchain, once it is told so.
export RUSTC_BOOTSTRAP=1
"$tool" build --fuzz-dir tests/fuzz --sanitizer none
for target in packet stream receiver capture scenario; do
    found=tests/fuzz/target/found/$target
    mkdir -p "$found" "tests/fuzz/artifacts/$target"
    program=$(find tests/fuzz/target -path "*/release/$target" -type f -perm -u+x)
    if ! "$program" -max_total_time="$seconds" -artifact_prefix="tests/fuzz/artifacts/$target/" \
        "$found" "tests/fuzz/corpus/$target" > "$found.log" 2>&1; then
        tail -n 40 "$found.log"
        echo "fuzz: $target has a finding: tests/fuzz/artifacts/$target; make it a test" >&2
        exit 1
    fi
    echo "fuzz: $target: $(grep -oE '^Done .*' "$found.log"), $(grep -oE 'cov: [0-9]+' "$found.log" | tail -n 1)"
done
