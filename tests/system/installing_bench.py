"""Releases, and what a stand-in board holds, for the tests of installing."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from standin_board import StandIn

from snapcurve.board import installation as steps
from snapcurve.board import release
from snapcurve.board.client import Board
from snapcurve.board.firmware_files import compiled, sources
from snapcurve.board.ports import SerialPort
from snapcurve.board.prompt import Prompt, leave_for_prompt, prompt_at, running_on
from snapcurve.calibration.stored import Calibration, build
from snapcurve.couvertures import load
from snapcurve.couvertures.profile import compile_profile
from snapcurve.errors import LinkError
from snapcurve.probe.recorder import Recorder
from snapcurve.probe.store import Store
from tests.patience import LONGEST_S

Kept = tuple[bytes, bytes, list[tuple[int, int, int]]]  # profile, calibration, curves


def other(ours: release.Release, version: str, tmp_path: Path) -> release.Release:
    """The same firmware as another release."""
    source = tmp_path / "version.py"
    source.write_text(f'__version__ = "{version}"\n')
    made = compiled({**sources("desk"), "snapcurve/wire/version": source})
    files = tuple(release.BoardFile(f"{name}.mpy", data) for name, data in made.items())
    assert files != ours.files
    main = release.main_text(release.folder_name(files), version)
    return release.Release(version, "desk", files, main)


@contextmanager
def at_prompt(board: StandIn) -> Iterator[Prompt]:
    """The board's prompt, whatever runs on it."""
    line = SerialPort(board.port)
    if running_on(line) is not None:
        leave_for_prompt(line)
    line.close()
    time.sleep(0.3)
    with prompt_at(board.port) as prompt:
        yield prompt


def put(board: StandIn, what: release.Release) -> None:
    """Another release onto the board, by the same steps."""
    with at_prompt(board) as prompt:
        steps.put(prompt, what, lambda *_: None)
        prompt.restart()


@contextmanager
def conversation(board: StandIn) -> Iterator[Board]:
    """With the firmware, which may still be starting."""
    deadline_s = time.monotonic() + LONGEST_S
    while True:
        talk = Board(SerialPort(board.port))
        try:
            talk.hello()
            break
        except LinkError:
            talk.port.close()
            assert time.monotonic() < deadline_s, "the firmware does not answer"
    try:
        yield talk
    finally:
        talk.port.close()


def version_on(board: StandIn) -> str:
    """What answers."""
    with conversation(board) as talk:
        return talk.greeting.firmware


def folders_on(board: StandIn) -> list[str]:
    """The releases on the board's flash, and whatever a cut-off step left beside them."""
    with at_prompt(board) as prompt:
        names = prompt.names("/")
        prompt.restart()
    return sorted(name for name in names if name.startswith("snapcurve.") or ".new" in name)


def fill(board: StandIn, folder: Path) -> Kept:
    """A profile, a calibration and a curve on the board."""
    with conversation(board) as talk:
        talk.put_profile(compile_profile(load("milk", folder), "seeding"))
        talk.put_calibration(build(Calibration(lag_unix_s=1_800_000_000, time_constants_s=(4.0,))))
    with at_prompt(board) as prompt:
        prompt.write("/curves/c00007", _curve(folder, 7))
        prompt.restart()
    return contents(board)


def _curve(folder: Path, number: int) -> bytes:
    """A short curve as the board's own recorder leaves it."""
    (folder / "recorded").mkdir()
    store = Store(str(folder / "recorded"))
    store.start()
    recorder = Recorder(store, (0, 0, 1), 7)
    for _ in range(number):
        recorder.start(0, (1_800_000_000, 0), 0, b"", False)
        for second in range(90):
            recorder.reading(4000 + second % 7)
            recorder.step(second * 1000, 2100)
        recorder.end(90_000, "button")
    return (folder / "recorded" / f"c{number:05d}").read_bytes()


def contents(board: StandIn) -> Kept:
    """What must survive every installation."""
    with conversation(board) as talk:
        rows = [(row.curve, row.size, row.crc) for row in talk.curves()]
        return talk.profile(), talk.calibration(), rows
