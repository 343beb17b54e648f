"""Heap of the firmware after its start, and what each reading allocates.

``python -m tests.benchmarks heap [PACKAGE]``

Under MicroPython's unix port objects have 64 bits, a board's have 32. The budgets are for those:
PACKAGE is MicroPython's WebAssembly port, which has them too (heap32.py says how to get it).
What the readings allocate is told for a probe that goes into the melt and out again, several
times, and then into the bowl that is worked (dipped.py).
"""

import sys
import tempfile
from pathlib import Path

from snapcurve.board.firmware_files import compiled, write_into
from tests.benchmarks import heap32
from tests.benchmarks.compiled import Room, compile_into, run_script
from tests.benchmarks.dipped import READINGS_PER_S, ROOM_C, shown_c
from tests.benchmarks.told import Told, told

HERE = Path(__file__).parent
SCRIPT = HERE / "heap_script.py"
BARE = "import gc\n\ngc.collect()\ngc.collect()\nprint(gc.mem_alloc())\n"
HEAP_KIB = 512
BUDGET_KIB = 100  # after the start, with objects of 32 bits
# In an order in which none imports one that comes later.
MODULES = (
    "wire.errors",
    "wire.version",
    "wire.catalogue",
    "wire.codec",
    "wire.curve",
    "wire.frame",
    "probe.ticks",
    "probe.button",
    "probe.sounds",
    "probe.sounder",
    "probe.store",
    "probe.recorder",
    "probe.tempering.profile",
    "probe.settings",
    "probe.marks",
    "probe.requests",
    "probe.link",
    "probe.tempering.dip_test",
    "probe.tempering.engine",
    "probe.batch",
    "probe.tempering.immersion",
    "probe.tempering.lag_filter",
    "probe.tempering.estimate",
    "probe.thermometer.max31856",
    "probe.thermometer.reading",
    "probe.resumption",
    "probe.app",
)


class Dipped(Room):
    """The tape of dipped.py."""

    def __init__(self) -> None:
        self._rows = [
            f"{number / READINGS_PER_S},{value_c:.3f},{ROOM_C}"
            for number, value_c in enumerate(shown_c())
        ]


def measure(converter: str) -> Told:
    """What heap_script.py tells."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        compile_into(folder, SCRIPT, HERE / "dipped.py")
        words = [f"flash={folder / 'flash'}", "speed=max"]
        done = run_script(
            folder, SCRIPT.stem, words, HEAP_KIB, Dipped(), converter=converter,
            input="\n".join(MODULES),
        )  # fmt: skip
    return told(done.stdout)


def bare() -> int:
    """What the interpreter itself takes, with a script that does nothing but tell."""
    with tempfile.TemporaryDirectory() as name:
        script = Path(name) / "bare.py"
        script.write_text(BARE)
        folder = Path(name) / "compiled"
        write_into(folder, compiled({script.stem: script}))
        return int(run_script(folder, script.stem, [], HEAP_KIB, Room(1)).stdout)


def _print_readings(found: Told) -> None:
    for place, reading in found.readings.items():
        print(
            f"  a reading, {place:<12} mean {reading.mean:6}   most {reading.most:6}   "
            f"the last {reading.last:6}"
        )


def _with_64_bits() -> None:
    interpreter = bare()
    for converter in ("MAX31856", "MAX31855"):
        found = measure(converter)
        print(f"objects of 64 bits, {converter}: bytes of heap in use after the start")
        for name, size in found.heap.items():
            if name not in ("total", "script"):
                print(f"  {name:<68}{size:7}")
        # The measuring script is no part of the firmware.
        total = found.heap["total"] - (found.heap["script"] - interpreter)
        own = sum(size for name, size in found.heap.items() if name.startswith("(desk)"))
        print(f"  {'the interpreter itself':<68}{interpreter:7}")
        print(
            f"  in all {total / 1024:.1f} KiB; without the desk's own parts "
            f"{(total - own) / 1024:.1f} KiB"
        )
        print("allocated, bytes")
        for name, size in found.allocates.items():
            print(f"  {name:<32}{size:6}")
        _print_readings(found)


def _with_32_bits(package: Path) -> None:
    found = heap32.measure(package)
    print("objects of 32 bits, MAX31856: bytes of heap in use")
    before = 0
    for name, size in found.heap.items():
        print(f"  {name:<60}{size - before:7}{size:8}")
        before = size
    total = before - (found.heap[heap32.SCRIPT] - found.heap[heap32.INTERPRETER])
    print(
        f"  in all {total / 1024:.1f} KiB, the budget is {BUDGET_KIB}: "
        f"{BUDGET_KIB - total / 1024:.1f} to spare"
    )
    print("allocated, bytes")
    _print_readings(found)


def main(words: list[str]) -> int:
    """Print the tables."""
    if len(words) > 1 or (words and not (Path(words[0]) / "micropython.mjs").is_file()):
        print(__doc__, heap32.__doc__, file=sys.stderr)
        return 2
    _with_64_bits()
    if words:
        _with_32_bits(Path(words[0]))
    return 0
