"""snapcurve lot: which lot of an ingredient went into a batch, or into all of today's."""

import argparse
from typing import Any

from snapcurve.commands import people
from snapcurve.errors import SnapcurveError
from snapcurve.shown import folders


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    people.batch(parser)
    parser.description = (
        f"{parser.description} With 'today' for the batch it is filed with every batch that "
        "begins today, whenever that is collected; what was collected before stays as it is."
    )
    parser.add_argument("ingredient", help="what it is, such as 'milk couverture'")
    parser.add_argument(
        "lot",
        help="the lot's number as it stands on the package; of a leftover the code of its batch, "
        "whose allergens it has",
    )
    parser.add_argument("--maker", default="", help="whose it is")
    parser.add_argument("--mass", help="how much, such as 1.2kg")
    parser.add_argument(
        "--allergens",
        help="groups with commas, such as milk,soya; none if it is declared free; left out: "
        "not known",
    )
    parser.add_argument("--replaces", metavar="LOT", help="the lot written down wrongly")
    parser.add_argument(
        "--for",
        dest="couverture",
        default="",
        metavar="NAME",
        help="with today: only into this",
    )


def run(arguments: argparse.Namespace) -> int:
    """File it, or keep it for the day."""
    from snapcurve.notebook.records import Lot
    from snapcurve.shown.settings_file import load

    style = load().style
    lot = Lot(
        ingredient=arguments.ingredient,
        lot=arguments.lot,
        supplier=arguments.maker,
        mass_mg=None if arguments.mass is None else people.mass_mg_of(arguments.mass, style),
        allergens=None
        if arguments.allergens is None
        else people.allergens_of(arguments.allergens),
    )
    if arguments.batch.lower() == "today":
        return _for_today(arguments, lot, style)
    if arguments.couverture:
        raise SnapcurveError("--for goes with 'today': a batch has one couverture.")
    if arguments.replaces is not None:
        _has(arguments)
    payload = {**vars(lot), "replaces": arguments.replaces}
    return people.add_entry(arguments, "lot", payload)


def _has(arguments: argparse.Namespace) -> None:
    from snapcurve.notebook import open_notebook
    from snapcurve.shown.plain_text import short

    with open_notebook(arguments.notebook) as notebook:
        now = notebook.as_amended(arguments.batch).now
    if arguments.replaces not in [one.lot for one in now.lots]:
        raise SnapcurveError(
            f"Batch {now.code} has no lot {short(arguments.replaces)} to be replaced; "
            "'snapcurve show' lists its lots."
        )


def _for_today(arguments: argparse.Namespace, lot: Any, style: Any) -> int:
    from datetime import date

    from snapcurve.notebook import day as today
    from snapcurve.notebook.checks import refuse_lossy

    if arguments.replaces is not None:
        raise SnapcurveError(
            "For today the same ingredient is replaced anyway: leave --replaces out."
        )
    if not lot.ingredient.strip() or not lot.lot.strip():
        raise SnapcurveError("A lot needs its ingredient and its number from the package.")
    refuse_lossy("lot", [*vars(lot).values(), arguments.couverture])
    folder = folders.data_folder()
    held = today.load(folder, date.today()).with_lot(arguments.couverture, lot)
    today.save(folder, held)
    for line in today.lines(held, style):
        print(line)
    return 0
