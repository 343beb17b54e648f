"""snapcurve watch: the reading, live."""

import argparse
import json
import sys
import time
from dataclasses import asdict
from typing import Any

from snapcurve.board.troubles import sentence
from snapcurve.commands import options
from snapcurve.errors import NoAnswer, ProbeError
from snapcurve.shown.quantities import PLAIN, Style

INTERVAL_MS = 500
NO_READING_S = 4.0  # so long without any reading at the start: there is no probe
SILENT_S = 5.0
FAULT_WORDS = {
    "open": "the thermocouple circuit is open: plug the probe in and check both its screws",
    "voltage": "the converter sees too high or too low a voltage: look for a wet or touching lead",
    "bus": "the converter does not answer: check its wiring and supply",
    "config": "the converter loses its settings: check its supply",
    "frozen": "the converter shows the same value for ever: take its supply off and on again",
    "short_to_ground": "the thermocouple touches ground: use a probe with an insulated tip",
    "short_to_supply": "the thermocouple touches the supply: check its wiring",
    "tc_range": "the temperature is beyond the range: look for swapped leads or a wrong type",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.port(parser)
    options.number(parser, "--seconds", help="stop after so long (default: until Ctrl-C)")
    parser.add_argument("--json", action="store_true", help="one JSON object a line")


def fault_sentence(faults: list[str]) -> str:
    """What to do about a probe that gives no reading."""
    for fault in faults:
        if fault in FAULT_WORDS:
            return f"there is no reading: {FAULT_WORDS[fault]}"
    return f"there is no reading ({', '.join(faults) or 'unknown reason'}): check the probe"


def run(arguments: argparse.Namespace) -> int:
    """Show readings until told to stop."""
    from snapcurve.commands.chosen_board import open_board
    from snapcurve.shown.settings_file import load

    style = load().style
    with open_board(arguments.port, scene="batch") as board:
        board.set_clock(time.time())
        if not arguments.json:
            for said in first_lines(board, style):
                print(said, flush=True)
        board.live(INTERVAL_MS)
        try:
            _show(board, arguments, style)
        except KeyboardInterrupt:
            print()
        board.live(0)
    return 0


def first_lines(board: Any, style: Style = PLAIN) -> list[str]:
    """How far the temperatures can be trusted, and what is wrong with the board itself."""
    troubles = board.reading().troubles
    lines = [sentence(trouble) for trouble in troubles]
    return lines if "calibration" in troubles else [trust_line(board, style), *lines]


def trust_line(board: Any, style: Style = PLAIN) -> str:
    """How far the board's temperatures can be trusted, said once."""
    from snapcurve.calibration.stored import parse
    from snapcurve.calibration.trust import WORKING_C, trust

    hello = board.greeting
    found = trust(
        hello.converter, hello.tc_type, parse(board.calibration()), WORKING_C, time.time()
    )
    return found.words(style) + (f"; {found.remark}" if found.remark else "")


def _show(board: Any, arguments: argparse.Namespace, style: Style) -> None:
    start_s = last_s = time.monotonic()
    seen = False
    on_screen = sys.stdout.isatty() and not arguments.json
    while arguments.seconds is None or time.monotonic() - start_s < arguments.seconds:
        reading = board.next_live()
        now_s = time.monotonic()
        if reading is None:
            if now_s - last_s > SILENT_S:
                raise NoAnswer(f"the board on {board.port.name} stopped sending: check the cable")
            continue
        last_s = now_s
        seen = seen or reading.indicated_c is not None
        if not seen and reading.faults and now_s - start_s > NO_READING_S:
            raise ProbeError(fault_sentence(reading.faults))
        if arguments.json:
            print(json.dumps(asdict(reading)), flush=True)
        elif not seen and not reading.faults:
            continue  # the converter's first value is still on its way
        elif on_screen:
            print("\r\x1b[K" + line(reading, style), end="", flush=True)
        else:
            print(line(reading, style), flush=True)
    if on_screen:
        print()


def left_words(seconds: int) -> str:
    """How long the window lasts, no finer than it can be foretold."""
    return "under a minute left" if seconds < 60 else f"about {seconds // 60} min left"


def line(reading: Any, style: Style = PLAIN) -> str:
    """One reading in words."""
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
    if reading.window_left_s is not None:
        text += f", {left_words(reading.window_left_s)}"
    if reading.curve:
        text += "   recording"
    if reading.troubles:
        text += f"   trouble: {', '.join(reading.troubles)}"
    if reading.sounding != "none":
        text += f"   ♪ {reading.sounding.replace('_', ' ')}"
    return text
