"""Every lesson played once right and once wrong: the account names what was done.

The scripts are a learner's hands by the clock, `hot` a breath of hot air each two minutes to stay
in the window, as with a real bowl. What is right is common practice, no source.
"""

import json

import pytest
from pypdf import PdfReader

from snapcurve.analysis.practice_account import LESSONS, account_of
from snapcurve.cli import main
from snapcurve.errors import SnapcurveError
from snapcurve.report.account_texts import account_document, account_lines, account_plain
from snapcurve.shown.units import PLAIN, Style
from snapcurve.simulation.practice import STEP_MS, Act, Practice
from snapcurve.simulation.practice_diary import diary_now, keep, read
from snapcurve.simulation.practice_setting import Setting, set_out_of
from snapcurve.simulation.situations import situations

IN = ((2, "probe_in"), (2, "stir"))


def hot(first_s, last_s, each_s=110, seconds=9):
    return tuple((at_s, "hot_air", seconds) for at_s in range(first_s, last_s, each_s))


RIGHT = {
    "over-warm-melt": (*IN, (4, "cold"), (30, "back"), (90, "hold")),
    "too-little-seed": (
        *IN,
        *hot(60, 1000),
        (20, "dip"),
        (200, "touch"),
        (320, "touch"),
        (330, "seed", 55),
        (560, "dip"),
        (740, "touch"),
        (860, "touch"),
        (870, "hold"),
    ),
    "too-cool-and-thick": (*IN, *hot(10, 160, 22, 10), *hot(220, 620), (640, "hold")),
    "lost-crystals": (
        *IN,
        (15, "seed", 40),
        (90, "seed", 40),
        (170, "seed", 40),
        *hot(330, 700),
        (420, "dip"),
        (600, "touch"),
        (720, "touch"),
        (730, "hold"),
    ),
    "grainy": (*IN, (30, "lift_out"), (60, "dip"), (370, "touch"), (380, "hold")),
    "water": (*IN, (20, "put_away")),
    "warm-kitchen": (
        *IN,
        (20, "dip"),
        (330, "touch"),
        (340, "cool_room"),
        (350, "dip"),
        (530, "touch"),
        (655, "touch"),
        (660, "hold"),
    ),
    "slow-probe": (
        *IN,
        *(
            act
            for at_s in range(60, 780, 90)
            for act in ((at_s, "probe_out"), (at_s + 4, "heat", 9), (at_s + 16, "probe_in"))
        ),
        (820, "hold"),
    ),
    "uncalibrated-probe": (
        *IN,
        (20, "dip"),
        (330, "touch"),
        (340, "seed", 60),
        (600, "dip"),
        (900, "touch"),
        (910, "hold"),
    ),
}
# the lesson: what was done wrong, and words by which the account names it
WRONG = {
    "over-warm-melt": (
        (*IN, (10, "probe_out"), (12, "heat", 10), (30, "probe_in"), (300, "hold")),
        ("You put it back into the heat (at 0:12)", "it smells burnt now"),
    ),
    "too-little-seed": (
        (*IN, *hot(60, 400), (20, "dip"), (330, "touch"), (340, "press"), (400, "hold")),
        ("You stirred in no seed", "Your only blade (at 0:20) set after 6:"),
    ),
    "too-cool-and-thick": (
        (*IN, (10, "probe_out"), (14, "heat", 25), (45, "probe_in"), (400, "hold")),
        ("You used the microwave oven (at 0:14)", "there its crystals melt", "too few to set"),
    ),
    "lost-crystals": (
        (*IN, (10, "cold"), (30, "back"), (120, "dip"), (430, "touch"), (440, "hold")),
        ("You stirred in no seed: no crystal was left", "Your only blade (at 2:00) set"),
    ),
    "grainy": (
        (*IN, (20, "seed", 150), (120, "hold")),
        ("it is grainy still", "stirred in more pieces: more lumps (at 0:20)"),
    ),
    "water": (
        (*IN, (10, "hot_air", 30), (50, "seed", 100), (200, "hold")),
        ("You warmed a seized bowl", "stirred good couverture", "You did not put it aside"),
    ),
    "warm-kitchen": (
        (*IN, (20, "dip"), (330, "touch"), (340, "seed", 150), (700, "hold")),
        ("You changed a bowl that was in temper", "You left the kitchen warm"),
    ),
    "slow-probe": (
        (
            *IN,
            *(
                act
                for at_s in range(40, 160, 40)
                for act in ((at_s, "probe_out"), (at_s + 2, "heat", 25), (at_s + 28, "probe_in"))
            ),
            (260, "hold"),
        ),
        ("bursts of up to 25 s with a probe that trails", "at its hottest, when the probe showed"),
    ),
    "uncalibrated-probe": (
        (*IN, *hot(20, 500, 60), (60, "dip"), (370, "touch"), (380, "press"), (500, "hold")),
        ("warmed it further (at 0:20)", "the probe was off by 1.4 °C"),
    ),
}


def played(lesson, script):
    """The diary of a learner who does ``script``."""
    out = set_out_of(Setting(lesson=lesson))
    practice = Practice(out.couverture, out.state)
    for at_s, name, *amount in sorted(script, key=lambda act: act[0]):
        while practice.now_ms < at_s * 1000:
            practice.rows(practice.now_ms - STEP_MS)
        practice.act(Act(name, *amount))
    return diary_now(out, practice)


def test_there_are_nine_lessons_and_each_is_judged() -> None:
    assert set(situations()) == set(LESSONS) == set(RIGHT) == set(WRONG)
    assert len(LESSONS) == 9


