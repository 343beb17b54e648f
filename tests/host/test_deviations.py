"""Deviation, action, disposition, review: what opens one, who may close it, where it stands."""

import csv
import io
import json
from dataclasses import replace

import pytest
from notebook_samples import with_curve
from pypdf import PdfReader
from sheet_samples import batch, entry
from test_judgement import GOOD, IN, MELTED, TEST, curve

from snapcurve.analysis.deviations import deviations_of
from snapcurve.analysis.verdict import judge
from snapcurve.commands.collect import _afterwards
from snapcurve.errors import SnapcurveError
from snapcurve.notebook.entries import amended
from snapcurve.notebook.records import NewEntry
from snapcurve.recording.dip_tests import BladeResult
from snapcurve.shown.units import PLAIN

ILKA, JEAN = ("--by", "Ilka Brandner"), ("--by", "Jean Petit")


def found_in(corners=GOOD, blades=(), uncertainty_c=0.3, entries=()):
    judgement = judge(curve(corners, [MELTED, IN, *TEST]), blades, None, uncertainty_c)
    return deviations_of(amended(batch(method="seeding"), entries), judgement, PLAIN)


def rise(top_c, length_s):
    """Worked at 31 °C, window 30 to 32, and above it for a while."""
    back_s = 1520 + length_s
    return (*GOOD[:-1], (1500, 31.0), (1520, top_c), (back_s, top_c), (back_s + 20, 31.0),
            (2400, 31.0))  # fmt: skip


@pytest.mark.parametrize(
    ("corners", "uncertainty_c", "opened"),
    [
        (GOOD, 0.3, []),
        (rise(32.4, 30), 0.3, ["above"]),  # beyond what the probe can be wrong by
        (rise(32.4, 30), 0.5, []),  # within it, and short
        (rise(32.4, 30), None, []),  # not known how far it can be wrong, and short
        (rise(32.4, 90), 0.5, ["above"]),  # longer than a minute
        (((0, 30.0), (300, 53.0), (400, 53.0), (1000, 31.2), (2400, 30.9)), 0.3, ["too hot"]),
    ],
)
def test_what_opens_a_deviation_and_what_does_not(corners, uncertainty_c, opened):
    """The limits are the issue's; touching an edge is none."""
    assert [one.deviation.of for one in found_in(corners, (), uncertainty_c)] == opened


def test_a_failed_dip_test_opens_one_and_a_passed_one_none():
    (one,) = found_in(blades=[BladeResult(1100, False)])
    assert (one.deviation.of, one.deviation.record_s) == ("dip test", 1100)
    assert one.open == ("action", "disposition", "review")
    assert found_in(blades=[BladeResult(1100, True)]) == []


def test_a_review_counts_only_of_another_person_and_after_all_else():
    said = {"of": "dip test", "at_s": 1100}
    steps = [
        ({**said, "action": "seeded again"}, "Ida Brandt"),
        ({**said, "disposition": "held"}, "Ida Brandt"),
        ({**said, "review": "agreed"}, "Ida Brandt"),  # no notebook files that
        ({**said, "review": "agreed"}, "Jean Petit"),
        ({**said, "disposition": "thrown away"}, "Ida Brandt"),
        ({**said, "review": "seen"}, "Jean Petit"),
    ]
    entries = [
        replace(entry("deviation", payload, who=who), id=number)
        for number, (payload, who) in enumerate(steps, start=1)
    ]
    opened = []
    for count in range(len(entries) + 1):
        (one,) = found_in(blades=[BladeResult(1100, False)], entries=entries[:count])
        opened.append(one.open)
    assert opened == [
        ("action", "disposition", "review"),
        ("disposition", "review"),
        ("held", "review"),
        ("held", "review"),
        ("held",),
        ("review",),
        (),
    ]


@pytest.fixture
def failed(any_book, type_in):
    """A recorded batch whose last blade failed; its code."""
    code = any_book.file_batch(with_curve(uncertainty_centi_c=20)).code
    type_in("mark", "failed", "--batch", code, *ILKA)
    return code


