"""What holds for a whole day at this bench: written once, filed with every batch collected.

A JSON file beside the notebook's; it is of one day only and counts for nothing afterwards.
"""

import json
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from snapcurve.charts.files import write_whole
from snapcurve.errors import SnapcurveError
from snapcurve.notebook.dates import local
from snapcurve.notebook.describing import lot_words, value_words
from snapcurve.notebook.records import Lot, NewBatch
from snapcurve.notebook.vocabulary import allergens_of_kind
from snapcurve.outside_files import MIB, NoSuchFile, read_text
from snapcurve.plain_text import on_one_line
from snapcurve.quantities import Style

FILE = "today.json"
FILE_BYTES_MAX = MIB


@dataclass(frozen=True)
class Today:
    """`day` in ISO 8601. `lots` with the couverture they belong to, "" for every batch;
    None is not known."""

    day: str
    place: str | None = None
    room_centi_c: int | None = None
    mass_mg: int | None = None
    lots: tuple[tuple[str, Lot], ...] = ()

    def with_lot(self, couverture: str, lot: Lot) -> "Today":
        """With this lot too; the same ingredient of the same couverture is replaced."""
        kept = tuple(
            one
            for one in self.lots
            if (one[0], one[1].ingredient.casefold()) != (couverture, lot.ingredient.casefold())
        )
        return replace(self, lots=(*kept, (couverture, lot)))

    def applied(self, new: NewBatch) -> NewBatch:
        """`new` with what holds today, if it began today; nothing it has already is changed."""
        if new.started_unix_ms is None:
            return new
        if local(new.started_unix_ms, new.utc_offset_min).date().isoformat() != self.day:
            return new
        lots = tuple(lot for couverture, lot in self.lots if couverture in ("", new.couverture))
        return replace(
            new,
            place=self.place if new.place is None else new.place,
            room_centi_c=self.room_centi_c if new.room_centi_c is None else new.room_centi_c,
            mass_mg=self.mass_mg if new.mass_mg is None else new.mass_mg,
            lots=(*new.lots, *lots),
        )


def with_kinds_allergens(new: NewBatch, kind: str | None) -> NewBatch:
    """`new` with the allergens that a couverture of `kind` has by its nature."""
    if kind is None or new.allergens is not None:
        return new
    return replace(new, allergens=allergens_of_kind(kind))


def load(folder: Path, day: date) -> Today:
    """What was written for `day`, nothing if that was for another.

    SnapcurveError if the file cannot be read.
    """
    path = folder / FILE
    try:
        held: dict[str, Any] = json.loads(read_text(path, "file of the day", FILE_BYTES_MAX))
        if held["day"] != day.isoformat():
            return Today(day.isoformat())
        lots = tuple(
            (couverture, Lot(**{**lot, "allergens": tuple(lot["allergens"])}))
            for couverture, lot in held.pop("lots")
        )
        return Today(**held, lots=lots)
    except NoSuchFile:
        return Today(day.isoformat())
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise SnapcurveError(
            f"{path} cannot be read as what holds today; delete it and set it anew"
        ) from error


def save(folder: Path, today: Today) -> None:
    """Write it; SnapcurveError if that cannot be done."""
    text = json.dumps(asdict(today), ensure_ascii=False, indent=1)
    write_whole(folder / FILE, text.encode("utf-8"), "file of the day")


def lines(today: Today, style: Style) -> list[str]:
    """What holds today, for the terminal."""
    return [
        f"Today, {today.day}, every batch that is collected gets:",
        f"  place      {value_words('place', today.place, style)}",
        f"  room       {value_words('room_centi_c', today.room_centi_c, style)}",
        f"  mass       {value_words('mass_mg', today.mass_mg, style)}",
        *(
            f"  lot        {lot_words(lot, style)}"
            + (f", only in {on_one_line(couverture)}" if couverture else "")
            for couverture, lot in today.lots
        ),
    ]
