"""What holds for a day at a bench: written once, filed with every batch that began that day.

Each change is an entry of the notebook, so that a batch gets what was set for its own day whenever
and wherever it is collected, and that it was changed stays to be seen. Earlier versions kept the
days in a JSON file in the data folder, which is still read.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any, TypedDict

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import codes
from snapcurve.notebook.descriptions import field_word, lot_words, value_words
from snapcurve.notebook.records import Entry, Lot, NewBatch, NewEntry
from snapcurve.notebook.vocabulary import allergens_of_kind
from snapcurve.shown.input_files import MIB, NoSuchFile, read_text
from snapcurve.shown.plain_text import on_one_line
from snapcurve.shown.units import Style

FILE = "days.json"
FILE_BYTES_MAX = 16 * MIB  # a day is some hundred bytes
NOBODY = "not named"  # who sets a day, where no operator is set
_FIELDS = ("place", "operator", "room_centi_c", "mass_mg")


@dataclass(frozen=True)
class Today:
    """`day` in ISO 8601. `lots` with the couverture they belong to, "" for every batch;
    None is not known."""

    day: str
    place: str | None = None
    operator: str | None = None
    room_centi_c: int | None = None
    mass_mg: int | None = None
    lots: tuple[tuple[str, Lot], ...] = ()

    def __bool__(self) -> bool:
        """Whether anything is set."""
        return self != Today(self.day)

    def with_lot(self, couverture: str, lot: Lot) -> "Today":
        """With this lot too; the same ingredient of the same couverture is replaced."""
        others = tuple(
            one
            for one in self.lots
            if (one[0], one[1].ingredient.casefold()) != (couverture, lot.ingredient.casefold())
        )
        return replace(self, lots=(*others, (couverture, lot)))

    def missing_in(self, new: NewBatch) -> "Today":
        """What of it `new` has not already, and what belongs to its couverture."""
        lots = tuple(one for one in self.lots if one[0] in ("", new.couverture))
        there: dict[str, Any] = {name: None for name in _FIELDS if getattr(new, name) is not None}
        return replace(self, lots=lots, **there)


Days = Mapping[str, Today]
"""What was set, by day."""


class GivenJson(TypedDict):
    """What a batch got, for a script."""

    day: str
    place: str | None
    operator: str | None
    room_c: float | None
    mass_g: float | None
    lots: list[str]


def _day_of(new: NewBatch) -> str:
    """The day on which a batch began by the clocks of its bench; codes.UNDATED if that is
    unknown."""
    return codes.day_of(new.started_unix_ms, new.utc_offset_min)


def applied(days: Days, new: NewBatch) -> tuple[NewBatch, Today | None]:
    """`new` with what was set for the day on which it began, and what that was, None if
    nothing; nothing it has already is changed."""
    held = days.get(_day_of(new))
    given = None if held is None else held.missing_in(new)
    if not given:
        return new, None
    fields: dict[str, Any] = {name: getattr(given, name) for name in _FIELDS}
    fields = {name: value for name, value in fields.items() if value is not None}
    return replace(new, **fields, lots=(*new.lots, *(lot for _, lot in given.lots))), given


def missed(
    days: Days, new: NewBatch, code: str, entries: Iterable[Entry] = (), bench: str = ""
) -> str | None:
    """A sentence if `new`, filed as `code`, got nothing where something may belong to it: it
    began at an unknown time, on a day of which only the day before or after is set, or on one
    that only another bench has set."""
    add = f"add what belongs to it, such as 'snapcurve lot {code} INGREDIENT LOT'"
    day = _day_of(new)
    if day == codes.UNDATED:
        if not any(days.values()):
            return None
        return f"{code}: time unknown, so nothing that was set for a day was filed with it; {add}."
    if not days.get(day) and (others := elsewhere(entries, bench, day)):
        names = ", ".join(on_one_line(one) or "a bench without a name" for one in others)
        return f"{code}: nothing was set for {day} at this bench, only at {names}; {add}."
    for beside in (0, 1, -1):
        other = (date.fromisoformat(day) + timedelta(days=beside)).isoformat()
        if days.get(other):
            only = f"{code}: nothing was set for {day}, only for {other}; {add}."
            return only if beside else None
    return None


def with_kinds_allergens(new: NewBatch, kind: str | None) -> NewBatch:
    """`new` with the allergens that a couverture of `kind` has by its nature."""
    if kind is None or new.allergens is not None:
        return new
    return replace(new, allergens=allergens_of_kind(kind))


def days_of(entries: Iterable[Entry], bench: str, folder: Path) -> dict[str, Today]:
    """What was set at this bench, by day, as it stands after these entries; and what an earlier
    version kept in ``folder``. SnapcurveError if its file there cannot be read."""
    found = load_all(folder)
    for entry in entries:
        if entry.kind == "day" and entry.payload["bench"] == bench:
            found[entry.payload["day"]] = _of_entry(entry)
    return found


def elsewhere(entries: Iterable[Entry], bench: str, day: str) -> dict[str, Today]:
    """What was set for this day at other benches, by their names."""
    found = {
        entry.payload["bench"]: _of_entry(entry)
        for entry in entries
        if entry.kind == "day" and entry.payload["day"] == day and entry.payload["bench"] != bench
    }
    return {name: one for name, one in found.items() if one}


def entry_of(today: Today, bench: str, who: str) -> NewEntry:
    """The entry that sets a day: all of it, in place of what was set before."""
    held = {name: value for name, value in asdict(today).items() if value is not None}
    return NewEntry("day", who or NOBODY, {**held, "bench": bench})


def _of_entry(entry: Entry) -> Today:
    held = {name: value for name, value in entry.payload.items() if name not in ("day", "bench")}
    return _today(entry.payload["day"], held)


def load_all(folder: Path) -> dict[str, Today]:
    """Every day that an earlier version kept; SnapcurveError if its file cannot be read."""
    path = folder / FILE
    try:
        held = json.loads(read_text(path, "file of the days", FILE_BYTES_MAX))
        return {one.day: one for one in (_today(*item) for item in held.items())}
    except NoSuchFile:
        return {}
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise SnapcurveError(
            f"{path} cannot be read as what was set for a day; put it right, or move it away and"
            " set it anew."
        ) from error


def lines(today: Today, style: Style, bench: str | None = None) -> list[str]:
    """What is set for a day, for the terminal; ``bench`` names another one, None is this."""
    fields = ((name, value_words(name, getattr(today, name), style)) for name in _FIELDS)
    where = "" if bench is None else f" at {on_one_line(bench) or 'a bench without a name'}"
    return [
        f"Every batch that begins on {today.day}{where} gets, whenever it is collected:",
        *(f"  {field_word(name):<10} {words}" for name, words in fields),
        *(
            f"  lot        {lot_words(lot, style)}"
            + (f", only in {on_one_line(couverture)}" if couverture else "")
            for couverture, lot in today.lots
        ),
    ]


def given_words(given: Today, style: Style) -> str:
    """What a batch got, on one line."""
    parts = [
        f"{field_word(name)} {value_words(name, value, style)}"
        for name in _FIELDS
        if (value := getattr(given, name)) is not None
    ]
    parts += [f"{on_one_line(lot.ingredient)} {on_one_line(lot.lot)}" for _, lot in given.lots]
    return f"filed with what was set for {given.day}: {', '.join(parts)}"


def given_plain(given: Today) -> GivenJson:
    """What a batch got, for a script."""
    return {
        "day": given.day,
        "place": given.place,
        "operator": given.operator,
        "room_c": None if given.room_centi_c is None else given.room_centi_c / 100,
        "mass_g": None if given.mass_mg is None else given.mass_mg / 1000,
        "lots": [lot.lot for _, lot in given.lots],
    }


def _today(day: str, held: Any) -> Today:
    lots = tuple(
        (couverture, Lot(**{**lot, "allergens": _groups(lot["allergens"])}))
        for couverture, lot in held.get("lots", ())
    )
    return Today(date.fromisoformat(day).isoformat(), **{**held, "lots": lots})


def _groups(held: Any) -> tuple[str, ...] | None:
    return None if held is None else tuple(held)
