"""snapcurve install onto a stand-in board: MicroPython's own prompt, its own littlefs."""

import os
import pty
import threading
import time
import tty
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest
from installing_bench import (
    at_prompt,
    contents,
    conversation,
    fill,
    folders_on,
    other,
    put,
    version_on,
)
from running import Bench
from standin_board import StandIn

from snapcurve import probe
from snapcurve.board import flash_image, release
from snapcurve.board import installation as steps
from snapcurve.board.firmware_files import board_names, compiled, sources
from snapcurve.board.fitted import Fitted
from snapcurve.board.prompt import Facts, prompt_at
from snapcurve.errors import SnapcurveError
from snapcurve.wire import catalogue
from snapcurve.wire.version import __version__
from tests.patience import LONGEST_S


@pytest.fixture
def board(tmp_path: Path) -> Iterator[StandIn]:
    with StandIn(tmp_path / "board") as board:
        yield board


@pytest.fixture(scope="module")
def ours() -> release.Release:
    return release.build("desk")


# --- the ways through -------------------------------------------------------------------


def test_a_fresh_board(bench: Bench, board: StandIn, ours: release.Release) -> None:
    dry = bench.ok("install", "--port", board.port, "--dry-run")
    assert f"{len(ours.files)} files, {ours.size} bytes" in dry
    with prompt_at(board.port) as prompt:
        assert prompt.names("/") == ["curves"]
    out = bench.ok("install", "--port", board.port)
    assert f"{len(ours.files) + 1} files copied and compared, 0 were there already" in out
    assert f"answers as desk, firmware {__version__}; it plays a sound" in out
    assert version_on(board) == __version__
    assert folders_on(board) == [ours.folder]
    again = bench.ok("install", "--port", board.port)
    assert f"0 files copied and compared, {len(ours.files) + 1} were there already" in again


@pytest.mark.parametrize("before", ["0.0.1", "99.0.0"])
def test_upgrade_and_downgrade_keep_what_was_recorded(
    bench: Bench, board: StandIn, ours: release.Release, tmp_path: Path, before: str
) -> None:
    put(board, other(ours, before, tmp_path))
    assert version_on(board) == before
    kept = fill(board, tmp_path)
    assert all(kept)
    dry = bench.ok("install", "--port", board.port, "--dry-run")
    assert f"snapcurve {before} for desk runs there and would be replaced" in dry
    assert version_on(board) == before
    out = bench.ok("install", "--port", board.port)
    assert "Kept: profile, calibration and 1 curves not collected yet." in out
    assert version_on(board) == __version__
    assert contents(board) == kept
    assert folders_on(board) == [ours.folder]


def test_a_main_py_of_somebody_else_is_kept(
    bench: Bench, board: StandIn, ours: release.Release
) -> None:
    with prompt_at(board.port) as prompt:
        prompt.write("/main.py", b"print('mine')\n")
    assert "kept as /main.before-snapcurve.py" in bench.ok("install", "--port", board.port)
    with at_prompt(board) as prompt:
        assert prompt.read("/main.before-snapcurve.py") == b"print('mine')\n"
        assert release.folder_of(prompt.read("/main.py") or b"") == ours.folder


def test_a_named_board_is_told_to_the_firmware() -> None:
    main = release.build("pico", named=True).main.decode()
    assert 'boards.FITTED = "pico"' in main
    assert main.splitlines()[1].startswith("micropython.kbd_intr(-1)")
    compile(main, "main.py", "exec")


def test_a_flash_that_was_written_as_an_image_runs_and_install_finds_all_there(
    bench: Bench, tmp_path: Path, ours: release.Release
) -> None:
    """MicroPython's own littlefs mounts it, over whatever the flash held before."""
    blocks = 192
    fitted = Fitted("J", 60, "MAX31856")
    stored = flash_image.file_system(flash_image.contents(ours, fitted), blocks)
    flash = bytearray(b"\x55" * 4096 * blocks)
    for block, raw in stored.items():
        flash[4096 * block : 4096 * block + 4096] = raw
    (tmp_path / "board").mkdir()
    (tmp_path / "board" / "flash").write_bytes(flash)
    with StandIn(tmp_path / "board", blocks) as board:
        assert version_on(board) == __version__
        assert fitted.words in bench.ok("probe", "--port", board.port)
        out = bench.ok("install", "--port", board.port)
        assert f"0 files copied and compared, {len(ours.files) + 1} were there already" in out
        assert folders_on(board) == [ours.folder]


def test_a_board_at_its_prompt_is_named_as_such_and_how_to_start_it(
    bench: Bench, board: StandIn
) -> None:
    for _ in range(2):  # the first question leaves it at another prompt than the second finds
        said = bench.refused("probe", "--port", board.port)
        assert "stands at MicroPython's prompt" in said
        assert "plug it in again" in said
    bench.ok("install", "--port", board.port)
    assert "firmware" in bench.ok("probe", "--port", board.port)
    with at_prompt(board):
        pass
    assert "stands at MicroPython's prompt" in bench.refused("probe", "--port", board.port)
    board.unplug()
    board.plug()
    assert version_on(board) == __version__


