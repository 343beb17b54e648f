"""snapcurve probe: which boards are there, what is fitted to them, and how far a reading can be
trusted, and why."""

import argparse
import time
from dataclasses import asdict, dataclass
from typing import Any

from snapcurve.board.client import Board, Crash, Hello
from snapcurve.board.fitted import ProbeSetting
from snapcurve.board.ports import attached
from snapcurve.board.troubles import sentence
from snapcurve.calibration.limits import immersion_hint
from snapcurve.calibration.stored import in_use
from snapcurve.calibration.trust import WORKING_C, Trust, trust
from snapcurve.commands import fitted, options
from snapcurve.commands.chosen_board import open_board
from snapcurve.couvertures.profile import profile_name
from snapcurve.errors import LinkError, SnapcurveError
from snapcurve.report.budget_table import HEAD, RIGHT, budget_rows
from snapcurve.shown.settings_file import load
from snapcurve.shown.table import table
from snapcurve.shown.units import PLAIN, Style


@dataclass(frozen=True)
class Found:
    """A board that answered, as scripts read it."""

    port: str
    board: str
    board_id: str
    firmware: str
    boot: int
    curves: int
    profile: str
    fitted: ProbeSetting
    troubles: tuple[str, ...]


@dataclass(frozen=True)
class Problem:
    """A port that gave no board."""

    port: str
    problem: str


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.port(parser)
    parser.add_argument(
        "--at",
        metavar="TEMPERATURE",
        help="temperature to judge, in the unit that is set, or such as 88F (default: that of "
        "working chocolate)",
    )
    options.tolerance_class(parser)
    options.number(
        parser,
        "--depth-diameters",
        default=10.0,
        metavar="N",
        help="how deep the probe is in, in diameters of its sheath (default: 10)",
    )
    fitted.add_arguments(parser)
    parser.add_argument(
        "--resting",
        action="store_true",
        help="in a bowl at rest, where the stem carries the room's temperature further "
        "(default: stirred)",
    )
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """List the boards; of the one that was named, or the only one, print the budget, after what
    the options change."""
    style = load().style
    at_c = WORKING_C if arguments.at is None else style.parse_temperature(arguments.at)
    if not -10 <= at_c <= 150:
        raise SnapcurveError(f"--at must be between {style.window(-10, 150)}.")
    if not 0 < arguments.depth_diameters <= 1000:
        raise SnapcurveError("--depth-diameters must be above 0: depth over diameter.")
    ports = [arguments.port] if arguments.port else [entry.port for entry in attached()]
    changes = fitted.said(arguments)
    if changes and len(ports) != 1:
        raise SnapcurveError("Say with --port which board has that probe.")
    boards: list[Found | Problem] = []
    judged = None
    for port in ports:
        try:
            with open_board(port) as board:
                changed = fitted.change(board, changes) if changes else []
                if not arguments.json:
                    print("".join(f"{line}\n" for line in changed), end="")
                entry = _found(board, port)
                boards.append(entry)
                if len(ports) == 1 and "calibration" not in entry.troubles:
                    judged = _judged(board, arguments, at_c, PLAIN if arguments.json else style)
        except LinkError as error:
            if arguments.port:
                raise
            boards.append(Problem(port, str(error)))
    if arguments.json:
        budget = None if judged is None else _budget_data(judged)
        options.print_json({"boards": [asdict(one) for one in boards], "probe": budget})
        return 0
    if not boards:
        print("No board is attached. 'snapcurve probe --port rehearsal' shows the built-in one.")
    for found in boards:
        print("\n".join(_board_lines(found)))
    if judged is not None:
        print("\n".join(["", *_budget_lines(judged, at_c, style)]))
    return 0


# --- the boards ---------------------------------------------------------------------------


def _found(board: Board, port: str) -> Found:
    hello = board.greeting
    troubles = board.reading().troubles
    return Found(
        port=port,
        board=hello.board,
        board_id=f"{hello.board_id:08x}",
        firmware=hello.firmware,
        boot=hello.boot,
        curves=sum(row.state == "closed" for row in board.curves()),
        profile="unreadable" if "profile" in troubles else profile_name(board.profile()),
        fitted=board.probe_setting(),
        troubles=troubles,
    )


def _board_lines(entry: Found | Problem) -> list[str]:
    if isinstance(entry, Problem):
        return [f"{entry.port}: {entry.problem}"]
    return [
        f"{entry.port}: {entry.board} {entry.board_id}, firmware {entry.firmware}, "
        f"start {entry.boot}, {entry.curves} curves to collect, "
        f"profile: {entry.profile}, probe: {entry.fitted.words}",
        *(f"  {sentence(trouble)}" for trouble in entry.troubles),
    ]


# --- how far a reading can be trusted -----------------------------------------------------


@dataclass(frozen=True)
class Judged:
    """The budget of one board's probe, and the last failure of its firmware."""

    hello: Hello
    found: Trust
    hint: str | None
    crash: Crash


def _judged(board: Board, arguments: argparse.Namespace, at_c: float, style: Style) -> Judged:
    hello = board.greeting
    reading = board.reading()
    found = trust(
        hello.converter,
        hello.tc_type,
        in_use(board.calibration(), reading.troubles),
        at_c,
        time.time(),
        room_c=reading.room_c,
        tolerance_class=arguments.tolerance_class,
        diameters=arguments.depth_diameters,
        stirred=not arguments.resting,
        style=style,
    )
    hint = immersion_hint(arguments.depth_diameters, style)
    return Judged(hello, found, hint, board.last_crash())


def _budget_lines(judged: Judged, at_c: float, style: Style) -> list[str]:
    hello, found, crash = judged.hello, judged.found, judged.crash
    at = style.temperature(at_c, 2, trim=True)
    lines = [f"{hello.converter}, type {hello.tc_type}, at {at} (JCGM 100)"]
    before = style.difference(found.expanded_c, 3, sign=False)
    lines.append(table([HEAD, *budget_rows(found.budget, style)], right=RIGHT))
    lines += ["", f"{style.degrees(at_c)} {found.figure(style)} (k = 2, {before} before rounding)"]
    lines += [f"Note: {remark}" for remark in (found.remark, judged.hint) if remark]
    if crash.crashes:
        lines.append(
            f"Note: the board's firmware failed in its start {crash.boot} (it is in start "
            f"{hello.boot} now; {crash.crashes} in all): {crash.reason}"
        )
    return lines


def _budget_data(judged: Judged) -> dict[str, Any]:
    """What scripts read; in °C."""
    hello, found = judged.hello, judged.found
    return {
        "crash": judged.crash._asdict(),
        "converter": hello.converter,
        "type": hello.tc_type,
        "at_c": found.at_c,
        "components": [
            {
                "name": part.name,
                "value": part.value,
                "distribution": part.distribution,
                "standard_uncertainty_c": part.standard_uncertainty,
                "sensitivity": part.sensitivity,
                "contribution_c": part.contribution,
            }
            for part in found.budget.components
        ],
        "combined_c": found.budget.combined,
        "expanded_c": found.expanded_c,
        "k": 2,
        "remark": found.remark,
        "hint": judged.hint or "",
    }
