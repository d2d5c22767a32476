#!/usr/bin/env bash
# A simulated day through receivers on an emulated Cortex-M3: the protocol crate in Rust, and the library of the C interface. What they
# believe is what `run` records, and what `listen` makes of the same bytes, torn ones too; and they pass the examination. Then a table of what each takes
# beside a decoder written by hand in C. The target directory keeps the images (target/firmware/images).
set -euo pipefail
cd "$(dirname "$0")/../.."
out=target/firmware
day=$out/day
mkdir -p $out/images
firmware=tests/firmware
scenario=$firmware/day.toml
serial=1000005400

cargo fmt --manifest-path $firmware/rust/Cargo.toml --check
cargo build --quiet --release -p benchmast
bench=target/release/benchmast
(
    . tests/outside/bare_toolchain.sh
    export CARGO_TARGET_THUMBV7M_NONE_EABI_LINKER=ld.lld
    cargo build --quiet --release --locked --manifest-path $firmware/rust/Cargo.toml "${core[@]}" --target $target --target-dir target/bare
    for image in receiver core yardstick; do
        cp target/bare/$target/release/$image $out/images/rust_$image
    done
    cargo build --quiet --release --locked --manifest-path protocol/c/Cargo.toml -p benchmast-protocol-c --no-default-features --features one-head \
        "${core[@]}" --target $target --target-dir target/bare
    cp target/bare/$target/release/libbenchmast.a $out/libbenchmast_one_head.a
    # To be examined, they have room for four heads.
    cargo build --quiet --release --locked --manifest-path $firmware/rust/Cargo.toml --bin receiver --features examined \
        "${core[@]}" --target $target --target-dir target/bare
    cp target/bare/$target/release/receiver $out/images/rust_examined
    cargo build --quiet --release --locked --manifest-path protocol/c/Cargo.toml -p benchmast-protocol-c --no-default-features \
        "${core[@]}" --target $target --target-dir target/bare
    cp target/bare/$target/release/libbenchmast.a $out/libbenchmast.a
)

python3 $firmware/c/check_table.py > $out/check_table.c
compile=(arm-none-eabi-gcc -std=c99 -Wall -Wextra -Werror -pedantic -Wshadow -Wconversion -mcpu=cortex-m3 -mthumb -flto
    -ffunction-sections -fdata-sections -DBENCHMAST_ONE_HEAD -Iprotocol/c/include
    -nostartfiles -specs=nano.specs -Wl,--gc-sections -Wl,--no-warn-execstack -T $firmware/c/board.ld)
arm-none-eabi-gcc -Wall -Wextra -Werror -mcpu=cortex-m3 -mthumb -Os -c $firmware/c/start.c -o $out/start.o
image() {
    local name=$1 optimise=$2
    shift 2
    "${compile[@]}" "$optimise" $out/start.o $firmware/c/board.c "$@" -o $out/images/$name
}
library=($firmware/c/library.c $firmware/c/plain.c $out/check_table.c $out/libbenchmast_one_head.a)
by_hand=($firmware/c/by_hand.c $firmware/c/plain.c $out/check_table.c)
image c_receiver -Os $firmware/c/receiver.c $out/libbenchmast_one_head.a
image c_examined -Os -UBENCHMAST_ONE_HEAD -DEXAMINED $firmware/c/receiver.c $out/libbenchmast.a
for main in core yardstick; do
    image c_$main -Os $firmware/c/$main.c "${library[@]}"
    image hand_small_$main -Os $firmware/c/$main.c "${by_hand[@]}"
    image hand_fast_$main -O2 $firmware/c/$main.c "${by_hand[@]}"
done

# The day: recorded by run, as a stream, and torn.
rm -rf $day
$bench run $scenario --format csv --out $day > $out/log
$bench play $scenario --to "file:$out/day.stream" --pace max 2>> $out/log
python3 tests/outside/decoder_noise.py 1 --tear < $out/day.stream > $out/torn.stream
# Whether the last frame was torn or not, a delimiter closes it, for `listen` as for the board.
printf '\0' >> $out/torn.stream
for stream in day torn; do
    $bench listen --from "file:$out/$stream.stream" --serial $serial --json > $out/$stream.json 2>> $out/log
done

for receiver in rust c; do
    told=$out/${receiver}_day.told
    python3 $firmware/emulate.py $out/images/${receiver}_receiver $told --play $bench play $scenario --pace max 2>> $out/log
    like_run=$(python3 $firmware/compare.py run $told $day)
    like_listen=$(python3 $firmware/compare.py listen $told $out/day.json)
    echo "firmware, $receiver: $like_run; like listen: $like_listen"
    told=$out/${receiver}_torn.told
    python3 $firmware/emulate.py $out/images/${receiver}_receiver $told --stream $out/torn.stream
    within=$(python3 $firmware/compare.py within $told $day)
    like_listen=$(python3 $firmware/compare.py listen $told $out/torn.json)
    echo "firmware, $receiver, torn stream: $within; like listen: $like_listen"
done
cmp $out/rust_day.told $out/c_day.told
cmp $out/rust_torn.told $out/c_torn.told

# Clause by clause, over the serial line; what needs a clock is left out.
for receiver in rust c; do
    examined=$(python3 $firmware/examine.py $out/images/${receiver}_examined $bench examine --random 10) || { echo "$examined" >&2; exit 1; }
    echo "firmware, $receiver, examined: $examined"
done

for road in rust c hand_small hand_fast; do
    python3 $firmware/emulate.py $out/images/${road}_yardstick $out/$road.measured --stream $out/day.stream
done
python3 $firmware/table.py $out
