"""Charts as files: the three formats, and what happens when one cannot be written."""

import errno
import io
import os
import re
import subprocess
import sys
from xml.etree import ElementTree

import pytest
from chart_samples import plain, recorded

from snapcurve.errors import SnapcurveError
from snapcurve.recording.timeline import timeline_of
from snapcurve.report.batch_chart import batch_chart
from snapcurve.shown.whole_files import write_whole

WHOLE = timeline_of(recorded())
TITLE = "Batch 7 <&> 50 % of $20, Häller & Sohn"
STARTS = {"png": b"\x89PNG\r\n\x1a\n", "svg": b"<?xml", "pdf": b"%PDF-"}


@pytest.fixture(scope="module")
def charts(tmp_path_factory):
    folder = tmp_path_factory.mktemp("charts")
    return {
        kind: batch_chart(WHOLE, TITLE, folder / f"chart.{kind.upper()}").read_bytes()
        for kind in STARTS
    }


@pytest.mark.parametrize("kind", STARTS)
def test_the_ending_chooses_the_format(charts, kind):
    assert charts[kind].startswith(STARTS[kind])


def test_svg_keeps_its_text_and_names_no_date(charts):
    text = charts["svg"].decode()
    words = re.findall(r"<text[^>]*>([^<]*)</text>", text)
    assert TITLE.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;") in words
    for expected in ("reached", "working window 31 to 32 °C", "°C", "°F", "minutes", "probe out"):
        assert expected in words
    assert "<dc:date>" not in text


def test_pdf_carries_its_fonts_as_outlines(charts):
    assert b"/FontFile2" in charts["pdf"]  # TrueType, whole
    assert b"/Type3" not in charts["pdf"]
    assert b"/CreationDate" not in charts["pdf"]


def test_pdf_is_a4_on_its_long_side(charts):
    (box,) = re.findall(rb"/MediaBox \[ 0 0 ([0-9.]+) ([0-9.]+) \]", charts["pdf"])
    assert float(box[0]) * 25.4 / 72 == pytest.approx(297, abs=0.1)  # ISO 216
    assert float(box[1]) * 25.4 / 72 == pytest.approx(210, abs=0.1)


@pytest.mark.parametrize("kind", ["svg", "pdf", "png"])
def test_the_same_chart_is_the_same_file(charts, kind, tmp_path):
    again = batch_chart(WHOLE, TITLE, tmp_path / f"chart.{kind}")
    assert again.read_bytes() == charts[kind]


def test_nothing_touches_the_edge_of_the_picture(charts):
    from PIL import Image

    with Image.open(io.BytesIO(charts["png"])) as picture:
        grey = picture.convert("L")
    margin = 15  # pixels of 1/150 inch
    width, height = grey.size
    for box in (
        (0, 0, width, margin),
        (0, height - margin, width, height),
        (0, 0, margin, height),
        (width - margin, 0, width, height),
    ):
        assert grey.crop(box).getextrema() == (255, 255)


@pytest.mark.parametrize("values", [[31.0], [None] * 30, [31.0] * 5, [31.0, None, 85.0] * 9])
def test_scanty_curves_are_drawn(values, tmp_path):
    path = batch_chart(timeline_of(plain(values)), "Batch 8", tmp_path / "scanty.svg")
    assert b"Batch 8" in path.read_bytes()


@pytest.mark.parametrize("kind", STARTS)
def test_odd_characters_spoil_no_file(kind, tmp_path):
    odd = "bell\x07 tab\t line\n null\x00 half\udc80 日本 $_{x"
    path = batch_chart(
        timeline_of(plain([31.0] * 5)), odd, tmp_path / f"odd.{kind}", uncertainty=odd
    )
    assert path.read_bytes().startswith(STARTS[kind])
    if kind == "svg":
        words = {"".join(element.itertext()).strip() for element in ElementTree.parse(path).iter()}
        assert "bell tab line null half 日本 $_{x" in words


