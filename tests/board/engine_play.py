"""Profiles for the engine, what it waits for, and a course of temperature played to it."""

import itertools

from board_fakes import COOL, MELT, REWARM, WORK, profile_bytes

from probe.tempering import engine as engines
from probe.tempering.engine import _CROSSED_C, _DOUBT_FREE_C, Engine
from probe.tempering.profile import parse

SEEDING = profile_bytes(MELT, WORK)
THREE_STEP = profile_bytes(MELT, COOL, REWARM, WORK, method="three-step")
HOLD = profile_bytes(WORK, method="hold")
SUDDEN = profile_bytes(("melt", "rise", 4500, 0, 0, 0, 60), WORK)

# What a phase waits for, in seconds, and how close is there for a sure estimate.
CROSSED_S = engines._CROSSED_MS / 1000
INSIDE_S = engines._INSIDE_MS / 1000
BACK_S = engines._BACK_MS / 1000
OUTSIDE_S = engines._OUTSIDE_MS / 1000
LEAD_S = engines._LEAD_MS / 1000
HOT_S = engines._HOT_MS / 1000
THERE_C = min(_CROSSED_C, _DOUBT_FREE_C)


def play(raw, points, pauses=(), offset_ms=0, sure=lambda _s: (0.0, 0.0), hands=None, seen=None):
    """The alarms of estimates that run straight between ``(second, celsius)`` at 4 Hz.

    Within ``pauses`` (seconds from, to) the probe is out. ``sure`` gives spread and patches
    at a second; ``hands`` maps a second to what is then done to the engine; ``seen(second,
    engine)`` is told of each step.
    """
    engine = Engine()
    engine.start(parse(raw))
    heard = []
    hands = hands or {}
    for (start_s, start_c), (end_s, end_c) in itertools.pairwise(points):
        rate = (end_c - start_c) / (end_s - start_s)
        for quarter in range(int(start_s * 4), int(end_s * 4)):
            now_s = quarter / 4
            if now_s in hands:
                hands[now_s](engine)
            if any(a <= now_s < b for a, b in pauses):
                engine.pause()
                continue
            alarms = []
            celsius = start_c + rate * (now_s - start_s)
            engine.step(offset_ms + int(now_s * 1000), celsius, rate, alarms, *sure(now_s))
            heard += [(now_s, *alarm) for alarm in alarms]
            if seen is not None:
                seen(now_s, engine)
    return heard
