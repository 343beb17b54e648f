"""Benches that file at once while somebody pulls plugs. ``python -m tests.benchmarks killed`` does
the same for 500 filings of each of four benches."""

from killed_benches import files_at_once


def test_four_benches_file_at_once_while_they_are_killed(any_place):
    assert files_at_once(any_place, benches=4, filings=6, seed=5) > 0
