"""Measured series from CSV files: checked, and played through the real firmware."""

import math
from dataclasses import dataclass
from pathlib import Path

from snapcurve.errors import SnapcurveError
from snapcurve.recording.curve import decode
from snapcurve.shown.input_files import MIB, read_table
from snapcurve.shown.plain_text import short, visible
from snapcurve.simulation.desk_run import desk_run
from snapcurve.simulation.desk_wiring import Simulator
from snapcurve.simulation.person import END_PRESS_S
from snapcurve.simulation.story import Alarm, alarm_of
from snapcurve.wire.catalogue import FAULTS

COLUMNS = ("seconds", "probe_c", "ambient_c", "fault")
# The names of the converter's faults and its fault status bits (wire.catalogue.FAULTS).
LOWEST_C, HIGHEST_C = -200.0, 250.0
ROWS_AT_ONCE = 16
FILE_BYTES_MAX = 16 * MIB  # two days of four readings a second


@dataclass(frozen=True)
class TapeRow:
    """One row; ``probe_c`` None where the logger missed the sample, ``fault`` bits."""

    seconds: float
    probe_c: float | None
    ambient_c: float | None
    fault: int


def read_tape(path: Path) -> list[TapeRow]:
    """The rows of the CSV file ``path``: ``seconds,probe_c[,ambient_c[,fault]]``.

    Blanks are allowed behind the first column. SnapcurveError with file and line for
    text in a number column, times that do not go forward, or nothing to play; and as in
    read_table.
    """
    rows: list[TapeRow] = []
    for line, cells in read_table(path, "tape", FILE_BYTES_MAX, COLUMNS, 2):
        row = _row(f"{visible(str(path))}, line {line}", cells)
        if rows and row.seconds <= rows[-1].seconds:
            raise SnapcurveError(
                f"{visible(str(path))}, line {line}, seconds: time goes from "
                f"{rows[-1].seconds:g} s to {row.seconds:g} s; put the rows in order."
            )
        rows.append(row)
    if sum(row.probe_c is not None for row in rows) < 2:
        raise SnapcurveError(
            f"{visible(str(path))} has fewer than two temperatures, which is nothing to play: "
            "give a longer series."
        )
    return rows


def _row(place: str, cells: dict[str, str]) -> TapeRow:
    seconds = _number(place, "seconds", cells, 0.0, 1e7)
    if seconds is None:
        raise SnapcurveError(f"{place}, seconds: the cell is empty; give each row its time.")
    return TapeRow(
        seconds,
        _number(place, "probe_c", cells, LOWEST_C, HIGHEST_C),
        _number(place, "ambient_c", cells, -40.0, 80.0),
        _fault(place, cells["fault"]),
    )


def _number(
    place: str, name: str, cells: dict[str, str], lowest: float, highest: float
) -> float | None:
    if not (text := cells[name]):
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not lowest <= value <= highest:
        raise SnapcurveError(
            f'{place}, {name}: "{short(text)}" is not a number from {lowest:g} to {highest:g}; '
            "put it right or leave the cell empty."
        )
    return value


def _fault(place: str, text: str) -> int:
    chip_faults = [(1 << bit, name) for bit, name in enumerate(FAULTS)][:8]
    if not text or text == "0":
        return 0
    bits = 0
    for word in text.split("+"):
        known = [bit for bit, name in chip_faults if word in (name, str(bit))]
        if not known:
            names = ", ".join(name for _, name in chip_faults)
            raise SnapcurveError(
                f'{place}, fault: "{short(text)}" is none; use {names}, joined by +.'
            )
        bits |= known[0]
    return bits


@dataclass(frozen=True)
class Replayed:
    """What came of a tape: ``samples`` temperatures in, ``recorded`` out in ``stored_bytes``."""

    alarms: list[Alarm]
    samples: int
    recorded: int
    stored_bytes: int
    curves: list[bytes]
    interpreter: str


class TapeSimulator(Simulator):
    """Hands a tape to the desk board and keeps what it hears."""

    def __init__(self, rows: list[TapeRow]):
        self.first_s = rows[0].seconds
        self.alarms: list[Alarm] = []
        self._lines = self._all_lines(rows)
        self._at = 0

    def _all_lines(self, rows: list[TapeRow]) -> list[str]:
        lines = []
        probe_c: float | None = next(row.probe_c for row in rows if row.probe_c is not None)
        ambient = ""
        for row in rows:
            if row.ambient_c is not None:
                ambient = f"{row.ambient_c}"
            # A missed sample is bridged, unless it marks the beginning of a fault.
            if row.probe_c is None and not row.fault:
                continue
            probe_c = row.probe_c if row.probe_c is not None else probe_c
            at_s = row.seconds - self.first_s
            lines.append(f"{at_s:.3f},{probe_c},{ambient},{row.fault},0")
        end_s = rows[-1].seconds - self.first_s
        for after_s, button in ((0.5, 1), (0.5 + END_PRESS_S, 0), (1.0 + END_PRESS_S, 0)):
            lines.append(f"{end_s + after_s:.3f},{probe_c},{ambient},{rows[-1].fault},{button}")
        return lines

    def rows(self, now_ms: int) -> list[str] | None:
        count = 1 if self._at == 0 else ROWS_AT_ONCE
        part = self._lines[self._at : self._at + count]
        self._at += count
        return part or None

    def heard(self, now_ms: int, words: list[str]) -> None:
        alarm = alarm_of(now_ms, words, self.first_s)
        if alarm is not None:
            self.alarms.append(alarm)


def replay(rows: list[TapeRow], profile: bytes) -> Replayed:
    """Play ``rows`` through the firmware at virtual speed."""
    simulator = TapeSimulator(rows)
    with desk_run(simulator, profile, "max") as running:
        running.run()
        curves = [data for _, data in running.collect()]
        interpreter = running.desk.interpreter
    return Replayed(
        alarms=simulator.alarms,
        samples=sum(row.probe_c is not None for row in rows),
        recorded=sum(decode(data).recorded for data in curves),
        stored_bytes=sum(len(data) for data in curves),
        curves=curves,
        interpreter=interpreter,
    )
