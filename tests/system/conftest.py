"""A fresh computer for each test."""

from pathlib import Path

import pytest
from running import Bench


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """A person's computer with nothing on it yet."""
    return Bench(tmp_path)