def test_from_the_failed_test_to_the_signed_sheet(any_book, type_in, failed, tmp_path):
    def still_open():
        row = type_in("batches").splitlines()[1]
        return [one for one in ("action", "disposition", "review") if one in row]

    assert still_open() == ["action", "disposition", "review"]
    assert "nothing to review yet" in type_in("note", failed, "--review", "ok", *JEAN, fails=True)
    type_in("note", failed, "--action", "seeded again at 31 °C", *ILKA)
    assert still_open() == ["disposition", "review"]
    type_in("note", failed, "--disposition", "held", *ILKA)
    own = type_in("note", failed, "--review", "agreed", "--by", "ilka brandner ", fails=True)
    assert "somebody else reviews it" in own
    type_in("note", failed, "--disposition", "thrown-away", *ILKA)
    type_in("note", failed, "--review", "agreed, moulds empty", *JEAN)
    assert still_open() == []
    shown = " ".join(type_in("show", failed).split())
    for words in (
        "action: seeded again at 31 °C (Ilka Brandner)",
        "disposition: thrown away (Ilka Brandner)",
        "review: agreed, moulds empty (Jean Petit)",
    ):
        assert words in shown
    (told,) = json.loads(type_in("show", failed, "--json"))["deviations"]
    assert (told["deviation"], told["open"]) == ("dip test", [])
    assert told["review"]["who"] == "Jean Petit"
    (row,) = csv.DictReader(io.StringIO(type_in("batches", "--output", "-")))
    assert row["deviations"].startswith("failed dip test at")
    path = tmp_path / "sheet.pdf"
    type_in("sheet", failed, "-o", str(path))
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())
    for words in ("what became of it", "thrown away", "agreed, moulds", "not a certified system",
                  "not noted who set them"):  # fmt: skip
        assert words in text
    assert any_book.check() == []


def test_reworked_says_into_what(any_book, type_in, failed):
    type_in("note", failed, "--disposition", "reworked", *ILKA)
    assert "reworked into what is not noted" in type_in("show", failed)
    new = with_curve()
    later = any_book.file_batch(replace(new, curve=replace(new.curve, generation=9))).code
    type_in("lot", later, "rework", failed, *ILKA)
    assert f"reworked into {later}" in type_in("show", failed)


def test_who_collects_is_told_that_one_is_open(any_book, failed):
    verdicts, warnings = _afterwards(any_book, [failed], PLAIN)
    assert list(verdicts) == [failed]
    (warning,) = warnings
    assert warning.startswith(f"{failed}: 1 deviation is open; 'snapcurve show {failed}'")


def test_which_one_is_meant_can_be_said(type_in, failed, any_book):
    assert "no such deviation" in type_in(
        "note", failed, "--action", "x", "--deviation", "9", *ILKA, fails=True
    )
    assert "--deviation goes with" in type_in(
        "note", failed, "words", "--deviation", "1", *ILKA, fails=True
    )
    said = {"of": "dip test", "at_s": 5}
    for payload, complaint in (
        (said, "is one step"),
        ({**said, "action": "x", "review": "y"}, "is one step"),
        ({**said, "disposition": "eaten"}, "cannot be 'eaten'"),
        ({"of": "smell", "at_s": 5, "action": "x"}, "no deviation 'smell'"),
    ):
        with pytest.raises(SnapcurveError, match=complaint):
            any_book.add_entry(NewEntry("deviation", "Ilka", payload), failed)


def test_the_limits_carry_who_set_them_and_since_when(any_book, type_in, tmp_path):
    toml = (
        'name = "House milk"\nkind = "milk"\nmelt_c = 45\nwork_c = [30, 32]\nnever_above_c = 50\n'
        'set_by = "Ilka Brandner"\nset_on = 2026-11-01\n'
    )
    code = any_book.file_batch(with_curve(couverture_toml=toml)).code
    path = tmp_path / "sheet.pdf"
    type_in("sheet", code, "-o", str(path))
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())
    assert "set by Ilka Brandner, since 2026-11-01." in text
