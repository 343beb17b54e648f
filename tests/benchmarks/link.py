"""How much of the line a download uses, and what it bears."""

import os
import pty
import subprocess
import sys
import tempfile
import threading
import time
import tty
from collections import Counter
from pathlib import Path

from snapcurve.board.client import Board
from snapcurve.board.download import download
from snapcurve.board.firmware_files import link_into
from snapcurve.board.ports import SerialPort
from snapcurve.errors import LinkError
from snapcurve.simulation.desk_board import DeskBoard, find_micropython

sys.path.append(str(Path(__file__).parents[1] / "wire"))
from curve_maker import record
from damaging_wire import Wire

BAUD = 115_200
LATENCY_MS = 5.0
FOUR_HOURS_S = 4 * 3600
DAMAGED = 300
REPEATS = 5


class Still:
    """Room temperature for ever."""

    def rows(self, now_ms: int) -> list[str]:
        """See Simulator."""
        second = now_ms // 1000
        return [f"{second + ahead},21.0,21.0,0,0" for ahead in range(second > 0, 3)]

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See Simulator."""


def modelled(folder: Path) -> None:
    """The line as a model in virtual time: exact, whatever this computer does meanwhile."""
    for name, seconds in (("four hours", FOUR_HOURS_S), ("20 minutes", 1200)):
        curve = folder / name
        curve.mkdir()
        record(curve, seconds)
        wire = Wire(curve, baud=BAUD, latency_ms=LATENCY_MS)
        board = Board(wire, wire.clock)
        board.hello()
        (row,) = board.curves()
        up, down, begun_s = wire.up.sent, wire.down.sent, wire.clock()
        download(board, row)
        lasted_s = wire.clock() - begun_s
        both = wire.up.sent - up + wire.down.sent - down
        print(
            f"{name}, {row.size} bytes, {BAUD} baud, {LATENCY_MS:.0f} ms each way: "
            f"{row.size / lasted_s / (BAUD / 10) * 100:.1f} % of the line's rate "
            f"(wanted for long ones: 90), {both / row.size:.3f} of the stored bytes on the wire "
            "(wanted: at most 1.08)"
        )


def damaged(folder: Path) -> None:
    """1 % of bytes damaged, dropped or doubled, answers up to 2 s late."""
    curve = folder / "20 minutes"
    raw = (curve / "c00001").read_bytes()
    ends: Counter[str] = Counter()
    longest_s = 0.0
    for seed in range(DAMAGED):
        wire = Wire(curve, seed, 0.0, (0.02, 0.3, 1.0)[seed % 3], 2000.0)
        board = Board(wire, wire.clock)
        board.hello()
        (row,) = board.curves()
        wire.damage.rate = 0.01
        begun_s = wire.clock()
        try:
            ends["exact" if download(board, row) == raw else "WRONG"] += 1
        except LinkError:
            ends["sentence"] += 1
        longest_s = max(longest_s, wire.clock() - begun_s)
    print(f"{DAMAGED} damaged downloads: {dict(ends)}, the longest took {longest_s:.0f} s")


def raw_copy_s(size: int) -> float:
    """The same number of bytes over a pseudo-terminal from one process to another."""
    ours, theirs = pty.openpty()
    tty.setraw(ours)
    tty.setraw(theirs)

    def send() -> None:
        data = bytes(size)
        while data:
            data = data[os.write(ours, data[:4096]) :]

    port = SerialPort(os.ttyname(theirs))
    begun_s = time.perf_counter()
    thread = threading.Thread(target=send)
    thread.start()
    got = 0
    while got < size:
        got += len(port.read())
    lasted_s = time.perf_counter() - begun_s
    thread.join()
    port.close()
    os.close(ours)
    os.close(theirs)
    return lasted_s


def direct(folder: Path) -> None:
    """The desk board's own port: the firmware under MicroPython, no model of a line."""
    from snapcurve.simulation.desk_run import desk_run

    class Bowl(Still):
        """An hour in a bowl."""

        def rows(self, now_ms: int) -> list[str] | None:
            """See Simulator."""
            second = now_ms // 1000
            if second > 3600:
                return None
            return [
                f"{at},{21.0 if at < 5 else 30 + at * 7919 % 23 / 100},21.0,0,"
                f"{int(3580 <= at < 3584)}"
                for at in range(second + (second > 0), second + 60)
            ]

    flash = folder / "flash"
    with desk_run(Bowl(), None, "max", flash) as running:
        running.run()
    with DeskBoard(flash, Still(), "real") as desk:
        board = Board(SerialPort(desk.port))
        board.hello()
        (row,) = board.curves()
        times = []
        for _ in range(REPEATS):
            begun_s = time.perf_counter()
            download(board, row)
            times.append(time.perf_counter() - begun_s)
        board.port.close()
    copies = [raw_copy_s(row.size) for _ in range(REPEATS)]
    print(
        f"direct port, {row.size} bytes: download {min(times) * 1000:.0f} ms "
        f"({row.size / min(times) / 1000:.0f} kB/s), raw copy {min(copies) * 1000:.1f} ms, "
        f"ratio {min(times) / min(copies):.1f}"
    )


def usb_stream(folder: Path) -> None:
    """The boards' own stream, under MicroPython on this computer: garbage, and time as a ratio."""
    micropython = find_micropython()
    if micropython is None:
        print("no MicroPython here: the boards' USB stream is not measured")
        return
    script = Path(__file__).with_name("usb_stream_script.py")
    (folder / script.name).symlink_to(script)
    link_into(folder)
    with (folder / "requests").open("w+b") as requests:
        requests.truncate(16 * 1000)
        done = subprocess.run(
            [micropython, script.name],
            cwd=folder,
            env={**os.environ, "MICROPYPATH": str(folder)},
            stdin=requests,
            capture_output=True,  # standard output is read, as a host reads
            check=True,
        )
    lines = done.stderr.decode().splitlines()
    rows = {name: list(map(int, rest)) for name, *rest in map(str.split, lines)}
    (answer, answer_ns), (request, _), (_, raw_ns) = rows["answer"], rows["request"], rows["raw"]
    print(
        f"USB stream (64-bit MicroPython): garbage {answer} bytes for an answer of 1054, "
        f"{request} for a request of 16; time of an answer {answer_ns / 1000:.0f} us, ratio to "
        f"one raw write {answer_ns / raw_ns:.1f}"
    )


def main(words: list[str]) -> int:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        usb_stream(Path(folder))
        if words == ["usb"]:
            return 0
        modelled(Path(folder))
        damaged(Path(folder))
        direct(Path(folder))
    return 0
