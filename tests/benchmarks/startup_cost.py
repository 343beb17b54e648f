"""What commands cost at their start against importing one library each needs anyway."""

import os
import subprocess
import sys
import tempfile
import time

REPEATS = 15
# command, the import it is compared with, the ratio wanted
WANTED = (
    (("--help",), "serial", 4),
    (("batches",), "sqlalchemy", 2),
    (("show", "last"), "sqlalchemy", 2),
    (("plan", "milk", "--mass", "1kg"), "sqlalchemy", 2),
)


def keeping_bytecode() -> dict[str, str]:
    """The environment, in which modules are compiled once, as on any computer; where this is
    switched off, each start would compile all of ours and none of a library's."""
    return {name: of for name, of in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}


def best_s(command: list[str], environment: dict[str, str]) -> float:
    """The shortest of several runs: what the command costs when nothing disturbs it."""
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        subprocess.run(command, stdout=subprocess.DEVNULL, check=True, env=environment)
        times.append(time.perf_counter() - start)
    return min(times)


def main(words: list[str]) -> int:
    """Measure and print; ``words`` are not used."""
    with tempfile.TemporaryDirectory() as folder:
        environment = {
            **keeping_bytecode(),
            "SNAPCURVE_FOLDER": folder,
            "SNAPCURVE_NOTEBOOK": os.path.join(folder, "notebook.db"),
            "SNAPCURVE_SETTINGS": os.path.join(folder, "settings.toml"),
        }
        tool = [sys.executable, "-m", "snapcurve.cli"]
        rehearsal = [*tool, "rehearse", "milk", "--speed", "max"]
        subprocess.run(rehearsal, check=True, env=environment, stdout=subprocess.DEVNULL)
        imports = {
            name: best_s([sys.executable, "-c", f"import {name}"], environment)
            for name in ("serial", "sqlalchemy")
        }
        for command, library, wanted in WANTED:
            found_s = best_s([*tool, *command], environment)
            print(
                f"snapcurve {' '.join(command):<22} {found_s * 1000:6.1f} ms, "
                f"import {library} {imports[library] * 1000:6.1f} ms: "
                f"ratio {found_s / imports[library]:5.2f} (wanted: at most {wanted})"
            )
    return 0
