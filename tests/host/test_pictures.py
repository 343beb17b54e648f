"""Pictures on a batch: kept whole, without what they say of place and camera, and given back."""

import hashlib
import io
import json
import os
import struct
import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from notebook_samples import alter, full_batch, picture, raw_engine, with_curve
from PIL import ExifTags, Image, PngImagePlugin

from snapcurve import notebook
from snapcurve.errors import RecordError, SnapcurveError
from snapcurve.notebook import pictures
from snapcurve.notebook.records import NewEntry

pytestmark = pytest.mark.usefixtures("own_computer")
BY = ("--by", "Ilka Brandner")
SECRET = b"47.9 north of the shop"


def halves(size=(64, 32)):
    """Dark above, light below: which way up it is can be seen."""
    image = Image.new("RGB", size, (240, 220, 200))
    image.paste((60, 30, 10), (0, 0, size[0], size[1] // 2))
    return image


def saved(image, kind, **how):
    target = io.BytesIO()
    image.save(target, kind, **how)
    return target.getvalue()


def exif(orientation=1):
    """As a telephone writes it: which way up, and where."""
    tags = Image.Exif()
    tags[ExifTags.Base.Orientation] = orientation
    tags[ExifTags.Base.Make] = SECRET.decode()
    place = tags.get_ifd(ExifTags.IFD.GPSInfo)
    place[ExifTags.GPS.GPSLatitudeRef] = "N"
    place[ExifTags.GPS.GPSLatitude] = (47.0, 42.0, 51.0)
    return tags


def texts():
    info = PngImagePlugin.PngInfo()
    info.add_text("Comment", SECRET.decode())
    info.add_itxt("XML:com.adobe.xmp", f"<x>{SECRET.decode()}</x>")
    return info


def chunk(name, held):
    return struct.pack(">I", len(held)) + name + held + struct.pack(">I", zlib.crc32(name + held))


def private_chunk():
    raw = picture(kind="PNG")
    return raw[:33] + chunk(b"prVt", SECRET) + raw[33:]


TALKING = {
    "jpeg exif": saved(halves(), "JPEG", exif=exif()),
    "jpeg comment": saved(halves(), "JPEG", comment=SECRET),
    "jpeg xmp": saved(halves(), "JPEG", xmp=SECRET),
    "jpeg iptc": picture()[:2] + b"\xff\xed\x00\x18" + SECRET + picture()[2:],
    "jpeg with a film behind it": picture() + b"ftypmp42" + SECRET,
    "jpeg with another behind it": saved(
        halves(), "MPO", save_all=True, append_images=[halves()], exif=exif()
    ),
    "png exif": saved(halves(), "PNG", exif=exif()),
    "png texts": saved(halves(), "PNG", pnginfo=texts()),
    "png of a private chunk": private_chunk(),
    "png with more behind it": picture(kind="PNG") + SECRET,
    "webp exif": saved(halves(), "WEBP", exif=exif()),
    "webp xmp": saved(halves(), "WEBP", xmp=SECRET, lossless=True),
}
PLAIN = {
    "jpeg": picture(),
    "jpeg progressive": saved(halves((600, 400)), "JPEG", progressive=True),
    "jpeg grey": saved(halves().convert("L"), "JPEG"),
    "jpeg cmyk": saved(halves().convert("CMYK"), "JPEG"),
    "jpeg colours": saved(halves(), "JPEG", icc_profile=b"profile" * 20),
    "png": picture(kind="PNG"),
    "png palette": saved(halves().convert("P"), "PNG", transparency=0),
    "png deep": saved(Image.fromarray(np.full((9, 9), 40_000, np.uint16)), "PNG"),
    "webp": picture(kind="WEBP"),
    "webp lossless": saved(halves().convert("RGBA"), "WEBP", lossless=True),
}


def pixels(raw):
    with Image.open(io.BytesIO(raw)) as image:
        return np.asarray(image.convert("RGB")).astype(int)


# --- what is kept ------------------------------------------------------------------------


@pytest.mark.parametrize("name", PLAIN)
def test_a_picture_that_says_nothing_else_is_kept_byte_for_byte(name):
    assert pictures.kept(PLAIN[name]).content == PLAIN[name]


@pytest.mark.parametrize("name", TALKING)
def test_what_a_picture_says_of_place_and_camera_is_gone(name):
    raw = TALKING[name]
    assert SECRET in raw
    found = pictures.kept(raw)
    assert SECRET not in found.content
    assert pictures.kept(found.content) == found  # nothing more to remove
    with Image.open(io.BytesIO(found.content)) as image:
        assert not image.getexif()
        assert not {*image.info} & {"exif", "xmp", "comment", "photoshop", "Comment"}
        assert not getattr(image, "text", None)
        assert found.media_type == f"image/{name.split()[0]}"
        assert image.format == name.split()[0].upper()
    assert np.abs(pixels(found.content) - pixels(raw)).mean() < 2


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_it_stands_as_it_was_shown(kind, orientation):
    """The eight orientations of Exif 2.32, section 4.6.4, table 6: where row 0, column 0 are."""
    shown = halves()
    shown.paste((200, 20, 20), (0, 0, 8, 8))  # a corner, for mirrors
    turned = {
        1: lambda one: one,
        2: lambda one: one.transpose(Image.Transpose.FLIP_LEFT_RIGHT),
        3: lambda one: one.transpose(Image.Transpose.ROTATE_180),
        4: lambda one: one.transpose(Image.Transpose.FLIP_TOP_BOTTOM),
        5: lambda one: one.transpose(Image.Transpose.TRANSPOSE),
        6: lambda one: one.transpose(Image.Transpose.ROTATE_90),  # seen turned back clockwise
        7: lambda one: one.transpose(Image.Transpose.TRANSVERSE),
        8: lambda one: one.transpose(Image.Transpose.ROTATE_270),
    }[orientation](shown)
    how = {"lossless": True} if kind == "WEBP" else {}
    found = pictures.kept(saved(turned, kind, exif=exif(orientation), **how)).content
    difference = np.abs(pixels(found) - np.asarray(shown).astype(int)).mean()
    assert difference < (6 if kind == "JPEG" else 0.01)


def test_colours_stay():
    profile = b"profile" * 20
    for kind in ("JPEG", "PNG", "WEBP"):
        raw = saved(halves(), kind, icc_profile=profile, exif=exif())
        with Image.open(io.BytesIO(pictures.kept(raw).content)) as image:
            assert image.info["icc_profile"] == profile
    raw = saved(halves().convert("P"), "PNG", transparency=0, exif=exif())
    with Image.open(io.BytesIO(pictures.kept(raw).content)) as image:
        assert image.info["transparency"] == 0


def bomb():
    """A PNG of 30,000 × 30,000 pixels in some hundred bytes."""
    head = struct.pack(">IIBBBBB", 30_000, 30_000, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(bytes(90_000)))
        + chunk(b"IEND", b"")
    )


def just_too_many():
    head = struct.pack(">IIBBBBB", 8001, 8000, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")


REFUSED = {
    "nothing": (b"", "is empty"),
    "a text": (b"abc", "is no JPEG, PNG or WebP, or is damaged"),
    "a GIF": (saved(halves(), "GIF"), "is no JPEG, PNG or WebP"),
    "a page": (b"%PDF-1.7\n", "is no JPEG, PNG or WebP"),
    "half a JPEG": (saved(halves((600, 400)), "JPEG")[:2000], "or is damaged"),
    "half a PNG": (saved(halves((600, 400)), "PNG")[:300], "or is damaged"),
    "too many bytes": (picture() + bytes(pictures.BYTES_MAX), "is larger than 8 MiB"),
    "too many pixels": (just_too_many(), "more than 64 million pixels"),
    "a bomb": (bomb(), "more than 64 million pixels"),
    "a moving PNG": (
        saved(halves(), "PNG", save_all=True, append_images=[halves((64, 32)).rotate(180)]),
        "moves",
    ),
    "a moving WebP": (
        saved(halves(), "WEBP", save_all=True, append_images=[halves().rotate(180)]),
        "moves",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_such_picture_gets_a_sentence(name):
    raw, words = REFUSED[name]
    with pytest.raises(SnapcurveError, match=rf"^The picture [^\n]*{words}[^\n]*\.$"):
        pictures.kept(raw)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_any_damage_gives_a_picture_or_a_sentence(data):
    raw = bytearray(data.draw(st.sampled_from([*PLAIN.values(), *TALKING.values()])))
    for _ in range(data.draw(st.integers(1, 4))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    cut = bytes(raw[: data.draw(st.integers(0, len(raw)))])
    try:
        found = pictures.kept(cut)
    except SnapcurveError:
        return
    with Image.open(io.BytesIO(found.content)) as image:
        image.load()


# --- in the notebook ---------------------------------------------------------------------


def test_the_notebook_keeps_and_checks_it(any_book):
    code = any_book.file_batch(full_batch(1)).code
    new = NewEntry("picture", "Ilka Brandner", {"name": "tray.jpg"}, picture=TALKING["jpeg exif"])
    filed = any_book.add_entry(new, code)
    content = pictures.kept(new.picture).content
    assert filed.payload == {
        "name": "tray.jpg",
        "sha256": hashlib.sha256(content).hexdigest(),
        "size_bytes": len(content),
    }
    assert any_book.picture(filed.id).content == content
    (entry,) = any_book.as_amended(code).entries
    assert entry.picture().content == content
    assert any_book.check() == []


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("UPDATE pictures SET content = sha256", "Batch 2026-11-24-01, entry 1: its picture"),
        ("DELETE FROM pictures", "Batch 2026-11-24-01, entry 1: its picture differ"),
    ],
)
def test_an_altered_picture_is_named_and_not_given_out(any_place, change, said):
    with notebook.open_notebook(any_place) as book:
        code = book.file_batch(full_batch(1)).code
        new = NewEntry("picture", "Ilka Brandner", {"name": "a.jpg"}, picture=picture())
        book.add_entry(new, code)
    postgresql = raw_engine(any_place).dialect.name == "postgresql"
    alter(any_place, change.replace("= sha256", "= sha256::bytea" if postgresql else "= x'00'"))
    with notebook.open_notebook(any_place) as book:
        (problem,) = book.check()
        assert problem.startswith(said)
        with pytest.raises(RecordError, match="missing or damaged"):
            book.picture(1)


# --- commands ----------------------------------------------------------------------------


@pytest.fixture
def code(any_book):
    return any_book.file_batch(with_curve()).code


def test_pictures_are_noted_exported_and_given_back(code, type_in, tmp_path):
    (tmp_path / "tray.jpg").write_bytes(TALKING["jpeg exif"])
    (tmp_path / "blade.png").write_bytes(PLAIN["png"])
    assert "dull spot" in type_in("note", code, "dull spot", "--picture", "tray.jpg", *BY)
    type_in("note", code, "--picture", "blade.png", *BY)
    (one,) = json.loads(type_in("batches", "--json"))
    kept = [pictures.kept(raw).content for raw in (TALKING["jpeg exif"], PLAIN["png"])]
    assert [entry["holds"] for entry in one["entries"]] == [
        {
            "name": "tray.jpg",
            "sha256": hashlib.sha256(kept[0]).hexdigest(),
            "size_bytes": len(kept[0]),
            "text": "dull spot",
        },
        {
            "name": "blade.png",
            "sha256": hashlib.sha256(kept[1]).hexdigest(),
            "size_bytes": len(kept[1]),
        },
    ]
    text = type_in("show", code, "--pictures", "out/of it")
    names = [f"{code}-picture-1.jpg", f"{code}-picture-2.png"]
    folder = tmp_path / "out" / "of it"
    assert [(folder / name).read_bytes() for name in names] == kept
    assert all(os.path.join("out/of it", name) in text for name in names)
    (folder / names[0]).unlink()
    (folder / names[1]).write_bytes(b"mine")
    assert "exists already" in type_in("show", code, "--pictures", "out/of it", fails=True)
    assert os.listdir(folder) == [names[1]]  # all are looked at before one is written
    type_in("show", code, "--pictures", "out/of it", "--replace")
    assert (folder / names[1]).read_bytes() == kept[1]


def test_what_cannot_be_done_is_said(code, type_in, tmp_path):
    assert "has no pictures" in type_in("show", code, "--pictures", "out", fails=True)
    assert not (tmp_path / "out").exists()
    note = ("note", code, "--picture")
    assert "There is no picture" in type_in(*note, "none.jpg", *BY, fails=True)
    (tmp_path / "tray.jpg").write_bytes(b"abc")
    assert "is no JPEG" in type_in(*note, "tray.jpg", *BY, fails=True)
    (tmp_path / "large.jpg").write_bytes(bytes(pictures.BYTES_MAX + 1))
    assert "larger than 8 MiB" in type_in(*note, "large.jpg", *BY, fails=True)
    os.mkfifo(tmp_path / "pipe.jpg")
    assert "it is a pipe" in type_in(*note, "pipe.jpg", *BY, fails=True)
