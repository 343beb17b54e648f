"""Where couvertures are looked for, and the built-in ones against published temperatures."""

import errno
import os
import tomllib
from pathlib import Path

import pytest

from snapcurve import couvertures
from snapcurve.advice.inputs import WorkingTemperatures
from snapcurve.couvertures.shelf import FILE_BYTES_MAX
from snapcurve.errors import SnapcurveError
from snapcurve.heat.kinds import KINDS

BUILT_IN = [
    "caramelised-white", "coating", "dark", "gianduja", "milk", "plant-milk", "ruby-coloured",
    "white",
]  # fmt: skip

GOOD = """\
name = "Trial of May"
kind = "milk"
melt_c = 45.0
work_c = [30.0, 32.0]
never_above_c = 50.0
source = "Data sheet of the maker."
"""


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "mine"
    made.mkdir()
    return made


# --- the built in ---------------------------------------------------------------------


def test_each_kind_is_built_in(folder):
    found = couvertures.available(folder)
    assert [one.id for one in found] == BUILT_IN
    assert sorted(one.kind for one in found) == sorted(KINDS)
    for one in found:
        assert one == couvertures.load(one.id, folder)
        assert one.origin == "built in"
        assert tomllib.loads(one.toml_text)["melt_c"] == one.melt_c
        assert "starting point" in one.source
        assert "the bag's figures come first" in one.source


def test_built_in_temperatures_keep_to_what_the_sources_agree_on(folder):
    by_id = {one.id: one for one in couvertures.available(folder)}
    for one in by_id.values():
        if one.kind in ("gianduja", "coating"):
            continue
        # Form V, the wanted one, melts at 33.8 °C and form IV at 27.5 °C (Wille and Lutton
        # 1966, as commonly quoted): worked between the two.
        assert 27.5 < one.work_low_c < one.work_high_c < 33.8
        # Melted at 40 °C or more in every published guide, cooled to 24-29 °C (McGee 2004).
        assert one.melt_c >= 40
        assert 24 <= one.cool_c <= 29
        WorkingTemperatures(
            one.melt_c, one.work_low_c, one.work_high_c, one.never_above_c, one.cool_c
        )
    # McGee 2004 for dark: melt 45-50, cool 28-29, work 31-32 °C.
    dark = by_id["dark"]
    assert 45 <= dark.melt_c <= 50
    assert 28 <= dark.cool_c <= 29
    assert (dark.work_low_c, dark.work_high_c) == (31, 32)
    # A published tempering guide: milk and white never above 50 °C.
    for name in ("milk", "white", "caramelised-white", "ruby-coloured", "plant-milk"):
        assert by_id[name].never_above_c == 50
    # chocolate-academy.com, "Guide to Different Tempering Methods": ruby 45, 27, 28.5-29.5 °C.
    ruby = by_id["ruby-coloured"]
    assert (ruby.melt_c, ruby.cool_c, ruby.work_low_c, ruby.work_high_c) == (45, 27, 28.5, 29.5)
    # Greweling 2007, excerpt: gianduja crystallises at 27 °C or below, lower than chocolate.
    gianduja = by_id["gianduja"]
    assert gianduja.cool_c < gianduja.work_high_c < 27 < by_id["milk"].work_low_c
    # Encyclopaedias: a coating is worked 3 to 5 °C above its melting point, untempered.
    coating = by_id["coating"]
    assert not coating.tempering
    assert 35 + 3 <= coating.work_low_c < coating.work_high_c <= 37 + 5
    # Milk at 30-32 °C and better near 30 °C: common practice, no source.
    milk = by_id["milk"]
    assert (milk.work_low_c, milk.work_high_c) == (30, 32)
    assert 30 <= milk.aim_c < 31
    # More milk fat, lower temperatures: every source has this order.
    for field in ("work_low_c", "work_high_c", "cool_c", "melt_c", "never_above_c"):
        order = [getattr(by_id[name], field) for name in ("dark", "milk", "white")]
        assert order == sorted(order, reverse=True), field


# --- where they are looked for --------------------------------------------------------


def test_a_file_in_the_folder_is_found_by_its_name_and_hides_the_built_in(folder):
    (folder / "milk.toml").write_text(GOOD)
    (folder / "may.TOML").write_text(GOOD)
    (folder / ".milk.toml").write_text("left behind by an editor")
    (folder / "notes.txt").write_text("nothing to do with it")
    own = couvertures.load("milk", folder)
    assert own.name == "Trial of May"
    assert own.origin == str(folder / "milk.toml")
    assert couvertures.load("may", folder).id == "may"
    found = couvertures.available(folder)
    assert [one.id for one in found] == sorted([*BUILT_IN, "may"])
    assert own in found


def test_a_path_is_read_wherever_it_is(folder, tmp_path, monkeypatch):
    (tmp_path / "elsewhere.toml").write_text(GOOD)
    one = couvertures.load(str(tmp_path / "elsewhere.toml"), folder)
    assert (one.id, one.origin) == ("elsewhere", str(tmp_path / "elsewhere.toml"))
    monkeypatch.chdir(tmp_path)
    assert couvertures.load("elsewhere.toml", folder).origin == "elsewhere.toml"


