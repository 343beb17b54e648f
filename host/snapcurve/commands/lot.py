"""snapcurve lot: which lot of an ingredient went into a batch, or into all of today's."""

import argparse
import sys
from dataclasses import replace
from typing import Any

from snapcurve.commands import people
from snapcurve.errors import SnapcurveError
from snapcurve.shown import folders
from snapcurve.shown.settings_file import Settings, load
from snapcurve.shown.units import Style

HOLDS = {"hold": "on hold", "release": "released"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    people.batch(parser)
    parser.description = (
        f"{parser.description} With 'today' for the batch it is filed with every batch that "
        "begins today, whenever that is collected; what was collected before stays as it is. "
        "'snapcurve lot hold LOT REASON' puts a lot on hold, 'snapcurve lot release LOT REASON' "
        "lets it go: one on hold, or past its date, asks before it goes into a batch."
    )
    parser.add_argument("ingredient", help="what it is, such as 'milk couverture'")
    parser.add_argument(
        "lot",
        help="the lot's number as it stands on the package; of a leftover the code of its batch, "
        "whose allergens it has",
    )
    parser.add_argument("--maker", default="", help="whose it is")
    parser.add_argument("--best-before", metavar="DAY", help="as on the package")
    parser.add_argument(
        "--yes", action="store_true", help="a lot past its date or on hold without asking"
    )
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

    settings = load()
    style, day = settings.style, arguments.best_before
    if arguments.batch.lower() in HOLDS:
        return _hold(arguments, settings)
    lot = Lot(
        ingredient=arguments.ingredient,
        lot=arguments.lot,
        supplier=arguments.maker,
        mass_mg=None if arguments.mass is None else people.mass_mg_of(arguments.mass, style),
        allergens=None
        if arguments.allergens is None
        else people.allergens_of(arguments.allergens),
        best_before=None if day is None else style.parse_day(day, "--best-before").isoformat(),
    )
    if arguments.batch.lower() == "today":
        return _for_today(arguments, lot, settings)
    if arguments.couverture:
        raise SnapcurveError("--for goes with 'today': a batch has one couverture.")
    if arguments.replaces is not None:
        _has(arguments)
    _ask(arguments, lot, None, style)
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


def _hold(arguments: argparse.Namespace, settings: Settings) -> int:
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.descriptions import entry_line
    from snapcurve.notebook.records import NewEntry

    state = HOLDS[arguments.batch.lower()]
    said = {"lot": arguments.ingredient, "state": state, "text": arguments.lot}
    with open_notebook(arguments.notebook) as notebook:
        near = notebook.lots_like(arguments.ingredient)
        filed = notebook.add_entry(NewEntry("hold", people.who(arguments, settings), said))
        count = len(notebook.trace(arguments.ingredient).forward)
    print(entry_line(filed, settings.style))
    if count:
        went = "1 batch has it" if count == 1 else f"{count} batches have it"
        print(f"{went} already: snapcurve trace {arguments.ingredient}")
    elif near:
        print(f"No batch has it. Was {', '.join(near)} meant?")
    return 0


def _ask(arguments: argparse.Namespace, lot: Any, day: str | None, style: Style) -> None:
    """SnapcurveError if something speaks against the lot and nobody says that it is to go in;
    ``day`` is that of the batch, None: the named batch's own."""
    from snapcurve.notebook import lot_state, open_notebook
    from snapcurve.notebook.codes import day_of

    with open_notebook(arguments.notebook) as notebook:
        if day is None:
            batch = notebook.batch(arguments.batch)
            moment = batch.started_unix_ms or batch.created_unix_ms
            day = day_of(moment, batch.utc_offset_min)
        known = replace(lot, best_before=lot.best_before or notebook.best_before(lot.lot))
        held = lot_state.on_hold(notebook.bench_entries("hold"))
    found = lot_state.troubles(known, day, held, style)
    if not found or arguments.yes:
        return
    if not sys.stdin.isatty():
        raise SnapcurveError(f"{'; '.join(found)}: if it went in all the same, add --yes.")
    print("\n".join(f"! {one}." for one in found))
    if input("Did it go in all the same? [y/N] ").strip().lower() not in ("y", "yes"):
        raise SnapcurveError(f"Lot {lot.lot} was not noted.")


def _for_today(arguments: argparse.Namespace, lot: Any, settings: Settings) -> int:
    from datetime import date

    from snapcurve.notebook import day as today
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.checks import refuse_lossy

    if arguments.replaces is not None:
        raise SnapcurveError(
            "For today the same ingredient is replaced anyway: leave --replaces out."
        )
    if not lot.ingredient.strip() or not lot.lot.strip():
        raise SnapcurveError("A lot needs its ingredient and its number from the package.")
    refuse_lossy("lot", [*vars(lot).values(), arguments.couverture])
    day = date.today().isoformat()
    _ask(arguments, lot, day, settings.style)
    with open_notebook(arguments.notebook) as notebook:
        entries = notebook.bench_entries("day")
        days = today.days_of(entries, settings.bench, folders.data_folder())
        held = days.get(day, today.Today(day)).with_lot(arguments.couverture, lot)
        who = arguments.by or settings.operator
        notebook.add_entry(today.entry_of(held, settings.bench, who))
    for line in today.lines(held, settings.style):
        print(line)
    return 0
