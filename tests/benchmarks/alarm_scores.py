"""How well the alarms of one rehearsed batch fit what really happened.

Truth is the bench's liquid temperature and whether the probe was in; alarms come from the
board, or from a plain threshold on the same readings (three in a row).
"""

from dataclasses import dataclass, field
from itertools import groupby

STEP_S = 0.25
RUN_STEPS = 40  # ten seconds in a row
MEAN_STEPS = 40
BEYOND_C = 0.2
BEYOND_STEPS = 60  # fifteen seconds
SOUNDED_WITHIN_S = 20.0
FALSE_WITHIN_S = 10.0
WINDOW_ALARMS = ("too_warm", "too_cool")
THRESHOLD_ALARMS = ("near", "reached", "too_warm", "too_cool", "too_hot", "back")

Truth = list[tuple[float, float, float, bool]]
Heard = list[tuple[float, str, str]]  # seconds, alarm, phase


@dataclass
class Score:
    """What one batch says; lists are joined over batches."""

    melt_late_s: list[float] = field(default_factory=list)
    melt_short_c: list[float] = field(default_factory=list)
    work_off_c: list[float] = field(default_factory=list)
    false: int = 0
    true_events: int = 0
    sounded: int = 0
    out_s: list[float] = field(default_factory=list)  # how long the probe had been out
    lead_s: list[float] = field(default_factory=list)
    missing: int = 0
    batches: int = 1

    def add(self, other: "Score") -> None:
        """Join another batch."""
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)


def _index(truth: Truth, seconds: float) -> int:
    return max(0, min(len(truth) - 1, round((seconds - truth[0][0]) / STEP_S)))


def _mean(truth: Truth, end: int) -> float:
    part = truth[max(0, end - MEAN_STEPS) : end + 1]
    return sum(row[1] for row in part) / len(part)


def first(heard: Heard, alarm: str, phase: str) -> float | None:
    """When ``alarm`` of ``phase`` first sounded."""
    return next((row[0] for row in heard if row[1:] == (alarm, phase)), None)


def first_run(truth: Truth, melt_c: float) -> float | None:
    """The beginning of the first ten seconds in a row at or above ``melt_c``, probe in."""
    at = 0
    for good, group in groupby(truth, lambda row: row[3] and row[1] >= melt_c):
        length = len(list(group))
        if good and length >= RUN_STEPS:
            return truth[at][0]
        at += length
    return None


def excursions(truth: Truth, low_c: float, high_c: float, begin: int) -> list[tuple[int, str]]:
    """Where the liquid was beyond the window for long enough: (first step, alarm wanted)."""
    found = []
    at = begin
    for side, group in groupby(truth[begin:], lambda row: _side(row, low_c, high_c)):
        length = len(list(group))
        if side and length >= BEYOND_STEPS:
            found.append((at, side))
        at += length
    return found


def _side(row: tuple[float, float, float, bool], low_c: float, high_c: float) -> str:
    if not row[3]:
        return ""
    if row[1] > high_c + BEYOND_C:
        return "too_warm"
    return "too_cool" if row[1] < low_c - BEYOND_C else ""


def score(truth: Truth, heard: Heard, melt_c: float, low_c: float, high_c: float) -> Score:
    """The score of one batch by seeding."""
    result = Score()
    wanted_s, got_s = first_run(truth, melt_c), first(heard, "reached", "melt")
    if wanted_s is None or got_s is None:
        result.missing += wanted_s is not None
    else:
        result.melt_late_s.append(got_s - wanted_s)
    if got_s is not None:
        # Also where the bulk never stayed there for ten seconds with the probe in.
        result.melt_short_c.append(melt_c - _mean(truth, _index(truth, got_s)))
    work_s = first(heard, "reached", "work")
    if work_s is None:
        result.missing += 1
        return result
    begin = _index(truth, work_s)
    result.work_off_c.append(truth[begin][1] - high_c)
    near_s = first(heard, "near", "work")
    crossing = next((row[0] for row in truth[begin - 800 :] if row[1] <= high_c), None)
    if near_s is not None and crossing is not None:
        result.lead_s.append(crossing - near_s)
    _score_holding(result, truth, heard, low_c, high_c, begin)
    for seconds, alarm, _ in heard:
        at = _index(truth, seconds)
        if alarm in THRESHOLD_ALARMS and not truth[at][3]:
            inside = next((back for back in range(at, -1, -1) if truth[back][3]), -1)
            result.out_s.append((at - inside - 1) * STEP_S)
    return result


def _score_holding(
    result: Score, truth: Truth, heard: Heard, low_c: float, high_c: float, begin: int
) -> None:
    alarms = [(s, a) for s, a, p in heard if a in WINDOW_ALARMS and s >= truth[begin][0]]
    for seconds, alarm in alarms:
        near = truth[
            _index(truth, seconds - FALSE_WITHIN_S) : _index(truth, seconds + FALSE_WITHIN_S) + 1
        ]
        beyond = [row[1] > high_c if alarm == "too_warm" else row[1] < low_c for row in near]
        result.false += not any(beyond)
    for at, side in excursions(truth, low_c, high_c, begin):
        result.true_events += 1
        # It may have sounded before: from the moment the window was left on.
        left = at
        while left > begin and (
            truth[left][1] > high_c if side == "too_warm" else truth[left][1] < low_c
        ):
            left -= 1
        until_s = truth[at][0] + SOUNDED_WITHIN_S
        from_s = truth[left][0] - FALSE_WITHIN_S
        result.sounded += any(a == side and from_s <= s <= until_s for s, a in alarms)


def plain_alarms(
    seen: list[tuple[float, float, int]], melt_c: float, low_c: float, high_c: float
) -> Heard:
    """What a plain threshold on the raw readings would have sounded: three in a row."""
    heard: Heard = []
    phase, state, row_of = "melt", "", 0
    for seconds, value_c, fault in seen:
        if fault:
            continue
        if phase == "melt":
            event = "reached" if value_c >= melt_c else ""
        elif state == "":
            event = "reached" if value_c <= high_c else ""
        else:
            side = "too_warm" if value_c > high_c else "too_cool" if value_c < low_c else "inside"
            event = side if side != state else ""
        row_of = row_of + 1 if event else 0
        if row_of < 3:
            continue
        row_of = 0
        if phase == "melt":
            heard.append((seconds, "reached", "melt"))
            phase = "work"
        elif event == "reached":
            heard.append((seconds, "reached", "work"))
            state = "inside"
        else:
            state = event
            if event != "inside":
                heard.append((seconds, event, "work"))
    return heard
