"""The settings file: what is read, what is refused, and what changing one leaves alone."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

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
    assert getattr(change(key, text, path), key) == kept
    assert getattr(load(path), key) == kept


def test_choices_reach_the_style(path):
    for key, text in (("temperature", "F"), ("decimal", "comma"), ("mass", "oz"), ("dates", "fr")):
        change(key, text, path)
    assert load(path).style == Style(True, True, True, "fr")
    assert set(KEYS["dates"][0]) == set(DATES)


def test_changing_one_leaves_the_rest_of_the_file_alone(path):
    path.parent.mkdir()
    path.write_text('# by hand\ntemperature = "C"  # cold\n\n"mass" = "oz"\n')
    change("temperature", "F", path)
    change("mass", "g", path)
    change("bench", "by the door", path)
    assert path.read_text() == (
        '# by hand\ntemperature = "F"\n\nmass = "g"\nbench = "by the door"\n'
    )


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=60))
def test_any_name_is_kept_or_refused(tmp_path_factory, text):
    path = tmp_path_factory.mktemp("names") / "settings.toml"
    if not text.strip().isprintable():
        with pytest.raises(SnapcurveError, match="one line"):
            change("operator", text, path)
        return
    change("operator", text, path)
    assert load(path).operator == text.strip()
    assert tomllib.loads(path.read_text(encoding="utf-8"))["operator"] == text.strip()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('temperatur = "F"', "no setting 'temperatur' .did you mean temperature"),
        ('temperature = "K"', "temperature cannot be 'K': choose one of C, F"),
        ("temperature = 5", "temperature: 5 is not a text in quotation marks"),
        ("temperature = F", "line 1: this is not TOML"),
        ('[operator]\nname = "x"', "a table is not a text"),
        ('operator = "a\\nb"', "one line"),
        ('operator = "' + "x" * 201 + '"', "200 letters"),
        ("# " + "x" * 20_000, "too large"),
    ],
)
def test_a_file_that_makes_no_sense_is_a_sentence(path, text, words):
    path.parent.mkdir()
    path.write_text(text)
    for use in (lambda: load(path), lambda: change("mass", "g", path)):
        with pytest.raises(SnapcurveError, match=words) as caught:
            use()
        assert str(path) in str(caught.value)
        assert "\n" not in str(caught.value)
    assert path.read_text() == text


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
    with pytest.raises(SnapcurveError, match=r"cannot .* should be a folder"):
        change("mass", "g", tmp_path / "file" / "settings.toml")


@pytest.mark.parametrize(
    ("key", "text", "words"),
    [("mas", "g", "did you mean mass"), ("mass", "lb", "choose one of g, oz")],
)
def test_a_setting_that_is_none(path, key, text, words):
    with pytest.raises(SnapcurveError, match=words):
        change(key, text, path)
    assert not path.exists()
