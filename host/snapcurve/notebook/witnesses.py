"""Ends of the chain that were written down outside the notebook: on sheets and labels, on boards,
in backups. Pure.

Anyone who may write to the database can work the whole chain out anew, or cut it off and pull its
end back; but not what was printed, or what a board was told. A witness is the number of a seal
and the first digits of its hash: 32 of them (128 bits) where room is small, for nobody finds
other contents with the same.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from snapcurve.notebook.records import ChainEnd

DIGITS = 32
MARK = "snapcurve chain"
_GAP = r"[\s\x00]*"
_END = re.compile(rf"\b([0-9]{{1,9}}){_GAP}:{_GAP}((?:[0-9a-f]{_GAP}){{{DIGITS},64}})", re.I)


@dataclass(frozen=True)
class Witness:
    """``where`` it stands, as a person calls it; ``number`` 0 is a chain without a seal."""

    where: str
    number: int
    hash: str


@dataclass(frozen=True)
class Vouched:
    """What the witnesses say of a chain: the newest seal that one of them vouches for, None for
    none, and a sentence for each that does not fit."""

    by: Witness | None
    against: tuple[str, ...]


def written(end: ChainEnd, digits: int = DIGITS) -> str:
    """An end as it stands on paper and in a code."""
    return f"{end.number}:{end.hash[:digits]}"


def marked(chain: str) -> str:
    """An end as `written`, among what is known of a file. It says where it ends: behind it a file
    may have any byte, a digit too."""
    return f"{MARK} {chain};"


def in_text(text: str, where: str) -> list[Witness]:
    """Every end in a text, as it was printed, copied or read from a photo: line breaks and spaces
    between the digits do not matter."""
    return [
        Witness(where, int(found[1]), re.sub(r"[^0-9a-f]", "", found[2].lower()))
        for found in _END.finditer(text)
    ]


def in_bytes(raw: bytes, where: str) -> list[Witness]:
    """The ends in a sheet's or label's file, which says them among what is known of it."""
    marked = raw.decode("latin-1").split(MARK)[1:]
    return [one for part in marked for one in in_text(part[: 64 + 16], where)[:1]]


def compared(witnesses: Sequence[tuple[Witness, bool]]) -> Vouched:
    """What follows from witnesses of which is known whether the chain holds each."""
    held = [one for one, holds in witnesses if holds]
    against = tuple(
        f"The chain does not hold {one.number}:{one.hash[:DIGITS]}, which {one.where} says: what"
        " was sealed until then was changed or left out, or this is another notebook."
        for one, holds in witnesses
        if not holds
    )
    return Vouched(max(held, key=lambda one: one.number, default=None), against)


def vouched_words(vouched: Vouched, end: ChainEnd) -> str:
    """What of the chain is vouched for by something outside, and what is not."""
    if vouched.by is None:
        return (
            "Nothing outside the notebook vouches for it: anyone who can write to it could have"
            " worked the chain out anew. A sheet, label or backup given with --sheet does, and an"
            " attached board that was collected from."
        )
    since = end.number - vouched.by.number
    seals = "seal" if since == 1 else "seals"
    rest = "nothing was sealed since" if since == 0 else f"for {since} {seals} since nothing does"
    return f"{vouched.by.where} vouches for all up to seal {vouched.by.number}; {rest}."
