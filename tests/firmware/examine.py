"""Examine an image on the emulator: its first serial line is the port, its second the verdicts, and reset.sh resets the board by the
emulator's monitor (QMP, https://www.qemu.org/docs/master/interop/qmp-spec.html).

examine.py IMAGE COMMAND...       runs COMMAND with --port, --verdicts and --reset appended, and ends as it ends
"""
import pathlib
import shlex
import socket
import subprocess
import sys
import time

from emulate import PATIENCE_S, free_port


def wait_for(port):
    end = time.monotonic() + PATIENCE_S
    while True:
        try:
            return socket.create_connection(("127.0.0.1", port)).close()
        except ConnectionError:
            if time.monotonic() > end:
                raise
            time.sleep(0.05)


def main(image, *command):
    port, monitor = free_port(), free_port()
    machine = subprocess.Popen([
        "qemu-system-arm", "-M", "lm3s6965evb", "-nographic", "-monitor", "none", "-kernel", image,
        "-qmp", f"tcp:127.0.0.1:{monitor},server=on,wait=off", "-serial", f"tcp:127.0.0.1:{port},server=on,wait=off",
        "-chardev", "stdio,id=desk,signal=off", "-serial", "chardev:desk"],
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    try:
        wait_for(monitor)
        reset = shlex.join([str(pathlib.Path(__file__).with_name("reset.sh")), str(monitor)])
        return subprocess.run([*command, "--port", f"tcp:127.0.0.1:{port}", "--verdicts", "-", "--reset", reset],
                              stdin=machine.stdout, timeout=5 * PATIENCE_S).returncode
    finally:
        machine.kill()
        machine.wait()


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
