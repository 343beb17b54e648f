"""What the practice bowl truly was: kept while it is worked, and found again by its curve.

A diary belongs to one start of one board; the curve says of which it is. So that nobody looks
before the batch has ended it is only ever asked for by a curve that is filed, and given only if
everything that sounded in the curve stands in it too.
"""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from snapcurve.errors import SnapcurveError
from snapcurve.recording.curve import Curve
from snapcurve.shown.folders import data_path, made
from snapcurve.shown.whole_files import write_whole
from snapcurve.simulation.practice import Done, Practice, Truth
from snapcurve.simulation.practice_setting import SetOut, setting_data
from snapcurve.simulation.story import Alarm

FOLDER = ("rehearsal", "diaries")
ALARM_OFF_S = 1.1  # a curve's events stand on its grid of a second
FORM = 1


@dataclass(frozen=True)
class Limits:
    """What a couverture asks for and bears, °C; ``lost_c`` None where there is nothing to lose;
    ``melts_c`` is where its crystals melt on this bench."""

    name: str
    melt_c: float
    low_c: float
    high_c: float
    never_above_c: float
    lost_c: float | None
    melts_c: float


@dataclass(frozen=True)
class Diary:
    """All of one bowl: when each start of the board was (boot, bench seconds), what was true,
    done and heard, in seconds of the bench; ``setting`` as it was asked for, ``limits`` of its
    couverture."""

    board_id: int
    starts: tuple[tuple[int, float], ...]
    setting: dict[str, Any]
    limits: Limits
    truth: tuple[Truth, ...]
    done: tuple[Done, ...]
    alarms: tuple[Alarm, ...]

    def start_s(self, curve: Curve) -> float | None:
        """When ``curve`` began in seconds of the bench; None if it is not of this bench."""
        starts = dict(self.starts)
        if curve.board_id != self.board_id or curve.boot not in starts:
            return None
        start_s = starts[curve.boot] + curve.started_uptime_ms / 1000
        for event in curve.alarms:
            at_s = start_s + event.offset_ms / 1000
            if not any(
                one.alarm == event.name and abs(one.seconds - at_s) <= ALARM_OFF_S
                for one in self.alarms
            ):
                return None
        return start_s

    def during(self, curve: Curve) -> "Diary | None":
        """What of it belongs to ``curve``, in seconds from its start; None if nothing does."""
        start_s = self.start_s(curve)
        if start_s is None:
            return None
        return Diary(
            self.board_id,
            self.starts,
            self.setting,
            self.limits,
            tuple(_moved(self.truth, start_s)),
            tuple(_moved(self.done, start_s)),
            tuple(_moved(self.alarms, start_s)),
        )


def diary_now(
    out: SetOut, practice: Practice, board_id: int = 0, starts: tuple[tuple[int, float], ...] = ()
) -> Diary:
    """The diary of ``practice``, set out as ``out``, so far."""
    couverture = out.couverture
    limits = Limits(
        couverture.name,
        couverture.melt_c,
        couverture.work_low_c,
        couverture.work_high_c,
        couverture.never_above_c,
        couverture.crystals_last_to_c,
        practice.melts_c,
    )
    return Diary(
        board_id,
        starts,
        setting_data(out.setting),
        limits,
        tuple(practice.truth),
        tuple(practice.done),
        tuple(practice.alarms),
    )


def _moved(entries: Sequence[Any], start_s: float) -> list[Any]:
    return [type(one)(**{**asdict(one), "seconds": one.seconds - start_s}) for one in entries]


def _folder() -> Path:
    return data_path().joinpath(*FOLDER)


def keep(diary: Diary) -> None:
    """Write it, in place of what was written of the same start; RecordError if that fails."""
    folder = made(_folder())
    data = {"form": FORM, **asdict(diary)}
    text = json.dumps(data, separators=(",", ":"), ensure_ascii=False)
    write_whole(folder / _name(diary.board_id, diary.starts[0][0]), text.encode(), "diary")


def _name(board_id: int, boot: int) -> str:
    return f"{board_id:08x}-{boot}.json"


def newest() -> Diary | None:
    """The diary of the bowl that was worked last on this computer; None if there is none."""
    try:
        paths = sorted(_folder().glob("*.json"), key=lambda path: path.stat().st_mtime_ns)
    except OSError:
        return None
    return read(paths[-1]) if paths else None


def diary_of(curve: Curve) -> Diary | None:
    """What is known of the bowl of a filed ``curve``, in seconds from the curve's start; None
    unless it was a practice bowl of this computer's."""
    folder = _folder()
    # A bowl whose board was replugged goes on in the diary of its first start.
    names = [folder / _name(curve.board_id, boot) for boot in range(curve.boot, 0, -1)]
    for path in names[:BOOTS_BACK]:
        diary = read(path)
        if diary is not None:
            return diary.during(curve)
    return None


BOOTS_BACK = 50


def read(path: Path) -> Diary | None:
    """The diary in ``path``; None if there is none that can be read."""
    try:
        data = json.loads(path.read_bytes())
        if data.pop("form") != FORM:
            return None
        return Diary(
            int(data["board_id"]),
            tuple((int(boot), float(start_s)) for boot, start_s in data["starts"]),
            dict(data["setting"]),
            Limits(**data["limits"]),
            tuple(Truth(**one) for one in data["truth"]),
            tuple(Done(**one) for one in data["done"]),
            tuple(Alarm(**one) for one in data["alarms"]),
        )
    except (OSError, ValueError, KeyError, TypeError, SnapcurveError):
        return None
