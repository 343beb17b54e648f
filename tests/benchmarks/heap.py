"""Flash and heap: bytes of each compiled file for a Cortex-M0+, and what the firmware takes of the
heap under MicroPython with objects of 64 bits (a board's have 32).

Modules are looked at one by one as they are before joining (snapcurve/building/joined.py), the
start as a board has it: the joined files, through main.py, with the desk's clock, store and lines.
"""

import struct
import tempfile
from pathlib import Path

from snapcurve.building.compiling import compiled, write_into
from snapcurve.installing import release
from tests.benchmarks.compiled import Room, compile_into, run_script

SCRIPT = Path(__file__).with_name("heap_script.py")
BARE = "import gc\n\ngc.collect()\ngc.collect()\nprint(gc.mem_alloc())\n"
HEAP_KIB = 400
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


def flash(board: str, joined: bool) -> dict[str, int]:
    """Bytes of each file of a release for ``board`` as mpy-cross makes it for armv6m."""
    made = compiled(release.sources(board), "-march=armv6m", joined=joined)
    return {name: len(data) for name, data in made.items()}


def heap(converter: str, *options: str, joined: bool = True) -> dict[str, int]:
    """The lines of heap_script.py; unless ``joined`` for each of MODULES too."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        compile_into(folder, SCRIPT, *options, joined=joined)
        words = [f"flash={folder / 'flash'}", "speed=max", f"converter={converter}"]
        done = run_script(
            folder, SCRIPT.stem, words, HEAP_KIB, Room(600), converter=converter,
            input="" if joined else "\n".join(MODULES),
        )  # fmt: skip
    rows = [line.rsplit(" ", 1) for line in done.stdout.splitlines()]
    return {name: int(size) for name, size in rows}


def bare() -> int:
    """What the interpreter itself takes, with a script that does nothing but tell."""
    with tempfile.TemporaryDirectory() as name:
        script = Path(name) / "bare.py"
        script.write_text(BARE)
        folder = Path(name) / "compiled"
        write_into(folder, compiled({script.stem: script}))
        return int(run_script(folder, script.stem, [], HEAP_KIB, Room(1)).stdout)


def main(_words: list[str]) -> int:
    """Print the tables."""
    apart, together = flash("pico", joined=False), flash("pico", joined=True)
    print("compiled for armv6m, bytes on flash of a Pico, each module by itself")
    for name, size in apart.items():
        print(f"  {name:<52}{size:7}")
    print(f"  {'total':<52}{sum(apart.values()):7}")
    print("joined, as they are installed")
    for name, size in together.items():
        print(f"  {name:<52}{size:7}")
    print(f"  {'total':<52}{sum(together.values()):7}")
    print("heap of each module by itself, MAX31856")
    for name, size in heap("MAX31856", joined=False).items():
        if name in MODULES:
            print(f"  {name:<52}{size:7}")
    interpreter = bare()
    for converter in ("MAX31856", "MAX31855"):
        found = heap(converter)
        print(f"heap in use after boot, joined, {converter}")
        print(f"  {'the interpreter itself':<68}{interpreter:7}")
        for name, size in found.items():
            if name not in ("total", "script"):
                print(f"  {name:<68}{size:7}")
        # The measuring script is no part of the firmware.
        total = found["total"] - (found["script"] - interpreter)
        own = sum(size for name, size in found.items() if name.startswith("(desk)"))
        print(
            f"  total {total / 1024:.1f} KiB, wanted at most {WANTED // 1024}: margin "
            f"{(WANTED - total) / 1024:+.1f}; the desk's own parts {own / 1024:.1f}, so the "
            f"firmware proper {(total - own) / 1024:.1f}"
        )
    print(f"a word has {struct.calcsize('P')} bytes here and 4 on a board")
    return 0
