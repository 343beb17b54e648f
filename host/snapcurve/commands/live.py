"""The board's readings as they come, in words: for each command that shows them."""

import json
import math
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict

from snapcurve.analysis.window_left import WindowLeft, of_board
from snapcurve.board.client import Board, Reading
from snapcurve.board.connection import RETURN_WAIT_S, is_rehearsal, reconnect
from snapcurve.board.troubles import fault_sentence, sentence
from snapcurve.calibration.board_trust import trust_now
from snapcurve.errors import (
    LinkError,
    NoAnswer,
    ProbeError,
    Refused,
    WrongVersion,
)
from snapcurve.shown.units import PLAIN, Style

INTERVAL_MS = 500
NO_READING_S = 4.0  # so long without any reading at the start: there is no probe
STALE_S = 1.5  # a reading on the screen is as old as that at most
SILENT_S = 5.0
RETURNS = 3  # so often a board may come back and send nothing


def first_lines(board: Board, style: Style = PLAIN) -> list[str]:
    """How far the temperatures can be trusted, and what is wrong with the board itself."""
    troubles = board.reading().troubles
    lines = [sentence(trouble) for trouble in troubles]
    if "calibration" in troubles:
        return lines
    found = trust_now(board, troubles)
    return [found.words(style) + (f"; {found.remark}" if found.remark else ""), *lines]


def follow(
    board: Board,
    port: str | None,
    style: Style,
    *,
    seconds: float | None = None,
    as_json: bool = False,
    ended: Callable[[Reading], bool] = lambda _reading: False,
) -> None:
    """Show readings for ``seconds``, until ``ended`` says so of one, or until Ctrl-C.

    A board that is lost is waited for until Ctrl-C, or until ``seconds`` are over, and told what
    time it is when it is back; ``port`` is what the person named. ProbeError if the probe gives
    no reading from the start, LinkError if the board stays away, or comes back and sends nothing.
    """
    end_s = math.inf if seconds is None else time.monotonic() + seconds
    fruitless = 0  # returns of the board without a reading since

    def shown(reading: Reading) -> bool:
        nonlocal fruitless
        fruitless = 0
        return ended(reading)

    while True:
        try:
            left = of_board(board)
            board.live(INTERVAL_MS)
            _show(board, style, end_s, as_json, shown, left)
            board.live(0)
            return
        except KeyboardInterrupt:
            with suppress(LinkError):
                board.live(0)
            raise
        except (Refused, WrongVersion):
            raise
        except LinkError:
            if is_rehearsal(port) or fruitless == RETURNS:
                raise
            print(
                f"The board on {board.port.name} is gone: waiting for it. Ctrl-C ends.",
                file=sys.stderr,
            )
            if not _back(board, port, max(RETURN_WAIT_S, end_s - time.monotonic())):
                raise
            fruitless += 1
            print(f"The board is back on {board.port.name}.", file=sys.stderr)


def _back(board: Board, port: str | None, wait_s: float) -> bool:
    """Whether a board that was lost is back within ``wait_s``; it may have started anew, and then
    does not know what time it is."""
    if not reconnect(board, port, wait_s):
        return False
    with suppress(LinkError):  # lost again: the next question tells
        board.set_clock(time.time())
    return True


def _show(
    board: Board,
    style: Style,
    end_s: float,
    as_json: bool,
    ended: Callable[[Reading], bool],
    left: WindowLeft,
) -> None:
    from snapcurve.shown.table import redraw

    start_s = last_s = time.monotonic()
    seen = False
    on_screen = sys.stdout.isatty() and not as_json
    while time.monotonic() < end_s:
        reading = _next(board, last_s, on_screen)
        now_s = time.monotonic()
        if reading is None:
            continue
        last_s = now_s
        seen = seen or reading.indicated_c is not None
        inside = (reading.phase, reading.state, reading.place) == ("work", "inside", "chocolate")
        left.add(reading.uptime_ms / 1000, reading.estimate_c, inside)
        if not seen and reading.faults and now_s - start_s > NO_READING_S:
            raise ProbeError(fault_sentence(reading.faults))
        if as_json:
            # A range as on the screen: the board's own single number has none.
            told = {**asdict(reading), "window_left_s": left.between_s()}
            print(json.dumps(told), flush=True)
        elif not seen and not reading.faults:
            continue  # the converter's first value is still on its way
        elif on_screen:
            redraw(line(reading, style, left.words(style)))
        else:
            print(line(reading, style, left.words(style)), flush=True)
        if ended(reading):
            break
    if on_screen:
        print()


def _next(board: Board, last_s: float, on_screen: bool) -> Reading | None:
    """A reading that has come since ``last_s``, if there is one. On a screen no number stays that
    is not of now. NoAnswer after SILENT_S."""
    from snapcurve.shown.table import redraw

    try:
        reading = board.next_live()
    except LinkError:
        if on_screen:
            redraw("", last=True)
        raise
    silent_s = time.monotonic() - last_s
    if reading is None and silent_s > STALE_S:
        if on_screen:
            redraw(f"no reading for {silent_s:.0f} s", last=silent_s > SILENT_S)
        if silent_s > SILENT_S:
            raise NoAnswer(f"The board on {board.port.name} stopped sending: check the cable.")
    return reading


def line(reading: Reading, style: Style = PLAIN, left: str = "") -> str:
    """One reading in words; ``left`` is how long it stays in its window, empty if not known."""
    minutes, seconds = divmod(reading.uptime_ms // 1000, 60)
    text = f"{minutes:4d}:{seconds:02d}  "
    if reading.indicated_c is None:
        return text + (fault_sentence(reading.faults) if reading.faults else "no reading yet")
    text += f"probe {style.temperature(reading.indicated_c):>9}"
    if reading.place == "chocolate" and reading.estimate_c is not None:
        text += f"   chocolate {style.temperature(reading.estimate_c):>9}"
        if reading.rate_c_per_min is not None:
            text += f" {style.rate(reading.rate_c_per_min):>12}"
    else:
        places = {"air": "probe out", "entering": "settling", "unknown": "waiting"}
        text += f"   {places.get(reading.place, reading.place)}"
    if reading.phase != "none":
        text += f"   {reading.phase}: {reading.state.replace('_', ' ')}"
    if left:
        text += f", {left} left"
    if reading.curve:
        text += "   recording"
    if reading.troubles:
        text += f"   trouble: {', '.join(reading.troubles)}"
    if reading.sounding != "none":
        text += f"   ♪ {reading.sounding.replace('_', ' ')}"
    return text
