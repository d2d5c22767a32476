#!/usr/bin/env bash
# Reset the emulated board by the emulator's monitor at a TCP port of this machine, and come back when it has begun anew.
set -euo pipefail
exec 3<> "/dev/tcp/127.0.0.1/$1"
printf '{"execute": "qmp_capabilities"}\n{"execute": "system_reset"}\n' >&3
while read -r -t 10 line <&3; do
    case $line in *'"event": "RESET"'*) exit 0 ;; esac
done
echo "the emulator has not reset the board" >&2
exit 1
