"""The practice bowl that goes on between commands, through the real firmware."""

import json
import re
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pypdfium2 import PdfDocument
from running import Bench

from snapcurve.analysis.filed_batch import judge_batch
from snapcurve.analysis.practice_truth import truth_of
from snapcurve.errors import SnapcurveError
from snapcurve.notebook import open_notebook
from snapcurve.recording.curve import decode
from snapcurve.shown.units import PLAIN
from snapcurve.simulation.desk_board import DeskBoard, find_micropython
from snapcurve.simulation.practice import Practice
from snapcurve.simulation.practice_diary import newest
from snapcurve.simulation.practice_pace import Pace
from snapcurve.simulation.practice_port import PracticeBench, set_out
from snapcurve.simulation.practice_port import bench as the_one
from snapcurve.simulation.practice_process import Bench as PracticeServer
from snapcurve.simulation.practice_setting import Setting, set_out_of
from snapcurve.simulation.rehearsal_port import BOARD_NAME
from snapcurve.wire.curve import parse_block
from tests.patience import LONGEST_S

# (second, word, amount): into molten stock, a handful, a blade dipped, the probe out and in, end.
SCRIPT = (
    (4, "probe-in", None),
    (4, "stir", None),
    (20, "seed", 30),
    (60, "dip", None),
    (60.25, "press", 1),
    (75, "probe-out", None),
    (80.5, "heat", 3),
    (90, "probe-in", None),
    (130, "hold", None),
)
LENGTH_S = 140


@pytest.fixture
def practised(bench: Bench) -> Iterator[Bench]:
    """A computer on which a practice bowl is put away at the end."""
    yield bench
    bench.run("practise", "end")


