"""From the text of a couverture file to a checked Couverture; touches no file."""

from datetime import date, datetime
from typing import Any

from voluptuous import All, Optional, Required, Schema

from snapcurve.couvertures.model import Couverture
from snapcurve.heat.kinds import KINDS
from snapcurve.shown.plain_text import did_you_mean, short
from snapcurve.shown.validation import (
    Fault,
    checked_toml,
    number_value,
    text_value,
    value_words,
)
from snapcurve.wire.catalogue import PROFILE_HEAD

NAME_BYTES_MAX = next(
    int(field[1].rstrip("s")) for field in PROFILE_HEAD if field[0] == "couverture"
)
LOWEST_C = 10.0
HIGHEST_C = 110.0

FAT_PARTS = ("milk_fat_percent", "nut_fat_percent", "cocoa_butter_percent")

# Each field with what a right line looks like, in the order a file has them.
FIELDS = {
    "name": 'name = "Milk couverture"',
    "kind": 'kind = "milk"',
    "melt_c": "melt_c = 45.0",
    "work_c": "work_c = [30.0, 32.0]",
    "never_above_c": "never_above_c = 50.0",
    "cool_c": "cool_c = 27.5",
    "aim_c": "aim_c = 30.5",
    "highest_work_c": "highest_work_c = 32.5",
    "tempering": "tempering = true",
    "cocoa_percent": "cocoa_percent = 36.0",
    "fat_percent": "fat_percent = 37.0",
    "cocoa_butter_percent": "cocoa_butter_percent = 31.0",
    "milk_fat_percent": "milk_fat_percent = 6.0",
    "nut_fat_percent": "nut_fat_percent = 0.0",
    "source": 'source = "Data sheet of the maker."',
    "set_by": 'set_by = "Ilka Brandner"',
    "set_on": "set_on = 2026-11-01",
}


def parse(text: str, file: str, couverture_id: str, origin: str) -> Couverture:
    """The couverture that `text` describes; `file` is what a message calls it.

    Raises SnapcurveError whose one sentence names file, line and field (where there are
    such), what is wrong and what would be right.
    """
    fields = checked_toml(_SCHEMA, text, file, FIELDS)
    low_c, high_c = fields.pop("work_c")
    fields.setdefault("tempering", fields["kind"] != "coating")
    return Couverture(
        **fields,
        id=couverture_id,
        work_low_c=low_c,
        work_high_c=high_c,
        origin=origin,
        toml_text=text,
    )


def _words(value: object) -> str:
    if isinstance(value, str):
        value = " ".join(value.split())
    if not (text := text_value(value)):
        raise Fault("the text is empty")
    return text


def _board_name(name: str) -> str:
    size = len(name.encode("utf-8"))
    if size > NAME_BYTES_MAX:
        raise Fault(
            f"the name takes {size} bytes and the board has room for {NAME_BYTES_MAX}",
            f"shorten it to at most {NAME_BYTES_MAX} letters, fewer with accents",
        )
    return name


def _kind(value: object) -> str:
    """Any word; a slip of one that is known would lose its fat and its allergens."""
    kind = _words(value).lower().replace("_", "-")
    if kind in KINDS:
        return kind
    longer = [known for known in KINDS if known.startswith(kind + "-")]
    meant = did_you_mean(longer[0] if longer else kind, KINDS)
    if meant:
        raise Fault(
            f'"{short(kind)}" is too like a kind that is known{meant}',
            f"write one of {', '.join(KINDS)}, or quite another word",
        )
    return kind


def _truth(value: object) -> bool:
    if not isinstance(value, bool):
        raise Fault(f"{value_words(value)} is neither true nor false")
    return value


