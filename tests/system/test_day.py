"""Hours of work in virtual time, under MicroPython with a board's heap: nothing grows.

``python -m tests.benchmarks footprint --hours 24`` runs a whole day.
"""

from pathlib import Path

from snapcurve.simulation.desk_board import HEAP_KIB
from tests.benchmarks.footprint import measure

HOURS = 4  # two batches and a half, with collecting and erasing between
GROWTH_MAX = 2048  # an open file, a list of one curve more: what comes and goes


def test_nothing_grows(tmp_path: Path) -> None:
    found = measure(HEAP_KIB, HOURS, tmp_path / "flash")
    assert len(found.hours) == HOURS
    assert max(found.hours) - found.hours[0] <= GROWTH_MAX
    counts = found.counts
    assert counts["errors"] == 0
    assert counts["erased"] >= 2
    assert counts["alarm reached"] >= 2 * 2
    assert counts["alarm probe_fault"] >= 2
