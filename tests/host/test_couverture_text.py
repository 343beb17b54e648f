"""The text of a couverture file: what is read from it and how a wrong one is refused."""

import string
import tomllib
from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from snapcurve.couvertures.checking_file import FIELDS, parse
from snapcurve.errors import SnapcurveError

# One field a line, so that a test can say on which line a message has to put its finger.
GOOD = """\
name = "Trial of May"
kind = "milk"
melt_c = 45.0
cool_c = 27.5
work_c = [30.0, 32.0]
aim_c = 30.5
highest_work_c = 33.5
tempering = true
never_above_c = 50
cocoa_percent = 36
fat_percent = 37.5
cocoa_butter_percent = 30.0
milk_fat_percent = 6.5
nut_fat_percent = 0.5
source = "Data sheet of the maker."
set_by = "Ilka Brandner"
set_on = 2026-11-01
"""


def read(text):
    return parse(text, "trial.toml", "trial", "trial.toml")


def with_line(field, line, text=GOOD):
    """`text` with the line of `field` replaced, and the number of that line."""
    lines = text.splitlines()
    number = next(i for i, old in enumerate(lines) if old.startswith(field + " ="))
    lines[number] = line
    return "\n".join(lines) + "\n", number + 1


def refused(text):
    with pytest.raises(SnapcurveError) as caught:
        read(text)
    message = str(caught.value)
    assert message.startswith("trial.toml, ")
    assert message.endswith(".")
    assert message.isprintable()
    assert caught.value.exit_code == 2
    return message


# --- what is right ------------------------------------------------------------------


def test_all_fields_are_read():
    one = read(GOOD)
    assert one.name == "Trial of May"
    assert one.kind == "milk"
    assert (one.melt_c, one.cool_c, one.never_above_c) == (45.0, 27.5, 50.0)
    assert (one.work_low_c, one.work_high_c, one.aim_c) == (30.0, 32.0, 30.5)
    assert (one.cocoa_percent, one.fat_percent) == (36.0, 37.5)
    assert one.source == "Data sheet of the maker."
    assert (one.id, one.origin, one.toml_text) == ("trial", "trial.toml", GOOD)
    assert isinstance(one.never_above_c, float)
    with pytest.raises(FrozenInstanceError):
        one.melt_c = 46.0


def test_optional_fields_may_be_missing():
    text = "".join(
        line
        for line in GOOD.splitlines(keepends=True)
        if line.startswith(("name", "kind", "melt", "work", "never"))
    )
    one = read(text)
    assert (one.cool_c, one.aim_c, one.cocoa_percent, one.fat_percent, one.source) == (None,) * 5


def test_a_trial_with_hot_water_can_be_described():
    one = read(
        'name = "Water"\nkind = "dark"\nmelt_c = 90\nwork_c = [50, 60]\nnever_above_c = 95\n'
    )
    assert (one.work_low_c, one.work_high_c, one.melt_c) == (50.0, 60.0, 90.0)


# --- what is wrong in a file ----------------------------------------------------------


def test_syntax_error_names_line_and_field():
    text, line = with_line("melt_c", "melt_c = 45 °C")
    message = refused(text)
    assert message.startswith(f"trial.toml, line {line}, melt_c: this is not TOML (")
    assert message.endswith("write it like this: melt_c = 45.0.")
    text, line = with_line("melt_c", "melt_c = 45,5 # comma")
    assert refused(text).endswith("write the decimals after a point, 45.5.")
    text, line = with_line("fat_percent", "cocoa_percent = 38")
    assert refused(text).startswith(f"trial.toml, line {line}, cocoa_percent: ")
    assert refused(GOOD + "work_c = [30,").startswith("trial.toml, line 18, work_c: ")
    assert refused(GOOD + "\n\n!\n").startswith("trial.toml, line 20: ")


@pytest.mark.parametrize("field", ["name", "kind", "melt_c", "work_c", "never_above_c"])
def test_missing_field(field):
    text, _ = with_line(field, "")
    assert refused(text) == (
        f"trial.toml, {field}: this field is missing; add a line such as {FIELDS[field]}."
    )


def test_the_examples_in_messages_are_right_themselves():
    text = "\n".join(FIELDS.values())
    assert read(text).name == "Milk couverture"
    assert set(tomllib.loads(text)) == set(FIELDS)


def test_unknown_field():
    text, line = with_line("melt_c", "melt = 45.0")
    assert refused(text).startswith(
        f"trial.toml, line {line}, melt: there is no such field (did you mean melt_c?); known are "
    )
    assert "did you mean" not in refused(GOOD + "price = 3\n")
    assert refused(GOOD + "[price]\nmelt_c = 3\n").startswith("trial.toml, line 18, price: ")
    assert refused(GOOD + "[[price]]\n").startswith("trial.toml, line 18, price: ")
    assert refused(GOOD + 'price.kg = "3"\n').startswith("trial.toml, line 18, price: ")
    assert refused(GOOD + '"a\\nb" = 3\n').startswith("trial.toml, a\\nb: there is no such field")


