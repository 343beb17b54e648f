"""main.py: silent however it ends, one reason kept for each failure, and a way back."""

import gc
import runpy
import sys
import types

import pytest
from board_fakes import Beeper, Clock

from snapcurve import boards
from snapcurve.board.firmware_files import main_file
from snapcurve.probe import crashes
from snapcurve.probe.store import Store

MAIN = main_file()


class Stop(BaseException):
    """No Exception: nothing of ours."""


def run_main(monkeypatch, root, stop, pressed=lambda _ms: False):
    """Run main.py on a board whose app is stopped by ``stop`` while a tone sounds, and whose
    button is down where ``pressed(ms)`` says so; the beeper and what happened, in order."""
    clock = Clock(first_tick=(1 << 30) - 500)
    beeper = Beeper(clock.now)
    seen = []

    class FakeParts:
        store_root = str(root)
        ticks_ms = staticmethod(clock.ticks_ms)
        tick_period = clock.period
        sleep_ms = staticmethod(clock.sleep_ms)

        def __init__(self, _argv):
            self.beeper = beeper

        def pressed(self):
            return pressed(clock.ms)

        def leave(self):
            seen.append("left")

    class FakeApp:
        def __init__(self, parts):
            self._beeper = parts.beeper
            self.recorder = types.SimpleNamespace(rescue=lambda: seen.append("rescued"))

        def start(self):
            self._beeper.tone(1000)

        def run(self):
            raise stop

    board = types.SimpleNamespace(
        Parts=FakeParts, died=lambda error: seen.append((error, beeper.hz))
    )
    micropython = types.SimpleNamespace(kbd_intr=seen.append)
    monkeypatch.setitem(sys.modules, "micropython", micropython)
    monkeypatch.setitem(sys.modules, "snapcurve.boards.fake", board)
    monkeypatch.setattr(boards, "name_of", lambda _machine: "fake")
    monkeypatch.setattr("snapcurve.probe.app.App", FakeApp)
    monkeypatch.setattr("builtins.__import__", _import_of(board))
    monkeypatch.setattr(gc, "collect", lambda: 0)  # main.py's, many times: slow in a test
    if isinstance(stop, (Exception, KeyboardInterrupt)):
        runpy.run_path(str(MAIN), run_name="__main__")
    else:
        with pytest.raises(type(stop)):
            runpy.run_path(str(MAIN), run_name="__main__")
    return beeper, seen


def _import_of(board):
    real = __import__

    def fake(name, *rest):
        return board if name == "snapcurve.boards.fake" else real(name, *rest)

    return fake


@pytest.mark.parametrize("stop", [RuntimeError("x"), MemoryError(), OSError(5)])
def test_a_firmware_that_fails_is_silent_before_it_restarts(monkeypatch, tmp_path, stop):
    """The restart waits a moment and never comes back: silence must come first, and what
    the curve has not on flash yet, and the reason."""
    beeper, seen = run_main(monkeypatch, tmp_path, stop)
    assert seen[:3] == [-1, "rescued", (stop, 0)]
    assert beeper.hz == 0
    boot, count, reason = crashes.last(Store(str(tmp_path)))
    assert (boot, count) == (0, 1)
    assert reason.decode().startswith(f"{type(stop).__name__}: {stop} at test_main.py:")
    assert reason.decode().split(" < ")[0].endswith(" run")


@pytest.mark.parametrize("stop", [SystemExit(0), Stop()])
def test_any_other_end_is_silent_too(monkeypatch, tmp_path, stop):
    beeper, seen = run_main(monkeypatch, tmp_path, stop)
    assert seen == [-1]
    assert beeper.hz == 0
    assert crashes.last(Store(str(tmp_path))) == (0, 0, b"")


def test_asked_for_the_prompt_it_gives_it(monkeypatch, tmp_path):
    """No restart and no record; the watchdog is stopped, the interrupt character is back."""
    beeper, seen = run_main(monkeypatch, tmp_path, KeyboardInterrupt())
    assert seen == [-1, "left", 3]
    assert beeper.hz == 0
    assert crashes.last(Store(str(tmp_path))) == (0, 0, b"")


