"""snapcurve today: what holds for every batch of this day at this bench."""

import argparse
import datetime
from dataclasses import replace

from snapcurve.commands import options, people
from snapcurve.errors import SnapcurveError
from snapcurve.shown import folders
from snapcurve.shown.settings_file import Settings, load


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.description = (
        f"{parser.description} Set once, it is filed with every batch that begins today, whenever "
        "that is collected; what was collected before stays as it is. Lots are added with "
        "'snapcurve lot today INGREDIENT LOT'. A batch that follows an allergen at the same place "
        "without a cleaning between is named by 'batches', 'show' and 'collect'."
    )
    parser.add_argument(
        "--day", metavar="DAY", help="another day; what was collected of it stays as it is"
    )
    parser.add_argument("--operator", metavar="NAME", help="who works on this day")
    parser.add_argument("--place", help="the bench; with --cleaned the one that was cleaned")
    parser.add_argument("--room", help="temperature of the room")
    parser.add_argument("--mass", help="of each batch, such as 1.2kg")
    parser.add_argument("--clear", action="store_true", help="forget what was set before")
    parser.add_argument(
        "--cleaned", metavar="WHAT", help="note that the bench was cleaned now: what"
    )
    parser.add_argument("--how", help="with --cleaned: how, such as 'hot water, dried'")
    verified = parser.add_mutually_exclusive_group()
    verified.add_argument(
        "--seen", action="store_true", help="with --cleaned: looked at, and clean to the eye"
    )
    verified.add_argument(
        "--swab",
        choices=("negative", "positive"),
        help="with --cleaned: the result of a swab; after a positive one it counts for nothing",
    )
    people.by(parser)
    options.notebook(parser)


def run(arguments: argparse.Namespace) -> int:
    """Change what was asked for, and show all."""
    from snapcurve.notebook import day as today
    from snapcurve.notebook import lot_state, open_notebook
    from snapcurve.notebook.checks import check_conditions, refuse_lossy

    settings = load()
    style = settings.style
    day = datetime.date.today()
    if arguments.day is not None:
        day = style.parse_day(arguments.day, "--day")
    if arguments.cleaned is None and (arguments.how or arguments.seen or arguments.swab):
        raise SnapcurveError("--how, --seen and --swab go with --cleaned WHAT.")
    if arguments.cleaned is not None and arguments.day is not None:
        raise SnapcurveError("A cleaning is noted when it is done: leave --day out.")
    with open_notebook(arguments.notebook) as notebook:
        entries = notebook.bench_entries("day")
        held_lots = lot_state.on_hold(notebook.bench_entries("hold"))
        days = today.days_of(entries, settings.bench, folders.data_folder())
        empty = today.Today(day.isoformat())
        before = days.get(day.isoformat(), empty)
        held = empty if arguments.clear else before
        for name in ("place", "operator"):
            value = getattr(arguments, name)
            if value is not None and arguments.cleaned is None:
                refuse_lossy(name, value)
                held = replace(held, **{name: value})
        if arguments.room is not None:
            held = replace(held, room_centi_c=round(style.parse_room(arguments.room) * 100))
        if arguments.mass is not None:
            held = replace(held, mass_mg=round(style.parse_batch_mass(arguments.mass) * 1000))
        check_conditions(held.room_centi_c, held.mass_mg)
        if held != before:
            who = arguments.by or settings.operator
            notebook.add_entry(today.entry_of(held, settings.bench, who))
        if arguments.cleaned is not None:
            return _cleaned(arguments, arguments.place or held.place or settings.bench, settings)
    for line in today.lines(held, style):
        print(line)
    for bench, other in today.elsewhere(entries, settings.bench, held.day).items():
        print("\n".join(today.lines(other, style, bench)))
    for sentence in lot_state.hold_sentences(held_lots, style):
        print(f"! {sentence}")
    return 0


def _cleaned(arguments: argparse.Namespace, place: str, settings: Settings) -> int:
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.descriptions import entry_line
    from snapcurve.notebook.records import NewEntry

    verified = "seen clean" if arguments.seen else None
    if arguments.swab is not None:
        verified = f"swab {arguments.swab}"
    said = {
        "text": arguments.cleaned,
        "place": place or None,
        "how": arguments.how,
        "verified": verified,
    }
    new = NewEntry("cleaning", people.who(arguments, settings), said)
    with open_notebook(arguments.notebook) as notebook:
        print(entry_line(notebook.add_entry(new), settings.style))
    if arguments.swab == "positive":
        print("! It counts for nothing: clean again, and note that.")
    return 0
