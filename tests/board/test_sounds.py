"""Every sound can be told from every other, first by its rhythm.

Pitches: JIS S 0013 as reported at second hand, fundamental not above 2500 Hz; the lower
limit and the distance of 20 % are the project's own rule.
"""

from itertools import combinations, pairwise

import pytest

from snapcurve.probe import sounds
from snapcurve.probe.sound_meanings import MEANINGS
from snapcurve.wire import catalogue

SOUNDS = [sounds.find(name) for name in sounds.names()]

PITCHES = sorted({row[2] for row in SOUNDS})


def test_every_word_of_the_wire_has_a_sound_and_the_other_way_round():
    assert {row[0] for row in SOUNDS} | {"none"} == set(catalogue.SOUNDS)
    assert len({row[0] for row in SOUNDS}) == len(SOUNDS)


@pytest.mark.parametrize(("one", "other"), list(combinations([row[0] for row in SOUNDS], 2)))
def test_rhythms_differ_with_pitch_and_tempo_ignored(one, other):
    """In number of pulses, or, with either played as fast or slowly as one likes, in two
    lengths of which one then is at least twice as long in the one and the other not."""
    a, b = sounds.tones(sounds.find(one)[1]), sounds.tones(sounds.find(other)[1])
    if len(a) == len(b):
        ratios = [x[1] / y[1] for x, y in zip(a, b, strict=True)]
        assert max(ratios) / min(ratios) >= 2, (a, b)


def test_pitches():
    assert PITCHES[0] >= 500
    assert PITCHES[-1] <= 2500
    for lower, higher in pairwise(PITCHES):
        assert higher / lower >= 1.2


@pytest.mark.parametrize("row", SOUNDS, ids=[row[0] for row in SOUNDS])
def test_a_pattern_is_pulses_with_pauses_between(row):
    tones = sounds.tones(row[1])
    assert [sounding for sounding, _ in tones] == [index % 2 == 0 for index in range(len(tones))]
    assert tones[-1][0]
    assert sum(length for _, length in tones) <= 3000


def test_what_is_urgent_comes_before_everything_else():
    """So an urgent sound is never lost to one that is not."""
    urgent = [row[3] for row in SOUNDS if row[4]]
    other = [row[3] for row in SOUNDS if not row[4]]
    assert min(urgent) > max(other)


def test_urgent_are_those_that_cost_the_batch():
    assert {row[0] for row in SOUNDS if row[4]} == {
        "probe_fault",
        "too_hot",
        "temper_lost",
        "too_warm",
        "too_cool",
        "unreadable",
    }


def test_every_sound_has_its_meaning():
    assert list(MEANINGS) == sounds.names()
    assert all(len(meaning) > 10 and meaning[0].islower() for meaning in MEANINGS.values())
    assert len(set(MEANINGS.values())) == len(SOUNDS)


def test_an_unknown_sound():
    with pytest.raises(KeyError):
        sounds.find("none")