@pytest.fixture
def here(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    """The same, with this process at the same computer: so the page works."""
    for name, value in bench.environment.items():
        monkeypatch.setenv(name, value)
    yield bench
    found = the_one()
    if found is not None:
        found.end()


def raw_of(bench: Bench) -> bytes:
    """The curve that 'collect' filed."""
    (filed,) = bench.ok_json("collect", "--port", "rehearsal")
    with open_notebook(str(bench.folder / "notebook.db")) as notebook:
        batch = notebook.batch(filed["batch"])
        assert batch.rehearsal
        return notebook.curve_raw(batch.id)


def without_date(raw: bytes) -> bytes:
    """A curve but for the time of day in its head, which is that of the test."""
    _, _, _, _, end = parse_block(raw, 0)
    assert decode(raw).started_unix_ms is not None
    return raw[end:]


def heads(raw: bytes) -> dict[str, Any]:
    """What its head says but for the time of day."""
    curve = decode(raw)
    return {
        "uptime": curve.started_uptime_ms,
        "boot": curve.boot,
        "board": curve.board_id,
        "curve": curve.curve,
        "profile": curve.profile,
        "fitted": curve.fitted,
    }


def test_commands_and_a_program_make_the_same_curve(here: Bench, tmp_path: Path) -> None:
    """Byte for byte, for the same acts at the same times; commands one by one at their time, the
    program all beforehand."""
    here.ok("practise", "start", "milk", "--method", "hold", "--halted", "--room", "20")
    now_s = here.ok_json("practise", "look")["now_s"]
    for at_s, word, amount in SCRIPT:
        if at_s > now_s:
            now_s = here.ok_json("practise", "wait", str(at_s - now_s))["now_s"]
        here.ok("practise", word, *([] if amount is None else [str(amount)]))
    here.ok("practise", "wait", str(LENGTH_S - now_s))
    by_commands = raw_of(here)
    here.ok("practise", "end")

    for name in ("rehearsal/flash", "notebook.db"):
        (here.folder / name).unlink()
    found: PracticeBench = set_out(Setting("milk", "hold", room_c=20.0, halted=True))
    for at_s, word, amount in SCRIPT:
        for _ in range(2):  # as a page resends
            found.act(word.replace("-", "_"), amount, at_s=at_s, once=f"{at_s} {word}")
    look = found.wait(LENGTH_S)
    assert look["waiting"] == 0
    by_program = raw_of(here)

    here.ok("practise", "end")

    # The pace is no matter either.
    for name in ("rehearsal/flash", "notebook.db"):
        (here.folder / name).unlink()
    found = set_out(Setting("milk", "hold", room_c=20.0, halted=True, speed=60.0))
    for at_s, word, amount in SCRIPT:
        found.act(word.replace("-", "_"), amount, at_s=at_s)
    found.go()
    while found.look()["now_s"] < LENGTH_S:
        found.wait(5)
    running = raw_of(here)

    assert len(by_commands) > 300
    assert without_date(running) == without_date(by_commands)
    assert without_date(by_program) == without_date(by_commands)
    assert heads(by_program) == heads(by_commands)
    curve = decode(by_program)
    assert [event.name for event in curve.events if event.kind == "mark"] == ["dip_test"]
    assert {"probe_out", "probe_in"} <= {event.name for event in curve.alarms}

    # What it truly was is found by the curve, and drawn over it.
    with open_notebook(str(here.folder / "notebook.db")) as notebook:
        found, judgement = judge_batch(notebook, "last", PLAIN)
        truth = truth_of(notebook, found.filed, judgement.timeline.joined)
    true_c = {one.at_s: one.chocolate_c for one in truth}
    settled = [
        (at_s, read_c)
        for at_s, read_c in zip(curve.times_s, curve.temperatures_c, strict=True)
        if at_s > 100 and read_c is not None
    ]
    assert len(settled) > 10
    for at_s, read_c in settled:
        near_c = min(true_c.items(), key=lambda one: abs(one[0] - at_s))[1]
        assert read_c == pytest.approx(near_c, abs=0.6)
    here.ok("show", "last", "--chart", str(tmp_path / "truth.svg"))
    here.ok("sheet", "last", "-o", str(tmp_path / "truth.pdf"))
    with PdfDocument(tmp_path / "truth.pdf") as pdf:
        sheet = pdf[0].get_textpage().get_text_range()
    for drawn in ((tmp_path / "truth.svg").read_text(), sheet):
        for said in ("what the practice bowl truly was", "melted", "crystals", "in temper"):
            assert said in " ".join(drawn.split())
    (diary,) = (here.folder / "rehearsal" / "diaries").iterdir()
    diary.write_text(diary.read_text().replace('"alarm":"reached"', '"alarm":"near"'))
    with open_notebook(str(here.folder / "notebook.db")) as notebook:
        # of another bowl
        assert truth_of(notebook, found.filed, judgement.timeline.joined) == []
    here.ok("show", "last", "--chart", str(tmp_path / "other.svg"))
    assert "truly" not in (tmp_path / "other.svg").read_text()


def test_a_bowl_goes_on_between_commands(practised: Bench) -> None:
    bench = practised
    assert "'snapcurve practise start milk' sets one out" in bench.refused("practise", "look")
    said = bench.ok("practise", "start", "dark", "--method", "hold", "--times", "60")
    assert "its profile by hold on the board" in said
    assert "put it away" not in said
    assert "set out already" in bench.refused("practise", "start", "milk")
    assert "Metal in a microwave oven arcs" in (
        bench.ok("practise", "probe-in") and bench.refused("practise", "heat", "10")
    )
    assert json.loads(bench.ok("practise", "stir", "--json"))["stirring"]
    (found,) = bench.ok_json("probe", "--port", "rehearsal")["boards"]
    assert found["profile"] == "Dark couverture by hold"
    bench.ok("practise", "wait", "60")
    seen = bench.ok("watch", "--port", "rehearsal", "--seconds", "0.4").splitlines()
    assert "recording" in seen[-1]
    assert "next phase" not in bench.ok("mark", "dip", "--port", "rehearsal")
    assert "reads" in bench.ok(
        *("rescue", "dark", "--mass", "1kg", "--showed", "mark", "--port", "rehearsal", "--json")
    ).replace("reads_c", "reads")
    bench.ok("practise", "hold")
    bench.ok("practise", "wait", "5")
    bench.ok("lot", "today", "dark couverture", "DK-20")
    (filed,) = bench.ok_json("collect", "--port", "rehearsal")
    # marked, and in no list, trace or proposal unless it is asked for
    assert bench.ok_json("batches") == []
    assert bench.ok_json("trace", "DK-20")["forward"] == []
    assert filed["batch"] in bench.ok("show", filed["batch"])
    assert bench.ok_json("batches", "--rehearsals")[0]["batch"] == filed["batch"]
    assert "is put away" in bench.ok("practise", "end")
    assert "No practice bowl" in bench.refused("practise", "look")


def test_the_days_command_works_on_the_bowl(here: Bench) -> None:
    """`temper` runs in one window while hands act in another; the account knows what the learner
    called the blade."""
    found = set_out(Setting(lesson="too-little-seed", halted=True))
    process = here.start("temper", "dark", "--method", "hold", "--port", "rehearsal")
    assert process.stdout is not None
    for line in process.stdout:
        if line.startswith("Put the probe into"):
            break
    shown: list[str] = []
    reader = threading.Thread(target=lambda: shown.extend(process.stdout or []), daemon=True)
    reader.start()
    found.act("probe_in")
    look = found.act("stir")
    for after_s in (60, 130, 200, 270, 340):  # else it falls out of its window, and that sounds
        found.act("hot_air", 6, at_s=look["now_s"] + after_s)
    found.wait(40)
    found.act("dip")
    found.act("press")
    look = found.wait(310)
    assert [one["alarm"] for one in look["heard"]][-2:] == ["test_early", "test_due"]
    found.act("press")  # "it set without a mark", which it did not
    found.wait(5)
    found.act("hold")
    end_s = time.monotonic() + LONGEST_S
    while process.poll() is None and time.monotonic() < end_s:
        found.wait(2)
        time.sleep(0.05)
    reader.join(LONGEST_S)
    assert process.returncode == 0
    assert any(line.startswith("Curve 1: batch") for line in shown)
    said = here.ok_json("practise", "account")
    wrong = " ".join(one["text"] for one in said["findings"] if not one["right"])
    assert re.search(r"You told the board of .*: set, no mark\. Truly it set after 6:", wrong)
    assert "You stirred in no seed" in wrong


def test_the_board_comes_back_after_its_plug_was_pulled(here: Bench) -> None:
    found = set_out(Setting("milk", "hold", halted=True))
    found.act("probe_in", at_s=3)
    found.act("stir", at_s=3)
    found.wait(90)
    found.replug()
    look = found.wait(60)
    assert "resumed" not in [one["alarm"] for one in look["heard"]]  # it is played, no alarm
    (board,) = here.ok_json("probe", "--port", "rehearsal")["boards"]
    assert board["boot"] == 2
    found.act("hold")
    found.wait(5)
    filed = here.ok_json("collect", "--port", "rehearsal")
    assert len(filed) == 2
    with open_notebook(str(here.folder / "notebook.db")) as notebook:
        raws = [notebook.curve_raw(notebook.batch(one["batch"]).id) for one in filed]
        whole, judgement = judge_batch(notebook, filed[0]["batch"], PLAIN)
        joined = judgement.timeline.joined
        truth = truth_of(notebook, whole.filed, joined)
    assert decode(raws[1]).continues == 1
    # What it truly was goes on behind the hole, where the chocolate was read.
    assert len(joined.offsets_s) == 2
    behind = [one for one in truth if one.at_s > joined.offsets_s[1] + 30]
    assert len(behind) > 10
    read_c = dict(zip(joined.curve.times_s, joined.curve.temperatures_c, strict=True))
    for one in behind:
        near_s = min(read_c, key=lambda at_s: abs(at_s - one.at_s))
        assert one.chocolate_c == pytest.approx(read_c[near_s], abs=0.6)
        assert 0 < one.crystals_share < 0.2
        assert 0.8 < one.melted_share < 1


@pytest.mark.skipif(find_micropython() is None, reason="under CPython a board is started once")
@pytest.mark.parametrize("reset", [True, False])
def test_a_board_that_restarts_by_itself_stands_in_the_diary(
    here: Bench, monkeypatch: pytest.MonkeyPatch, reset: bool
) -> None:
    """A watchdog asks nobody: the bench learns of the start from the board's own."""
    monkeypatch.setenv("SNAPCURVE_FOLDER", str(here.folder))
    out = set_out_of(Setting("milk", "hold"), PLAIN)
    practice = Practice(out.couverture, out.state)
    pace = Pace(practice, 60.0, False)
    with DeskBoard(here.folder / "flash", pace, "max", board=BOARD_NAME, keep=True) as desk:
        bench = PracticeServer(out, desk, practice, pace)
        pace.wait(20)
        desk.restart(reset)
        pace.wait(20)
        with desk.answering() as board:
            boot = board.greeting.boot
        bench.keep()
        pace.close()
    diary = newest()
    assert diary is not None
    assert [one for one, _ in diary.starts] == [boot - 1, boot]
    # Time runs on while the new start comes up: on a busy machine more of it.
    assert 20 <= diary.starts[1][1] < practice.now_ms / 1000


def test_what_is_wrong_is_said_before_anything_starts(bench: Bench) -> None:
    for words, said in (
        (("start", "mlik"), "did you mean milk"),
        (("start", "milk", "--times", "100"), "1 to 60"),
        (("start", "milk", "--mass", "20kg"), "200 g to 8000 g in the bowl"),
        (("start", "milk", "--method", "cup"), "A cup needs no bowl"),
        (("lesson", "watter"), "did you mean water"),
        (("stirr",), "did you mean stir"),
        (("heat",), "No practice bowl"),
    ):
        assert said in bench.refused("practise", *words), words
    assert not (bench.folder / "rehearsal" / "bench.json").exists()


def test_a_stranger_without_the_key_is_not_heard(here: Bench) -> None:
    found = set_out(Setting("milk", halted=True))
    state = json.loads((here.folder / "rehearsal" / "bench.json").read_text())
    assert (here.folder / "rehearsal" / "bench.json").stat().st_mode & 0o077 == 0
    with pytest.raises(SnapcurveError, match="put away"):
        PracticeBench({**state, "key": "00" * 32}).act("stir")
    assert not found.look()["stirring"]


def test_without_micropython_the_bowl_goes_on_as_well(
    here: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The board takes one connection after the other, on a socket."""
    monkeypatch.setenv("SNAPCURVE_DESK", "cpython")
    found = set_out(Setting("milk", "hold", halted=True))
    assert found.port.startswith("socket://")
    found.act("probe_in", at_s=3)
    for _ in range(2):
        (board,) = here.ok_json("probe", "--port", "rehearsal")["boards"]
        assert board["profile"] == "Milk couverture by hold"
    found.wait(30)
    found.act("hold")
    found.wait(5)
    assert len(here.ok_json("collect", "--port", "rehearsal")) == 1
    with pytest.raises(SnapcurveError, match="Without MicroPython"):
        found.replug()
