"""Which thermocouple, mains and converter a board has: said with options, or asked for."""

import argparse
import sys
from dataclasses import replace

from snapcurve.board.client import Board
from snapcurve.board.fitted import CABLE_MARKS, Fitted
from snapcurve.board.troubles import SENTENCES
from snapcurve.wire.catalogue import CONVERTERS, MAINS_HZ

MARKS = "; ".join(f"{kind}: {colour}" for kind, colour in CABLE_MARKS.items())


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """--type --mains --converter"""
    parser.add_argument(
        "--type",
        dest="tc_type",
        type=str.upper,
        choices=tuple(CABLE_MARKS),
        help=f"thermocouple of the probe, as its plug or cable is coloured: {MARKS}",
    )
    parser.add_argument(
        "--mains",
        dest="mains_hz",
        type=int,
        choices=MAINS_HZ,
        help="frequency of the mains here, in Hz; the MAX31856 filters its hum",
    )
    parser.add_argument(
        "--converter", choices=CONVERTERS, help="needed only where the board cannot recognise it"
    )


def said(arguments: argparse.Namespace) -> dict[str, str | int]:
    """What the options say; empty: nothing."""
    names = ("tc_type", "mains_hz", "converter")
    values = {name: getattr(arguments, name) for name in names}
    return {name: value for name, value in values.items() if value is not None}


def change(board: Board, changes: dict[str, str | int]) -> list[str]:
    """Set what is fitted; what there is to say of it."""
    before = board.probe_setting()
    wanted = replace(before.fitted, **changes)  # type: ignore[arg-type]
    board.set_probe(wanted)
    after = board.probe_setting()
    lines = [f"The board reads its probe as {after.words} from now on."]
    if after.fitted.converter != wanted.converter:
        lines.append(
            f"It has recognised its converter itself: {after.fitted.converter}, not "
            f"{wanted.converter}."
        )
    if after.fitted.tc_type != before.fitted.tc_type and board.calibration():
        used = "other_type" not in board.reading().troubles
        lines.append("Its calibration is for that type." if used else SENTENCES["other_type"])
    return lines


def settle(board: Board, arguments: argparse.Namespace) -> list[str]:
    """After an installation: what the options say; else, of a board for which nobody has chosen
    yet, what the person answers, or how to say it later."""
    setting, changes = board.probe_setting(), said(arguments)
    if not changes and not setting.chosen and sys.stdin.isatty():
        changes = _asked(setting.fitted, setting.recognised)
    if changes:
        return change(board, changes)
    lines = [f"Probe: {setting.words}."]
    if not setting.chosen:
        lines.append(
            "If that is not what is fitted, say so: 'snapcurve probe --type K --mains 50'. A "
            "wrong type is off by several degrees."
        )
    return lines


def _asked(assumed: Fitted, recognised: bool) -> dict[str, str | int]:
    print(f"Which thermocouple is it? Plug or cable are coloured by the type ({MARKS}).")
    kind = _one_of("Type", tuple(CABLE_MARKS), assumed.tc_type)
    mains = _one_of("Mains here, in Hz", tuple(map(str, MAINS_HZ)), str(assumed.mains_hz))
    found: dict[str, str | int] = {"tc_type": kind, "mains_hz": int(mains)}
    if not recognised:
        print("The converter does not answer, so the board cannot tell which one it is.")
        found["converter"] = _one_of("Converter", CONVERTERS, assumed.converter)
    return found


def _one_of(question: str, words: tuple[str, ...], assumed: str) -> str:
    while True:
        typed = input(f"{question} ({', '.join(words)}) [{assumed}]? ").strip().upper() or assumed
        if typed in words:
            return typed
