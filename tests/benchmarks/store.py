"""What curves take on flash, and what reading and listing them costs."""

import sys
import tempfile
import time
from pathlib import Path

import construct
from sqlalchemy import insert

from snapcurve.couvertures import load, user_folder
from snapcurve.notebook import open_notebook, tables
from snapcurve.recording.curve import decode
from snapcurve.simulation.rehearsal import Interrupts, rehearse

from .stored_size import HEADINGS, sizes_of

sys.path.append(str(Path(__file__).parents[1] / "wire"))
from curve_maker import record

BATCHES = (("milk", "seeding"), ("dark", "three-step"), ("dark", "hold"))
FOUR_HOURS_S = 4 * 3600
HOLD_S = 15 * 60
REPEATS = 15
LISTED = (100, 10_000)
PAGE = 50


def best_ms(work, repeats: int = REPEATS) -> float:
    """The shortest of several runs."""
    times = []
    for _ in range(repeats):
        begun_s = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun_s)
    return min(times) * 1000


def sizes() -> None:
    """Bytes a sample of rehearsed batches."""
    print("bytes a one-second sample   " + "".join(f"{name:>13}" for name in HEADINGS))
    for name, method in BATCHES:
        done = rehearse(
            load(name, user_folder()), method, "max", 1, HOLD_S, lambda _: None, Interrupts()
        )
        row = sizes_of(done.raw).row()
        print(f"{name} by {method:<16}     "[:28] + "".join(f"{value:13.3f}" for value in row))
    print("wanted: stored at most 1.25; entropy is that of the differences alone (order 0)")


def decoding(folder: Path) -> None:
    """A four-hour curve, against construct's array of as many records."""
    record(folder, FOUR_HOURS_S)
    raw = (folder / "c00001").read_bytes()
    ours_ms = best_ms(lambda: decode(raw))
    record_of = construct.Struct("offset_ms" / construct.Int32ul, "value" / construct.Int16sl)
    array = construct.Array(FOUR_HOURS_S, record_of)
    same = array.build([{"offset_ms": 1000 * i, "value": 4000} for i in range(FOUR_HOURS_S)])
    theirs_ms = best_ms(lambda: array.parse(same), 3)
    print(f"decode a four-hour curve    {ours_ms:8.1f} ms  (wanted: under 30, or 20 times faster)")
    print(f"construct's Array of as many{theirs_ms:8.1f} ms  ratio {theirs_ms / ours_ms:.1f}")


def listing(folder: Path) -> None:
    """A page of the list, in notebooks of two sizes."""
    found = []
    for count in LISTED:
        book = open_notebook(str(folder / f"{count}.db"))
        rows = [
            {
                "day": "2026-11-24", "day_number": number, "utc_offset_min": 60,
                "started_unix_ms": 1_795_500_000_000 + number, "couverture": "Generic dark",
                "method": "hold", "profile": b"", "rehearsal": False, "created_unix_ms": 1,
            }
            for number in range(1, count + 1)
        ]  # fmt: skip
        with book.engine.begin() as connection:
            connection.execute(insert(tables.batches), rows)
        found.append(best_ms(lambda book=book: book.batches(limit=PAGE)))
        print(f"a page of {count:6d} batches    {found[-1]:8.2f} ms")
        book.close()
    print(f"ratio                       {found[1] / found[0]:8.2f}     (wanted: at most 3)")


def main(words: list[str]) -> int:
    """Measure and print."""
    sizes()
    with tempfile.TemporaryDirectory() as folder:
        decoding(Path(folder))
        listing(Path(folder))
    return 0
