"""One spelling of a quantity gets one answer or one refusal from every command that takes it."""

import argparse
import importlib
import re
import zlib
from pathlib import Path

import pytest

from snapcurve.board.client import CurveRow
from snapcurve.cli import COMMANDS, main
from snapcurve.collecting.filing import new_batch
from snapcurve.notebook import open_notebook
from snapcurve.recording.curve import decode

RECORDED = Path(__file__).parent / "data" / "three_step.curve"

# every place where a mass is typed; MASS stands for what is typed
PLACES = {
    "plan --mass": "plan|milk|--mass|MASS",
    "plan --bowl-mass": "plan|milk|--mass|1kg|--bowl-mass|MASS",
    "plan --seed": "plan|milk|--mass|1kg|--seed|MASS",
    "plan --vessel": "plan|--water-test|10|20|52|--vessel|MASS",
    "plan --grams": "plan|milk|--shells|2|--grams|MASS",
    "correct --mass": "correct|milk|--mass|MASS|--temp|33|--showed|mark",
    "correct --bowl-mass": "correct|milk|--mass|1kg|--bowl-mass|MASS|--temp|33|--showed|mark",
    "today --mass": "today|--mass|MASS",
    "lot --mass": "lot|last|cocoa butter|CB-7|--mass|MASS|--by|Ilka Brandner",
    "lot today --mass": "lot|today|cocoa butter|CB-7|--mass|MASS",
    "amend mass": "amend|last|mass|MASS|--why|weighed again|--by|Ilka Brandner",
}
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
    """Type a mass at one of PLACES; exit code, output without times of day, the refusal."""

    def run(place, decimal, mass):
        (bench / "settings.toml").write_text(f'decimal = "{decimal}"\n')
        code = main([mass if word == "MASS" else word for word in PLACES[place].split("|")])
        said = capsys.readouterr()
        out = re.sub(r"mass was .*, is", "mass is", said.out)  # what stood there before
        return code, re.sub(r"\d\d:\d\d", "--:--", out), said.err

    return run


@pytest.mark.parametrize("place", PLACES)
def test_the_same_mass_in_other_words_has_the_same_answer(typed, place):
    for (decimal, mass), plain in SAME.items():
        answer = typed(place, decimal, mass)
        assert answer == typed(place, decimal, plain)
        assert answer[0] == 0, answer[2]


@pytest.mark.parametrize("place", PLACES)
def test_a_mass_with_two_readings_is_refused_with_both(typed, place):
    for (decimal, mass), readings in TWO_READINGS.items():
        code, out, sentence = typed(place, decimal, mass)
        assert (code, out) == (2, ""), (decimal, mass, out)
        assert sentence.count("\n") == 1
        assert f"{mass!r} may mean {readings[0]} or {readings[1]}" in sentence


@pytest.mark.parametrize("place", PLACES)
def test_what_is_no_mass_is_refused_in_the_same_words(typed, place):
    for mass in REFUSED:
        code, out, sentence = typed(place, "point", mass)
        assert (code, out) == (2, ""), (mass, out)
        (words,) = typed("today --mass", "point", mass)[2].splitlines()
        assert sentence.rstrip("\n").endswith(words[words.index("'") :]), sentence


@pytest.mark.parametrize("place", [one for one in PLACES if one != "plan --grams"])
def test_a_small_number_without_a_unit_is_refused(typed, place):
    """1.2 is a kilogram and a bit to a person, and would be 1.2 g."""
    code, _, sentence = typed(place, "point", "1.2")
    assert code == 2
    assert "'1.2' without a unit would be grams" in sentence
    assert typed(place, "point", "850") == typed(place, "point", "850 g")


def test_grams_of_a_shell_need_no_unit(bench, capsys):
    said = []
    for grams in ("9.5", "9,5 g", "0.0095kg"):
        assert main(["plan", "milk", "--shells", "120", "--grams", grams]) == 0
        said.append(capsys.readouterr().out)
    assert said[0] == said[1] == said[2]


def test_a_bowl_far_too_light_is_refused(typed):
    """A bowl of 1 g for a kilogram is a slip; it would change the seed by 95 g."""
    code, _, sentence = typed("plan --bowl-mass", "point", "1 g")
    assert code == 2
    assert "far too light" in sentence


# options that take a number, a temperature or a time, whose unit stands in their name
NUMBERS = {
    "plan milk": ["--watts", "--loss"],
    "correct milk --mass 1kg": ["--loss", "--hot-air"],
    "calibrate boil": [
        "--pressure-hpa",
        "--altitude-m",
        "--sea-level-hpa",
        "--reference-c",
        "--reference-limit-c",
        "--wait-minutes",
    ],
    "probe": ["--depth-diameters"],
    "rehearse": ["--work-minutes"],
    "watch": ["--seconds"],
}


def _parser(name):
    parser = argparse.ArgumentParser(name)
    importlib.import_module(f"snapcurve.commands.{name}").add_arguments(parser)
    return parser


@pytest.mark.parametrize("name", [row[0] for row in COMMANDS])
def test_no_option_reads_numbers_in_a_way_of_its_own(name):
    assert not [one.option_strings for one in _parser(name)._actions if one.type is float]


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
