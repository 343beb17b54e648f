"""snapcurve install: the firmware onto a board, or into a file to drag onto a new one."""

import argparse
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

from snapcurve.commands import fitted, options

RESTART_WAIT_S = 20.0
LOOK_EACH_S = 0.3
LEAVE_WAIT_S = 0.3
SOUND = "reached"
IMAGE_BYTES_MOST = 32 << 20  # twice what the largest flash of these boards holds
# What a board is built for, where nothing else is said (boards/peripherals.py).
ASSUMED: dict[str, str | int] = {"tc_type": "T", "mains_hz": 50, "converter": "MAX31856"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.port(parser)
    parser.add_argument(
        "--dry-run", action="store_true", help="say what would be copied and change nothing"
    )
    parser.add_argument(
        "--board",
        metavar="NAME",
        help="which board file to use (pico, pico2, esp32s3); left out: what the board says",
    )
    fitted.add_arguments(parser)
    parser.add_argument(
        "--image",
        nargs=2,
        type=Path,
        metavar=("MICROPYTHON.uf2", "OUT.uf2"),
        help="for a new board, without a terminal: write MicroPython (downloaded for it) and the "
        "firmware as one file to drag onto its drive; what the board held is lost by that",
    )
    options.replace(parser)


def run(arguments: argparse.Namespace) -> int:
    """Look, compile, copy, compare, restart, shake hands, play one sound."""
    from snapcurve.board.connection import is_rehearsal, only_port
    from snapcurve.board.installation import board_for, check, judges_alike, put
    from snapcurve.board.ports import SerialPort
    from snapcurve.board.prompt import leave_for_prompt, prompt_at, running_on
    from snapcurve.board.release import build
    from snapcurve.errors import LinkError, SnapcurveError

    if arguments.image:
        return _write_image(arguments)
    if is_rehearsal(arguments.port):
        raise SnapcurveError(
            "The built-in board always runs this release: there is nothing to install."
        )
    if arguments.board:
        build(arguments.board)  # an unknown name is told before anything is touched
    port = arguments.port or only_port()
    line = SerialPort(port)
    try:
        before = running_on(line)
        if arguments.dry_run and before is not None:
            return _dry_run_of_running(arguments.board, before)
        if before is not None:
            leave_for_prompt(line)
    finally:
        with suppress(LinkError):
            line.close()
    time.sleep(LEAVE_WAIT_S)
    with prompt_at(port) as prompt:
        try:
            facts = prompt.facts()
            board = arguments.board or board_for(facts.machine)
            release = build(board, named=not judges_alike(board, facts.machine))
            check(facts, release)
            print(f"{facts.machine}, MicroPython {'.'.join(map(str, facts.version[:3]))}")
            if arguments.dry_run:
                prompt.leave()
                return _list(release)
            done = put(prompt, release, _progress if sys.stderr.isatty() else lambda *_: None)
        except SnapcurveError:
            if before is not None:
                prompt.restart()  # what ran before runs on
            raise
        prompt.restart()
    print(
        f"snapcurve {release.version} for {board}: {len(done.copied)} files copied and compared, "
        f"{done.present} were there already ({release.size} bytes in all)"
    )
    if done.foreign:
        print(f"The board had a main.py of its own; it is kept as {done.foreign}.")
    return _shake_hands(port, arguments, release.version, before)


def _write_image(arguments: argparse.Namespace) -> int:
    """One file to drag onto a new board's drive."""
    from snapcurve.board import flash_image
    from snapcurve.board.fitted import Fitted
    from snapcurve.board.release import build
    from snapcurve.commands.output_files import IMAGE
    from snapcurve.shown.input_files import read_bytes
    from snapcurve.shown.whole_files import write_whole

    source, target = arguments.image
    options.output(arguments, target, IMAGE)
    data = read_bytes(source, "the MicroPython file", IMAGE_BYTES_MOST)
    base = flash_image.read_base(data, str(source), arguments.board)
    said = fitted.said(arguments)
    probe = Fitted(**{**ASSUMED, **said}) if said else None  # type: ignore[arg-type]
    release = build(base.board)
    made = flash_image.image(base, flash_image.contents(release, probe))
    write_whole(target, made, "image")
    has = ".".join(map(str, base.info.version))
    board = base.info.board or base.board
    print(
        f"{target}: MicroPython {has} and snapcurve {release.version} for {board}, "
        f"{len(made) // 1024} KiB"
    )
    if probe is not None:
        print(f"Probe: {probe.words}.")
    print(
        "Hold BOOTSEL while you plug the board in, and drag the file onto the drive that appears. "
        "It is for new boards: profile, calibration and curves of one in use are lost by it, and "
        "'snapcurve install' keeps them."
    )
    return 0


def _list(release: Any) -> int:
    for file in release.files:
        print(f"  {len(file.data):6d}  {file.path}")
    print(
        f"snapcurve {release.version} for {release.board}: {len(release.files)} files, "
        f"{release.size} bytes, would go into /{release.folder}; nothing was changed"
    )
    return 0


def _dry_run_of_running(board: str | None, before: Any) -> int:
    from snapcurve.board.release import build

    hello = before.hello
    if hello is None:
        print("A firmware with another protocol version runs there and would be replaced.")
    else:
        print(f"snapcurve {hello.firmware} for {hello.board} runs there and would be replaced.")
        if before.curves:
            print(f"Its {len(before.curves)} curves, profile and calibration would stay.")
    name = board or (hello.board if hello else "")
    if not name:
        print("Which board it is shows only at its prompt: nothing was changed.")
        return 0
    return _list(build(name))


def _progress(done: int, total: int) -> None:
    from snapcurve.shown.table import redraw

    redraw(f"  {done} of {total} files", sys.stderr, last=done >= total)


def _shake_hands(port: str, arguments: argparse.Namespace, version: str, before: Any) -> int:
    """Wait for the new firmware on ``port``, or where the board comes back under another name
    unless the person named the port."""
    from snapcurve.board.connection import shaking_hands
    from snapcurve.errors import LinkError

    deadline_s = time.monotonic() + RESTART_WAIT_S
    while not (name := _answering(port, arguments.port is None)):
        if time.monotonic() > deadline_s:
            raise LinkError(
                "The firmware is on the board, but does not answer after the restart: unplug "
                "it, plug it in, and look with 'snapcurve probe'."
            )
        time.sleep(LOOK_EACH_S)
    with shaking_hands(name) as board:
        hello = board.greeting
        if hello.firmware != version:
            raise LinkError(
                f"The board answers with version {hello.firmware} instead of {version}: install "
                "again."
            )
        board.ask("sound", sound=SOUND)
        print(f"The board answers as {hello.board}, firmware {hello.firmware}; it plays a sound.")
        if before is not None and before.hello is not None:
            _compare(board, before)
        print("\n".join(fitted.settle(board, arguments)))
    return 0


def _answering(port: str, may_move: bool) -> str:
    """The port on which a board answers, "" if none does."""
    from snapcurve.board.connection import shaking_hands
    from snapcurve.board.ports import attached
    from snapcurve.errors import LinkError

    others = [entry.port for entry in attached() if entry.port != port] if may_move else []
    for name in (port, *others):
        with suppress(LinkError), shaking_hands(name):
            return name
    return ""


def _compare(board: Any, before: Any) -> None:
    """What the board kept over the installation; LinkError if it did not."""
    from snapcurve.errors import LinkError

    lost = [row.curve for row in before.curves if row not in board.curves()]
    if board.profile() != before.profile:
        lost.append("profile")
    if board.calibration() != before.calibration:
        lost.append("calibration")
    if lost:
        raise LinkError(f"The board no longer shows what it had before: {lost}.")
    print(
        f"Kept: profile, calibration and {len(before.curves)} curves"
        + (" not collected yet." if before.curves else ".")
    )
