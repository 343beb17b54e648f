"""snapcurve judge: what a batch's record proves, and what it cannot say."""

import argparse
import textwrap
from typing import Any

from snapcurve.commands import options

STATES = {
    "shown": "the curve speaks for it",
    "uncertain": "uncertain",
    "cannot say": "the curve cannot say",
    "not shown": "the curve speaks against it",
}
WIDTH = 92
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


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("batch", help="code of the batch, or 'last'")
    parser.add_argument(
        "--complaint",
        metavar="WHAT",
        help="bloom, dull, streaks, soft-snap, stuck, thick, grainy or finger-marks: "
        "what the record says about its causes",
    )
    parser.add_argument(
        "--blade",
        choices=("good", "failed"),
        help="what the last marked test blade showed, if the board was not told",
    )
    options.notebook(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Judge and explain."""
    from snapcurve.analysis.complaints import complaints, find
    from snapcurve.analysis.filed_batch import judge_batch
    from snapcurve.notebook import open_notebook
    from snapcurve.shown.figures import speak
    from snapcurve.shown.plain_text import on_one_line
    from snapcurve.shown.settings_file import load

    speak(load().style)
    complaint = None if arguments.complaint is None else find(arguments.complaint)
    blade = None if arguments.blade is None else arguments.blade == "good"
    with open_notebook(arguments.notebook) as notebook:
        batch, judgement = judge_batch(notebook, arguments.batch, blade)
    if arguments.json:
        options.print_json(_json(batch, judgement, complaint))
        return 0
    print(f"Batch {batch.code}: {on_one_line(batch.couverture)} by {batch.method}")
    print(textwrap.fill(judgement.verdict, WIDTH))
    for reason in judgement.reasons:
        print(_point(reason))
    for caution in judgement.cautions:
        print(_point(caution, "! "))
    if complaint is None:
        if judgement.reasons:
            print(f"Something wrong with it? --complaint {', '.join(complaints())}")
        return 0
    print(f"\n{complaint.name}: {complaint.looks}")
    for answer in judgement.about(complaint):
        print(_point(f"{answer.cause.words} [{STATES[answer.state]}]"))
        if answer.cause.sign is not None:
            print(_point(answer.reason, "    "))
        print(_point(f"Check: {answer.cause.check} ({answer.cause.source}).", "    "))
    return 0


def _point(text: str, mark: str = "- ") -> str:
    return textwrap.fill(text, WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark))


def _json(batch: Any, judgement: Any, complaint: Any) -> dict[str, Any]:
    facts = judgement.facts
    result = {
        "batch": batch.code,
        "records": list(judgement.records),
        "verdict": judgement.verdict,
        "proved": judgement.proved,
        "reasons": list(judgement.reasons),
        "cautions": list(judgement.cautions),
        "facts": {name: rounded(getattr(facts, name)) for name in NUMBERS},
        "excursions": [
            {
                "start_s": run.start_s,
                "end_s": run.end_s,
                "extreme_c": rounded(run.extreme_c),
                "side": "above" if run.above else "below",
            }
            for run in facts.excursions
        ],
        "dip_tests": [
            {
                "number": test.number,
                "at_s": test.at_s,
                "chocolate_c": rounded(test.chocolate_c),
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
        result["complaint"] = {
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
    return result


def rounded(value: float | None) -> float | None:
    """To hundredths; None stays."""
    return None if value is None else round(value, 2)
