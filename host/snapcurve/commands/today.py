"""snapcurve today: what holds for every batch of this day at this bench."""

import argparse

from snapcurve.errors import SnapcurveError
from snapcurve.shown import folders


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.description = (
        f"{parser.description} Set once, it is filed with every batch that begins today, whenever "
        "that is collected; what was collected before stays as it is. Lots are added with "
        "'snapcurve lot today INGREDIENT LOT'."
    )
    parser.add_argument("--place", help="the bench (default: the set bench)")
    parser.add_argument("--room", help="temperature of the room")
    parser.add_argument("--mass", help="of each batch, such as 1.2kg")
    parser.add_argument("--clear", action="store_true", help="forget what was set before")


def run(arguments: argparse.Namespace) -> int:
    """Change what was asked for, and show all."""
    from dataclasses import replace
    from datetime import date

    from snapcurve.commands.lot import mass_mg_of
    from snapcurve.notebook import day as today
    from snapcurve.notebook.canonical import refuse_lossy
    from snapcurve.shown.settings_file import load

    style = load().style
    folder, day = folders.data_folder(), date.today()
    held = today.Today(day.isoformat()) if arguments.clear else today.load(folder, day)
    before = held
    if arguments.place is not None:
        refuse_lossy("place", arguments.place)
        held = replace(held, place=arguments.place)
    if arguments.room is not None:
        room_c = style.parse_temperature(arguments.room)
        if not -20 <= room_c <= 60:
            raise SnapcurveError(f"a room at {style.temperature(room_c)} cannot be meant")
        held = replace(held, room_centi_c=round(room_c * 100))
    if arguments.mass is not None:
        held = replace(held, mass_mg=mass_mg_of(arguments.mass, style))
    if arguments.clear or held != before:
        today.save(folder, held)
    for line in today.lines(held, style):
        print(line)
    return 0
