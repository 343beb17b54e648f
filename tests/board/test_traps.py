"""Courses made to fool the ear (tests/kitchen/traps.py), each heard as a person wants it."""

import pytest

from tests.kitchen.traps import TRAPS


@pytest.mark.parametrize("name", TRAPS)
def test_trap(name):
    TRAPS[name]()


def test_there_are_many():
    assert len(TRAPS) >= 60
