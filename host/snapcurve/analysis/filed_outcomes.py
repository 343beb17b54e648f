"""Filed batches with their outcomes, and filed cups, from the notebook."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from snapcurve.analysis.cooling_curve import Inflection, find_inflection
from snapcurve.analysis.cup_temper import Setup
from snapcurve.analysis.filed_batch import timelines_one_by_one
from snapcurve.analysis.lessons import TrayOutcome
from snapcurve.analysis.outcome_file import NotedOutcome
from snapcurve.calibration.stored import parse
from snapcurve.errors import RecordError, UnusableValueError
from snapcurve.notebook.entries import outcomes_of
from snapcurve.notebook.records import Batch, BatchRow, Search
from snapcurve.notebook.vocabulary import BLOOM_AFTER_DAYS, OUTCOMES
from snapcurve.recording.curve import Curve, decode
from snapcurve.recording.known_spans import median_of
from snapcurve.recording.timeline import Timeline
from snapcurve.shown.progress import Progress

if TYPE_CHECKING:
    from snapcurve.notebook.store import Notebook

HOW_TO_NOTE = (
    "There are no outcomes yet: note them with 'snapcurve note BATCH --gloss high --release "
    "clean', or write batch,released,gloss,bloom_days into a CSV file and give it with --outcomes "
    "FILE."
)
_AT_ONCE = 500  # a database limits how many values a question may name
BELONGS_MS = 12 * 3600 * 1000  # a cup is of the newest batch before it, the same working day


def filed_outcomes(notebook: "Notebook") -> dict[str, NotedOutcome]:
    """Outcomes that are filed, by batch code; of each word the newest.

    Released is a clean release, gloss a high one; bloom counts from the first day on which
    any was seen.
    """
    codes: dict[int, str] = {}
    for word in ("gloss", "release", "bloom"):
        for value in OUTCOMES[word]:
            for row in notebook.search(Search(outcome=f"{word}={value}")):
                codes[row.id] = row.code
    found: dict[str, NotedOutcome] = {}
    every = list(codes)
    for begin in range(0, len(every), _AT_ONCE):
        histories = notebook.outcomes(every[begin : begin + _AT_ONCE])
        found |= {codes[one]: _noted(outcomes_of(its)) for one, its in histories.items()}
    return found


def _noted(words: Mapping[tuple[str, int | None], str]) -> NotedOutcome:
    release, gloss = words.get(("release", None)), words.get(("gloss", None))
    bloomed = [days for days in BLOOM_AFTER_DAYS if words.get(("bloom", days), "none") != "none"]
    return NotedOutcome(
        released=None if release is None else release == "clean",
        gloss=None if gloss is None else gloss == "high",
        bloom_days=min(bloomed, default=None),
    )


@dataclass(frozen=True)
class Learned:
    """A batch that has an outcome, with its timeline if it is to be drawn."""

    outcome: TrayOutcome
    timeline: Timeline | None


def learned(
    notebook: "Notebook",
    couverture: str,
    noted: Mapping[str, NotedOutcome],
    rehearsals: bool,
    drawn: bool = True,
    progress: Callable[[str, int], Progress] = Progress,
) -> list[Learned]:
    """The batches of ``couverture`` with an outcome; rehearsed ones only if asked for. Timelines
    take memory: they are kept if the batches are to be ``drawn``."""
    rows = [
        row
        for row in notebook.batches()
        if row.couverture == couverture
        and row.method != "cup"
        and (rehearsals or not row.rehearsal)
        and row.code in noted
    ]
    found = []
    timelines = timelines_one_by_one(notebook, rows)
    for row, timeline in progress("reading batches", len(rows)).over(timelines):
        outcome = tray_outcome(row.code, couverture, timeline, noted[row.code])
        found.append(Learned(outcome, timeline if drawn else None))
    return found


def place_of(
    notebook: "Notebook", couverture: str, noted: Mapping[str, NotedOutcome], rehearsals: bool
) -> int:
    """As which of the couvertures with outcomes this one came into the notebook, from 1."""
    came = list[str]()
    for row in sorted(notebook.batches(), key=lambda row: row.id):
        counts = row.code in noted and row.method != "cup" and (rehearsals or not row.rehearsal)
        if counts and row.couverture and row.couverture not in came:
            came.append(row.couverture)
    return came.index(couverture) + 1 if couverture in came else len(came) + 1


def tray_outcome(
    code: str, couverture: str, timeline: Timeline, note: NotedOutcome
) -> TrayOutcome:
    """Timeline and note of one batch together."""
    working_c = test_minutes = above = None
    if timeline.entered_s is not None and timeline.left_s is not None:
        its = timeline.known.within(timeline.entered_s, timeline.left_s)
        values = timeline.known.values_c.array[its]
        working_c = median_of(values) if len(values) else None
        above = timeline.above_window_s / 60
        tests = [test.at_s for test in timeline.dip_tests if test.at_s >= timeline.entered_s]
        test_minutes = (tests[0] - timeline.entered_s) / 60 if tests else None
    rate_c_per_min = timeline.descent_rate_c_per_min
    return TrayOutcome(code, couverture, working_c, above, rate_c_per_min, test_minutes, note)


def batch_of_cup(cup: Batch | BatchRow, rows: list[BatchRow]) -> BatchRow | None:
    """The batch a cup was taken from: the newest of its couverture that began before it."""
    if cup.started_unix_ms is None:
        return None
    earlier = [
        row
        for row in rows
        if row.method != "cup"
        and row.couverture == cup.couverture
        and row.rehearsal == cup.rehearsal
        and row.started_unix_ms is not None
        and 0 <= cup.started_unix_ms - row.started_unix_ms <= BELONGS_MS
    ]
    return max(earlier, key=lambda row: row.started_unix_ms or 0, default=None)


@dataclass(frozen=True)
class FiledCup:
    """A cup with its slope and setup; ``batch`` is the code of the batch it was taken from, None
    if there is none, ``good`` whether that is known to have turned out well."""

    code: str
    inflection: Inflection
    setup: Setup
    batch: str | None
    good: bool


def setup_of(cup: Batch, curve: Curve, inflection: Inflection) -> Setup:
    """The board, its probe's lag by the calibration that was filed with the cup, and the fall."""
    lag_s = 0.0
    with suppress(RecordError):
        lag_s = parse(cup.calibration or b"").lag_s
    return Setup(curve.board_id, lag_s, inflection.cools_per_min)


def other_cups(
    notebook: "Notebook", cup: Batch, noted: Mapping[str, NotedOutcome]
) -> Iterator[FiledCup]:
    """Every other cup of this couverture that has a slope."""
    rows = notebook.batches()
    for row in rows:
        same = row.couverture == cup.couverture and row.rehearsal == cup.rehearsal
        if row.method != "cup" or not same or row.code == cup.code:
            continue
        batch = batch_of_cup(row, rows)
        note = None if batch is None else noted.get(batch.code)
        try:
            curve = decode(notebook.curve_raw(row.id))
            inflection = find_inflection(curve.times_s, curve.temperatures_c)
        except (UnusableValueError, RecordError):
            continue  # a cup that shows nothing teaches nothing
        setup = setup_of(notebook.batch(row.code), curve, inflection)
        code = None if batch is None else batch.code
        yield FiledCup(row.code, inflection, setup, code, note is not None and bool(note.good))
