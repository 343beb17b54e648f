"""Files that a person names, read by whoever reads them: the file, or one sentence at once."""

import errno
import os
import signal
from pathlib import Path

import pytest

from snapcurve import couvertures
from snapcurve.analysis.outcome_file import read_outcomes
from snapcurve.errors import RecordError, SnapcurveError
from snapcurve.notebook import day as today
from snapcurve.notebook import pictures
from snapcurve.shown import settings_file as settings
from snapcurve.shown.input_files import read_bytes
from snapcurve.simulation.tape import read_tape

TAPE = b"seconds,probe_c\n0,30\n1,31\n"
OUTCOMES = b"batch,released,gloss\na,yes,no\n"
COUVERTURE = b'name = "T"\nkind = "milk"\nmelt_c = 45\nwork_c = [30, 32]\nnever_above_c = 50\n'
SETTINGS = b'operator = "Ilka Brandner"\n'
TODAY = b'{"2026-11-24": {"place": null, "room_centi_c": 2100, "mass_mg": null, "lots": []}}'

# name of the file, a good one, who reads it
READERS = {
    "tape": ("tape.csv", TAPE, read_tape),
    "outcomes": ("trays.csv", OUTCOMES, read_outcomes),
    "couverture": ("bag.toml", COUVERTURE, lambda path: couvertures.load(str(path), path.parent)),
    "settings": ("settings.toml", SETTINGS, settings.load),
    "today": (today.FILE, TODAY, lambda path: today.load_all(path.parent)),
    "picture": (
        "tray.jpg",
        b"\xff\xd8\xff",
        lambda path: read_bytes(path, "picture", pictures.BYTES_MAX),
    ),
}
TEXTS = [name for name in READERS if name != "picture"]
STUCK_S = 20  # a reader that waits for ever is ended by this, and fails


@pytest.fixture(autouse=True)
def in_time():
    def stuck(*_):
        raise AssertionError("it waits for something that never comes")

    before = signal.signal(signal.SIGALRM, stuck)
    signal.alarm(STUCK_S)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture(params=READERS)
def reader(request, tmp_path):
    """Where the file stands, a good one's bytes, and who reads it."""
    name, good, read = READERS[request.param]
    return tmp_path / name, good, read


def refused(path, read):
    """The one sentence with which ``path`` is refused, and the error."""
    with pytest.raises(SnapcurveError) as caught:
        read(path)
    sentence = str(caught.value)
    assert str(path) in sentence
    assert sentence.isprintable()
    assert len(sentence) < 300 + len(str(path))
    return sentence, caught.value


def test_a_good_file_is_read(reader):
    path, good, read = reader
    path.write_bytes(good)
    read(path)


def test_a_folder_is_refused(reader):
    path, _, read = reader
    path.mkdir()
    assert "folder" in refused(path, read)[0]


def test_a_pipe_is_refused_whether_or_not_somebody_writes_to_it(reader):
    path, good, read = reader
    os.mkfifo(path)
    assert "pipe" in refused(path, read)[0]
    writer = os.open(path, os.O_RDWR)
    os.write(writer, good)
    assert "pipe" in refused(path, read)[0]
    os.close(writer)


def test_a_device_is_refused(reader):
    path, _, read = reader
    path.symlink_to("/dev/null")
    assert "device" in refused(path, read)[0]


def test_a_file_that_is_far_too_large_is_refused_unread(reader):
    path, _, read = reader
    with path.open("wb") as file:
        file.truncate(1 << 40)  # a hole, which takes no room
    assert "too large" in refused(path, read)[0]


def test_a_file_that_grows_while_it_is_read_is_refused(reader, monkeypatch):
    """Its size was looked at before: what is read is counted as well."""
    path, good, read = reader
    with path.open("wb") as file:
        file.truncate(1 << 32)
    real = os.fstat

    def small(number):
        found = list(real(number))
        found[6] = len(good)
        return os.stat_result(found)

    monkeypatch.setattr(os, "fstat", small)
    assert "too large" in refused(path, read)[0]


