"""snapcurve temper: a whole batch at the bench, from the profile to the record."""

import argparse

from snapcurve.board.client import Reading
from snapcurve.commands import live, options
from snapcurve.commands.chosen_board import open_board
from snapcurve.commands.collect import gather
from snapcurve.commands.load import send
from snapcurve.couvertures import load, user_folder
from snapcurve.couvertures.methods import chosen
from snapcurve.couvertures.profile import compile_profile
from snapcurve.shown.settings_file import load as load_settings

PATIENCE_MS = 3000


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.description = (
        f"{parser.description} The board records by itself once the probe is in the chocolate; "
        "when the recording ends, the batch is filed and judged. Ctrl-C leaves the board to "
        "itself: it goes on and beeps, and 'snapcurve collect' files the batch later."
    )
    parser.add_argument("couverture", help="name or .toml file")
    options.method(parser)
    options.port(parser)
    options.notebook(parser)


def run(arguments: argparse.Namespace) -> int:
    """Load, show, collect."""
    from snapcurve.notebook import open_notebook

    settings = load_settings()
    couverture = load(arguments.couverture, user_folder())
    method = chosen(arguments.method, couverture)
    compile_profile(couverture, method)  # what is wrong with it is said first
    with open_notebook(arguments.notebook):
        pass  # the same for the notebook; it is not held open for a whole batch
    with open_board(arguments.port, scene="batch") as board:
        print("\n".join(send(board, couverture, method, settings.style)))
        print("\n".join(live.first_lines(board, settings.style)))
        print("Put the probe into the chocolate. A long press of the button ends the batch.")
        try:
            live.follow(board, arguments.port, settings.style, ended=_Ended())
        except KeyboardInterrupt:
            print("\nThe board goes on by itself. 'snapcurve collect' files the batch later.")
            return 0
        with open_notebook(arguments.notebook) as notebook:
            gather(board, notebook, arguments.port, settings)
    return 0


class _Ended:
    """Whether a recording that was seen running has ended. A board that restarts in mid-batch
    goes on with it a moment later."""

    def __init__(self) -> None:
        self._recorded = False
        self._since = 0

    def __call__(self, reading: Reading) -> bool:
        self._recorded = self._recorded or reading.curve != 0
        self._since = 0 if reading.curve else self._since + 1
        return self._recorded and self._since * live.INTERVAL_MS >= PATIENCE_MS
