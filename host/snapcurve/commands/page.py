"""snapcurve page: the page at the bench, for a browser on this computer or a tablet."""

import argparse
import webbrowser
from collections.abc import Callable
from contextlib import AbstractContextManager
from functools import partial
from typing import TYPE_CHECKING

from snapcurve.commands import options
from snapcurve.commands.chosen_board import open_board
from snapcurve.errors import SnapcurveError
from snapcurve.shown.settings_file import load

if TYPE_CHECKING:
    from snapcurve.board.client import Board

AT = 8017
LOOPBACK = "127.0.0.1"
END_WAIT_S = 3.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.description = (
        f"{parser.description} Ctrl-C ends the page; the board goes on by itself. While it is "
        "open the page has the board, and other commands say so."
    )
    parser.add_argument(
        "--port",
        action="append",
        help="as in every command; may be repeated: one bench each",
    )
    parser.add_argument(
        "--at",
        type=int,
        default=AT,
        metavar="NUMBER",
        help=f"where it listens (default: {AT}; 0: any that is free)",
    )
    parser.add_argument("--no-open", action="store_true", help="open no browser")
    options.notebook(parser)


def run(arguments: argparse.Namespace) -> int:
    """Serve until Ctrl-C."""
    import asyncio

    from snapcurve.page.errands import run as errand
    from snapcurve.page.guard import Door
    from snapcurve.page.keeper import Keeper
    from snapcurve.page.server import Listening, listen, serve
    from snapcurve.page.site import Site

    if not 0 <= arguments.at <= 65535:
        raise SnapcurveError(f"--at is {arguments.at}: choose a number from 1024 to 65535.")
    style = load().style
    ports = arguments.port or [None]
    if len(set(ports)) < len(ports):
        raise SnapcurveError("A --port is named twice: each bench has its own board.")
    own = listen(LOOPBACK, arguments.at)
    number = own.getsockname()[1]
    origins = tuple(f"http://{host}:{number}" for host in (LOOPBACK, "localhost"))
    keepers = [Keeper(port or "the board", _connecting(port), style) for port in ports]
    site = Site(keepers, style, errand)
    for keeper in keepers:
        keeper.start()
    print(f"The page is at {origins[0]} (Ctrl-C ends it).", flush=True)
    if not arguments.no_open:
        webbrowser.open(origins[0])
    try:
        asyncio.run(serve(site, [Listening(Door(origins), own)]))
    except KeyboardInterrupt:
        pass
    finally:
        for keeper in keepers:
            keeper.end()
        for keeper in keepers:
            keeper.join(END_WAIT_S)
    return 0


def _connecting(port: str | None) -> "Callable[[], AbstractContextManager[Board]]":
    return partial(open_board, port, scene="batch")
