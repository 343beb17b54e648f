"""snapcurve cleaned: the bench was cleaned, which matters after milk and before dark."""

import argparse

from snapcurve.commands import options, people
from snapcurve.shown import folders


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.description = (
        f"{parser.description} A batch that follows an allergen at the same place without a "
        "cleaning between is named by 'batches', 'show' and 'collect'."
    )
    parser.add_argument("text", nargs="?", default="cleaned", help="what was cleaned, and how")
    parser.add_argument("--place", help="which bench (default: today's, else the set bench)")
    people.by(parser)
    options.notebook(parser)


def run(arguments: argparse.Namespace) -> int:
    """File it."""
    from datetime import date

    from snapcurve.notebook import NewEntry, open_notebook
    from snapcurve.notebook import day as today
    from snapcurve.notebook.describing import entry_line
    from snapcurve.shown.settings_file import load

    settings = load()
    place = arguments.place
    if place is None:
        held = today.load(folders.data_folder(), date.today())
        place = held.place or settings.bench or None
    new = NewEntry(
        "cleaning", people.who(arguments, settings), {"text": arguments.text, "place": place}
    )
    with open_notebook(arguments.notebook) as notebook:
        print(entry_line(notebook.add_entry(new), settings.style))
    return 0
