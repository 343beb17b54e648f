"""The practice bowl by the page's buttons, and the same bowl by a program: one curve."""

import json
from pathlib import Path

from page_client import page
from running import Bench
from test_practice_bench import LENGTH_S, SCRIPT, heads, here, raw_of, without_date  # noqa: F401

from snapcurve.notebook import open_notebook
from snapcurve.recording.curve import decode
from snapcurve.simulation.practice_port import set_out
from snapcurve.simulation.practice_setting import Setting

SETTING = Setting("milk", "hold", room_c=20.0, halted=True)


def by_page(bench: Bench) -> bytes:
    """The curve of the script's acts posted as the page's buttons post them, time let pass between
    them, and collected by the page too."""
    found = set_out(SETTING)
    now_s = found.look()["now_s"]
    with page(bench, "--port", "rehearsal") as one:
        one.until("1.phase", "Milk")  # it reads the board while the bowl is worked
        for step, (at_s, word, amount) in enumerate(SCRIPT):
            if at_s > now_s:
                now_s = found.wait(at_s - now_s)["now_s"]
            form = {"act": word.replace("-", "_"), "amount": amount or "", "once": f"{step}"}
            for _ in range(2):  # as a page resends
                status, said = one.ask("/practise/act", form)
                assert status == 200
                assert json.loads(said)["done"], said
        found.wait(LENGTH_S - now_s)
        status, said = one.send("/after/collect", {"bench": "1"})
        assert status == 200
        assert "Curve 1: batch" in said
        found.end()
    with open_notebook(str(bench.folder / "notebook.db")) as notebook:
        batch = notebook.batch("last")
        assert batch.rehearsal
        return notebook.curve_raw(batch.id)


def by_program(bench: Bench) -> bytes:
    """The same acts at the same times, all given beforehand to a bench nobody looks at."""
    found = set_out(SETTING)
    for at_s, word, amount in SCRIPT:
        found.act(word.replace("-", "_"), amount, at_s=at_s)
    assert found.wait(LENGTH_S)["waiting"] == 0
    raw = raw_of(bench)
    found.end()
    return raw


def test_page_and_program_make_the_same_curve(here: Bench) -> None:  # noqa: F811
    """Byte for byte but for the date: the page adds nothing to the bowl and takes nothing away,
    though it reads the board all the while."""
    pressed = by_page(here)
    for name in ("rehearsal/flash", "notebook.db"):
        Path(here.folder / name).unlink()
    program = by_program(here)

    assert len(pressed) > 300
    assert without_date(pressed) == without_date(program)
    assert heads(pressed) == heads(program)
    curve = decode(pressed)
    assert [event.name for event in curve.events if event.kind == "mark"] == ["dip_test"]
    assert {"probe_out", "probe_in"} <= {event.name for event in curve.alarms}