@pytest.mark.parametrize("name", ["chart.jpg", "chart", "chart.", ".png.bak"])
def test_an_unknown_ending_is_a_sentence(name, tmp_path):
    with pytest.raises(SnapcurveError, match=r"let its name end in \.png, \.svg, \.pdf\.$"):
        batch_chart(WHOLE, TITLE, tmp_path / name)


def test_an_unknown_paper_is_a_sentence(tmp_path):
    with pytest.raises(SnapcurveError, match="no paper 'b7' here: choose one of a4"):
        batch_chart(WHOLE, TITLE, tmp_path / "chart.png", paper="b7")


def _is_sentence_about(error, path):
    message = str(error)
    assert str(path) in message
    assert "\n" not in message


def test_a_missing_folder_is_a_sentence(tmp_path):
    path = tmp_path / "nowhere" / "chart.svg"
    with pytest.raises(SnapcurveError, match="no such file or folder") as caught:
        batch_chart(WHOLE, TITLE, path)
    _is_sentence_about(caught.value, path)


def test_a_folder_of_that_name_is_a_sentence(tmp_path):
    path = tmp_path / "chart.svg"
    path.mkdir()
    with pytest.raises(SnapcurveError, match="it is a folder") as caught:
        batch_chart(WHOLE, TITLE, path)
    _is_sentence_about(caught.value, path)
    assert list(tmp_path.iterdir()) == [path]


def test_a_disk_that_fills_up_leaves_the_old_chart(tmp_path, monkeypatch):
    """ENOSPC as a file system reports it late: when what was written is flushed to it."""
    path = tmp_path / "chart.png"
    path.write_bytes(b"the old chart")

    def full(descriptor):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SnapcurveError, match="the disk is full; free some space") as caught:
        batch_chart(WHOLE, TITLE, path)
    _is_sentence_about(caught.value, path)
    assert path.read_bytes() == b"the old chart"
    assert list(tmp_path.iterdir()) == [path]


def test_a_write_the_system_cuts_short_leaves_the_old_chart(tmp_path):
    """A real refused write: the process may write no file longer than 4 KiB."""
    path = tmp_path / "chart.png"
    path.write_bytes(b"the old chart")
    program = (
        "import resource, signal, sys\n"
        "from pathlib import Path\n"
        "from snapcurve.shown.whole_files import write_whole\n"
        "from snapcurve.errors import SnapcurveError\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))\n"
        "try:\n"
        "    write_whole(Path(sys.argv[1]), bytes(100_000))\n"
        "except SnapcurveError as error:\n"
        "    sys.exit(str(error))\n"
    )
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run(
        [sys.executable, "-c", program, str(path)],
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )
    assert done.returncode == 1
    assert done.stderr.strip() == (
        f"Cannot write the chart {path}: the file may not grow so large here; "
        "choose another place."
    )
    assert path.read_bytes() == b"the old chart"
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_keeps_pointing_where_it_points(tmp_path):
    target = tmp_path / "real.svg"
    target.write_bytes(b"old")
    link = tmp_path / "link.svg"
    link.symlink_to(target)
    write_whole(link, b"new")
    assert link.is_symlink()
    assert target.read_bytes() == b"new"


def test_what_a_crash_leaves_is_never_taken_for_a_chart(tmp_path, monkeypatch):
    seen = []

    def looking(source, target):
        seen.append((os.fspath(source), os.path.getsize(source)))
        os.rename(source, target)

    monkeypatch.setattr(os, "replace", looking)
    write_whole(tmp_path / "chart.pdf", b"whole")
    ((name, size),) = seen
    assert os.path.dirname(name) == str(tmp_path.resolve())
    assert name.endswith(".part")
    assert size == len(b"whole")


def test_drawing_does_not_load_pyplot():
    # In a process of its own: other packages that tests use may load pyplot themselves.
    program = (
        "import sys, snapcurve.report.batch_chart\n"
        "sys.exit('matplotlib' not in sys.modules or 'matplotlib.pyplot' in sys.modules)"
    )
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run([sys.executable, "-c", program], env=environment, check=False)
    assert done.returncode == 0
