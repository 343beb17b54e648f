"""How warm the crystals of temper bear it, by kind and by fat, against a published guide."""

from dataclasses import replace

import pytest

from snapcurve.advice.inputs import temperatures_of, thermal_of
from snapcurve.couvertures import load, user_folder
from snapcurve.couvertures.profile import compile_profile
from snapcurve.heat.kinds import crystals_last_to_c
from snapcurve.probe.tempering.profile import parse

# chocolate-academy.com, "Guide to Different Tempering Methods": highest working temperature, and
# the top of the working window beside it.
GUIDE = {
    "dark": (34.5, 32.0),
    "milk": (32.5, 30.0),
    "white": (31.5, 29.0),
    "caramelised white": (31.5, 29.0),
    "ruby-coloured": (32.0, 29.5),
}


def couverture(name, **changes):
    return replace(load(name, user_folder()), **changes)


@pytest.mark.parametrize("kind", GUIDE)
def test_each_kind_as_the_guide_has_it(kind):
    highest_c, window_top_c = GUIDE[kind]
    assert crystals_last_to_c(kind, window_top_c) == highest_c


@pytest.mark.parametrize("name", ["dark", "milk", "white", "caramelised-white"])
@pytest.mark.parametrize("method", ["seeding", "hold", "three-step"])
def test_the_board_the_advice_and_the_file_have_the_same(name, method):
    one = couverture(name)
    highest_c = GUIDE[one.kind][0]
    assert one.crystals_last_to_c == highest_c
    assert temperatures_of(one).crystals_last_to_c == highest_c
    (*_, work) = parse(compile_profile(one, method)).phases
    assert work.lost_c == pytest.approx(highest_c)


def test_the_bag_comes_first():
    assert couverture("milk", highest_work_c=33.2).crystals_last_to_c == 33.2
    # A window warmer than usual moves the limit; a cool one of an unknown kind does as well.
    assert couverture("milk", work_high_c=32.4).crystals_last_to_c == pytest.approx(32.9)
    assert couverture(
        "dark", kind="camel", work_low_c=26.0, work_high_c=27.0
    ).crystals_last_to_c == (29.5)
    assert couverture("dark", tempering=False).crystals_last_to_c is None


def test_milk_fat_lowers_limit_and_melting_range():
    """Greweling 2007, excerpt: the direction only."""
    limits, ends = [], []
    for milk_fat in (0.0, 3.0, 6.0, 9.0):
        one = couverture("milk", fat_percent=36.0, milk_fat_percent=milk_fat, work_high_c=31.0)
        limits.append(one.crystals_last_to_c)
        ends.append(thermal_of(one).melting.end_c)
    assert limits == sorted(limits, reverse=True)
    assert ends == sorted(ends, reverse=True)
    assert len(set(ends)) == 4
    # The usual 6 of 36 % is the guide's milk, none is its dark, as far as the window lets it.
    assert limits[2] == pytest.approx(32.5)
    assert limits[0] == pytest.approx(33.5)


def test_nut_oil_loosens_more_than_milk_fat():
    plain = couverture("dark", fat_percent=36.0)
    milky = replace(plain, milk_fat_percent=10.0)
    nutty = replace(plain, nut_fat_percent=10.0)
    ends = [thermal_of(one).melting.end_c for one in (plain, milky, nutty)]
    assert ends == sorted(ends, reverse=True)
    assert len(set(ends)) == 3
