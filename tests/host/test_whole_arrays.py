"""Decoding and judging whole arrays against the same, reading by reading (plain_recording)."""

import random
from dataclasses import replace

import plain_recording as plain
import pytest
from odd_recordings import odd_recording

from snapcurve.errors import RecordError
from snapcurve.recording import known_spans, outside, timeline
from snapcurve.recording.curve import Curve, decode, decode_each
from snapcurve.recording.parts import Hole

WINDOWS_C = ((29.0, 30.5), (31.0, 32.0), (27.5, 33.0))
FIELDS = ("times_s", "values_c", "recorded_c", "hidden", "step_s", "end_s")


def read_plainly(raw):
    """The curve, or in words why there is none."""
    try:
        return plain.decode(raw)
    except RecordError as error:
        return str(error)


def with_lists(curve):
    return replace(curve, times_s=[*curve.times_s], temperatures_c=[*curve.temperatures_c])


@pytest.mark.parametrize("seed", range(12))
def test_as_reading_by_reading(seed):
    chance = random.Random(seed)
    raws = [odd_recording(chance) for _ in range(12)]
    found = decode_each(raws)
    assert [one if isinstance(one, Curve) else str(one) for one in found] == [
        read_plainly(raw) for raw in raws
    ]
    for one in found:
        if isinstance(one, Curve):
            same_in_all(one, chance)


def same_in_all(curve, chance):
    """What is known of it, and all that is measured in that."""
    middle_s = chance.uniform(0, curve.times_s[-1]) if len(curve.times_s) else 1.0
    holes = [Hole(middle_s, 30.0, True, True)]
    known, slow = known_spans.known(curve, holes), plain.known(with_lists(curve), holes)
    for name in FIELDS:
        assert getattr(known, name) == getattr(slow, name), name
    since_s = chance.choice([0.0, middle_s])
    for window_c in WINDOWS_C:
        for doubt_c in (None, 0.3):
            found = outside.excursions_of(known, window_c, since_s, doubt_c)
            assert found == plain.excursions_of(slow, window_c, since_s, doubt_c)
        for since in (None, since_s):
            found = outside.outside_of(known, curve.alarms, window_c, since)
            assert found == plain.outside_of(slow, curve.alarms, window_c, since)
        gone = outside.crystals_gone_of(known, window_c[1] + 1, window_c[1], since_s)
        assert gone == plain.crystals_gone_of(slow, window_c[1] + 1, window_c[1], since_s)
    its = known.within(since_s, known.end_s)
    if its.stop > its.start:
        found = timeline._steepest(known.times_s.array[its], known.values_c.array[its])
        assert found == plain.steepest(*slow.between(since_s, slow.end_s))


def test_what_is_compared_does_occur():
    """Stays outside, lost temper, steep falls and damage: none of it is compared with nothing."""
    chance = random.Random(1)
    curves = decode_each([odd_recording(chance) for _ in range(60)])
    good = [one for one in curves if isinstance(one, Curve)]
    known = [known_spans.known(one) for one in good]
    assert any(outside.excursions_of(one, (29.0, 30.5), 0.0, 0.3) for one in known)
    assert any(outside.crystals_gone_of(one, 33.0, 32.0, 0.0) for one in known)
    assert any(len(one.hidden) > 2 for one in known)
    assert any(one.lost_blocks for one in good)
    assert len(good) < len(curves)


def test_one_alone_as_among_others():
    chance = random.Random(3)
    raws = [odd_recording(chance) for _ in range(20)]
    for raw, among in zip(raws, decode_each(raws), strict=True):
        if isinstance(among, Curve):
            assert decode(raw) == among
        else:
            with pytest.raises(RecordError, match=str(among)):
                decode(raw)
