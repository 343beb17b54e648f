"""protocol/README.md says what the catalogue says, and its examples are true."""

import re

import pytest
import vector_files
from vector_files import unhex

import readme_tables
from markdown_tables import MarkerError
from readme_tables import README, fill
from snapcurve.probe import recorder, requests
from snapcurve.wire import catalogue

TEXT = README.read_text(encoding="utf-8")


def test_that_the_tables_are_those_of_the_catalogue():
    assert fill(TEXT) == TEXT, "run: python protocol/readme_tables.py"


def test_that_a_changed_catalogue_is_noticed(monkeypatch):
    rows = [
        (number, name, (*record, ("more", "B")) if name == "hello_answer" else record)
        for number, name, record in catalogue.MESSAGES
    ]
    monkeypatch.setattr(catalogue, "MESSAGES", rows)
    assert fill(TEXT) != TEXT


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("<!-- table error -->", ""),
        ("<!-- end error -->", ""),
        ("<!-- table error -->", "<!-- table eror -->"),
        ("<!-- end error -->", "<!-- end error -->\n<!-- table more -->"),
        ("<!-- end error -->", "<!-- end error -->\n<!-- table error -->\n<!-- end error -->"),
    ],
)
def test_that_a_wrong_marker_is_noticed(old, new):
    with pytest.raises(MarkerError):
        fill(TEXT.replace(old, new))


def test_that_the_command_writes_the_tables(tmp_path, monkeypatch):
    copy = tmp_path / "README.md"
    copy.write_text(re.sub(r"(<!-- table error -->)(.|\n)*(<!-- end error -->)", r"\1\3", TEXT))
    monkeypatch.setattr(readme_tables, "README", copy)
    assert readme_tables.main() == 0
    assert copy.read_text(encoding="utf-8") == TEXT
    copy.write_text("nothing")
    assert readme_tables.main() == 1
    assert copy.read_text() == "nothing"


def test_that_every_message_and_error_is_explained():
    for number, name, _ in catalogue.MESSAGES:
        if number < catalogue.ANSWER or name == "error":
            assert re.search(rf"^### .*`{name}`", TEXT, re.MULTILINE), name
    for code in catalogue.ERROR_CODES:
        assert f"- `{code}`: " in TEXT, code


def test_that_the_links_lead_somewhere():
    links = re.findall(r"\]\(([^)#]+)\)", TEXT)
    assert len(links) >= 5
    for link in links:
        assert (README.parent / link).exists(), link


def test_that_the_worked_example_is_the_vector():
    row = next(row for row in vector_files.rows("blocks.txt") if row[0] == "data")
    example = TEXT[TEXT.index("The whole block") :]
    parts = re.findall(r"^\| `([0-9A-F ]+)` \|", example, re.MULTILINE)
    assert unhex(" ".join(parts)) == unhex(row[3])
    table = TEXT[TEXT.index("**Worked example**") : TEXT.index("The whole block")]
    stream = "".join(re.findall(r"\| `([01 ]+)` \|$", table, re.MULTILINE)).replace(" ", "")
    assert f"{int(stream.ljust(16, '0'), 2):04X}" == "6A70"


def test_that_the_example_frame_is_a_vector():
    lines = [row[1] for row in vector_files.rows("frames.txt")]
    line = re.search(r"on\s+the\s+line\s+stands\s+`([0-9A-F ]+)`", TEXT)
    assert line[1] in lines


def test_that_the_limits_of_requests_are_the_boards():
    said = re.search(r"each `interval_ms`, (\d+) to (\d+)", TEXT)
    assert (int(said[1]), int(said[2])) == (requests._LIVE_MIN_MS, requests._LIVE_MAX_MS)
    assert requests._TOKENS == 8
    assert "among its last eight" in TEXT


def test_that_the_worst_loss_is_that_of_the_catalogue():
    said = re.search(r"when it holds (\d+) samples or (\d+) events", TEXT)
    assert int(said[1]) == catalogue.BLOCK_SAMPLES
    assert int(said[2]) == catalogue.BLOCK_EVENTS_MAX
    first = re.search(r"writes a block when it holds (\d+) samples", TEXT)
    assert int(first[1]) == catalogue.BLOCK_FIRST_SAMPLES
    loss = re.search(r"at most (\d+) s\.", TEXT)
    assert int(loss[1]) * 1000 == catalogue.BLOCK_FIRST_SAMPLES * recorder._PERIOD_MS
