"""A rehearsed batch takes at most 1.25 bytes a one-second sample, all heads and events
included."""

import pytest
from running import Bench

from snapcurve.notebook import open_notebook
from tests.benchmarks.stored_size import sizes_of

MOST = 1.25


@pytest.mark.parametrize(
    ("couverture", "method"), [("milk", "seeding"), ("dark", "three-step"), ("dark", "hold")]
)
def test_bytes_a_sample(bench: Bench, couverture: str, method: str) -> None:
    bench.ok("rehearse", couverture, "--method", method, "--speed", "max", "--json")
    with open_notebook(str(bench.folder / "notebook.db")) as notebook:
        raw = notebook.curve_raw(notebook.batch("last").id)
    found = sizes_of(raw)
    assert found.samples > 900
    assert found.stored <= MOST * found.samples
    assert found.stored < found.raw16 < found.csv_gzip < found.csv
