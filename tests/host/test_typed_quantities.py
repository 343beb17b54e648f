"""One spelling of a quantity gets one answer or one refusal from every command that takes it."""

import argparse
import importlib
import re
import zlib
from pathlib import Path

import pytest

from snapcurve.board.client import CurveRow
from snapcurve.cli import ABOUT, main
from snapcurve.collecting.filing import new_batch
from snapcurve.errors import SnapcurveError
from snapcurve.notebook import open_notebook
from snapcurve.recording.curve import decode
from snapcurve.shown.units import PLAIN

RECORDED = Path(__file__).parent / "data" / "three_step.curve"

# Every place where a quantity is typed; MASS, TEMP and SHARE stand for what is typed. The first
# two words say which command and option it is: a test compares them with all that there are.
MASSES = {
    "plan --mass": "plan|milk|--mass|MASS",
    "plan --bowl-mass": "plan|milk|--mass|1kg|--bowl-mass|MASS",
    "plan --seed": "plan|milk|--mass|1kg|--seed|MASS",
    "plan --vessel": "plan|--water-test|10|20|52|--vessel|MASS",
    "plan --grams": "plan|milk|--shells|2|--grams|MASS",
    "rescue --mass": "rescue|milk|--mass|MASS|--temp|33|--showed|mark",
    "rescue --bowl-mass": "rescue|milk|--mass|1kg|--bowl-mass|MASS|--temp|33|--showed|mark",
    "today --mass": "today|--mass|MASS",
    "lot --mass": "lot|last|cocoa butter|CB-7|--mass|MASS|--by|Ilka Brandner",
    "lot --mass, today": "lot|today|cocoa butter|CB-7|--mass|MASS",
    "note --mass": "note|last|--made|bars|--mass|MASS|--by|Ilka Brandner",
    "note --amend, mass": "note|last|--amend|mass|MASS|--why|weighed again|--by|Ilka Brandner",
}
# with a temperature that makes sense there
TEMPERATURES = {
    "plan --room": ("plan|milk|--mass|1kg|--room|TEMP", 20),
    "plan --stock": ("plan|milk|--mass|1kg|--room|20|--stock|TEMP", 15),
    "plan --water-test, start": ("plan|--water-test|TEMP|20 C|52", 10),
    "plan --water-test, end": ("plan|--water-test|10 C|TEMP|52", 20),
    "rescue --temp": ("rescue|milk|--mass|1kg|--temp|TEMP|--showed|mark", 35),
    "rescue --room": ("rescue|milk|--mass|1kg|--temp|35 C|--showed|mark|--room|TEMP", 20),
    "rescue --stock": ("rescue|milk|--mass|1kg|--temp|35 C|--showed|mark|--stock|TEMP", 15),
    "today --room": ("today|--room|TEMP", 20),
    "note --amend, room": ("note|last|--amend|room|TEMP|--why|misread|--by|Ilka Brandner", 20),
}
# whose answer takes a board
REFUSED_ONLY = {
    "probe --at": ("probe|--at|TEMP", 31),
    "practise --room": ("practise|start|--room|TEMP", 20),
    "practise --temp": ("practise|melted|100 g|--temp|TEMP", 40),
}
MASSES_REFUSED_ONLY = {
    "practise --mass": "practise|start|--mass|MASS",
    "practise --beside": "practise|start|--beside|MASS",
    "practise values": "practise|seed|MASS",
}
SHARES = {"plan --waste": "plan|milk|--shells|120|--grams|9.5|--waste|SHARE"}
# options that take a number or a temperature whose unit stands in their name
NUMBERS = {
    "plan milk": ["--watts", "--loss"],
    "rescue milk --mass 1kg": ["--loss", "--hot-air"],
    "calibrate boil": [
        "--pressure-hpa",
        "--altitude-m",
        "--sea-level-hpa",
        "--reference-c",
        "--reference-limit-c",
        "--wait-minutes",
    ],
    "practise start": ["--watts", "--times"],
    "practise stir": ["--at"],
    "probe": ["--depth-diameters"],
    "rehearse": ["--work-minutes"],
    "watch": ["--seconds"],
}
# What is typed and is no quantity, by the name under which argparse keeps it.
WORDS = {
    "couverture", "speed", "number", "chart", "notebook", "tape", "port", "board", "shells",
    "bowl", "loss_from", "tried", "words", "since", "until", "lot", "outcome", "operator",
    "limit", "batch", "batches", "place", "by", "ingredient", "maker", "allergens", "replaces",
    "recipe", "text", "mark", "set_s", "bloom", "file", "value", "take_away", "why", "output",
    "curve", "complaint", "outcomes", "name", "wav", "hours", "years", "end", "sheet", "out",
    "paper", "word", "learner", "key", "method", "cleaned", "how", "day", "made", "pieces",
    "best_before", "to", "action",
    "review", "deviation", "label", "size", "reference",
}  # fmt: skip
# The ounce is 28.349 523 125 g (NIST SP 811 (2008), B.8: 1 oz avoirdupois = 2.834 952 E-02 kg).
SAME = {
    ("point", "1.2kg"): "1200 g",
    ("comma", "1.2kg"): "1200 g",
    ("point", "1,2 kg"): "1200 g",
    ("comma", "1,2 kg"): "1200 g",
    ("point", "1.200kg"): "1200 g",
    ("comma", "1,200kg"): "1200 g",
    ("point", "40 oz"): "1133.980925 g",
    ("comma", "40 oz"): "1133,980925 g",
}
# Thousands of grams or thousandths of one: no bench weighs milligrams, so the decimal sign that
# is set does not tell. Of kilograms it does, since nobody melts a tonne.
TWO_READINGS = {
    ("point", "1.200g"): ("1200 g", "1.2 g"),
    ("comma", "1.200g"): ("1200 g", "1,2 g"),
    ("point", "1,200g"): ("1200 g", "1.2 g"),
    ("comma", "1,200g"): ("1200 g", "1,2 g"),
    ("point", "12,500 g"): ("12500 g", "12.5 g"),
    ("point", "1,200kg"): ("1200 kg", "1.2 kg"),
    ("comma", "1.200kg"): ("1200 kg", "1,2 kg"),
}
REFUSED = ("0 g", "-1.2kg", "1.2.3kg", "1 200 g", "5 cups", "1e3", "a lot", "2000kg")


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """A folder for all that is kept, with one batch filed."""
    monkeypatch.setenv("SNAPCURVE_FOLDER", str(tmp_path))
    monkeypatch.setenv("SNAPCURVE_NOTEBOOK", str(tmp_path / "notebook.db"))
    monkeypatch.setenv("SNAPCURVE_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("SNAPCURVE_COUVERTURES", str(tmp_path / "couvertures"))
    raw = RECORDED.read_bytes()
    curve = decode(raw)
    row = CurveRow(curve.curve, "closed", curve.boot, len(raw), zlib.crc32(raw), 1)
    with open_notebook(str(tmp_path / "notebook.db")) as notebook:
        notebook.file_batch(new_batch(curve, raw, row, "pico"))
    return tmp_path


@pytest.fixture
def typed(bench, capsys):
    """Type a line in which ``text`` stands for the quantity; exit code, output without times of
    day, the refusal."""

    def run(line, settings, text):
        (bench / "settings.toml").write_text(settings)
        words = line.split("|")
        code = main([text if word in ("MASS", "TEMP", "SHARE") else word for word in words])
        said = capsys.readouterr()
        out = re.sub(r"(mass|room) was .*, is", r"\1 is", said.out)  # what stood there before
        return code, re.sub(r"\d\d:\d\d", "--:--", out), said.err

    return run


def decimal(sign):
    return f'decimal = "{sign}"\n'


def _refused(answer, words):
    code, out, sentence = answer
    assert (code, out) == (2, ""), answer
    assert sentence.count("\n") == 1
    assert re.match(r"snapcurve: (--|[A-Z])", sentence)
    assert sentence.endswith(f"{words}.\n"), sentence


def test_every_option_has_its_place_in_these_tables():
    """Who adds an option says here what is typed there, and has it tried in every spelling."""
    tables = [*MASSES, *MASSES_REFUSED_ONLY, *TEMPERATURES, *SHARES, *REFUSED_ONLY]
    places = {tuple(place.replace(",", "").split()[:2]) for place in tables}
    places |= {
        (line.split()[0], option) for line, options in NUMBERS.items() for option in options
    }
    found = set()
    for name in ABOUT:
        for action in _parser(name)._actions:
            if action.nargs == 0 or action.choices is not None or action.type in (int, Path):
                continue
            place = (name, (action.option_strings or [action.dest])[0])
            if action.dest not in WORDS or place in places:
                found.add(place)
    assert found == places


@pytest.mark.parametrize("place", MASSES)
def test_the_same_mass_in_other_words_has_the_same_answer(typed, place):
    for (sign, mass), plain in SAME.items():
        answer = typed(MASSES[place], decimal(sign), mass)
        assert answer == typed(MASSES[place], decimal(sign), plain)
        assert answer[0] == 0, answer[2]


@pytest.mark.parametrize("place", MASSES)
def test_a_mass_with_two_readings_is_refused_with_both(typed, place):
    for (sign, mass), readings in TWO_READINGS.items():
        words = f"{mass!r} may mean {readings[0]} or {readings[1]}: write the one that is meant"
        _refused(typed(MASSES[place], decimal(sign), mass), words)


@pytest.mark.parametrize("place", [*MASSES, *MASSES_REFUSED_ONLY])
def test_what_is_no_mass_is_refused_in_the_same_words(typed, place):
    for mass in REFUSED:
        with pytest.raises(SnapcurveError) as caught:
            PLAIN.parse_mass(mass)
        line = {**MASSES, **MASSES_REFUSED_ONLY}[place]
        _refused(typed(line, "", mass), str(caught.value).removeprefix("The mass ")[:-1])


@pytest.mark.parametrize("place", [one for one in MASSES if one != "plan --grams"])
def test_a_small_number_without_a_unit_is_refused(typed, place):
    """1.2 is a kilogram and a bit to a person, and would be 1.2 g."""
    code, _, sentence = typed(MASSES[place], "", "1.2")
    assert code == 2
    assert "'1.2' without a unit would be grams" in sentence
    assert typed(MASSES[place], "", "850") == typed(MASSES[place], "", "850 g")


@pytest.mark.parametrize("place", TEMPERATURES)
def test_the_same_temperature_in_other_words_has_the_same_answer(typed, place):
    line, value_c = TEMPERATURES[place]
    value_f = value_c * 9 // 5 + 32
    for settings, spellings in {
        "": (f"{value_c}.0", f"{value_c},0 °C", f"{value_f}F", f"{value_f},00 °f"),
        decimal("comma"): (f"{value_c},0", f"{value_c}.0C", f"{value_f} F"),
        'temperature = "F"\n': (f"{value_f}", f"{value_f},0", f"{value_c} °C"),
    }.items():
        plain = typed(line, settings, f"{value_c} C")
        assert plain[0] == 0, plain
        assert [typed(line, settings, each) for each in spellings] == [plain] * len(spellings)


@pytest.mark.parametrize("place", [*TEMPERATURES, *REFUSED_ONLY])
def test_what_is_no_temperature_is_refused_in_the_same_words(typed, place):
    line, _ = {**TEMPERATURES, **REFUSED_ONLY}[place]
    for text in ("warm", "300 K", "-300", "-460F", "1.2.3", "1,013", "20 g"):
        with pytest.raises(SnapcurveError) as caught:
            PLAIN.parse_temperature(text)
        _refused(typed(line, "", text), str(caught.value).removeprefix("The temperature ")[:-1])


@pytest.mark.parametrize("place", SHARES)
def test_shares_in_all_spellings(typed, place):
    plain = typed(SHARES[place], "", "8.5%")
    assert plain[0] == 0
    for text in ("8,5 %", "0.085", "0,085"):
        assert typed(SHARES[place], "", text) == plain
    _refused(
        typed(SHARES[place], "", "8.5"),
        "'8.5' is not a share: write it like 8%, between 0% and 100%",
    )


def test_grams_of_a_shell_need_no_unit(bench, capsys):
    said = []
    for grams in ("9.5", "9,5 g", "0.0095kg"):
        assert main(["plan", "milk", "--shells", "120", "--grams", grams]) == 0
        said.append(capsys.readouterr().out)
    assert said[0] == said[1] == said[2]


def test_a_bowl_far_too_light_is_refused(typed):
    """A bowl of 1 g for a kilogram is a slip; it would change the seed by 95 g."""
    code, _, sentence = typed(MASSES["plan --bowl-mass"], "", "1 g")
    assert code == 2
    assert "far too light" in sentence


def _parser(name):
    parser = argparse.ArgumentParser(name)
    importlib.import_module(f"snapcurve.commands.{name}").add_arguments(parser)
    return parser


@pytest.mark.parametrize("words", NUMBERS)
def test_numbers_are_read_with_the_signs_that_are_set(bench, words, capsys):
    parser = _parser(words.split()[0])
    for option in NUMBERS[words]:
        (action,) = [one for one in parser._actions if option in one.option_strings]
        for decimal in ("point", "comma"):
            (bench / "settings.toml").write_text(f'decimal = "{decimal}"\n')
            assert action.type("31.5") == action.type("31,5") == 31.5
            assert action.type("800") == 800
            other = "1,013" if decimal == "point" else "1.013"
            assert main([*words.split(), option, other]) == 2
            said = capsys.readouterr()
            assert said.err.startswith(f"snapcurve: {option} '{other}' may mean 1013")
            assert said.err.count("\n") == 1
            assert said.out == ""


def test_temperatures_named_in_celsius_are_celsius_whatever_is_set(bench):
    (bench / "settings.toml").write_text('temperature = "F"\n')
    types = {
        one.option_strings[0]: one.type
        for one in _parser("calibrate")._actions[1:]
        if one.option_strings
    }
    assert types["--reference-c"]("31,0") == 31
    assert types["--reference-c"]("88 F") == pytest.approx(31.111, abs=0.001)
    assert types["--reference-limit-c"]("0.3") == 0.3
