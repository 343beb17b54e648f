"""Deviations of a batch: what opened each, what was done, what became of it, who reviewed that.

The four steps are those of Codex Alimentarius, General Principles of Food Hygiene, CXC 1-1969
(monitoring, corrective action with the disposition of the product, verification), and records are
what Regulation (EC) No 852/2004, Article 5, asks for. This is a record, not a certified system:
the user's own plan says which limits are critical and what a deviation means for the product.

What opens one is read from the timeline, which measures; nothing is measured here. Not every touch
of an edge is one: a record that cries wolf is signed unread.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypedDict

from snapcurve.analysis.verdict import Judgement
from snapcurve.notebook.entries import same_deviation
from snapcurve.notebook.records import AmendedBatch, Entry
from snapcurve.recording.timeline import Timeline
from snapcurve.shown.units import Style, seconds_words

LONG_S = 60.0  # a stay of so long is one, however little it is out; common practice, no source


@dataclass(frozen=True)
class Deviation:
    """``of`` is a word of vocabulary.DEVIATIONS; ``at_s`` from the start of the batch; ``record``
    the code of the part that it lies in, and ``record_s`` from the start of that."""

    of: str
    at_s: float
    record: str
    record_s: int
    words: str


@dataclass(frozen=True)
class Handled:
    """A deviation with what was filed about it, None where nothing was. ``review`` is by another
    person, and after all else. ``went_into`` are the batches that its batch was reworked into."""

    deviation: Deviation
    action: Entry | None
    disposition: Entry | None
    review: Entry | None
    went_into: tuple[str, ...] = ()

    def words(self, name: str) -> str:
        """What was filed of a step, without by whom; empty if nothing was."""
        entry: Entry | None = getattr(self, name)
        if entry is None:
            return ""
        said = [str(entry.payload.get(name, "")), str(entry.payload.get("text", ""))]
        if said[0] == "reworked":
            said[0] += f" into {', '.join(self.went_into) or 'what is not noted'}"
        return ", ".join(one for one in dict.fromkeys(said) if one)

    @property
    def open(self) -> tuple[str, ...]:
        """What is still missing, in the order in which it comes."""
        missing = [
            name for name in ("action", "disposition", "review") if getattr(self, name) is None
        ]
        if self.disposition is not None and self.disposition.payload["disposition"] == "held":
            missing.insert(0, "held")
        return tuple(missing)


class StepData(TypedDict):
    """One step of a deviation for a script."""

    words: str
    who: str
    at_unix_ms: int


class DeviationData(TypedDict):
    """A deviation for a script; a step is None while nothing was filed."""

    deviation: str
    at_s: float
    words: str
    action: StepData | None
    disposition: StepData | None
    review: StepData | None
    open: list[str]


def deviations_of(found: AmendedBatch, judgement: Judgement, style: Style) -> list[Handled]:
    """In the order in which they began; none of a cup, nor of what was started by mistake."""
    timeline = judgement.timeline
    if found.now.mistake or timeline.method == "cup":
        return []
    opened = sorted(_opened(judgement, style), key=lambda one: one[1])
    return [_handled(_placed(timeline, *one), found) for one in opened]


def data(handled: Iterable[Handled]) -> list[DeviationData]:
    """Them for a script."""
    return [
        {
            "deviation": one.deviation.of,
            "at_s": round(one.deviation.at_s, 2),
            "words": one.deviation.words,
            "action": _step(one, "action"),
            "disposition": _step(one, "disposition"),
            "review": _step(one, "review"),
            "open": list(one.open),
        }
        for one in handled
    ]


def _step(one: Handled, name: str) -> StepData | None:
    entry: Entry | None = getattr(one, name)
    if entry is None:
        return None
    return {"words": one.words(name), "who": entry.who, "at_unix_ms": entry.at_unix_ms}


def _opened(judgement: Judgement, style: Style) -> Iterable[tuple[str, float, str]]:
    timeline, clock = judgement.timeline, judgement.timeline.clock
    if timeline.too_hot_s is not None:
        yield "too hot", timeline.too_hot_s, judgement.signs.scorched.reason
    for run in timeline.excursions:
        if run.sure or run.seconds > LONG_S:
            side = "above" if run.above else "below"
            farthest = "highest" if run.above else "lowest"
            words = f"It was {side} the window {clock.at(run.start_s)}, for"
            words += f" {seconds_words(run.seconds)}, {farthest} "
            yield side, run.start_s, words + f"{style.degrees_words(run.extreme_c)}."
    for test, words in zip(timeline.dip_tests, judgement.blades, strict=True):
        if test.result is not None and not test.result.passed:
            yield "dip test", test.at_s, words


def _placed(timeline: Timeline, of: str, at_s: float, words: str) -> Deviation:
    joined = timeline.joined
    parts = list(zip(joined.offsets_s, joined.codes, strict=True))
    offset_s, code = next((one for one in reversed(parts) if one[0] <= at_s), parts[0])
    return Deviation(of, at_s, code, round(at_s - offset_s), words)


def _handled(deviation: Deviation, found: AmendedBatch) -> Handled:
    """The newest of each step; a correction is the action where none was filed. A review counts
    until something else is filed, and if it is another person's."""
    own = [
        entry
        for entry in found.entries
        if entry.kind == "deviation"
        and entry.code == (deviation.record or entry.code)
        and same_deviation(entry.payload, deviation.of, deviation.record_s)
    ]
    corrections = [entry for entry in found.entries if entry.kind == "correction"]
    action = next((one for one in reversed(own) if "action" in one.payload), None)
    if action is None and corrections:
        action = corrections[-1]
    disposition = next((one for one in reversed(own) if "disposition" in one.payload), None)
    review = next((one for one in reversed(own) if "review" in one.payload), None)
    for step in (action, disposition):
        if review is not None and (
            step is None or step.id > review.id or step.who.casefold() == review.who.casefold()
        ):
            review = None
    return Handled(deviation, action, disposition, review, found.went_into)
