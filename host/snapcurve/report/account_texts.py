"""The account of a practice bowl on the screen, on paper, and side by side for a class."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from snapcurve.analysis.practice_account import Account
from snapcurve.errors import SnapcurveError
from snapcurve.notebook.exports import table_csv
from snapcurve.report import sheet_sections as s
from snapcurve.report.practice_texts import clock
from snapcurve.report.sheet_document import written
from snapcurve.shown.input_files import KIB, read_text
from snapcurve.shown.plain_text import for_paper, visible
from snapcurve.shown.table import row, table, wrapped
from snapcurve.shown.units import Style

FORM = "snapcurve practice account 1"
FILE_BYTES_MAX = 64 * KIB
LEARNER_MAX = 100
MOMENTS_HEAD = ("time", "what", "it read", "it was", "fine crystals")
MOMENTS_PARTS = (1.0, 2.0, 1.5, 1.5, 1.5)
CLASS_HEAD = (
    "learner", "lesson", "right", "minutes", "acts", "findings right", "findings wrong",
    "last blade set s", "what was right", "what was wrong",
)  # fmt: skip
NOTE = "A practice bowl, no real chocolate. What is right is common practice, no source."


def _title(account: Account) -> str:
    if account.situation is None:
        return f"Practice: {account.setting['couverture']} by {account.setting['method']}"
    return f"Lesson: {account.situation.name}"


def _summary(account: Account) -> str:
    right = sum(one.good for one in account.findings)
    total = len(account.findings)
    verdict = "Done right" if account.passed else "Not yet right"
    who = f", by {account.learner}" if account.learner else ""
    return f"{verdict}: {right} of {total} points in {clock(account.seconds)} min{who}."


def _moments(account: Account, style: Style) -> list[tuple[str, ...]]:
    return [
        (
            clock(one.seconds),
            one.what,
            "probe out" if one.reads_c is None else style.temperature(one.reads_c),
            style.temperature(one.chocolate_c),
            f"{style.number(100 * one.crystals_share, 1)} %",
        )
        for one in account.moments
    ]


def account_lines(account: Account, style: Style) -> list[str]:
    """The account in lines for a screen."""
    found = account.situation
    rows = [row(_title(account), "")] if found is None else []
    if found is not None:
        rows += [row("Lesson", found.name), row("Seen", found.story), row("Task", found.task)]
    rows.append(row("Account", _summary(account)))
    lines = wrapped([one.rstrip() for one in rows])
    lines += wrapped(
        [f"  - {'right' if one.good else 'WRONG'}: {one.text}" for one in account.findings]
    )
    if found is not None:
        lines += wrapped([row("Right", found.right)])
    lines += ["", table([MOMENTS_HEAD, *_moments(account, style)], right=(0, 2, 3, 4))]
    return lines


def account_document(account: Account, path: Path, paper: str, style: Style) -> Path:
    """Write the account into ``path``, a PDF, and return that. SnapcurveError as in
    `sheet_document.written`."""
    found = account.situation
    sections = [s.Section("", s.Sentences((for_paper(_summary(account)),)))]
    if found is not None:
        sections.append(
            s.Section("What was seen and heard", s.Sentences((found.story, found.task)))
        )
    sections.append(
        s.Section(
            "What was done",
            s.table_of(
                ("", "what was done"),
                [("right" if one.good else "WRONG", one.text) for one in account.findings],
                (0.6, 6.0),
            ),
        )
    )
    if found is not None:
        sections.append(s.Section("What would have been right", s.Sentences((found.right,))))
    sections += [
        s.Section(
            "What was read, and what was true",
            s.table_of(
                MOMENTS_HEAD, _moments(account, style), (1, 2, 1.5, 1.5, 1.5), (0, 2, 3, 4)
            ),
        ),
        s.Section("", s.Sentences((NOTE,))),
    ]
    title = _title(account)
    return written(title, title, sections, path, paper, style, "PRACTICE")


def account_plain(account: Account) -> dict[str, Any]:
    """The account for scripts, and for the list of a class: times in s, temperatures in °C."""
    return {
        "form": FORM,
        "learner": account.learner,
        "lesson": account.lesson,
        "setting": account.setting,
        "right": account.passed,
        "seconds": account.seconds,
        "acts": account.acts,
        "findings": [{"right": one.good, "text": one.text} for one in account.findings],
        "moments": [
            {
                "seconds": one.seconds,
                "what": one.what,
                "reads_c": one.reads_c,
                "chocolate_c": one.chocolate_c,
                "crystals_share": one.crystals_share,
            }
            for one in account.moments
        ],
        "blades": [
            {
                "seconds": one.seconds,
                "chocolate_c": one.chocolate_c,
                "reads_c": one.reads_c,
                "crystals_share": one.crystals_share,
                "set_s": one.set_s,
            }
            for one in account.blades
        ],
    }


def read_account(path: Path) -> dict[str, Any]:
    """An account that `--json` printed, from a file. SnapcurveError if it is none."""
    text = read_text(path, "account", FILE_BYTES_MAX)
    try:
        found = json.loads(text)
        if found["form"] == FORM:
            _class_row(found)
            return dict(found)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        pass
    raise SnapcurveError(
        f"{visible(str(path))} is no account of a practice bowl: write one with 'snapcurve "
        "practise account --learner NAME --json'."
    )


def class_csv(accounts: Sequence[dict[str, Any]]) -> str:
    """Accounts of a class side by side, a line each."""
    return table_csv(CLASS_HEAD, [_class_row(one) for one in accounts])


def _class_row(account: dict[str, Any]) -> list[Any]:
    right = [str(one["text"]) for one in account["findings"] if one["right"] is True]
    wrong = [str(one["text"]) for one in account["findings"] if one["right"] is not True]
    blades = account["blades"]
    set_s = blades[-1]["set_s"] if blades else None
    return [
        for_paper(str(account["learner"]))[:LEARNER_MAX],
        str(account["lesson"] or ""),
        "no" if wrong else "yes",
        round(float(account["seconds"]) / 60, 1),
        int(account["acts"]),
        len(right),
        len(wrong),
        "" if set_s is None else round(float(set_s)),
        for_paper(" ".join(right)),
        for_paper(" ".join(wrong)),
    ]
