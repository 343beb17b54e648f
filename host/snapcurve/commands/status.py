"""snapcurve: how things stand, and what to do now."""

import argparse
import textwrap
import time
from dataclasses import dataclass

from snapcurve.board.client import Board, Reading
from snapcurve.board.connection import is_rehearsal
from snapcurve.board.fitted import ASSUMED
from snapcurve.board.ports import attached
from snapcurve.board.troubles import sentence
from snapcurve.calibration.board_trust import trust_now
from snapcurve.commands import live, options
from snapcurve.commands.chosen_board import open_board
from snapcurve.couvertures.profile import profile_name
from snapcurve.shown.settings_file import load
from snapcurve.shown.units import Style

FIRST_READING_S = 2.0
WIDTH = 92


@dataclass(frozen=True)
class Standing:
    """What a board says of itself: ``waiting`` curves are ended and not collected; ``trusted``
    says how far a reading may be off, ``remark`` what is wrong with that; ``fitted`` is the
    probe."""

    port: str
    board: str
    profile: str
    reading: str
    recording: bool
    waiting: int
    fitted: str
    trusted: str
    remark: str
    troubles: tuple[str, ...]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.port(parser)


def run(arguments: argparse.Namespace) -> int:
    """Look and say."""
    found = [entry.port for entry in attached()]
    port = arguments.port or (found[0] if len(found) == 1 else None)
    if port is not None:
        lines = lines_of(_look(port, load().style))
    elif found:
        lines = [f"Several boards are attached: {', '.join(found)}.", "Choose one with --port."]
    else:
        lines = [
            "No board is attached.",
            "Now: plug one in. Without one, 'snapcurve rehearse milk' runs a whole batch, and "
            "'snapcurve install' puts the firmware onto a new board.",
        ]
    print("\n".join(textwrap.fill(one, WIDTH, subsequent_indent=" " * 9) for one in lines))
    return 0


def _look(port: str, style: Style) -> Standing:
    with open_board(port) as board:
        hello, reading = board.greeting, _first_reading(board)
        trusted, remark = "its calibration cannot be read", ""
        if "calibration" not in reading.troubles:
            found = trust_now(board, reading.troubles)
            trusted, remark = found.words(style), found.remark
        profile = "unreadable" if "profile" in reading.troubles else profile_name(board.profile())
        return Standing(
            port=port,
            board=f"{hello.board}, firmware {hello.firmware}",
            profile=profile,
            reading=live.line(reading, style).strip(),
            recording=reading.curve != 0,
            waiting=sum(row.state == "closed" for row in board.curves()),
            fitted=board.probe_setting().words,
            trusted=trusted,
            remark=remark,
            troubles=tuple(sentence(trouble) for trouble in reading.troubles),
        )


def _first_reading(board: Board) -> Reading:
    """A board that has just started measures a moment later."""
    end_s = time.monotonic() + FIRST_READING_S
    while True:
        reading = board.reading()
        if reading.indicated_c is not None or reading.faults or time.monotonic() > end_s:
            return reading
        time.sleep(0.1)


def lines_of(found: Standing) -> list[str]:
    """The state, line by line, and what to do now."""
    count = "1 curve waits" if found.waiting == 1 else f"{found.waiting} curves wait"
    lines = [
        f"Board    {found.port}: {found.board}",
        f"Profile  {found.profile}",
        f"Reading  {found.reading}",
        f"Record   {'recording' if found.recording else 'not recording'}; {count} to be collected",
        f"Probe    {'; '.join(filter(None, (found.fitted, found.trusted, found.remark)))}",
        *found.troubles,
    ]
    at = f" --port {found.port}" if is_rehearsal(found.port) else ""
    return [*lines, f"Now: {_next_step(found, at)}"]


def _next_step(found: Standing, at: str) -> str:
    if found.recording:
        return (
            f"go on; 'snapcurve watch{at}' shows the reading, and a long press of the button "
            "ends the batch."
        )
    if found.waiting:
        return f"'snapcurve collect{at}' files what was recorded."
    if found.fitted.endswith(ASSUMED) and not is_rehearsal(found.port):
        return (
            "say which thermocouple is fitted: 'snapcurve probe --type K --mains 50', for example."
        )
    if found.profile in ("none", "unreadable"):
        return f"'snapcurve temper COUVERTURE{at}' loads a profile and follows the batch."
    if found.remark:
        return f"calibrate the probe ('snapcurve calibrate ice{at}'), then temper."
    return f"put the probe into the chocolate; 'snapcurve temper COUVERTURE{at}' follows it."
