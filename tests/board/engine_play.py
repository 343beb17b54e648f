"""A bowl's course of temperature played to the engine, and how soon its alarms are needed.

    points of the bowl -> play() -> [(second, alarm, phase), ...] -> check(heard, expected)

What is expected comes from the bowl and from the hands beside it, never from the engine's own
constants: those may change as long as whoever tempers is still told in time.
"""

import itertools
from collections import namedtuple

from board_fakes import COOL, MELT, REWARM, WORK, profile_bytes

from snapcurve.probe.tempering.engine import Engine
from snapcurve.probe.tempering.profile import parse

SEEDING = profile_bytes(MELT, WORK)
THREE_STEP = profile_bytes(MELT, COOL, REWARM, WORK, method="three-step")
HOLD = profile_bytes(WORK, method="hold")
SUDDEN = profile_bytes(("melt", "rise", 4500, 0, 0, 0, 60), WORK)

# How soon is soon enough. Common practice, no source.
#
# A target is 0.1 °C wide to either side: closer than that no probe at a bench can be trusted.
AT_TARGET_C = 0.1
# The window of these profiles is 1 °C wide. A bowl 0.2 °C out of it still sets well, and one
# short burst of hot air or a few turns away from it bring it back; at half a degree the batch
# is thick, or its crystals are going.
STILL_GOOD_C = 0.2
# Putting down seed or hot-air gun and lifting the bowl off takes a quarter of a minute: so much
# is left of the 20 s by which a profile warns ahead, and what went through its window while
# nobody looked (a lump of seed, a burst too long) is told in that time as well.
HANDS_S = 15
# Good news is in no hurry: a bowl stays in its window for minutes.
NO_HURRY_S = 10

Told = namedtuple("Told", "from_s to_s alarm phase")


def ahead(target_s, phase):
    """Told that a target is near: up to 20 s ahead, and with time left for the hands."""
    return Told(target_s - 20, target_s - HANDS_S, "near", phase)


def at_target(target_s, rate, phase):
    """Told when the bowl, which moves at ``rate`` (°C/s), is at its target."""
    wide_s = AT_TARGET_C / rate
    return Told(target_s - wide_s, target_s + wide_s, "reached", phase)


def left(edge_s, rate, alarm, out_by_c=STILL_GOOD_C):
    """Told when the bowl, which moves at ``rate`` (°C/s), has left its window at ``edge_s``, and
    before it is out of it by ``out_by_c``.
    """
    return Told(edge_s, edge_s + out_by_c / rate, alarm, "work")


def check(heard, expected):
    """Whether just the ``expected`` alarms were heard, in this order and each in its time."""
    assert [row[1:] for row in heard] == [(row.alarm, row.phase) for row in expected], heard
    for (second, *_), row in zip(heard, expected, strict=True):
        assert row.from_s <= second <= row.to_s, (second, row)


def bowl_c(points, second):
    """The temperature of the bowl at ``second``."""
    for (start_s, start_c), (end_s, end_c) in itertools.pairwise(points):
        if second <= end_s:
            return start_c + (end_c - start_c) * (second - start_s) / (end_s - start_s)
    raise ValueError(f"the course ends before {second} s")


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
