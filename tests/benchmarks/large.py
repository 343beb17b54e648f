"""The commands that read a whole notebook, in one of 20,000 batches beside one of 100.

``python -m tests.benchmarks large [BATCHES [FOLDER]]``; in FOLDER the notebooks stay, and one that
is there is not filled again. Batches are filed as ever, with the curve of a real
recording, a lot and an outcome; commands run as a person types them. Printed is processor time,
which other work on the computer does not change much, beyond that of the smallest command; and
the most memory. Wanted at 20,000: batches, show, find and trace under 0.3 s, check under 10 s,
export under 20 s, learn under 10 s, under 150 MB.
"""

import os
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from snapcurve.notebook import open_notebook, records, rows
from tests.benchmarks.startup_cost import keeping_bytecode

sys.path.append(str(Path(__file__).parents[1] / "host"))
from notebook_samples import START_UNIX_MS, with_curve

SMALL, LARGE = 100, 20_000
HOUR_MS = 3_600_000
WHO = "Ilka Brandner"
COMMANDS = {
    "batches": ("batches",),
    "show": ("show", "2026-11-24-07"),
    "find": ("batches", "--lot", "DC-00005"),
    "trace": ("trace", "DC-00005"),
    "check": ("notebook", "check"),
    "export": ("notebook", "export", "out", "--replace"),
    "learn": ("learn", "dark"),
}
START_UP = ("settings",)


def fill(place: Path, count: int) -> None:
    """So many batches one hour apart, in one transaction."""
    base = with_curve()
    # the tool files one batch a transaction, which is not what is measured
    with open_notebook(str(place)) as book, book._writing.begin() as connection:
        for number in range(1, count + 1):
            began_ms = START_UNIX_MS + number * HOUR_MS
            lot = records.Lot("dark couverture", f"DC-{number // 10:05d}", "Hollerbach")
            new = replace(
                base,
                curve=replace(base.curve, curve=number % 65_536, generation=number),
                started_unix_ms=began_ms,
                operator=WHO,
                lots=(lot,),
            )
            batch_id = rows.insert_batch(connection, new)
            payload = {"what": "gloss", "value": ("high", "satin", "dull")[number % 3]}
            later_ms = began_ms + HOUR_MS
            entry = records.NewEntry("outcome", WHO, payload, at_unix_ms=later_ms)
            rows.insert_entry(connection, batch_id, entry)


def ran(words: tuple[str, ...], place: Path, folder: Path) -> tuple[float, float]:
    """Processor seconds and the most memory, in MB, of a command."""
    command = [sys.executable, "-m", "snapcurve.cli", *words]
    if words != START_UP:
        command += ["--notebook", str(place)]
    environment = {
        **keeping_bytecode(),
        "SNAPCURVE_FOLDER": str(folder),
        "SNAPCURVE_SETTINGS": str(folder / "settings.toml"),
    }
    with subprocess.Popen(
        command, cwd=folder, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    ) as process:
        said = process.stderr.read() if process.stderr else b""
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, said.decode()
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def main(words_given: list[str]) -> int:
    """The table."""
    large = int(words_given[0]) if words_given else LARGE
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        kept = Path(words_given[1]) if len(words_given) > 1 else folder
        places = {count: kept / f"{count}.db" for count in (SMALL, large)}
        for count, place in places.items():
            if not place.exists():
                fill(place, count)
        for words in (START_UP, *COMMANDS.values()):  # what each loads is compiled
            ran(words, places[SMALL], folder)
        start_s, _ = ran(START_UP, places[SMALL], folder)
        print(f"{'':10}{SMALL:>9}   {large:>9}       ratio   memory")
        for label, words in COMMANDS.items():
            (small_s, _), (large_s, most_mb) = (
                ran(words, place, folder) for place in places.values()
            )
            small_s, large_s = (max(0.01, one - start_s) for one in (small_s, large_s))
            ratio = large_s / small_s
            print(
                f"  {label:<8}{small_s:9.2f} s{large_s:11.2f} s{ratio:10.2f}{most_mb:8.0f} MB",
                flush=True,
            )
    return 0