@pytest.mark.parametrize("lesson", RIGHT)
def test_done_right(lesson) -> None:
    account = account_of(played(lesson, RIGHT[lesson]))
    assert account.passed, [one.text for one in account.findings if not one.good]
    assert len(account.findings) >= 2


@pytest.mark.parametrize("lesson", WRONG)
def test_done_wrong(lesson) -> None:
    script, words = WRONG[lesson]
    account = account_of(played(lesson, script), "Ilka Brandner")
    wrong = [one.text for one in account.findings if not one.good]
    for word in words:
        assert any(word in text for text in wrong), (word, wrong)
    said = "\n".join(account_lines(account, PLAIN))
    assert "WRONG: " in said
    assert "Not yet right" in said
    assert "Ilka Brandner" in said


def test_the_oven_with_the_probe_in_is_in_every_account() -> None:
    out = set_out_of(Setting(lesson="water"))
    practice = Practice(out.couverture, out.state)
    practice.act(Act("probe_in"))
    with pytest.raises(SnapcurveError):
        practice.act(Act("heat", 5.0))
    practice.act(Act("put_away"))
    for _ in range(5):
        practice.rows(practice.now_ms - STEP_MS)
    account = account_of(diary_now(out, practice))
    assert not account.passed
    assert "Metal arcs" in account.findings[0].text


def test_a_bowl_that_has_not_ended_tells_nothing() -> None:
    diary = played("grainy", (*IN, (10, "lift_out"), (20, "stir")))
    with pytest.raises(SnapcurveError, match="has not ended"):
        account_of(diary)
    assert account_of(diary, away=True).moments[-1].what == "end"


@pytest.fixture
def kept(tmp_path, monkeypatch):
    """A computer on which a lesson was done wrong."""
    monkeypatch.setenv("SNAPCURVE_FOLDER", str(tmp_path))
    monkeypatch.setenv("SNAPCURVE_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("SNAPCURVE_NOTEBOOK", str(tmp_path / "notebook.db"))
    out = set_out_of(Setting(lesson="grainy"))
    practice = Practice(out.couverture, out.state)
    for name in ("probe_in", "stir", "hold"):
        for _ in range(20):
            practice.rows(practice.now_ms - STEP_MS)
        practice.act(Act(name))
    diary = diary_now(out, practice, 7, ((3, 0.0),))
    keep(diary)
    assert read(tmp_path / "rehearsal" / "diaries" / "00000007-3.json") == diary
    return tmp_path


def test_the_account_as_text_and_pdf(kept, capsys) -> None:
    pdf = kept / "account.pdf"
    assert main(["practise", "account", "--learner", "Ilka Brandner", "-o", str(pdf)]) == 0
    out = capsys.readouterr().out
    text = " ".join(page.extract_text() for page in PdfReader(pdf).pages)
    for word in ("Grainy", "it is grainy still", "Lift or sieve", "31.3 °C", "Ilka Brandner"):
        assert word in " ".join(out.split())
        assert word in " ".join(text.replace("\xa0", " ").split())
    assert "PRACTICE" in text
    assert main(["practise", "account", "-o", str(pdf)]) == 2  # it is there
    assert "--replace" in capsys.readouterr().err
    assert main(["practise", "account", "-o", str(kept / "account.txt")]) == 2
    assert ".pdf" in capsys.readouterr().err


def test_a_class_side_by_side(kept, capsys) -> None:
    names = ("Ilka Brandner", "=1+1", 'Jonas "Jo" Petit, second year')
    files = []
    for number, name in enumerate(names):
        assert main(["practise", "account", "--learner", name, "--json"]) == 0
        files.append(kept / f"{number}.json")
        files[-1].write_text(capsys.readouterr().out)
    table = kept / "class.csv"
    assert main(["practise", "class", *map(str, files), "-o", str(table)]) == 0
    lines = table.read_text(encoding="utf-8-sig").splitlines()
    assert len(lines) == 4
    assert lines[0].startswith("learner,lesson,right,")
    assert lines[1].startswith("Ilka Brandner,grainy,no,")
    assert lines[2].startswith("'=1+1,grainy,no,")
    assert lines[3].startswith('"Jonas ""Jo"" Petit, second year",grainy,no,')
    assert "it is grainy still" in lines[1]


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"form": "snapcurve practice account 1"}', "[" * 9999, "\x00"]
)
def test_what_is_no_account_is_refused(kept, capsys, text) -> None:
    (kept / "odd.json").write_text(text)
    assert main(["practise", "class", str(kept / "odd.json")]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "Traceback" not in err


def test_no_diary_no_account(tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.setenv("SNAPCURVE_FOLDER", str(tmp_path))
    assert main(["practise", "account"]) == 2
    assert "No practice bowl was worked yet" in capsys.readouterr().err


def test_an_account_in_the_units_that_are_set(tmp_path) -> None:
    style = Style(fahrenheit=True, decimal_comma=True)
    account = account_of(played("lost-crystals", WRONG["lost-crystals"][0]), "", style)
    said = "\n".join(account_lines(account, style))
    assert "°C" not in said
    assert "93 °F" in said or "°F" in said
    account_document(account, tmp_path / "account.pdf", "Letter", style)
    text = PdfReader(tmp_path / "account.pdf").pages[0].extract_text()
    assert "°C" not in text
    assert json.loads(json.dumps(account_plain(account)))["blades"][0]["set_s"] is not None
