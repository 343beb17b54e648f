"""500 filings by each of four benches at once, on both databases, while connections of the server,
or whole processes on SQLite, are killed at random.

``python -m tests.benchmarks killed [sqlite] [postgresql]`` prints how often something was killed,
and ends with an error if the chain is not whole or anything is half filed, twice, or missing.
"""

import sys
import time
from pathlib import Path

from .notebook import on_each

sys.path.append(str(Path(__file__).parents[1] / "host"))
from killed_benches import files_at_once

BENCHES, FILINGS = 4, 500


def measure(place_of) -> None:
    """One database."""
    begun_s = time.monotonic()
    kills = files_at_once(place_of("killed"), BENCHES, FILINGS, seed=1)
    spent_s = time.monotonic() - begun_s
    print(f"  {BENCHES} x {FILINGS} filed in {spent_s:.0f} s, killed {kills} times: chain whole")


def main(words_given: list[str]) -> int:
    """Both databases, or those that are named."""
    return on_each(words_given, measure)
