"""A judgement as JSON holds it: °C and s, to hundredths."""

from typing import Any

from snapcurve.analysis.complaints import Complaint
from snapcurve.analysis.facts import Facts
from snapcurve.analysis.verdict import Judgement

NUMBERS = (
    "peak_c",
    "melted_s",
    "above_melt_s",
    "melt_hidden_s",
    "too_hot_s",
    "hottest_c",
    "descent_rate_c_per_min",
    "steepest_c_per_min",
    "lowest_before_c",
    "entered_s",
    "in_window_s",
    "above_window_s",
    "below_window_s",
    "highest_outside_c",
    "lowest_outside_c",
    "warned_above",
    "warned_below",
    "work_hidden_s",
)


def facts_data(facts: Facts) -> dict[str, float | None]:
    """The facts that are numbers."""
    return {name: _rounded(getattr(facts, name)) for name in NUMBERS}


def verdict_data(judgement: Judgement, complaint: Complaint | None) -> dict[str, Any]:
    """Verdict, reasons, facts and signs; with a complaint what the record says of its causes."""
    facts = judgement.facts
    data: dict[str, Any] = {
        "records": list(judgement.records),
        "verdict": judgement.verdict,
        "proved": judgement.proved,
        "reasons": list(judgement.reasons),
        "cautions": list(judgement.cautions),
        "facts": facts_data(facts),
        "excursions": [
            {
                "start_s": run.start_s,
                "end_s": run.end_s,
                "extreme_c": _rounded(run.extreme_c),
                "side": "above" if run.above else "below",
            }
            for run in facts.excursions
        ],
        "dip_tests": [
            {
                "number": test.number,
                "at_s": test.at_s,
                "chocolate_c": _rounded(test.chocolate_c),
                "in_window": test.in_window,
                "waited": test.waited,
                "passed": None if test.result is None else test.result.passed,
            }
            for test in facts.dip_tests
        ],
        "signs": {
            name: {"state": sign.state, "reason": sign.reason}
            for name, sign in judgement.signs.items()
        },
    }
    if complaint is not None:
        data["complaint"] = {
            "id": complaint.id,
            "answers": [
                {
                    "cause": answer.cause.words,
                    "state": answer.state,
                    "reason": answer.reason,
                    "check": answer.cause.check,
                    "source": answer.cause.source,
                }
                for answer in judgement.about(complaint)
            ],
        }
    return data


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