def test_byte_order_mark_and_windows_line_ends_are_accepted(folder):
    text = GOOD.replace("45.0", "true")
    path = folder / "may.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert couvertures.load("may", folder).melt_c == 45.0
    path.write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    with pytest.raises(SnapcurveError, match=r"may\.toml, line 3, melt_c: true"):
        couvertures.load("may", folder)


def test_the_users_folder_is_named_by_the_environment(monkeypatch, tmp_path):
    monkeypatch.setenv("SNAPCURVE_COUVERTURES", str(tmp_path / "bench"))
    assert couvertures.user_folder() == tmp_path / "bench"
    monkeypatch.setenv("SNAPCURVE_COUVERTURES", "~/bench")
    assert couvertures.user_folder() == Path.home() / "bench"
    for unset in ("", None):
        if unset is None:
            monkeypatch.delenv("SNAPCURVE_COUVERTURES")
        else:
            monkeypatch.setenv("SNAPCURVE_COUVERTURES", unset)
        assert couvertures.user_folder().name == "couvertures"
        assert "snapcurve" in couvertures.user_folder().parts
    monkeypatch.setenv("SNAPCURVE_COUVERTURES", "~nobody-of-this-name/bench")
    with pytest.raises(SnapcurveError, match="in full"):
        couvertures.user_folder()


def test_a_folder_that_does_not_exist_leaves_the_built_in(tmp_path):
    assert [one.id for one in couvertures.available(tmp_path / "none")] == BUILT_IN


# --- what is not there or cannot be read ----------------------------------------------


def unread(text, folder):
    with pytest.raises(SnapcurveError) as caught:
        couvertures.load(text, folder)
    message = str(caught.value)
    assert message.isprintable()
    return message


def load_refused(text, folder):
    with pytest.raises(SnapcurveError) as caught:
        couvertures.load(text, folder)
    message = str(caught.value)
    assert message.isprintable()
    assert message.endswith(".")
    return message


def test_an_unknown_couverture_lists_the_known(folder):
    (folder / "may.toml").write_text(GOOD)
    message = load_refused("mlik", folder)
    assert message == (
        'There is no couverture "mlik" (did you mean milk?); known are caramelised-white, '
        "coating, dark, gianduja, may, milk, plant-milk, ruby-coloured, white, and any path "
        "ending in .toml."
    )
    assert "did you mean milk?" in load_refused("Milk", folder)
    assert "did you mean" not in load_refused("quince", folder)


@pytest.mark.parametrize("text", ["", "../mine/may", "mi\nlk", "\udcff", "x" * 5000, "mi\0lk"])
def test_an_odd_id_is_just_unknown(text, folder):
    (folder / "may.toml").write_text(GOOD)
    message = load_refused(text, folder)
    assert message.startswith('There is no couverture "')
    assert len(message) < 300


def test_a_path_to_nothing_says_so(folder):
    message = load_refused("shelf/mlik.toml", folder)
    assert f"There is no file {Path('shelf/mlik.toml')} (did you mean milk?)" in message


def test_a_path_that_no_system_takes_is_refused(folder):
    assert "cannot be the name" in unread("a\0b.toml", folder)
    assert "name is too long" in unread("x" * 5000 + ".toml", folder)


def test_what_is_no_file_is_refused(folder):
    (folder / "may.toml").mkdir()
    assert "it is a folder" in unread("may", folder)


def test_a_file_without_permission_is_refused(folder, monkeypatch):
    path = folder / "may.toml"
    path.write_text(GOOD)

    def closed(name, *args):  # the user who runs the tests may be one who can read all
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), name)

    monkeypatch.setattr(os, "open", closed)
    assert unread("may", folder).startswith(
        f"Cannot read the couverture {path}: permission denied"
    )


def test_a_file_in_another_encoding_is_refused_with_its_line(folder):
    path = folder / "may.toml"
    path.write_bytes(GOOD.replace("Data sheet", "Qualität").encode("latin-1"))
    assert unread("may", folder) == (
        f"{path}, line 6: this is not UTF-8 text; save the file as UTF-8."
    )


def test_a_file_far_too_large_is_refused(folder):
    path = folder / "may.toml"
    filler = FILE_BYTES_MAX - len(GOOD) - 1
    path.write_text(GOOD + "#" * filler + "\n")
    assert couvertures.load("may", folder).name == "Trial of May"
    path.write_text(GOOD + "#" * (filler + 1) + "\n")
    assert "larger than 16 KiB" in unread("may", folder)


def test_a_folder_that_is_a_file_is_refused(tmp_path, monkeypatch):
    monkeypatch.setenv("SNAPCURVE_COUVERTURES", str(tmp_path / "file"))
    (tmp_path / "file").write_text("")
    message = unread("milk", tmp_path / "file")
    assert "SNAPCURVE_COUVERTURES" in message
    with pytest.raises(SnapcurveError, match="Cannot read the folder"):
        couvertures.available(tmp_path / "file")


def test_a_wrong_file_in_the_folder_is_named_by_the_list(folder):
    (folder / "may.toml").write_text(GOOD.replace("45.0", '"45"'))
    with pytest.raises(SnapcurveError, match=r"may\.toml, line 3, melt_c: "):
        couvertures.available(folder)
    assert couvertures.load("milk", folder).id == "milk"
