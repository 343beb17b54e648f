"""snapcurve page: the page at the bench, for a browser on this computer or a tablet."""

import argparse
import os
import webbrowser
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from snapcurve.board.ports import attached
from snapcurve.commands import options
from snapcurve.commands.chosen_board import open_board
from snapcurve.errors import LinkError, SnapcurveError
from snapcurve.notebook.location import VARIABLE
from snapcurve.page.boards import port_of
from snapcurve.shown.settings_file import load

if TYPE_CHECKING:
    from snapcurve.board.client import Board
    from snapcurve.page.server import Listening
    from snapcurve.page.site import Site

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
    parser.add_argument(
        "--share",
        action="store_true",
        help="also for tablets in this network, each let in by a code that counts once",
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
    if arguments.notebook:
        os.environ[VARIABLE] = arguments.notebook  # for each command that the page runs
    style = load().style
    ports = arguments.port or [None]
    if len(set(ports)) < len(ports):
        raise SnapcurveError("A --port is named twice: each bench has its own board.")
    with ExitStack() as stack:
        own = stack.enter_context(listen(LOOPBACK, arguments.at))
        number = own.getsockname()[1]
        origins = tuple(f"http://{host}:{number}" for host in (LOOPBACK, "localhost"))
        keepers = [Keeper(port, partial(_open, port), style) for port in ports]
        site = Site(keepers, style, errand)
        listening = [Listening(Door(origins), own)]
        lines = [f"The page is at {origins[0]} (Ctrl-C ends it)."]
        if arguments.share:
            shared, said = _shared(site, number, stack)
            listening.append(shared)
            lines += said
        print("\n".join(lines), flush=True)
        for keeper in keepers:
            keeper.start()
        if not arguments.no_open:
            webbrowser.open(f"{origins[0]}/tablet" if arguments.share else origins[0])
        try:
            asyncio.run(serve(site, listening))
        except KeyboardInterrupt:
            pass
        finally:
            for keeper in keepers:
                keeper.end()
            for keeper in keepers:
                keeper.join(END_WAIT_S)
    return 0


def _shared(site: "Site", number: int, stack: ExitStack) -> "tuple[Listening, list[str]]":
    """The door for tablets, and what to say of it."""
    from snapcurve.page.certificate import NOT_ENCRYPTED, certificate_for
    from snapcurve.page.guard import Door
    from snapcurve.page.server import Listening, listen
    from snapcurve.page.tablets import own_address

    address = own_address()
    folder = Path(stack.enter_context(TemporaryDirectory(prefix="snapcurve-page-")))
    made = certificate_for(address, folder)
    at = stack.enter_context(listen(address, number))
    origin = f"{'http' if made is None else 'https'}://{address}:{number}"
    site.shared_at = origin
    code = site.pairing.new_code()
    lines = [f"For a tablet: {origin}/pair, code {code[:4]} {code[4:]} (counts once, 10 min)."]
    door = Door((origin,), site.pairing)
    if made is None:
        return Listening(door, at), [*lines, NOT_ENCRYPTED]
    site.fingerprint = made.fingerprint
    lines.append(f"The tablet warns; compare SHA-256 {made.fingerprint}")
    return Listening(door, at, str(made.certificate), str(made.key)), lines


@contextmanager
def _open(named: str | None) -> "Iterator[Board]":
    port = port_of(named)
    if port is None and not attached():
        raise LinkError("No board is attached: plug one in, or set out a bowl under Practise.")
    with open_board(port, scene="rest") as board:
        yield board
