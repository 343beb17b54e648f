"""A fresh computer for each test."""

import os
from pathlib import Path

import pytest
from running import Bench

from snapcurve.rehearsal.desk import HEAP_VARIABLE

# With a board's heap most of the time goes to collecting. That a board's is enough is what
# test_rehearsal.py (four hours), test_day.py and tests/board/test_fuzzed_frames.py show.
os.environ.setdefault(HEAP_VARIABLE, "512k")


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """A person's computer with nothing on it yet."""
    return Bench(tmp_path)