def _temperature_c(value: object) -> float:
    value_c = number_value(value)
    if not LOWEST_C <= value_c <= HIGHEST_C:
        remedy = f"it has to be from {LOWEST_C:g} to {HIGHEST_C:g} °C"
        from_fahrenheit_c = (value_c - 32.0) / 1.8
        if value_c > HIGHEST_C and from_fahrenheit_c <= HIGHEST_C:
            remedy += f" (if {value_c:g} was meant in °F, write {from_fahrenheit_c:.1f})"
        raise Fault(f"{value_words(value)} °C is out of range", remedy)
    return value_c


def _window_c(value: object) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise Fault(
            f"{value_words(value)} is not a window",
            f"write its low and its high end, {FIELDS['work_c']}",
        )
    low_c, high_c = map(_temperature_c, value)
    if low_c > high_c:
        raise Fault(
            f"the window is reversed, {low_c:g} to {high_c:g} °C",
            f"write the low end first, [{high_c:g}, {low_c:g}]",
        )
    if low_c == high_c:
        raise Fault(f"both ends are {low_c:g} °C", "the high end has to be above the low one")
    return low_c, high_c


def _day(value: object) -> date:
    if not isinstance(value, date) or isinstance(value, datetime):
        raise Fault(f"{value_words(value)} is not a day")
    return value


def _percent(value: object) -> float:
    percent = number_value(value)
    if not 0.0 <= percent <= 100.0:
        raise Fault(f"{value_words(value)} % is out of range", "it has to be from 0 to 100")
    return percent


def _in_order(fields: dict[str, Any]) -> dict[str, Any]:
    melt_c, never_above_c, (low_c, high_c) = (
        fields[name] for name in ("melt_c", "never_above_c", "work_c")
    )
    cool_c, aim_c = fields.get("cool_c"), fields.get("aim_c")
    if high_c >= melt_c:
        raise Fault(
            f"the window ends at {high_c:g} °C, not below the melting temperature",
            f"it has to end below melt_c = {melt_c:g}",
            "work_c",
        )
    if never_above_c <= melt_c:
        raise Fault(
            f"{never_above_c:g} °C is not above the melting temperature",
            f"it has to be above melt_c = {melt_c:g}",
            "never_above_c",
        )
    if cool_c is not None and cool_c > low_c:
        raise Fault(
            f"{cool_c:g} °C is above the low end of the window",
            f"it has to be at most {low_c:g}",
            "cool_c",
        )
    if aim_c is not None and not low_c <= aim_c <= high_c:
        raise Fault(
            f"{aim_c:g} °C lies outside the window",
            f"it has to be from {low_c:g} to {high_c:g}, the two ends of work_c",
            "aim_c",
        )
    highest_c = fields.get("highest_work_c")
    if highest_c is not None and not high_c < highest_c <= melt_c:
        raise Fault(
            f"{highest_c:g} °C does not lie above the window and below the melting temperature",
            f"it has to be above {high_c:g} and at most {melt_c:g}",
            "highest_work_c",
        )
    fat = fields.get("fat_percent", 100.0)
    given = [name for name in FAT_PARTS if name in fields]
    parts = sum(fields[name] for name in given)
    if parts > fat:
        raise Fault(
            f"cocoa butter, milk fat and nut oil are {parts:g} % of the mass, more than its fat",
            f"they are part of fat_percent = {fat:g}",
            given[0],
        )
    return fields


_SCHEMA = Schema(
    All(
        {
            Required("name"): All(_words, _board_name),
            Required("kind"): _kind,
            Required("melt_c"): _temperature_c,
            Required("work_c"): _window_c,
            Required("never_above_c"): _temperature_c,
            Optional("cool_c"): _temperature_c,
            Optional("aim_c"): _temperature_c,
            Optional("highest_work_c"): _temperature_c,
            Optional("tempering"): _truth,
            Optional("cocoa_percent"): _percent,
            Optional("fat_percent"): _percent,
            Optional("cocoa_butter_percent"): _percent,
            Optional("milk_fat_percent"): _percent,
            Optional("nut_fat_percent"): _percent,
            Optional("source"): _words,
            Optional("set_by"): _words,
            Optional("set_on"): _day,
        },
        _in_order,
    )
)
