"""The settings file: what is read, what is refused, and what changing one leaves alone."""

import json
import re
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.cli import main
from snapcurve.errors import SnapcurveError
from snapcurve.shown.settings_file import KEYS, VARIABLE, Settings, change, load, settings_path
from snapcurve.shown.units import DATES, Style


@pytest.fixture
def path(tmp_path):
    return tmp_path / "folder" / "settings.toml"


def test_without_a_file_all_is_plain(path):
    assert load(path) == Settings()
    assert Settings().style == Style()
    assert not path.parent.exists()


def test_the_variable_names_the_file(monkeypatch, path):
    monkeypatch.setenv(VARIABLE, str(path))
    assert settings_path() == path
    change("temperature", "F")
    assert load().style.fahrenheit


def test_without_the_variable_it_lies_in_the_configuration_folder(monkeypatch):
    import platformdirs

    monkeypatch.delenv(VARIABLE, raising=False)
    folder = platformdirs.user_config_path("snapcurve", appauthor=False)
    assert settings_path() == folder / "settings.toml"


@pytest.mark.parametrize(
    ("key", "text", "kept"),
    [
        ("temperature", "°f", "F"),
        ("temperature", "c", "C"),
        ("decimal", "Comma", "comma"),
        ("mass", "OZ", "oz"),
        ("paper", "letter", "Letter"),
        ("dates", "DE", "de"),
        ("operator", '  Łucja "Lu" Żak \\ ', 'Łucja "Lu" Żak \\'),
        ("bench", "", ""),
    ],
)
def test_each_can_be_set(path, key, text, kept):
    assert getattr(change(key, text, path)[0], key) == kept
    assert getattr(load(path), key) == kept


def test_choices_reach_the_style(path):
    for key, text in (("temperature", "F"), ("decimal", "comma"), ("mass", "oz"), ("dates", "fr")):
        change(key, text, path)
    assert load(path).style == Style(True, True, True, "fr")
    assert set(KEYS["dates"][0]) == set(DATES)


def test_changing_one_leaves_the_rest_of_the_file_alone(path):
    path.parent.mkdir()
    path.write_text('# by hand\ntemperature = "C"  # cold\n\n"mass" = "oz"\n# the end\n')
    for key, text in (("temperature", "F"), ("mass", "g"), ("bench", "by the door")):
        assert change(key, text, path)[1] == ""
    assert path.read_text() == (
        '# by hand\ntemperature = "F"  # cold\n\n"mass" = "g"\n# the end\nbench = "by the door"\n'
    )
    assert list(path.parent.iterdir()) == [path]


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=60))
def test_any_name_is_kept_or_refused(tmp_path_factory, text):
    path = tmp_path_factory.mktemp("names") / "settings.toml"
    if not text.strip().isprintable():
        with pytest.raises(SnapcurveError, match=r"U\+.*cannot be printed"):
            change("operator", text, path)
        return
    change("operator", text, path)
    assert load(path).operator == text.strip()
    assert tomllib.loads(path.read_text(encoding="utf-8"))["operator"] == text.strip()


BROKEN = [
    ('temperatur = "F"', "line 1, temperatur: there is no such field .did you mean temperature"),
    ('mass = "oz"\ntemperature = "K"', 'line 2, temperature: "K" is no choice; write "C" or "F"'),
    ("temperature = 5", "line 1, temperature: 5 is not a text in quotation marks"),
    ("temperature = F", 'line 1, temperature: this is not TOML .*write it like this: .* = "C"'),
    ('[operator]\nname = "x"', "line 1, operator: a table is not a text"),
    ('operator = "a\\nb"', "line 1, operator: it holds the character U.000A"),
    ('operator = "' + "x" * 201 + '"', "more than 200 letters; shorten it"),
    ('mass = "oz"\nmass = "g"', "line 2, mass: this is not TOML"),
    ("mass.x.y = " + "[" * 4000, "nested too deeply"),
]


@pytest.mark.parametrize(("text", "words"), BROKEN)
def test_a_file_that_makes_no_sense_is_a_sentence(path, text, words):
    path.parent.mkdir()
    path.write_text(text)
    with pytest.raises(SnapcurveError, match=words) as caught:
        load(path)
    assert str(caught.value).startswith(str(path))
    assert str(caught.value).endswith(".")
    assert str(caught.value).isprintable()
    assert path.read_text() == text


@pytest.mark.parametrize(("text", "words"), BROKEN)
def test_setting_one_mends_a_file_that_makes_no_sense(path, text, words):
    path.parent.mkdir()
    path.write_text(text)
    found, fault = change("paper", "letter", path)
    assert load(path) == found
    assert found.paper == "Letter"
    copy = path.with_name("settings.toml.broken-1")
    assert re.search(words, fault)
    assert str(copy) in fault
    assert copy.read_text() == text
    assert change("paper", "a4", path)[1] == ""


def test_what_makes_sense_in_a_broken_file_stays(path):
    path.parent.mkdir()
    path.write_text('# by hand\nmass = "oz"  # small\ntemperature = "K"\nbench = "by the door"\n')
    assert change("decimal", "comma", path)[1]
    assert path.read_text() == (
        '# by hand\nmass = "oz"  # small\nbench = "by the door"\ndecimal = "comma"\n'
    )


def test_the_wrong_setting_itself_is_put_right_in_its_place(path):
    path.parent.mkdir()
    path.write_text('temperature = "K"  # was it?\n')
    assert change("temperature", "C", path) == (Settings(), "")
    assert path.read_text() == 'temperature = "C"  # was it?\n'


def test_no_copy_of_a_broken_file_is_written_over(path):
    path.parent.mkdir()
    for text in ("one", "two"):
        path.write_text(text)
        change("mass", "oz", path)
    copies = [path.with_name(f"settings.toml.broken-{number}") for number in (1, 2)]
    assert [copy.read_text() for copy in copies] == ["one", "two"]


def test_the_command_says_what_was_wrong_and_where_the_file_went(path, monkeypatch, capsys):
    monkeypatch.setenv(VARIABLE, str(path))
    path.parent.mkdir()
    path.write_bytes(b'operator = "\xff"')
    assert main(["settings", "set", "mass", "oz", "--json"]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)["mass"] == "oz"
    assert err.count("\n") == 1
    assert "line 1: this is not UTF-8 text" in err
    assert f"The file as it was is now {path}.broken-1" in err


def test_a_file_far_too_large_is_refused_and_stays(path):
    path.parent.mkdir()
    path.write_text("# " + "x" * 20_000)
    for use in (lambda: load(path), lambda: change("mass", "g", path)):
        with pytest.raises(SnapcurveError, match="too large"):
            use()
    assert list(path.parent.iterdir()) == [path]


def test_bytes_that_are_no_text_are_a_sentence(path):
    path.parent.mkdir()
    path.write_bytes(b'operator = "\xff"')
    with pytest.raises(SnapcurveError, match="not UTF-8"):
        load(path)


def test_a_folder_of_that_name_is_a_sentence(path):
    path.mkdir(parents=True)
    with pytest.raises(SnapcurveError, match="cannot be read"):
        load(path)


def test_a_place_that_cannot_be_written_is_a_sentence(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(SnapcurveError, match=r"Cannot .* should be a folder"):
        change("mass", "g", tmp_path / "file" / "settings.toml")


@pytest.mark.parametrize(
    ("key", "text", "words"),
    [("mas", "g", "did you mean mass"), ("mass", "lb", 'write "g" or "oz"')],
)
def test_a_setting_that_is_none(path, key, text, words):
    with pytest.raises(SnapcurveError, match=words):
        change(key, text, path)
    assert not path.exists()
