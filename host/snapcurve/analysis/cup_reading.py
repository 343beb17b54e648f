"""A filed cup: its slope, the temper that names, and the batch it was taken from."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from snapcurve.analysis import filed_outcomes
from snapcurve.analysis.cooling_curve import Inflection, find_inflection
from snapcurve.analysis.cup_temper import CupVerdict, name_temper, spread_of
from snapcurve.analysis.outcome_file import NotedOutcome
from snapcurve.notebook.records import Batch, BatchRow
from snapcurve.recording.curve import Curve
from snapcurve.shown.units import Style

if TYPE_CHECKING:
    from snapcurve.notebook.store import Notebook


@dataclass(frozen=True)
class CupReading:
    """``good`` are the codes of cups of this setup from batches that turned out well, ``other``
    how many more there are with another probe or cup; ``batch`` the batch it was taken from, None
    if there is none before it."""

    code: str
    inflection: Inflection
    verdict: CupVerdict
    good: tuple[str, ...]
    other: int
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
    batch = filed_outcomes.batch_of_cup(cup, notebook.batches())
    setup = filed_outcomes.setup_of(cup, curve, inflection)
    cups = list(filed_outcomes.other_cups(notebook, cup, noted))
    own = [one for one in cups if one.setup.like(setup)]
    good = [one for one in own if one.good]
    slopes = defaultdict(list)
    if batch is not None:
        slopes[batch.code].append(inflection.slope_c_per_min)
    for one in own:
        if one.batch is not None:
            slopes[one.batch].append(one.inflection.slope_c_per_min)
    verdict = name_temper(
        inflection,
        [one.inflection.slope_c_per_min for one in good],
        spread_of(list(slopes.values())),
        style,
    )
    return CupReading(
        str(cup.code),
        inflection,
        verdict,
        tuple(one.code for one in good),
        sum(one.good for one in cups) - len(good),
        batch,
    )
