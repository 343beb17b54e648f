"""snapcurve today: what holds for every batch of this day at this bench."""

import argparse
import datetime
from dataclasses import replace

from snapcurve.commands import options, people
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
    parser.add_argument("--place", help="the bench; with --cleaned the one that was cleaned")
    parser.add_argument("--room", help="temperature of the room")
    parser.add_argument("--mass", help="of each batch, such as 1.2kg")
    parser.add_argument("--clear", action="store_true", help="forget what was set before")
    parser.add_argument(
        "--cleaned", metavar="WHAT", help="note that the bench was cleaned now: what, and how"
    )
    people.by(parser)
    options.notebook(parser)


def run(arguments: argparse.Namespace) -> int:
    """Change what was asked for, and show all."""
    from snapcurve.notebook import day as today
    from snapcurve.notebook.checks import refuse_lossy

    settings = load()
    style = settings.style
    folder, day = folders.data_folder(), datetime.date.today()
    held = today.Today(day.isoformat()) if arguments.clear else today.load(folder, day)
    before = held
    if arguments.place is not None and arguments.cleaned is None:
        refuse_lossy("place", arguments.place)
        held = replace(held, place=arguments.place)
    if arguments.room is not None:
        held = replace(held, room_centi_c=round(style.parse_room(arguments.room) * 100))
    if arguments.mass is not None:
        held = replace(held, mass_mg=round(style.parse_batch_mass(arguments.mass) * 1000))
    if arguments.clear or held != before:
        today.save(folder, held)
    if arguments.cleaned is not None:
        return _cleaned(arguments, arguments.place or held.place or settings.bench, settings)
    for line in today.lines(held, style):
        print(line)
    return 0


def _cleaned(arguments: argparse.Namespace, place: str, settings: Settings) -> int:
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.descriptions import entry_line
    from snapcurve.notebook.records import NewEntry

    said = {"text": arguments.cleaned, "place": place or None}
    new = NewEntry("cleaning", people.who(arguments, settings), said)
    with open_notebook(arguments.notebook) as notebook:
        print(entry_line(notebook.add_entry(new), settings.style))
    return 0
