"""What the documents promise is there."""

import re
from pathlib import Path

import pytest
from running import Bench

from snapcurve.cli import ABOUT, COMMANDS

TOP = Path(__file__).resolve().parents[2]
README = (TOP / "README.md").read_text(encoding="utf-8")
LAYOUT = {
    "README.md",
    "DEVELOPERS.md",
    "firmware",
    "host",
    "protocol",
    "tests",
    "hardware",
    "pyproject.toml",
    "LICENSE",
    "CHANGELOG.md",
}
MADE_HERE = {"dist", "build"}


def test_the_top_level_is_what_the_design_says() -> None:
    names = {path.name for path in TOP.iterdir() if not path.name.startswith(".")}
    assert names - MADE_HERE == LAYOUT


@pytest.mark.parametrize("name", [*ABOUT])
def test_every_command_is_in_the_readme_and_explains_itself(bench: Bench, name: str) -> None:
    assert f"snapcurve {name}" in README
    out = bench.ok(name, "--help")
    assert f"usage: snapcurve {name}" in out
    assert "Example:" in out


def test_the_readme_opens_with_the_job_and_two_commands() -> None:
    blocks = re.findall(r"```sh\n(.*?)```", README, re.S)
    assert "snapcurve rehearse milk" in blocks[0]
    assert "pytest" in blocks[1]
    # One paragraph before the first command, then nothing but the commands' own lines.
    before = README.split("```sh")[0].strip().split("\n\n")
    assert before[0] == "# snapcurve"
    assert len(before) == 3


def test_the_help_fits_a_screen_under_headings(bench: Bench) -> None:
    lines = bench.ok("--help").splitlines()
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 88
    for heading, rows in COMMANDS:
        assert f"{heading}:" in lines
        for name, line, _ in rows:
            assert f"  {name:<12} {line}" in lines
    assert len(ABOUT) <= 28


def test_a_word_that_is_nearly_right_is_named(bench: Bench) -> None:
    assert "did you mean plan?" in bench.refused("plna")
    assert "'snapcurve --help' lists them" in bench.refused("xyzzy")
    done = bench.run("show", "last", "--chrat", "x.png")
    assert done.returncode == 2
    assert "did you mean --chart?" in done.stderr


def test_help_imports_nothing_heavy(bench: Bench) -> None:
    code = (
        "import sys, snapcurve.cli\n"
        "try:\n snapcurve.cli.main(['--help'])\nexcept SystemExit:\n pass\n"
        "heavy = {'matplotlib', 'sqlalchemy', 'construct', 'serial', 'alembic', 'numpy'}\n"
        "print('HEAVY', sorted(heavy & set(sys.modules)))"
    )
    import subprocess
    import sys

    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.splitlines()[-1] == "HEAVY []"
