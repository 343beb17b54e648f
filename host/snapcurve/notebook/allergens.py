"""What a batch holds of allergens: from its couverture, its lots and its amendments. Pure.

The one place where a batch's allergens are computed: lists, warnings, sheet and export read them
from here. A group that any source names is in the batch. An amendment adds what it names; it
takes away only what it says that it takes, or what the couverture alone had, and its reason
stays beside it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from snapcurve.errors import SnapcurveError
from snapcurve.notebook.entries import lots_after
from snapcurve.notebook.records import AmendedBatch, Entry, Leftover, Lot
from snapcurve.notebook.vocabulary import ALLERGEN_GROUPS
from snapcurve.shown.plain_text import on_one_line

COUVERTURE = "couverture"
_AMENDMENT = "amendment"


@dataclass(frozen=True)
class Source:
    """Something in the batch: what a person calls it, and its allergens, None if not known.

    ``earlier``: it came with a leftover, and the name says in which batch it is.
    """

    name: str
    groups: tuple[str, ...] | None
    earlier: bool = False


@dataclass(frozen=True)
class TakenAway:
    """Groups that something named and an amendment took away: whose word, and why."""

    groups: tuple[str, ...]
    who: str
    why: str


@dataclass(frozen=True)
class Allergens:
    """The allergens of a batch with where they come from."""

    sources: tuple[Source, ...]
    taken_away: tuple[TakenAway, ...] = ()

    @property
    def named(self) -> tuple[str, ...]:
        """Every group that is known to be in it, in the order of ALLERGEN_GROUPS."""
        return _in_order(group for one in self.sources for group in one.groups or ())

    @property
    def not_known(self) -> tuple[str, ...]:
        """Names of the sources of which it is not known what they hold."""
        return tuple(dict.fromkeys(one.name for one in self.sources if one.groups is None))

    def not_known_in(self, code: str) -> tuple[str, ...]:
        """The same as names for a batch that had leftover of this one, whose code is given."""
        unknown = (one for one in self.sources if one.groups is None)
        names = (one.name if one.earlier else f"{one.name} in {code}" for one in unknown)
        return tuple(dict.fromkeys(names))

    @property
    def groups(self) -> tuple[str, ...] | None:
        """In three states: what is named; empty only if every source was declared to hold
        none; None if nothing is named and something is not known."""
        return self.named if self.named or not self.not_known else None

    @property
    def wholly_unknown(self) -> bool:
        """Whether nothing says what it holds: neither its couverture nor any group."""
        return not self.named and COUVERTURE in self.not_known


def of(found: AmendedBatch) -> Allergens:
    """Of a batch as it stands with its entries."""
    return of_batch(found.filed.allergens, found.filed.lots, found.entries, found.leftovers)


def of_batch(
    couverture: tuple[str, ...] | None,
    lots: tuple[Lot, ...],
    entries: Iterable[Entry] = (),
    leftovers: Iterable[Leftover] = (),
) -> Allergens:
    """Of a batch that was filed with this couverture's allergens and these lots.

    Of `entries` those that amend allergens or add lots count, in the order of filing. A lot that
    is one of `leftovers` holds what that batch held.
    """
    earlier = {one.code: one for one in leftovers}
    name, own = COUVERTURE, couverture
    taken: dict[str, Entry] = {}
    for entry in entries:
        if entry.kind == "lot":
            lots, _ = lots_after(lots, entry)
        elif entry.kind == "amendment" and entry.payload["field"] == "allergens":
            value, takes = entry.payload["value"], set(entry.payload.get("takes", ()))
            if value is not None:
                takes |= {*(own or ())} - {*value}
            name = COUVERTURE if value is None else _AMENDMENT
            own = None if value is None else tuple(value)
            lots = tuple(_without(lot, takes) for lot in lots)
            taken |= dict.fromkeys(takes, entry)
    sources = (Source(name, own), *(one for lot in lots for one in _sources(lot, earlier, taken)))
    found = Allergens(sources)
    gone = {group: entry for group, entry in taken.items() if group not in found.named}
    away = [
        TakenAway(
            _in_order(group for group, by in gone.items() if by is entry), entry.who, entry.why
        )
        for entry in {entry.id: entry for entry in gone.values()}.values()
    ]
    return Allergens(sources, tuple(away))


def refuse_silent(before: Allergens, payload: Mapping[str, Any]) -> None:
    """SnapcurveError for an amendment of allergens that leaves out what something names
    without taking it away, or takes away what nothing names."""
    takes = set(payload.get("takes", ()))
    if strange := takes - {*before.named}:
        raise SnapcurveError(
            f"Nothing in this batch names {', '.join(_in_order(strange))}, so it cannot be"
            " taken away; leave it out."
        )
    if payload["value"] is None:
        return
    said = takes | {*payload["value"]}
    silent = [(one.name, left) for one in before.sources if (left := {*(one.groups or ())} - said)]
    if silent:
        named = "; ".join(
            f"{on_one_line(name)} names {', '.join(_in_order(left))}" for name, left in silent
        )
        groups = ",".join(_in_order(group for _, left in silent for group in left))
        raise SnapcurveError(
            f"{named}; name that too, or take it away with --take-away {groups} and say in"
            " --why how it is known."
        )


def _sources(lot: Lot, earlier: Mapping[str, Leftover], taken: Iterable[str]) -> list[Source]:
    name = f"{lot.ingredient} {lot.lot}"
    found = earlier.get(lot.lot)
    if found is None:
        return [Source(name, lot.allergens)]
    left = tuple(group for group in found.named if group not in {*taken})
    return [Source(name, left), *(Source(one, None, True) for one in found.not_known)]


def _without(lot: Lot, takes: set[str]) -> Lot:
    if lot.allergens is None:
        return lot
    left = tuple(group for group in lot.allergens if group not in takes)
    return dataclasses.replace(lot, allergens=left)


def _in_order(groups: Iterable[str]) -> tuple[str, ...]:
    """In the order of the list; one that is not in it, of another version, is not lost."""
    held = set(groups)
    known = [group for group in ALLERGEN_GROUPS if group in held]
    return (*known, *sorted(held.difference(known)))
