#!/usr/bin/env bash
# The receiver for C: its header is what its source makes, no symbol of the microcontroller's can panic or allocate, and a test in C99,
# built with every warning an error, agrees with the vectors: here, under valgrind, and on an emulated Cortex-M3. A small receiver on it
# passes the examination, as users build it and with the compiler's checks of memory and undefined behaviour.
set -euo pipefail
cd "$(dirname "$0")/../.."
out=target/c_interface
mkdir -p $out/arm
c=protocol/c
warnings=(-std=c99 -Wall -Wextra -Werror -pedantic -Wshadow -Wconversion)
parts=(test vectors misuse noise)

cargo fmt --manifest-path $c/Cargo.toml --all --check
# One by one: together, the header's writer would switch on `std` in what they share.
for crate in benchmast-protocol-c benchmast-header; do
    cargo clippy --quiet --manifest-path $c/Cargo.toml --locked --target-dir $out -p $crate -- -D warnings
done
cargo run --quiet --manifest-path $c/Cargo.toml --locked --target-dir $out -p benchmast-header -- --check
python3 $c/tests/vectors.py protocol/vectors > $out/vectors.h

# Of the microcontroller's library; here, the check's sixteen tables keep bounds checks that nothing can fail.
no_way_out() {
    if nm "$1" 2>/dev/null | grep -iE 'panicking|__rust_alloc|unwrap_failed'; then
        echo "$1 can panic or allocate" >&2
        exit 1
    fi
}

# In lock-step with the workspace: what is proved there is what is built here, and on the microcontroller.
for crate in postcard heapless crc cobs serde aes cmac; do
    ours=$(grep -A1 "name = \"$crate\"" Cargo.lock | grep version | sort -u)
    for lock in $c/Cargo.lock tests/firmware/rust/Cargo.lock; do
        theirs=$(grep -A1 "name = \"$crate\"" $lock | grep version | sort -u || true)
        # Without keys, what makes tags is not there.
        if [ -n "$theirs" ] && [ "$ours" != "$theirs" ]; then
            echo "$lock has another $crate: $theirs, not $ours" >&2
            exit 1
        fi
    done
done

# On this machine.
cargo build --quiet --release --manifest-path $c/Cargo.toml --locked --target-dir $out -p benchmast-protocol-c
gcc "${warnings[@]}" -g -O1 -I$c/include -I$out $(printf "$c/tests/%s.c " "${parts[@]}") $out/release/libbenchmast.a -o $out/test
g++ -x c++ -std=c++17 -Wall -Wextra -Werror -fsyntax-only $c/include/benchmast.h
here=$(valgrind --quiet --error-exitcode=9 --leak-check=full --show-leak-kinds=all $out/test)

# Under examination: an error that the compiler's checks find ends the receiver, which is a crash there.
cargo build --quiet --release -p benchmast
for checks in "-O2" "-O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all"; do
    # shellcheck disable=SC2086
    gcc "${warnings[@]}" $checks -I$c/include tests/receivers/receiver.c $out/release/libbenchmast.a -o $out/receiver
    examined=$(target/release/benchmast examine --strict --captures $out/captures -- $out/receiver) || { echo "$examined" >&2; exit 1; }
    echo "examination, gcc $checks: $examined"
done

# For the microcontroller, for one head without keys, and for four with them.
(
    . tests/outside/bare_toolchain.sh
    bare() { cargo build --quiet --release --manifest-path $c/Cargo.toml --locked -p benchmast-protocol-c "${core[@]}" --target $target --target-dir target/bare "$@"; }
    bare --no-default-features --features one-head
    no_way_out target/bare/$target/release/libbenchmast.a
    cp target/bare/$target/release/libbenchmast.a $out/arm/libbenchmast_one_head.a
    bare
    no_way_out target/bare/$target/release/libbenchmast.a
    cp target/bare/$target/release/libbenchmast.a $out/arm/libbenchmast.a
)
machine=(-mcpu=cortex-m3 -mthumb -O2 -ffunction-sections -fdata-sections)
objects=()
for part in "${parts[@]}"; do
    as=(); [ "$part" = test ] && as=(-Dmain=test_main)
    arm-none-eabi-gcc "${warnings[@]}" "${machine[@]}" "${as[@]}" -I$c/include -I$out -c $c/tests/$part.c -o $out/arm/$part.o
    objects+=($out/arm/$part.o)
done
arm-none-eabi-gcc "${machine[@]}" -Wall -Wextra -Werror \
    -specs=rdimon.specs -nostartfiles -Wl,--gc-sections -Wl,--no-warn-execstack -T tests/firmware/c/board.ld \
    tests/firmware/c/start.c $c/tests/semihosting.c "${objects[@]}" $out/arm/libbenchmast.a -o $out/arm/test.elf
there=$(timeout 60 qemu-system-arm -M lm3s6965evb -nographic -monitor none -serial none \
    -semihosting-config enable=on,target=native -kernel $out/arm/test.elf 2> $out/arm/log)
echo "C interface: here, under valgrind: ${here//$'\n'/, }; on a Cortex-M3: ${there##*$'\n'}"
