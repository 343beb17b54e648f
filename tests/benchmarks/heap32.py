"""Heap with objects of 32 bits, as on a board: under MicroPython's WebAssembly port.

It needs node and the package: ``npm pack @micropython/micropython-webassembly-pyscript@1.28.0-6``,
then unpack. That port has no littlefs (which takes some 3 KB), and floats of 64 bits; a board's
have 32, and both take one block of the heap.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.compiled import compile_into
from tests.benchmarks.told import Told, told

HERE = Path(__file__).parent
# Names that heap32.mjs gives to what is not the firmware.
INTERPRETER = "the interpreter itself"
SCRIPT = "the measuring script, a model of the converter"


def measure(package: Path) -> Told:
    """What is in use after each step of heap32_script.py, and what readings allocate."""
    with tempfile.TemporaryDirectory() as folder:
        compile_into(Path(folder), HERE / "heap32_script.py", HERE / "dipped.py")
        words = ["node", str(HERE / "heap32.mjs"), str(package), folder]
        done = subprocess.run(words, capture_output=True, text=True, check=False)
    if done.returncode:
        sys.exit(f"node failed: {done.stderr[-400:]}")
    return told(done.stdout)
