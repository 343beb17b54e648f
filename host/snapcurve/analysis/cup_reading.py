"""A filed cup: its slope, the temper that names, and the batch it was taken from."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from snapcurve.analysis import filed_outcomes
from snapcurve.analysis.cooling_curve import Inflection, find_inflection
from snapcurve.analysis.cup_temper import CupVerdict, name_temper
from snapcurve.analysis.outcome_file import NotedOutcome
from snapcurve.notebook.records import Batch, BatchRow
from snapcurve.recording.curve import Curve
from snapcurve.shown.units import Style

if TYPE_CHECKING:
    from snapcurve.notebook.store import Notebook


@dataclass(frozen=True)
class CupReading:
    """``good`` are the codes of cups from batches that turned out well; ``batch`` the batch it
    was taken from, None if there is none before it."""

    code: str
    inflection: Inflection
    verdict: CupVerdict
    good: tuple[str, ...]
    batch: BatchRow | None


def read_cup(
    notebook: "Notebook",
    cup: Batch,
    curve: Curve,
    noted: Mapping[str, NotedOutcome],
    style: Style,
) -> CupReading:
    """Read ``cup`` into words of ``style``; ``noted`` says how batches turned out, beside what the
    notebook has.

    SnapcurveError if the curve has no slope to be found.
    """
    inflection = find_inflection(curve.times_s, curve.temperatures_c, style=style)
    noted = {**filed_outcomes.filed_outcomes(notebook), **noted}
    good = list(filed_outcomes.good_cups(notebook, cup, noted))
    verdict = name_temper(inflection, [one.slope_c_per_min for _, one in good], style)
    return CupReading(
        str(cup.code),
        inflection,
        verdict,
        tuple(code for code, _ in good),
        filed_outcomes.batch_of_cup(cup, notebook.batches()),
    )
