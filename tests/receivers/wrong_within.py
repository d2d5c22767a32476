#!/usr/bin/env python3
"""The small receiver of receiver.py, wrong inside in one way that only a few packets in a certain order bring out.

    wrong_within.py FAULT
"""
import sys

import receiver
from receiver import Head, Life

testify, believe, place, of_present, judge = Head.testify, Life.believe, Life.place, Head.of_present, Head.judge


def two_witnesses(self, packet):
    testify(self, packet)
    return packet[0] == 1 and self.witnesses == 2


def due_from_observations(self, kind, interval, tips, now):
    due = self.top, self.at
    told = believe(self, kind, interval, tips, now)
    if kind == 2 and due[0] is not None:
        self.top, self.at = due
    return told


def late_counter(self, kind, interval, tips, bound):
    is_late = kind in self.newest and interval < self.newest[kind]
    return place(self, kind, interval, tips, (lambda n: 65535) if is_late else bound)


def late_clock(self, packet, now):
    events = of_present(self, packet, now)
    if events[0]["event"] == "late":
        self.present.at = now
    return events


def rain_after_health(self, kind, sequence, number, tips, now):
    events = judge(self, kind, sequence, number, tips, now)
    if events[0]["event"] == "restarted" and kind == 2:
        self.present.base = None
    return events


match sys.argv[1:]:
    case ["two-witnesses"]:
        Head.testify = two_witnesses
    case ["due-from-observations"]:
        Life.believe = due_from_observations
    case ["late-clock"]:
        Head.of_present = late_clock
    case ["late-counter"]:
        Life.place = late_counter
    case ["rain-after-health"]:
        Head.judge = rain_after_health
    case _:
        sys.exit("usage: wrong_within.py two-witnesses|due-from-observations|late-clock|late-counter|rain-after-health")
receiver.main()
