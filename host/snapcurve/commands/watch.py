"""snapcurve watch: the reading, live."""

import argparse
import time

from snapcurve.commands import live, options
from snapcurve.commands.chosen_board import open_board
from snapcurve.shown.settings_file import load


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.port(parser)
    options.number(parser, "--seconds", help="stop after so long (default: until Ctrl-C)")
    parser.add_argument("--json", action="store_true", help="one JSON object a line")


def run(arguments: argparse.Namespace) -> int:
    """Show readings until told to stop."""
    style = load().style
    with open_board(arguments.port, scene="batch") as board:
        board.set_clock(time.time())
        if not arguments.json:
            print("\n".join(live.first_lines(board, style)), flush=True)
        try:
            live.follow(
                board,
                arguments.port,
                style,
                seconds=arguments.seconds,
                as_json=arguments.json,
            )
        except KeyboardInterrupt:
            print()
    return 0
