"""Run an image on the emulator, feed its first serial line, keep what it says on the second.

emulate.py IMAGE OUT --stream FILE        the bytes of a file
emulate.py IMAGE OUT --play COMMAND...    what a command sends that gets `--to tcp:HOST:PORT` appended

After that a packet of format version 15 is sent, which every receiver refuses and none believes: it says that this was all. The run
is over when the image has told of it: by the event, or with the line `end`.
"""
import pathlib
import socket
import subprocess
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / "outside"))
from decoder_packet import check  # noqa: E402

PATIENCE_S = 100


def last_packet():
    data = bytes([0xF0, 1, 1, 1, 1, 1, 1])
    data += check(data).to_bytes(2, "big")
    assert data[7] and data[8]                     # so that stuffing is one byte in front
    return b"\0" + bytes([len(data) + 1]) + data + b"\0"


def free_port():
    with socket.socket() as any_port:
        any_port.bind(("127.0.0.1", 0))
        return any_port.getsockname()[1]


def send(port, data):
    end = time.monotonic() + PATIENCE_S
    while True:
        try:
            with socket.create_connection(("127.0.0.1", port)) as line:
                line.sendall(data)
                line.shutdown(socket.SHUT_WR)
                line.settimeout(PATIENCE_S)
                while line.recv(4096):             # the emulator closes when it has read everything
                    pass
            return
        except ConnectionError:
            if time.monotonic() > end:
                raise
            time.sleep(0.05)


def is_over(out):
    text = out.read_bytes() if out.exists() else b""
    return b'"version":15' in text or b"\nend 0\n" in text


def main(image, out, how, *rest):
    out = pathlib.Path(out)
    out.unlink(missing_ok=True)
    port = free_port()
    # Every instruction takes the same time, so that the board's timer counts them.
    machine = subprocess.Popen([
        "qemu-system-arm", "-M", "lm3s6965evb", "-nographic", "-monitor", "none", "-icount", "shift=4", "-kernel", image,
        "-serial", f"tcp:127.0.0.1:{port},server=on,wait=on",
        "-chardev", f"file,id=desk,path={out}", "-serial", "chardev:desk"], stderr=subprocess.PIPE)
    try:
        if how == "--play":
            subprocess.run([*rest, "--to", f"tcp:127.0.0.1:{port}"], check=True, timeout=PATIENCE_S)
        else:
            send(port, pathlib.Path(rest[0]).read_bytes())
        send(port, last_packet())
        end = time.monotonic() + PATIENCE_S
        while not is_over(out):
            if machine.poll() is not None or time.monotonic() > end:
                sys.exit(f"{image} did not come to its end")
            time.sleep(0.05)
    finally:
        machine.kill()
        machine.wait()


if __name__ == "__main__":
    main(*sys.argv[1:])