@pytest.mark.parametrize("held_ms", [200, 1000, 2000])
@pytest.mark.parametrize("apart_ms", [320, 1000, 1400])
def test_two_presses_at_the_start_give_the_prompt(monkeypatch, tmp_path, held_ms, apart_ms):
    """The light shows when it may be let go and pressed again; nothing sounds."""
    again_ms = held_ms + apart_ms
    beeper, seen = run_main(
        monkeypatch,
        tmp_path,
        RuntimeError("never run"),
        lambda ms: ms < held_ms or again_ms <= ms < again_ms + 200,
    )
    assert seen == [-1, "left", 3]
    (on_ms, _), (off_ms, hz) = beeper.log
    assert on_ms <= 150
    assert again_ms <= off_ms <= again_ms + 200
    assert hz == beeper.volume == 0


def bounces(ms, edge_ms):
    """Contacts that open and close for a tenth of a second after ``edge_ms``."""
    return 0 <= ms - edge_ms < 100 and ms // 20 % 2 == 0


STICKY = {
    "a spark": lambda ms: ms < 20,
    "a longer spark": lambda ms: ms < 60,
    "for a second": lambda ms: ms < 1000,
    "for five seconds": lambda ms: ms < 5000,
    "for ever": lambda ms: True,
    "for ever, bouncing": lambda ms: ms // 40 % 2 == 0,
    "for a second, bouncing": lambda ms: ms < 1000 or bounces(ms, 1000),
    "comes free and sparks": lambda ms: ms < 1000 or 1500 <= ms < 1560,
    "pressed again too late": lambda ms: ms < 1000 or 2600 <= ms < 3000,
}


@pytest.mark.parametrize("down", STICKY.values(), ids=STICKY)
def test_a_button_that_sticks_or_sparks_gives_none(monkeypatch, tmp_path, down):
    stop = RuntimeError("run")
    beeper, seen = run_main(monkeypatch, tmp_path, stop, down)
    assert seen[:3] == [-1, "rescued", (stop, 0)]
    assert [hz for _, hz in beeper.log][-2:] == [1000, 0]
    assert beeper.log[-2][0] <= 4100, "a batch must be guided again soon"


def test_a_failure_while_the_reason_is_kept_changes_nothing(monkeypatch, tmp_path):
    stop = RuntimeError("x")
    root = tmp_path / "missing"  # the flash cannot be written
    beeper, seen = run_main(monkeypatch, root, stop)
    assert seen[:3] == [-1, "rescued", (stop, 0)]
    assert beeper.hz == 0


def test_the_interrupt_character_is_off_before_anything_else():
    """A 0x03 in a frame would stop the program; the interpreter switches it on for main.py."""
    statements = [line for line in MAIN.read_text().splitlines() if line and line[0] not in '"# ']
    assert statements[:2] == ["import micropython", "micropython.kbd_intr(-1)"]


# --- the record -----------------------------------------------------------------------


def failing(depth, text):
    if depth:
        return failing(depth - 1, text)
    raise ValueError(text)


def test_a_reason_is_bounded_and_names_the_innermost_place_first(tmp_path):
    with pytest.raises(ValueError, match="é") as caught:
        failing(30, "é" * 300)
    crashes.record(str(tmp_path), crashes.describe(caught.value))
    boot, count, reason = crashes.last(Store(str(tmp_path)))
    assert (boot, count) == (0, 1)
    assert len(reason) <= 160
    with pytest.raises(ValueError, match="short") as caught:
        failing(3, "short")
    reason = crashes.describe(caught.value)
    assert reason.startswith("ValueError: short at test_main.py:")
    assert reason.count(" failing") == 4


def test_the_newest_reason_is_kept_with_its_start_and_the_number_of_failures(tmp_path):
    root = str(tmp_path)
    store = Store(root)
    store.start()
    crashes.record(root, "first")
    store = Store(root)
    store.start()
    crashes.record(root, "second")
    assert crashes.last(store) == (2, 2, b"second")
    Store(root).start()
    assert Store(root).counted() == 3, "keeping a reason must not touch the counters"


def test_a_damaged_record_is_none(tmp_path):
    crashes.record(str(tmp_path), "x")
    path = tmp_path / crashes.NAME
    raw = path.read_bytes()
    for at in range(len(raw)):
        path.write_bytes(raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :])
        assert crashes.last(Store(str(tmp_path))) == (0, 0, b"")
        path.write_bytes(raw[:at])
        assert crashes.last(Store(str(tmp_path))) == (0, 0, b"")
