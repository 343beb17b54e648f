"""host/examples/ and the sessions that the README shows do what they say."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from boards_with_curves import standing
from running import Bench
from snapcurve.simulation.desk_session import session

from snapcurve.couvertures import load
from snapcurve.couvertures.profile import compile_profile
from snapcurve.simulation.rehearsal import demonstration
from tests.patience import LONGEST_S

TOP = Path(__file__).resolve().parents[2]
EXAMPLES = TOP / "host" / "examples"
SESSIONS = re.findall(
    r"^```\n\$ (snapcurve .*?)\n(.*?)^```", (TOP / "README.md").read_text("utf-8"), re.M | re.S
)


def run(name: str, port: str) -> str:
    done = subprocess.run(
        [sys.executable, EXAMPLES / name, port],
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_a_board_is_read_live(tmp_path: Path) -> None:
    with standing(tmp_path / "flash") as desk:
        out = run("live.py", desk.port)
    assert out.startswith("desk, firmware ")
    assert len(re.findall(r"^ *[\d.]+ s +2[01]\.\d\d °C$", out, re.M)) >= 5


def test_a_curve_is_downloaded(tmp_path: Path) -> None:
    milk = compile_profile(load("milk", tmp_path), "seeding")
    with session(demonstration(), milk, "max", tmp_path / "flash", "1") as running:
        running.run()
        running.board.port.close()
        out = run("curve.py", running.desk.port)
    assert re.match(r"curve 1: \d{3,} readings, highest 4\d\.\d\d °C\n", out)
    assert "mark dip_test" in out


def test_the_couverture_file_is_one(bench: Bench) -> None:
    out = bench.ok("couvertures", str(EXAMPLES / "house-dark.toml"))
    assert "House dark, lot 12: melt 48, cool 28, work 31 to 32, never above 55 °C" in out


@pytest.mark.parametrize(("command", "shown"), SESSIONS, ids=[one[0] for one in SESSIONS])
def test_a_session_in_the_readme_is_true(bench: Bench, command: str, shown: str) -> None:
    assert bench.ok(*command.split()[1:]).startswith(shown)


def test_that_there_are_sessions() -> None:
    assert SESSIONS
