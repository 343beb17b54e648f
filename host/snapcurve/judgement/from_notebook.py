"""A filed batch to its judgement: the only part here that reads the notebook."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from snapcurve.curves import Curve, decode
from snapcurve.errors import SnapcurveError
from snapcurve.judgement.clock import Clock
from snapcurve.judgement.facts import BladeResult
from snapcurve.judgement.judge import Judgement, judge
from snapcurve.notebook.describing import blades_with_offsets
from snapcurve.notebook.records import Batch, Entry

if TYPE_CHECKING:
    from snapcurve.notebook.store import Notebook


PASSED = {"good": True, "failed": False}


def blades_of(batch: Batch, entries: Sequence[Entry]) -> list[BladeResult]:
    """Results of test blades that are filed with ``batch``, in the order of dipping.

    A result in other words than those of PASSED is left out: nobody can say what it proves.
    """
    return [
        BladeResult(at_s, PASSED[word], entry.payload.get("text", ""))
        for at_s, entry in blades_with_offsets(batch, entries)
        if (word := entry.payload["result"].strip().lower()) in PASSED
    ]


def judge_batch(
    notebook: "Notebook", code_or_id: str, blade_passed: bool | None = None
) -> tuple[Batch, Judgement]:
    """The batch and its judgement; ``blade_passed`` is what the last marked test blade
    showed, None if nothing more is known than what was told to the board.

    SnapcurveError if there is no such batch, or a blade is spoken of and none was marked.
    """
    batch = notebook.batch(code_or_id)
    curve = decode(notebook.curve_raw(batch.id))
    blades = blades_of(batch, notebook.history(batch.code))
    if blade_passed is not None:
        blades = [BladeResult(_last_dip_s(curve, batch.code), blade_passed)]
    uncertainty = batch.uncertainty_centi_c
    return batch, judge(
        curve,
        blades,
        Clock(batch.started_unix_ms, batch.utc_offset_min),
        None if uncertainty is None else uncertainty / 100,
    )


def _last_dip_s(curve: Curve, code: str) -> float:
    dips = [event.offset_ms for event in curve.events if event.name == "dip_test"]
    if not dips:
        raise SnapcurveError(
            f"no test blade was marked in batch {code}, so it cannot have shown anything: "
            "press the button when you dip the next one"
        )
    return dips[-1] / 1000
