"""How well what sounded fits what was in the bowl.

Judged fairly: a melt counts where the bowl stays a little over its target for a while, an alarm
counts as told if its state is on soon enough, whatever is rightly said afterwards. The judge knows
the bench's truth and none of the engine's constants.
"""

import math
from dataclasses import dataclass, field
from itertools import groupby

STEP_S = 0.25
MELT_OVER_C, MELT_OVER_S = 0.2, 20.0
MELT_WITHIN_S = 15.0
SHORT_C = 0.4
MEAN_S = 10.0
CROSSED_C, CROSSED_LATE_C = 0.25, 0.4
BEYOND_C, BEYOND_S = 0.2, 15.0  # a true excursion
TOLD_WITHIN_S = 35.0
JUST_OUT_S = 5.0  # within that no reading shows the way out of a slow probe
FALSE_WITHIN_S = 10.0
WINDOW_ALARMS = ("too_warm", "too_cool")
ENDS_STATE = (*WINDOW_ALARMS, "back", "reached", "temper_lost")
THRESHOLD_ALARMS = ("near", "reached", "too_warm", "too_cool", "too_hot", "back", "temper_lost")

Truth = list[tuple[float, float, float, bool]]
Heard = list[tuple[float, str, str]]  # seconds, alarm, phase


@dataclass
class Score:
    """What one batch says; lists are joined over batches."""

    melt_late_s: list[float] = field(default_factory=list)
    melt_short_c: list[float] = field(default_factory=list)
    work_off_c: list[float] = field(default_factory=list)
    false: list[float] = field(default_factory=list)  # when
    true_events: int = 0
    told: int = 0
    out_s: list[float] = field(default_factory=list)  # how long the probe had been out
    missing: int = 0
    sounds: int = 0
    batches: int = 1

    def add(self, other: "Score") -> None:
        """Join another batch."""
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)


def _index(truth: Truth, seconds: float) -> int:
    return max(0, min(len(truth) - 1, round((seconds - truth[0][0]) / STEP_S)))


def first(heard: Heard, alarm: str, phase: str) -> float | None:
    """When ``alarm`` of ``phase`` first sounded."""
    return next((row[0] for row in heard if row[1:] == (alarm, phase)), None)


def melted_s(truth: Truth, melt_c: float) -> float | None:
    """When the bowl, with the probe in, came to a melt that counts."""
    at = 0
    for good, group in groupby(truth, lambda row: row[3] and row[1] >= melt_c):
        rows = list(group)
        over = 0
        for row in rows if good else ():
            over = over + 1 if row[1] >= melt_c + MELT_OVER_C else 0
            if over * STEP_S >= MELT_OVER_S:
                return truth[at][0]
        at += len(rows)
    return None


def excursions(truth: Truth, low_c: float, high_c: float, begin: int) -> list[tuple[int, str]]:
    """Where the bowl was beyond the window for long, probe in: (first step, alarm)."""
    found = []
    at = begin

    def side(row: tuple[float, float, float, bool]) -> str:
        if not row[3]:
            return ""
        if row[1] > high_c + BEYOND_C:
            return "too_warm"
        return "too_cool" if row[1] < low_c - BEYOND_C else ""

    for name, group in groupby(truth[begin:], side):
        length = len(list(group))
        if name and length * STEP_S >= BEYOND_S:
            found.append((at, name))
        at += length
    return found


def _on(heard: Heard, alarm: str, from_s: float, to_s: float) -> bool:
    """Whether the state of ``alarm`` was on at some moment."""
    state = ""
    counts = (alarm, "temper_lost") if alarm == "too_warm" else (alarm,)
    for seconds, name, _ in heard:
        if seconds > to_s:
            break
        if seconds >= from_s and state in counts:
            return True
        if name in ENDS_STATE:
            state = name
        if seconds >= from_s and state in counts:
            return True
    return state in counts


def score(truth: Truth, heard: Heard, melt_c: float, low_c: float, high_c: float) -> Score:
    """The score of one batch by seeding."""
    result = Score()
    wanted_s, got_s = melted_s(truth, melt_c), first(heard, "reached", "melt")
    if wanted_s is not None:
        result.melt_late_s.append(math.inf if got_s is None else got_s - wanted_s)
    if got_s is not None:
        end = _index(truth, got_s)
        part = truth[max(0, end - round(MEAN_S / STEP_S)) : end + 1]
        result.melt_short_c.append(melt_c - sum(row[1] for row in part) / len(part))
    for seconds, alarm, _ in heard:
        at = _index(truth, seconds)
        if alarm in THRESHOLD_ALARMS and not truth[at][3]:
            inside = next((back for back in range(at, -1, -1) if truth[back][3]), -1)
            result.out_s.append((at - inside - 1) * STEP_S)
    work_s = first(heard, "reached", "work")
    if work_s is None:
        result.missing += 1
        return result
    begin = _index(truth, work_s)
    result.work_off_c.append(truth[begin][1] - high_c)
    for seconds, alarm, _ in heard:
        if alarm not in WINDOW_ALARMS or seconds < work_s:
            continue
        near = truth[
            _index(truth, seconds - FALSE_WITHIN_S) : _index(truth, seconds + FALSE_WITHIN_S) + 1
        ]
        if not any(row[1] > high_c if alarm == "too_warm" else row[1] < low_c for row in near):
            result.false.append(seconds)
    for at, side in excursions(truth, low_c, high_c, begin):
        result.true_events += 1
        result.told += _on(heard, side, truth[at][0] - BEYOND_S, truth[at][0] + TOLD_WITHIN_S)
    return result


def plain_alarms(
    seen: list[tuple[float, float, int, float]], melt_c: float, low_c: float, high_c: float
) -> Heard:
    """What a plain threshold on the raw readings would have sounded: three in a row."""
    heard: Heard = []
    phase, state, lasted = "melt", "", 0
    for seconds, value_c, fault, _ in seen:
        if fault:
            continue
        if phase == "melt":
            event = "reached" if value_c >= melt_c else ""
        elif state == "":
            event = "reached" if value_c <= high_c else ""
        else:
            side = "too_warm" if value_c > high_c else "too_cool" if value_c < low_c else "inside"
            event = side if side != state else ""
        lasted = lasted + 1 if event else 0
        if lasted < 3:
            continue
        lasted = 0
        if event == "reached":
            heard.append((seconds, "reached", phase))
            state = "inside" if phase == "work" else ""
            phase = "work"
        else:
            state = event
            heard.append((seconds, "back" if event == "inside" else event, "work"))
    return heard