@pytest.mark.parametrize(
    "field", ["melt_c", "cool_c", "aim_c", "never_above_c", "cocoa_percent", "fat_percent"]
)
@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ('"45"', 'the text "45" is not a number'),
        ("true", "true is not a number"),
        ("nan", "nan is not a finite number"),
        ("inf", "inf is not a finite number"),
        ("-inf", "-inf is not a finite number"),
        ("[45]", "a list of 1 is not a number"),
        ("{c = 45}", "a table is not a number"),
        ("2026-05-01", "the date or time 2026-05-01 is not a number"),
        ("-1", "-1"),
        ("1e300", "1e+300"),
        ("1" + "0" * 400, "a number of very many digits"),
        ("0x" + "f" * 9000, "a number of very many digits"),
    ],
)
def test_not_a_usable_number(field, value, shown):
    text, line = with_line(field, f"{field} = {value}")
    message = refused(text)
    assert message.startswith(f"trial.toml, line {line}, {field}: {shown}")
    right = f"write {FIELDS[field]}." if "number; write" in message else "it has to be from "
    assert right in message


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ("1" * 5000, "a number has too many digits"),
        ("[" * 8000, "brackets are nested too deeply"),
        ("[" * 4000 + "]" * 4000, "brackets are nested too deeply"),
    ],
)
def test_what_python_cannot_read(value, reason):
    text, _ = with_line("melt_c", f"melt_c = {value}")
    with pytest.raises(SnapcurveError, match=rf"^trial.toml: this is not TOML \({reason}\); "):
        read(text)


@pytest.mark.parametrize(
    ("value", "what"),
    [
        ("[32.0, 30.0]", "the window is reversed, 32 to 30 °C; write the low end first, [30, 32]"),
        ("[31, 31.0]", "both ends are 31 °C"),
        ("[]", "a list of 0 is not a window"),
        ("[31]", "a list of 1 is not a window"),
        ("[30, 31, 32]", "a list of 3 is not a window"),
        ("31", "31 is not a window"),
        ('"30-32"', 'the text "30-32" is not a window'),
        ('[30, "32"]', 'the text "32" is not a number'),
        ("[true, 32]", "true is not a number"),
        ("[nan, 32]", "nan is not a finite number"),
        ("[30, inf]", "inf is not a finite number"),
        ("[5, 32]", "5 °C is out of range"),
        ("[31, 45]", "the window ends at 45 °C, not below the melting temperature"),
        ("[31, 46]", "it has to end below melt_c = 45"),
    ],
)
def test_wrong_window(value, what):
    text, line = with_line("work_c", f"work_c = {value}")
    message = refused(text)
    assert message.startswith(f"trial.toml, line {line}, work_c: ")
    assert what in message


@pytest.mark.parametrize(
    ("field", "value", "what"),
    [
        ("cool_c", "30.1", "30.1 °C is above the low end of the window; it has to be at most 30"),
        ("aim_c", "29.9", "29.9 °C lies outside the window; it has to be from 30 to 32"),
        ("aim_c", "32.1", "32.1 °C lies outside the window; it has to be from 30 to 32"),
        ("never_above_c", "45", "45 °C is not above the melting temperature"),
        ("never_above_c", "44", "it has to be above melt_c = 45"),
        ("cocoa_percent", "100.1", "100.1 % is out of range; it has to be from 0 to 100"),
        ("fat_percent", "-0.1", "-0.1 % is out of range; it has to be from 0 to 100"),
        ("melt_c", "9.9", "9.9 °C is out of range; it has to be from 10 to 110 °C"),
        ("kind", '"mlik"', '"mlik" is too like a kind that is known (did you mean milk?)'),
        ("kind", '"ruby"', "(did you mean ruby-coloured?)"),
        ("highest_work_c", "32", "32 °C does not lie above the window and below the melting"),
        ("highest_work_c", "45.1", "it has to be above 32 and at most 45"),
        ("tempering", '"no"', 'the text "no" is neither true nor false'),
        (
            "milk_fat_percent",
            "37.1",
            "cocoa butter, milk fat and nut oil are 67.6 % of the mass, more",
        ),
        ("kind", "3", "3 is not a text in quotation marks"),
        ("name", '"  "', "the text is empty"),
        ("name", "5", '5 is not a text in quotation marks; write name = "Milk couverture"'),
        ("name", '"a\\u0000b"', "the character U+0000"),
        ("source", '"\\u001b[2J"', "the character U+001B"),
        ("source", '""', "the text is empty"),
    ],
)
def test_wrong_value(field, value, what):
    text, line = with_line(field, f"{field} = {value}")
    message = refused(text)
    assert message.startswith(f"trial.toml, line {line}, {field}: ")
    assert what in message


@pytest.mark.parametrize(
    ("field", "value"), [("cool_c", 30), ("aim_c", 30), ("aim_c", 32), ("fat_percent", 37)]
)
def test_limits_themselves_are_allowed(field, value):
    assert getattr(read(with_line(field, f"{field} = {value}")[0]), field) == value


