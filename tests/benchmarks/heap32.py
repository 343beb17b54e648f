"""Heap with objects of 32 bits, as on a board.

``python -m tests.benchmarks heap32 PACKAGE`` needs node, and in PACKAGE MicroPython's WebAssembly
port: ``npm pack @micropython/micropython-webassembly-pyscript``, then unpack. It has no littlefs
(which takes some 3 KB), and floats of 64 bits; a board's have 32, and both take one block.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.compiled import compile_into

HERE = Path(__file__).parent
# The steps of heap32_script.py.
OWN = ("code", "objects of the app", "started")
STEPS = ("code", "parts", "objects of the app", "started", *["running"] * 10)


def measure(package: Path) -> list[tuple[str, int]]:
    """What is in use after each step, in bytes."""
    with tempfile.TemporaryDirectory() as folder:
        compile_into(Path(folder), HERE / "heap32_script.py")
        words = ["node", str(HERE / "heap32.mjs"), str(package), folder, str(len(STEPS))]
        done = subprocess.run(words, capture_output=True, text=True, check=False)
    if done.returncode:
        sys.exit(f"node failed: {done.stderr[-400:]}")
    sizes = [int(line.split(" ")[1]) for line in done.stdout.splitlines()]
    return list(
        zip(("interpreter", "script, models of converter and tape", *STEPS), sizes, strict=True)
    )


def main(words: list[str]) -> int:
    """Print the table."""
    if len(words) != 1 or not (Path(words[0]) / "micropython.mjs").is_file():
        print(__doc__, file=sys.stderr)
        return 2
    rows = measure(Path(words[0]))
    before = own = 0
    for name, size in rows:
        if name != "running":
            print(f"  {name:<44}{size - before:7}{size:8}")
        if name in OWN:
            own += size - before
        before = size
    name, total = rows[-1]
    print(f"  {name:<44}{'':7}{total:8}")
    print(f"in use {total / 1024:.1f} KiB, of it the firmware proper {own / 1024:.1f} KiB")
    return 0
