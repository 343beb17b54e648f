"""What holds for a day at this bench: written once, filed with every batch that began that day.

A JSON file in the data folder keeps every day that was ever set, so that a batch gets what was
set for its own day whenever it is collected.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from snapcurve.errors import SnapcurveError
from snapcurve.notebook.describing import lot_words, value_words
from snapcurve.notebook.records import Lot, NewBatch
from snapcurve.notebook.vocabulary import allergens_of_kind, read_groups
from snapcurve.shown.dates import local
from snapcurve.shown.input_files import MIB, NoSuchFile, read_text
from snapcurve.shown.plain_text import on_one_line
from snapcurve.shown.quantities import Style
from snapcurve.shown.whole_files import write_whole

FILE = "days.json"
OLD_FILE = "today.json"  # of one day only, as earlier versions kept it; it is read, not written
FILE_BYTES_MAX = 16 * MIB  # a day is some hundred bytes


@dataclass(frozen=True)
class Today:
    """`day` in ISO 8601. `lots` with the couverture they belong to, "" for every batch;
    None is not known."""

    day: str
    place: str | None = None
    room_centi_c: int | None = None
    mass_mg: int | None = None
    lots: tuple[tuple[str, Lot], ...] = ()

    def __bool__(self) -> bool:
        """Whether anything is set."""
        return self != Today(self.day)

    def with_lot(self, couverture: str, lot: Lot) -> "Today":
        """With this lot too; the same ingredient of the same couverture is replaced."""
        kept = tuple(
            one
            for one in self.lots
            if (one[0], one[1].ingredient.casefold()) != (couverture, lot.ingredient.casefold())
        )
        return replace(self, lots=(*kept, (couverture, lot)))

    def missing_in(self, new: NewBatch) -> "Today":
        """What of it `new` has not already, and what belongs to its couverture."""
        return Today(
            self.day,
            place=self.place if new.place is None else None,
            room_centi_c=self.room_centi_c if new.room_centi_c is None else None,
            mass_mg=self.mass_mg if new.mass_mg is None else None,
            lots=tuple(one for one in self.lots if one[0] in ("", new.couverture)),
        )


Days = Mapping[str, Today]
"""What was set, by day."""


def day_of(new: NewBatch) -> date | None:
    """The day on which a batch began by the clocks of its bench; None if that is unknown."""
    if new.started_unix_ms is None:
        return None
    return local(new.started_unix_ms, new.utc_offset_min).date()


def applied(days: Days, new: NewBatch) -> tuple[NewBatch, Today | None]:
    """`new` with what was set for the day on which it began, and what that was, None if
    nothing; nothing it has already is changed."""
    day = day_of(new)
    held = None if day is None else days.get(day.isoformat())
    given = None if held is None else held.missing_in(new)
    if not given:
        return new, None
    return (
        replace(
            new,
            place=given.place if new.place is None else new.place,
            room_centi_c=given.room_centi_c if new.room_centi_c is None else new.room_centi_c,
            mass_mg=given.mass_mg if new.mass_mg is None else new.mass_mg,
            lots=(*new.lots, *(lot for _, lot in given.lots)),
        ),
        given,
    )


def missed(days: Days, new: NewBatch, code: str) -> str | None:
    """A sentence if `new`, filed as `code`, got nothing where something may belong to it: it
    began at an unknown time, or on a day of which only the day before or after is set."""
    add = f"add what belongs to it, such as 'snapcurve lot {code} INGREDIENT LOT'"
    day = day_of(new)
    if day is None:
        if not any(days.values()):
            return None
        return f"{code}: time unknown, so nothing that was set for a day was filed with it; {add}"
    if days.get(day.isoformat()):
        return None
    for beside in (day + timedelta(days=1), day - timedelta(days=1)):
        if days.get(beside.isoformat()):
            return f"{code}: nothing was set for {day}, only for {beside}; {add}"
    return None


def with_kinds_allergens(new: NewBatch, kind: str | None) -> NewBatch:
    """`new` with the allergens that a couverture of `kind` has by its nature."""
    if kind is None or new.allergens is not None:
        return new
    return replace(new, allergens=allergens_of_kind(kind))


def load(folder: Path, day: date) -> Today:
    """What was set for `day`; SnapcurveError if the file cannot be read."""
    return load_all(folder).get(day.isoformat(), Today(day.isoformat()))


def load_all(folder: Path) -> dict[str, Today]:
    """Every day that was set; SnapcurveError if the file cannot be read."""
    return {
        **{today.day: today for today in _read(folder / OLD_FILE, _old_days)},
        **{today.day: today for today in _read(folder / FILE, _days)},
    }


def save(folder: Path, today: Today) -> None:
    """Write it beside the other days; SnapcurveError if that cannot be done."""
    days = {**load_all(folder), today.day: today}
    held = {day: _plain(one) for day, one in sorted(days.items())}
    text = json.dumps(held, ensure_ascii=False, indent=1)
    write_whole(folder / FILE, text.encode("utf-8"), "file of the days")


def lines(today: Today, style: Style) -> list[str]:
    """What is set for a day, for the terminal."""
    return [
        f"Every batch that begins on {today.day} gets, whenever it is collected:",
        f"  place      {value_words('place', today.place, style)}",
        f"  room       {value_words('room_centi_c', today.room_centi_c, style)}",
        f"  mass       {value_words('mass_mg', today.mass_mg, style)}",
        *(
            f"  lot        {lot_words(lot, style)}"
            + (f", only in {on_one_line(couverture)}" if couverture else "")
            for couverture, lot in today.lots
        ),
    ]


def given_words(given: Today, style: Style) -> str:
    """What a batch got, on one line."""
    parts = [
        f"{word} {value_words(name, value, style)}"
        for word, name, value in (
            ("place", "place", given.place),
            ("room", "room_centi_c", given.room_centi_c),
            ("mass", "mass_mg", given.mass_mg),
        )
        if value is not None
    ]
    parts += [f"{on_one_line(lot.ingredient)} {on_one_line(lot.lot)}" for _, lot in given.lots]
    return f"filed with what was set for {given.day}: {', '.join(parts)}"


def given_plain(given: Today) -> dict[str, Any]:
    """What a batch got, for a script."""
    return {
        "day": given.day,
        "place": given.place,
        "room_c": None if given.room_centi_c is None else given.room_centi_c / 100,
        "mass_g": None if given.mass_mg is None else given.mass_mg / 1000,
        "lots": [lot.lot for _, lot in given.lots],
    }


def _read(path: Path, days_in: Callable[[Any], list[Today]]) -> list[Today]:
    try:
        return days_in(json.loads(read_text(path, "file of the days", FILE_BYTES_MAX)))
    except NoSuchFile:
        return []
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise SnapcurveError(
            f"{path} cannot be read as what was set for a day; put it right, or move it away and "
            "set it anew"
        ) from error


def _days(held: Any) -> list[Today]:
    return [
        _today(date.fromisoformat(day).isoformat(), fields, tuple) for day, fields in held.items()
    ]


def _old_days(held: Any) -> list[Today]:
    # as in the notebook, the empty list of that version may mean that nothing is known
    return [_today(held.pop("day"), held, read_groups)]


def _today(day: str, held: Any, groups: Callable[[Any], tuple[str, ...] | None]) -> Today:
    lots = tuple(
        (
            couverture,
            Lot(
                **{
                    **lot,
                    "allergens": None if lot["allergens"] is None else groups(lot["allergens"]),
                }
            ),
        )
        for couverture, lot in held["lots"]
    )
    return Today(day, **{**held, "lots": lots})


def _plain(today: Today) -> dict[str, Any]:
    held = asdict(today)
    del held["day"]
    return held
