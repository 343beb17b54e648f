"""Several benches that file into one notebook at once, while their connections or they themselves
are killed at random: what is filed must be whole, and filed once."""

import random
import subprocess
import time
from pathlib import Path

import psycopg
from notebook_samples import full_batch, start_python

from snapcurve import notebook
from tests.patience import LONGEST_S

# files what is not filed yet, and begins again after whatever ended it
BENCH = """
import sys
from notebook_samples import full_batch
from snapcurve import notebook
from snapcurve.errors import SnapcurveError
place, board, filings = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
number = 1
while number <= filings:
    try:
        with notebook.open_notebook(place, wait_s=60) as book:
            while number <= filings:
                # whoever was killed goes on where it was
                if not book.has_curve(board, 0xFFFF_0000 + number, number):
                    book.file_batch(full_batch(number, board_id=board))
                number += 1
    except SnapcurveError:
        pass
print("done")
"""


def _ended(postgresql: str) -> None:
    """End a connection of the notebook's at random."""
    query = (
        "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database()"
        " AND pid <> pg_backend_pid() ORDER BY random() LIMIT 1"
    )
    with psycopg.connect(postgresql, autocommit=True) as connection:
        connection.execute(query)


def files_at_once(place: str, benches: int, filings: int, seed: int) -> int:
    """Have them file; how often something was killed. AssertionError if what is there afterwards
    is not whole."""
    chance, kills = random.Random(seed), 0

    def begun(bench: int) -> subprocess.Popen[str]:
        return start_python(BENCH, place, str(bench), str(filings))

    with notebook.open_notebook(place):
        working = {bench: begun(bench) for bench in range(1, benches + 1)}
    deadline_s = time.monotonic() + 20 * LONGEST_S
    while working:
        assert time.monotonic() < deadline_s
        for bench, process in list(working.items()):
            if process.poll() is not None:
                said = process.communicate()[0]
                if "done" in said:
                    del working[bench]
                else:
                    working[bench] = begun(bench)
        if not working:
            break
        if "://" in place:
            _ended(place)
        elif chance.random() < 0.3:
            chance.choice(list(working.values())).kill()
        kills += 1
        time.sleep(chance.uniform(0.05, 0.6))
    with notebook.open_notebook(place) as book:
        assert book.check() == []
        rows = book.batches()
        assert len(rows) == benches * filings
        found = {(one.curve.board_id, one.curve.curve) for one in map(book.batch, codes(rows))}
        assert len(found) == benches * filings
        assert book.chain_end().number == benches * filings
        one = book.batch(rows[-1].code)
        assert (
            book.curve_raw(one.id)
            == full_batch(one.curve.curve, board_id=one.curve.board_id).curve.raw
        )
    if "://" not in place:
        assert not Path(place + "-journal").exists()
    return kills


def codes(rows):
    """Their codes."""
    return [row.code for row in rows]
