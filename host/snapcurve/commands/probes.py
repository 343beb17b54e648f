"""snapcurve probes: which boards are there."""

import argparse
from typing import Any

from snapcurve.commands import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.port(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """List boards; a port that is no board of ours is listed with what it said."""
    from snapcurve.board.ports import attached
    from snapcurve.board.troubles import sentence
    from snapcurve.commands.chosen_board import open_board
    from snapcurve.errors import LinkError

    if arguments.port:
        found: list[dict[str, Any]] = [_look(open_board, arguments.port)]
    else:
        found = []
        for entry in attached():
            try:
                found.append(_look(open_board, entry["port"]))
            except LinkError as error:
                found.append({"port": entry["port"], "problem": str(error)})
    if arguments.json:
        options.print_json(found)
        return 0
    if not found:
        print("No board is attached. 'snapcurve probes --port rehearsal' shows the built-in one.")
    for entry in found:
        if "problem" in entry:
            print(f"{entry['port']}: {entry['problem']}")
            continue
        print(
            f"{entry['port']}: {entry['board']} {entry['board_id']}, "
            f"firmware {entry['firmware']}, started {entry['boot']} times, "
            f"{entry['curves']} curves to collect, "
            f"profile: {entry['profile']}"
        )
        for trouble in entry["troubles"]:
            print(f"  {sentence(trouble)}")
    return 0


def _look(open_board: Any, port: str) -> dict[str, Any]:
    with open_board(port) as board:
        hello = board.greeting
        troubles = board.reading().troubles
        return {
            "port": port,
            "board": hello.board,
            "board_id": f"{hello.board_id:08x}",
            "firmware": hello.firmware,
            "boot": hello.boot,
            "curves": sum(row.state == "closed" for row in board.curves()),
            "profile": "unreadable" if "profile" in troubles else _profile_name(board.profile()),
            "troubles": list(troubles),
        }


def _profile_name(raw: bytes) -> str:
    from snapcurve.couvertures.profile import read_profile
    from snapcurve.errors import RecordError

    if not raw:
        return "none"
    try:
        head, _ = read_profile(raw)
    except RecordError as error:
        return str(error)
    return f"{head['couverture']} by {head['method']}"
