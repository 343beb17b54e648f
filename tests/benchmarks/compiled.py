"""The firmware compiled as ``snapcurve install`` compiles it, for MicroPython's unix port."""

from pathlib import Path

from snapcurve.installing.compiling import compiled, write_into
from snapcurve.rehearsal.desk import firmware_files


def compile_into(folder: Path, script: Path, *options: str) -> None:
    """Compile wire, probe, boards and ``script``, a module beside them, into ``folder``."""
    write_into(folder, compiled({script.stem: script, **firmware_files()}, *options))
