#!/usr/bin/env python3
"""What firmware does at the end of a port, without the hardware: the small receiver of receiver.py reads a byte
stream and prints its events. Each time the port is opened it begins anew (EXAMINATION.md, "On a port").

    firmware.py tcp PORT      wait there for connections
    firmware.py tty DEVICE    read a terminal or serial line, again and again
"""
import json
import os
import socket
import sys
import time
import tty

from receiver import Receiver


def listen(read):
    receiver = Receiver({"adopted": [], "places": 4, "silent_after": 0, "fields": False})
    receiver.is_open = True
    while data := read():
        for event in receiver.stream(data, 0):
            print(json.dumps(event), flush=True)


def tcp(port):
    with socket.create_server(("127.0.0.1", port)) as server:
        print("listening", file=sys.stderr, flush=True)
        while True:
            with server.accept()[0] as peer:
                listen(lambda: peer.recv(4096))


def terminal(path):
    while True:
        try:
            line = os.open(path, os.O_RDWR | os.O_NOCTTY)
        except OSError:  # not there yet, or just going
            time.sleep(0.01)
            continue
        try:
            tty.setraw(line)
            listen(lambda: os.read(line, 4096))
        except OSError:  # the other side has closed
            pass
        os.close(line)


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["tcp", port]:
            tcp(int(port))
        case ["tty", path]:
            terminal(path)
        case _:
            sys.exit("usage: firmware.py tcp PORT | tty DEVICE")