def test_fahrenheit_is_recognised_above_the_range_only():
    # 212 °F is the boiling point of water, 100 °C, by definition of the scale; 113 °F is 45 °C.
    assert "(if 113 was meant in °F, write 45.0)" in refused(
        with_line("melt_c", "melt_c = 113")[0]
    )
    assert "write 100.0)" in refused(with_line("melt_c", "melt_c = 212")[0])
    assert "°F" not in refused(with_line("melt_c", "melt_c = 240")[0])
    assert "°F" not in refused(with_line("melt_c", "melt_c = 5")[0])
    hot = with_line("never_above_c", "never_above_c = 110")[0]
    assert read(with_line("melt_c", "melt_c = 109", hot)[0]).never_above_c == 110


def test_a_name_has_to_fit_into_the_32_bytes_of_the_profile():
    assert read(with_line("name", f'name = "{"é" * 16}"')[0]).name == "é" * 16
    text, line = with_line("name", f'name = "{"é" * 16}x"')
    assert refused(text).startswith(f"trial.toml, line {line}, name: the name takes 33 bytes")


def test_a_source_over_several_lines_becomes_one():
    text, _ = with_line("source", 'source = """\nData sheet,\n  May."""')
    assert read(text).source == "Data sheet, May."


def test_a_line_within_a_text_is_not_taken_for_the_field():
    text, _ = with_line("name", 'name = """\\\nmelt_c = 1 \\\n"""')
    assert read(text).name == "melt_c = 1"
    text = text.replace("melt_c = 45.0", "  'melt_c'=true")
    assert refused(text).startswith("trial.toml, line 5, melt_c: true")


# --- anything at all ------------------------------------------------------------------

SCRAPS = """45 | [30, 32] | [32, 30] | "milk" | "dark" | nan | true | [ | { | " | ''' | 1e999 | 1_0
 | 07:32:00 | 1979-05-27 | [[1], 2] | | {a = 1} | 0xffffffffffffffffffffff"""
VALUES = st.one_of(
    st.sampled_from([scrap.strip() for scrap in SCRAPS.split("|")]),
    st.floats().map(repr),
    st.integers().map(str),
    st.text(max_size=12),
)
KEYS = st.one_of(
    st.sampled_from([*FIELDS, "melt", "[work_c]", "[[name]]", "kind.x", '"melt_c"', "# x"]),
    st.text(string.ascii_letters + "_.\"'[]", max_size=6),
)
LINES = st.tuples(KEYS, st.sampled_from(["=", " = ", "", "."]), VALUES).map("".join)
TOMLISH = st.lists(LINES, max_size=14).map("\n".join)


def accepted_or_refused(text):
    try:
        one = read(text)
    except SnapcurveError as error:
        message = str(error)
        assert message.startswith("trial.toml")
        assert message.isprintable()
        return
    cool_c = one.work_low_c if one.cool_c is None else one.cool_c
    aim_c = one.work_low_c if one.aim_c is None else one.aim_c
    assert 10 <= cool_c <= one.work_low_c <= aim_c <= one.work_high_c
    assert one.work_low_c < one.work_high_c < one.melt_c < one.never_above_c <= 110
    assert 0 < len(one.name.encode()) <= 32
    assert one.kind


@settings(max_examples=300)
@given(st.one_of(st.text(), TOMLISH))
def test_any_text_is_a_couverture_or_one_sentence(text):
    accepted_or_refused(text)


@settings(max_examples=300)
@given(st.sampled_from([*FIELDS]), VALUES)
def test_any_value_in_a_good_file_is_taken_or_refused_in_one_sentence(field, value):
    accepted_or_refused(with_line(field, f"{field} = {value}")[0])


@settings(max_examples=200)
@given(st.data())
def test_a_damaged_good_file_is_taken_or_refused_in_one_sentence(data):
    start = data.draw(st.integers(0, len(GOOD)))
    end = data.draw(st.integers(start, len(GOOD)))
    accepted_or_refused(GOOD[:start] + data.draw(st.text(max_size=5)) + GOOD[end:])


@settings(max_examples=100)
@given(st.lists(st.floats(10, 110), min_size=6, max_size=6, unique=True))
def test_temperatures_in_order_are_read_back_exactly(temperatures):
    cool_c, low_c, aim_c, high_c, melt_c, never_c = sorted(temperatures)
    text = (
        f'name = "x"\nkind = "white"\nmelt_c = {melt_c}\ncool_c = {cool_c}\naim_c = {aim_c}\n'
        f"work_c = [{low_c}, {high_c}]\nnever_above_c = {never_c}\n"
    )
    one = read(text)
    got = [one.cool_c, one.work_low_c, one.aim_c, one.work_high_c, one.melt_c, one.never_above_c]
    assert got == sorted(temperatures)


@settings(max_examples=100)
@given(st.lists(st.sampled_from(["", "# melt_c = 1", "\t", "  # x"]), max_size=30))
def test_the_line_named_is_the_line_in_the_file(before):
    text = "\n".join([*before, GOOD])
    wrong, line = with_line("never_above_c", "never_above_c = 3", text)
    assert line == len(before) + 9
    assert refused(wrong).startswith(f"trial.toml, line {line}, never_above_c: 3 °C")
