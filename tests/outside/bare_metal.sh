#!/usr/bin/env bash
# The protocol crate for a bare Cortex-M3: it builds with nothing but `core`, pulls in no feature that brings
# `std` or `alloc`, and the optimised library holds no way to panic or allocate.
set -euo pipefail
cd "$(dirname "$0")/../.."
target=thumbv7m-none-eabi
if rustup target list --installed 2>/dev/null | grep -qx $target; then
    build=(cargo build)
    extra=()
else
    # Debian's toolchain builds `core` from its source; -Z options ask for the bootstrap switch there.
    export RUSTC_BOOTSTRAP=1
    export PATH=/usr/bin:$PATH
    build=(cargo build)
    extra=(-Zbuild-std=core)
fi
"${build[@]}" --quiet --release -p benchmast-protocol "${extra[@]}" --target $target --target-dir target/bare
"${build[@]}" --quiet --release --manifest-path protocol/bare/Cargo.toml "${extra[@]}" --target $target --target-dir target/bare
library=target/bare/$target/release/libbenchmast_bare.a
if nm "$library" 2>/dev/null | grep -iE 'panicking|__rust_alloc|unwrap_failed'; then
    echo "the bare library can panic or allocate" >&2
    exit 1
fi
if cargo tree --quiet -e features,normal -p benchmast-protocol --target $target --prefix none | grep -E '"(std|alloc|use-std)"'; then
    echo "a dependency of the protocol crate asks for std or alloc" >&2
    exit 1
fi
# In lock-step with the workspace: what is proved is what is built.
for crate in postcard heapless crc cobs serde aes cmac; do
    ours=$(grep -A1 "name = \"$crate\"" Cargo.lock | grep version | sort -u)
    bare=$(grep -A1 "name = \"$crate\"" protocol/bare/Cargo.lock | grep version | sort -u)
    if [ "$ours" != "$bare" ]; then
        echo "protocol/bare/Cargo.lock has another $crate: $bare, not $ours" >&2
        exit 1
    fi
done
echo "bare metal: builds for $target with core alone; no std, no alloc, no panic"
