"""What one conversion costs: time on the host, and work under MicroPython.

Work is counted, not timed: bytes the heap hands out for one sample, which is what brings
the collector, and function calls and lines a sample runs through. "Before" takes the
voltage by the plain power sum and finds the inverse by bisection; "after" is what the
firmware does, Horner's scheme and one Newton step.
"""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from snapcurve.board.firmware_files import link_into
from snapcurve.probe.thermometer import its90
from snapcurve.simulation.desk_board import find_micropython

SAMPLES = 2000

_SCRIPT = """
import gc
from snapcurve.probe.thermometer import its90

def plain_mv(t):
    row = its90._FORWARD["K"][0 if t < 0 else 1]
    total = 0.0
    for power in range(len(row)):
        total += row[len(row) - 1 - power] * t ** power
    if t >= 0:
        total += its90._K_A0 * its90.exp(its90._K_A1 * (t - its90._K_A2) ** 2)
    return total

def before(mv):
    low, high = -10.0, 150.0
    while high - low > 0.0001:
        middle = (low + high) / 2
        if plain_mv(middle) < mv:
            low = middle
        else:
            high = middle
    return low

def after(mv):
    return its90.temperature_c("K", mv)

def count(convert):
    gc.collect()
    gc.disable()
    start = gc.mem_alloc()
    convert(1.2439844)
    used = gc.mem_alloc() - start
    gc.enable()
    return used

print(count(before), count(after), before(1.2439844), after(1.2439844))
"""


def _lines(convert: object, voltage_mv: float) -> int:
    """Lines of source a conversion runs through."""
    count = 0

    def trace(_frame: object, event: str, _what: object) -> object:
        nonlocal count
        count += event == "line"
        return trace

    sys.settrace(trace)  # type: ignore[arg-type]
    try:
        convert(voltage_mv)  # type: ignore[operator]
    finally:
        sys.settrace(None)
    return count


def main(words: list[str]) -> int:
    """Print both costs, before and after; ``words`` are not used."""
    names: dict[str, object] = {"__name__": "script"}
    functions, _, _ = _SCRIPT.partition("def count")
    exec(functions, names)  # the same two functions on this interpreter
    for name in ("before", "after"):
        convert = names[name]
        start = time.perf_counter()
        for index in range(SAMPLES):
            convert(0.8 + index * 0.0005)  # type: ignore[operator]
        each_us = (time.perf_counter() - start) / SAMPLES * 1e6
        print(f"host, {name:<7} {each_us:7.2f} µs, {_lines(convert, 1.244):5d} lines a conversion")
    assert abs(its90.temperature_c("K", 1.2439844) - 31.0) < 0.001
    micropython = find_micropython()
    if micropython is None:
        print("MicroPython is not installed: its heap cannot be counted here")
        return 0
    with tempfile.TemporaryDirectory() as folder:
        link_into(Path(folder))
        done = subprocess.run(
            [micropython, "-c", _SCRIPT],
            env={"MICROPYPATH": folder},
            capture_output=True,
            text=True,
            check=True,
        )
    before, after, _, _ = done.stdout.split()
    print(f"MicroPython, bytes of heap a conversion: before {before}, after {after}")
    return 0
