"""snapcurve amend: put a field right, beside what was filed."""

import argparse
from typing import Any

from snapcurve.commands import people
from snapcurve.errors import SnapcurveError

FIELDS = {
    "couverture": "couverture",
    "operator": "operator",
    "notes": "notes",
    "place": "place",
    "room": "room_centi_c",
    "mass": "mass_mg",
    "allergens": "allergens",
    "mistake": "mistake",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    people.batch(parser)
    parser.add_argument("field", choices=tuple(FIELDS), help="what to put right")
    parser.add_argument(
        "value",
        nargs="?",
        help="as it should be; allergens with commas, or 'none'; of mistake yes or no",
    )
    parser.add_argument("--unknown", action="store_true", help="instead of a value")
    parser.add_argument(
        "--take-away",
        metavar="GROUPS",
        help="allergens that couverture or lots name and that are not in it after all",
    )
    parser.add_argument("--why", required=True, help="the reason; what was filed stays beside it")


def run(arguments: argparse.Namespace) -> int:
    """Add the amendment."""
    from snapcurve.commands.lot import allergens_of
    from snapcurve.shown.settings_file import load

    if (arguments.value is None) != arguments.unknown:
        raise SnapcurveError("give the value as it should be, or --unknown, and not both")
    value = None
    if not arguments.unknown:
        value = _value(arguments.field, arguments.value, load().style)
    payload = {"field": FIELDS[arguments.field], "value": value, "takes": None}
    if arguments.take_away is not None:
        payload["takes"] = list(allergens_of(arguments.take_away))
    return people.add_entry(arguments, "amendment", payload, arguments.why)


def _value(field: str, text: str, style: Any) -> Any:
    from snapcurve.commands.lot import allergens_of, mass_mg_of

    if field == "room":
        return round(style.parse_temperature(text) * 100)
    if field == "mass":
        return mass_mg_of(text, style)
    if field == "allergens":
        return list(allergens_of(text))
    if field == "mistake":
        if text.lower() not in ("yes", "no"):
            raise SnapcurveError(f"{text!r} is neither yes nor no: was it started by mistake?")
        return text.lower() == "yes"
    return text
