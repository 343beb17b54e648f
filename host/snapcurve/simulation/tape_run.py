"""Plays a measured series through the real firmware and says what it did."""

from dataclasses import dataclass
from typing import Any

from snapcurve.recording.curve import decode
from snapcurve.simulation.desk_session import session
from snapcurve.simulation.person import END_PRESS_S
from snapcurve.simulation.tape import TapeRow
from snapcurve.wire.catalogue import CENTI_NONE

ROWS_AT_ONCE = 16


@dataclass(frozen=True)
class Alarm:
    """An alarm at ``seconds`` of the tape; ``estimate_c`` None if the board had none."""

    seconds: float
    phase: str
    alarm: str
    estimate_c: float | None

    def as_json(self) -> dict[str, Any]:
        """The alarm in the form scripts read."""
        return {
            "seconds": round(self.seconds, 1),
            "phase": self.phase,
            "alarm": self.alarm,
            "estimate_c": self.estimate_c,
        }


@dataclass(frozen=True)
class Replayed:
    """What came of a tape: ``samples`` temperatures in, ``recorded`` out in ``stored_bytes``."""

    alarms: list[Alarm]
    samples: int
    recorded: int
    stored_bytes: int
    curves: list[bytes]
    interpreter: str


def alarm_of(now_ms: int, words: list[str], first_s: float = 0.0) -> Alarm | None:
    """The alarm in a report of the desk board, None if it reports something else."""
    if words[0] != "alarm":
        return None
    centi = int(words[3])
    estimate_c = None if centi == CENTI_NONE else centi / 100
    return Alarm(first_s + now_ms / 1000, words[2], words[1], estimate_c)


class TapeWorld:
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
        """See World."""
        count = 1 if self._at == 0 else ROWS_AT_ONCE
        part = self._lines[self._at : self._at + count]
        self._at += count
        return part or None

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See World."""
        alarm = alarm_of(now_ms, words, self.first_s)
        if alarm is not None:
            self.alarms.append(alarm)


def replay(rows: list[TapeRow], profile: bytes) -> Replayed:
    """Play ``rows`` through the firmware at virtual speed."""
    world = TapeWorld(rows)
    with session(world, profile, "max") as running:
        running.run()
        curves = [data for _, data in running.collect()]
        interpreter = running.desk.interpreter
    return Replayed(
        alarms=world.alarms,
        samples=sum(row.probe_c is not None for row in rows),
        recorded=sum(decode(data).recorded for data in curves),
        stored_bytes=sum(len(data) for data in curves),
        curves=curves,
        interpreter=interpreter,
    )