# --- refusals -----------------------------------------------------------------------------


def test_an_interpreter_that_is_too_old(bench: Bench, tmp_path: Path) -> None:
    with StandIn(tmp_path / "old", version="1.19.1") as board:
        sentence = bench.refused("install", "--port", board.port)
        assert "MicroPython 1.19.1" in sentence
        assert "1.28 or newer" in sentence


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"interpreter": "circuitpython"}, "circuitpython"),
        ({"version": (1, 27, 9)}, "1.27.9"),
        ({"mpy": 5}, "version 5"),
    ],
)
def test_interpreters_that_will_not_do(ours: release.Release, changes, words) -> None:
    good = Facts("micropython", (1, 29, 0), "Raspberry Pi Pico with RP2040", 6, 4096, 1 << 20)
    steps.check(good, ours)
    with pytest.raises(SnapcurveError, match=words):
        steps.check(replace(good, **changes), ours)


def test_a_flash_without_room(bench: Bench, tmp_path: Path, ours: release.Release) -> None:
    with StandIn(tmp_path / "small", blocks=20) as board:
        sentence = bench.refused("install", "--port", board.port)
        assert "KiB free" in sentence
        assert "collect" in sentence


def test_a_refused_upgrade_leaves_the_old_release_running(
    bench: Bench, tmp_path: Path, ours: release.Release
) -> None:
    with StandIn(tmp_path / "small", blocks=90) as board:
        put(board, other(ours, "0.0.1", tmp_path))
        assert version_on(board) == "0.0.1"
        assert "KiB free" in bench.refused("install", "--port", board.port)
        assert version_on(board) == "0.0.1"


def test_a_flash_that_runs_full_while_copying(
    tmp_path: Path, ours: release.Release, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(steps, "_room", lambda *_: None)
    with (
        StandIn(tmp_path / "small", blocks=14) as board,
        prompt_at(board.port) as prompt,
        pytest.raises(SnapcurveError, match="The board's flash is full"),
    ):
        steps.put(prompt, ours, lambda *_: None)


def test_a_port_with_something_else(bench: Bench) -> None:
    board_end, host_end = pty.openpty()
    tty.setraw(board_end)
    tty.setraw(host_end)
    stop = threading.Event()

    def chatter() -> None:
        while not stop.wait(0.05):
            with suppress(OSError):
                os.write(board_end, b"$GPGGA,,,,,,0*66\r\n")

    thread = threading.Thread(target=chatter)
    thread.start()
    try:
        assert "no MicroPython board" in bench.refused("install", "--port", os.ttyname(host_end))
    finally:
        stop.set()
        thread.join()
        os.close(board_end)
        os.close(host_end)


def test_a_board_that_records_is_left_alone(bench: Bench, board: StandIn) -> None:
    bench.ok("install", "--port", board.port)
    board.unplug()
    board.tape = ["0,21,21", "3,21,21,0,1", "3.3,21,21,0,0", "9,35,21"]
    board.plug()
    with conversation(board) as talk:
        deadline_s = time.monotonic() + LONGEST_S
        while not talk.reading().curve:
            assert time.monotonic() < deadline_s
    assert "long press" in bench.refused("install", "--port", board.port)
    assert version_on(board) == __version__


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--port", "rehearsal"), "built-in board"),
        (("--port", "/dev/no-such-port"), "no port"),
        (("--port", "/dev/no-such-port", "--board", "toaster"), "'toaster'"),
    ],
)
def test_wishes_that_make_no_sense(bench: Bench, words, sentence) -> None:
    assert sentence in bench.refused("install", *words)


def test_a_machine_without_a_board_file() -> None:
    with pytest.raises(SnapcurveError, match="--board"):
        steps.board_for("Pyboard with STM32F405")


# --- what is copied -----------------------------------------------------------------------


@pytest.mark.parametrize("march", ["armv6m", "armv7emsp", "xtensawin"])
def test_the_compiled_files_are_the_same_for_every_processor(march: str) -> None:
    """So one release serves all boards: no file uses native code."""
    files: dict[str, Path] = {}
    for board in board_names():
        files |= sources(board)
    assert compiled(files) == compiled(files, f"-march={march}")


def test_a_board_gets_its_own_files_only_each_under_its_own_name() -> None:
    paths = {file.path for file in release.build("pico").files}
    here = "snapcurve/probe/"
    ours = {path.removeprefix(here) for path in paths if path.startswith(here)}
    folder = Path(probe.__path__[0])
    theirs = {path.relative_to(folder).with_suffix(".mpy") for path in folder.rglob("*.py")}
    assert ours == {path.as_posix() for path in theirs}
    assert {
        "start.mpy",
        "snapcurve/boards/pico.mpy",
        "snapcurve/boards/peripherals.mpy",
        "snapcurve/wire/codec.mpy",
    } <= paths
    assert not any("desk" in path for path in paths)
    assert catalogue.message_number("maintenance") == 0x10
