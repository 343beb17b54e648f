"""What the sheet of a four-hour batch costs against importing matplotlib.

The command runs as a person runs it, in a process of its own, notebook and all.
"""

import os
import resource
import subprocess
import sys
import tempfile
import zlib
from pathlib import Path

from snapcurve.board.client import CurveRow
from snapcurve.collecting.filing import new_batch
from snapcurve.notebook import open_notebook
from snapcurve.recording.curve import decode

CURVE = Path(__file__).parents[1] / "host" / "data" / "four_hours.curve"
REPEATS = 7
IMPORT = "import matplotlib"
DRAWING = "import matplotlib.figure, matplotlib.backends.backend_pdf"


def best_cpu_s(command: list[str], environment: dict[str, str]) -> float:
    """Processor time of the cheapest of several runs: other programs do not count."""
    times = []
    for _ in range(REPEATS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command, stdout=subprocess.DEVNULL, check=True, env=environment)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(times)


def main(words: list[str]) -> int:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        place = str(Path(folder) / "notebook.db")
        raw = CURVE.read_bytes()
        curve = decode(raw)
        row = CurveRow(
            curve=curve.curve,
            generation=1,
            boot=curve.boot,
            size=len(raw),
            crc=zlib.crc32(raw),
            state="closed",
        )
        with open_notebook(place) as notebook:
            notebook.file_batch(new_batch(curve, raw, row, "bench"))
        environment = os.environ | {"SNAPCURVE_SETTINGS": str(Path(folder) / "settings.toml")}
        python = sys.executable
        plain = best_cpu_s([python, "-c", IMPORT], environment)
        drawing = best_cpu_s([python, "-c", DRAWING], environment)
        out = str(Path(folder) / "sheet.pdf")
        command = [python, "-m", "snapcurve.cli", "sheet", "last", "--output", out]
        sheet = best_cpu_s([*command, "--notebook", place], environment)
    print(f"a batch of {curve.times_s[-1] / 3600:.2f} h, processor time, best of {REPEATS}")
    for code, reference in ((IMPORT, plain), (DRAWING, drawing)):
        print(f"python -c '{code}'")
        print(
            f"    {reference:5.2f} s, snapcurve sheet {sheet:5.2f} s: "
            f"{sheet - reference:5.2f} s more (wanted: at most 2), ratio {sheet / reference:5.2f}"
        )
    return 0
