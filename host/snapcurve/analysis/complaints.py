"""The table of complaints, read from complaints.toml: the one place for sheet, page, tool."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import NamedTuple

from snapcurve.errors import SnapcurveError
from snapcurve.shown.plain_text import did_you_mean, short
from snapcurve.shown.units import PLAIN, Style, with_figures

PRACTICE = "common practice, no source"


class Cause(NamedTuple):
    """``sign`` is a field of signs.Signs, None if no curve can speak about it."""

    words: str
    check: str
    source: str
    sign: str | None


class Complaint(NamedTuple):
    """``id`` is what a person types."""

    id: str
    name: str
    looks: str
    causes: tuple[Cause, ...]


@cache
def complaints(style: Style = PLAIN) -> dict[str, Complaint]:
    """All of them by id, in the order of the file, with figures as ``style`` shows them."""

    text = (files(__package__) / "complaints.toml").read_text(encoding="utf-8")
    return {
        id_: Complaint(
            id_,
            row["name"],
            row["looks"],
            tuple(
                Cause(
                    cause["words"],
                    cause["check"],
                    cause.get("source", PRACTICE),
                    cause.get("sign"),
                )
                for cause in row["causes"]
            ),
        )
        for id_, row in tomllib.loads(with_figures(text, style)).items()
    }


def find(text: str, style: Style = PLAIN) -> Complaint:
    """The complaint a person named by id or name; SnapcurveError if there is none."""
    typed = text.strip().lower()
    for complaint in complaints(style).values():
        if typed in (complaint.id, complaint.name, complaint.id.replace("-", " ")):
            return complaint
    raise SnapcurveError(
        f'There is no complaint "{short(text)}"{did_you_mean(text, complaints())}: choose one '
        f"of {', '.join(complaints())}."
    )
