"""Batches in a summer kitchen, through the real firmware: what is heard is what is heard of the
same chocolate in a cool room.

The chocolate runs straight from one temperature to the next; the rehearsal's probe (4 s in
chocolate, 45 s in air, noise) says what the converter sees.
"""

import random
from types import SimpleNamespace

import pytest

from snapcurve.couvertures import load, user_folder
from snapcurve.couvertures.profile import compile_profile
from snapcurve.recording.curve import decode
from snapcurve.simulation.bowl_simulator import STEP_S, Conditions, Probe
from snapcurve.simulation.tape import TapeRow, replay

COOL_C, WARM_C = 21.0, 27.5
OUT = None
# Taken for the air while seed draws the bowl down, the reading must first have rested for 15 s.
LATER_S = 30
CHOCOLATE_ALARMS = ("reached", "too_cool", "too_warm", "temper_lost", "back", "too_hot")

# Each leg is (seconds, where the chocolate is at its end); OUT: the probe lies in the room.
MELTED = [
    (10, OUT),
    (0, 34),
    (25, 35),
    (30, OUT),
    (0, 40),
    (25, 40.5),
    (30, OUT),
    (0, 46),
    (40, 46),
]
# Seed by handfuls, each of which draws the bowl down within a quarter of a minute.
SEEDED = [
    leg for c in (43, 40.4, 38, 36, 34.2, 32.5, 31.0, 29.7) for leg in ((15, c), (30, c - 0.1))
]
WHITE = [
    *MELTED,
    *SEEDED,
    (60, 29.4),
    (130, 28.1),  # 0.4 °C below its window, 0.6 above the warm room
    (30, 28.1),
    (60, 29.4),
    (60, 29.4),
    (60, 31.0),
    (40, 31.0),
    (90, 29.2),
    (60, 29.2),
]
MILK = [(10, OUT), (0, 31.0), (90, 31.0), (80, 33.5), (150, 33.5), (120, 31.0), (60, 31.0)]
FROM_THE_START = [(60, 30.6), (100, 32.4), (60, 32.4), (120, 31.0), (60, 31.0)]


def tape(legs, room_c, seed=1):
    """What the probe says of ``legs``, four times a second."""
    probe = Probe(Conditions(room_c=room_c), random.Random(seed))
    bowl = SimpleNamespace(liquid_c=0.0, uneven=0.0, room_c=room_c)
    rows, now_s = [], 0.0
    if legs[0][1] is not OUT:
        probe._sheath_c = bowl.liquid_c = legs[0][1]
    for seconds, end_c in legs:
        probe.inside = end_c is not OUT
        start_c, steps = bowl.liquid_c, round(seconds / STEP_S)
        for step in range(1, steps + 1):
            if end_c is not OUT:
                bowl.liquid_c = start_c + (end_c - start_c) * step / steps
            rows.append(TapeRow(now_s, probe.step(bowl, STEP_S), room_c, 0))
            now_s += STEP_S
        if end_c is not OUT:
            bowl.liquid_c = end_c
    return rows


def told(kind, method, legs, room_c):
    """The alarms about the chocolate with their seconds, and how much was recorded."""
    profile = compile_profile(load(kind, user_folder()), method)
    done = replay(tape(legs, room_c), profile)
    heard = [
        (alarm.alarm, alarm.phase, alarm.seconds)
        for alarm in done.alarms
        if alarm.alarm in CHOCOLATE_ALARMS
    ]
    return heard, [decode(curve) for curve in done.curves]


@pytest.mark.parametrize(
    ("kind", "method", "legs", "wanted"),
    [
        (
            "white",
            "seeding",
            WHITE,
            ["reached", "reached", "too_cool", "back", "too_warm", "back"],
        ),
        ("milk", "hold", MILK, ["reached", "too_warm", "temper_lost", "reached"]),
        ("milk", "hold", FROM_THE_START, ["reached", "too_warm", "back"]),
    ],
    ids=["white by seeding", "milk held", "milk held, in the bowl from the start"],
)
def test_a_warm_room_hears_what_a_cool_one_does(kind, method, legs, wanted):
    cool, _ = told(kind, method, legs, COOL_C)
    assert [alarm for alarm, *_ in cool] == wanted, "the control itself is wrong"
    warm, curves = told(kind, method, legs, WARM_C)
    assert [row[:2] for row in warm] == [row[:2] for row in cool]
    for (alarm, _, warm_s), (_, _, cool_s) in zip(warm, cool, strict=True):
        assert abs(warm_s - cool_s) <= LATER_S, alarm
    assert len(curves) == 1


def test_a_batch_in_its_window_near_the_room_goes_on():
    """Half an hour at 29.2 °C in a room of 28: it is heard and recorded to its end."""
    legs = [*MELTED, *SEEDED, (60, 29.3), (1800, 29.2), (150, 28.1), (60, 28.1)]
    heard, curves = told("white", "seeding", legs, 28.0)
    assert [alarm for alarm, *_ in heard] == ["reached", "reached", "too_cool"]
    (curve,) = curves
    assert len(curve.times_s) > 2500
    assert curve.end_reason == "button"
