"""The store on real littlefs, under MicroPython, with the power cut at every operation."""

import os
import subprocess
from pathlib import Path

from snapcurve.rehearsal.desk import find_micropython, import_roots

SCRIPT = Path(__file__).with_name("littlefs_script.py")


def test_on_littlefs():
    micropython = find_micropython()
    assert micropython, "the development extra of the project brings MicroPython"
    run = subprocess.run(
        [micropython, "-X", "heapsize=1m", str(SCRIPT)],
        env={**os.environ, "MICROPYPATH": os.pathsep.join(import_roots())},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    words = run.stdout.split()
    counted = dict(zip(words[::2], map(int, words[1::2]), strict=True))
    assert counted["cuts"] > 40
    assert counted["full"] > 10_000
    # An hour is 60 blocks of a minute each; a flush for each sample would cost thousands.
    assert counted["erases"] <= 80
