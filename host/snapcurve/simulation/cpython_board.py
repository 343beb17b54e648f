"""Runs the firmware's main.py under CPython, where MicroPython is not to be had.

Supplies the few things MicroPython has and CPython lacks; the firmware itself is the
same. Started as a script by desk.py.
"""

import os
import runpy
import sys
import types
from collections import namedtuple


def _shim() -> None:
    micropython = types.ModuleType("micropython")
    micropython.kbd_intr = lambda _character: None  # type: ignore[attr-defined]
    micropython.const = lambda value: value  # type: ignore[attr-defined]
    sys.modules["micropython"] = micropython
    sys.implementation._machine = "desk (CPython)"  # type: ignore[attr-defined]
    if not hasattr(os, "statvfs"):  # Windows: room is no question on a computer's disk
        info = namedtuple("info", "f_bsize f_frsize f_blocks f_bfree")
        os.statvfs = lambda _path: info(4096, 4096, 1 << 20, 1 << 20)  # type: ignore


if __name__ == "__main__":
    _shim()
    # Only the import roots given by PYTHONPATH count, not this file's folder.
    sys.path.pop(0)
    sys.argv = sys.argv[1:]
    runpy.run_path(sys.argv[0], run_name="__main__")