@pytest.mark.parametrize(
    ("number", "words"), [(errno.EACCES, "permission"), (errno.EIO, "disk"), (errno.ELOOP, "")]
)
def test_a_file_that_the_computer_refuses_is_a_matter_of_records(
    reader, monkeypatch, number, words
):
    """Injected, since the user who runs the tests may be one who can read all."""
    path, good, read = reader
    path.write_bytes(good)
    real = os.open

    def closed(name, *rest, **named):
        if Path(os.fsdecode(name)) == path:
            raise OSError(number, os.strerror(number), str(path))
        return real(name, *rest, **named)

    monkeypatch.setattr(os, "open", closed)
    sentence, error = refused(path, read)
    assert words in sentence
    assert isinstance(error, RecordError)


@pytest.mark.parametrize("name", TEXTS)
def test_a_text_in_another_encoding_is_refused_with_its_line(name, tmp_path):
    file, good, read = READERS[name]
    path = tmp_path / file
    lines = good.splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:-1]) + b"\xe4" + lines[-1])
    sentence, _ = refused(path, read)
    assert f"line {len(lines)}" in sentence
    assert "UTF-8" in sentence


@pytest.mark.parametrize("name", ["tape", "outcomes", "picture"])
def test_a_name_that_is_none_is_the_persons_own_mistake(name, tmp_path):
    _, _, read = READERS[name]
    sentence, error = refused(tmp_path / "none", read)
    assert "There is no" in sentence
    assert error.exit_code == 2
    refused(tmp_path / ("x" * 5000), read)


# --- tables ------------------------------------------------------------------------------

LONG_ROWS = 20_000  # more than a cell of a table may be long, once a quotation mark is open


@pytest.mark.parametrize("rows", [5, LONG_ROWS])
@pytest.mark.parametrize("at", [1, 2, -1])
def test_a_stray_quotation_mark_in_a_tape_is_named_with_its_line(tmp_path, rows, at):
    lines = ["seconds,probe_c"] + [f"{second},30.5" for second in range(rows)]
    line = range(len(lines))[at]
    lines[line] = lines[line].replace(",", ',"')
    path = tmp_path / "tape.csv"
    path.write_text("\n".join(lines) + "\n")
    sentence, _ = refused(path, read_tape)
    assert f"line {line + 1}:" in sentence
    assert "quotation mark" in sentence


@pytest.mark.parametrize("rows", [3, LONG_ROWS])
def test_a_stray_quotation_mark_among_outcomes_is_named_with_its_line(tmp_path, rows):
    lines = ["batch,released,gloss"] + [f"2026-11-24-{row},yes,no" for row in range(rows)]
    lines[2] = '"' + lines[2]
    path = tmp_path / "trays.csv"
    path.write_text("\n".join(lines) + "\n")
    sentence, _ = refused(path, read_outcomes)
    assert "line 3:" in sentence
    assert "quotation mark" in sentence


def test_cells_in_quotation_marks_are_cells(tmp_path):
    path = tmp_path / "tape.csv"
    path.write_text('"seconds","probe_c"\r\n"0","30"\r\n"1","31.5"\r\n')
    assert [row.probe_c for row in read_tape(path)] == [30, 31.5]


def test_an_endless_cell_is_not_repeated_in_full(tmp_path):
    path = tmp_path / "tape.csv"
    path.write_text("seconds,probe_c\n0," + "9" * 5000 + "x\n1,30\n")
    refused(path, read_tape)
    path.write_text("seconds,probe_c\n0," + "9" * 5000 + "\n1,30\n")
    refused(path, read_tape)
    path.write_text("seconds,probe_c,ambient_c,fault\n0,30,21," + "\x1b[31m" * 500 + "\n1,30\n")
    refused(path, read_tape)
    path = tmp_path / "trays.csv"
    path.write_text("batch,released,gloss,bloom_days\na,yes,no," + "9" * 5000 + "\n")
    refused(path, read_outcomes)
