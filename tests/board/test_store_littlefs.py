"""The store on real littlefs, under MicroPython, with the power cut at every operation."""

import os
import subprocess
from pathlib import Path

import pytest

from snapcurve.board.firmware_files import link_into
from snapcurve.simulation.desk_board import find_micropython
from snapcurve.wire.catalogue import BLOCK_FIRST_SAMPLES
from tests.patience import LONGEST_S

HERE = Path(__file__).parent
SHARES = 2
# protocol/README.md puts the wear in years from the second of these.
ERASES_IN_FOUR_HOURS = 320
ERASES_OF_ONE_BLOCK_A_DAY = 16


def counted(folder: Path, script: str, *arguments: str) -> dict[str, int]:
    """Run a script of this folder beside the firmware; what it says it counted."""
    micropython = find_micropython()
    assert micropython, "the development extra of the project brings MicroPython"
    link_into(folder)
    path = os.pathsep.join([str(folder), str(HERE)])
    run = subprocess.run(
        [micropython, "-X", "heapsize=1m", str(HERE / script), *arguments],
        env={**os.environ, "MICROPYPATH": path},
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    words = run.stdout.split()
    return dict(zip(words[::2], map(int, words[1::2]), strict=True))


def test_on_littlefs(tmp_path):
    found = counted(tmp_path, "littlefs_script.py")
    assert found["cuts"] > 40
    assert found["full"] > 10_000
    # Four hours are 240 flushes; one for each sample would be 14,400.
    assert found["erases"] <= ERASES_IN_FOUR_HOURS
    assert found["hottest"] <= ERASES_OF_ONE_BLOCK_A_DAY * found["days"]


@pytest.mark.parametrize("share", range(SHARES))
def test_a_batch_of_twenty_minutes_cut_after_every_operation(share, tmp_path):
    """Every flushed block is there, and never more is lost than the wire's page states."""
    found = counted(tmp_path, "littlefs_batch_script.py", str(share), str(SHARES))
    assert found["operations"] > 80
    assert found["cuts"] == len(range(1 + share, found["operations"] + 1, SHARES))
    # Cuts also strike the very last moment before a flush, so the stated loss is reached.
    assert found["lost"] == BLOCK_FIRST_SAMPLES
