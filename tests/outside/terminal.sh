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

# With pyserial, as a few lines of somebody's own script would read a serial line.
python=target/outside/venv/bin/python
if ! "$python" -c 'import serial' 2>/dev/null; then
    [ -x "$python" ] || python3 -m venv target/outside/venv
    "$python" -m pip install --quiet --disable-pip-version-check -r tests/outside/requirements.txt
fi
$bench play $scenario --to "pty:$link" --pace max 2> "$out/play.log" &
player=$!
for _ in $(seq 100); do [ -e "$link" ] && break; sleep 0.1; done
timeout 60 "$python" - "$link" "$out/expected" > "$out/pyserial" <<'PYTHON'
import os, serial, sys
wanted = os.path.getsize(sys.argv[2])
with serial.Serial(sys.argv[1], 115200, timeout=10) as line:
    while wanted and (got := line.read(min(wanted, 4096))):
        sys.stdout.buffer.write(got)
        wanted -= len(got)
PYTHON
wait $player
cmp "$out/expected" "$out/pyserial"

# Over TCP, a socket of Python's that listens.
timeout 60 python3 - "$out/port" > "$out/tcp" <<'PYTHON' &
import os, socket, sys
with socket.create_server(("127.0.0.1", 0)) as server:
    with open(sys.argv[1] + ".new", "w") as file:
        file.write(str(server.getsockname()[1]))
    os.rename(sys.argv[1] + ".new", sys.argv[1])
    peer, _ = server.accept()
    while got := peer.recv(4096):
        sys.stdout.buffer.write(got)
PYTHON
reader=$!
for _ in $(seq 100); do [ -e "$out/port" ] && break; sleep 0.1; done
$bench play $scenario --to "tcp:127.0.0.1:$(cat "$out/port")" --pace max 2> "$out/play.log"
wait $reader
cmp "$out/expected" "$out/tcp"
echo "terminal: cat, picocom and pyserial on a pseudo-terminal and a socket each got all $(stat -c %s "$out/expected") bytes, unchanged"
