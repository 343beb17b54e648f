"""The table of complaints, read from complaints.toml: the one place for sheet, page, tool."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from snapcurve.errors import SnapcurveError
from snapcurve.shown.file_lines import did_you_mean, one_line

PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Cause:
    """``sign`` is a word of signs.SIGNS, None if no curve can speak about it."""

    words: str
    check: str
    source: str
    sign: str | None


@dataclass(frozen=True)
class Complaint:
    """``id`` is what a person types."""

    id: str
    name: str
    looks: str
    causes: tuple[Cause, ...]


@cache
def complaints() -> dict[str, Complaint]:
    """All of them by id, in the order of the file."""
    text = (files(__package__) / "complaints.toml").read_text(encoding="utf-8")
    return {
        id_: Complaint(
            id_,
            row["name"],
            row["looks"],
            tuple(
                Cause(cause["words"], cause["check"], cause["source"], cause.get("sign"))
                for cause in row["causes"]
            ),
        )
        for id_, row in tomllib.loads(text).items()
    }


def find(text: str) -> Complaint:
    """The complaint a person named by id or name; SnapcurveError if there is none."""
    wanted = text.strip().lower()
    for complaint in complaints().values():
        if wanted in (complaint.id, complaint.name, complaint.id.replace("-", " ")):
            return complaint
    known = ", ".join(complaints())
    raise SnapcurveError(
        f'there is no complaint "{one_line(text)}"{did_you_mean(text, complaints())}; '
        f"known are {known}"
    )
