"""Courses made to fool the ear (tests/kitchen/traps.py), each heard as a person wants it."""

import pytest

from tests.kitchen.traps import SENTENCES, TRAPS


@pytest.mark.parametrize("name", TRAPS)
def test_trap(name):
    TRAPS[name]()


def test_there_are_many():
    assert len(TRAPS) >= 90


@pytest.mark.parametrize("sentence", SENTENCES)
def test_each_sentence_has_its_traps(sentence):
    for begin in SENTENCES[sentence]:
        assert [name for name in TRAPS if name.startswith(begin)], begin
