"""The image that is dragged onto a new board: bytes, boot ROM, file systems, refusals."""

import random

import pytest
import uf2_samples as samples
from adafruit_uf2 import uf2conv

from snapcurve.board import flash_image, uf2
from snapcurve.board.fitted import Fitted
from snapcurve.board.release import MANIFEST, build
from snapcurve.cli import main
from snapcurve.errors import SnapcurveError

PROBE = Fitted("K", 60, "MAX31855")
OLD_SYSTEMS = 240


@pytest.fixture(scope="module")
def base():
    return flash_image.read_base(samples.blocks(samples.micropython()), "m.uf2", None)


@pytest.fixture(scope="module")
def files():
    return flash_image.contents(build("pico"), PROBE)


@pytest.fixture(scope="module")
def image(base, files):
    return flash_image.image(base, files)


# --- bytes --------------------------------------------------------------------------------


@pytest.mark.parametrize("sectors", [1, 3, 40])
@pytest.mark.parametrize("family", [samples.RP2040, samples.RP2350])
def test_the_bytes_are_those_of_another_maker_of_uf2(monkeypatch, sectors, family):
    """The package adafruit-uf2, where the range is in one piece."""
    raw = random.Random(sectors).randbytes(4096 * sectors)
    monkeypatch.setattr(uf2conv, "familyid", family)
    monkeypatch.setattr(uf2conv, "appstartaddr", samples.STORAGE_AT)
    pieces = {samples.STORAGE_AT + at: raw[at : at + 4096] for at in range(0, len(raw), 4096)}
    assert uf2.build(family, pieces) == uf2conv.convert_to_uf2(raw)


def test_what_was_read_is_what_was_there(base, image):
    raw = samples.micropython()
    found = uf2.read(image, "OUT.uf2").sectors()
    program = b"".join(found[at] for at in sorted(found) if at < samples.STORAGE_AT)
    assert program[: len(raw)] == raw
    assert set(program[len(raw.ljust(-(-len(raw) // 256) * 256)) :]) <= {0xFF}
    assert base.info.board == "pico"
    assert base.info.version == (1, 28, 0)
    assert base.info.storage_at == samples.STORAGE_AT
    assert base.info.storage_size == 4096 * samples.STORAGE_BLOCKS


@pytest.mark.parametrize("header_at", [0x0, 0x100, 0x1FC, 0x3E8])
def test_the_marker_is_found_in_the_first_kilobyte(header_at):
    data = samples.blocks(samples.micropython(header_at=header_at), samples.RP2350)
    assert flash_image.read_base(data, "m.uf2", None).board == "pico2"


def test_the_extra_block_for_the_rp2350_is_left_out():
    """It would land in the last block of the file system (error E10 of the chip)."""
    extra = samples.blocks(b"\xef" * 256, samples.ABSOLUTE, 0x10FFFF00)
    raw = samples.micropython(board="pico2", storage=(0x10100000, 768 * 4096))
    base = flash_image.read_base(extra + samples.blocks(raw, samples.RP2350), "m.uf2", "pico2")
    assert max(base.sectors) < 0x10100000
    assert base.info.storage_size == 768 * 4096


# --- the boot ROM, over flash that is not blank -------------------------------------------


@pytest.mark.parametrize("dirt", [b"\xff", b"\x00", b"\x55"])
def test_dragged_onto_a_board_every_sector_of_the_file_is_right(image, files, dirt):
    flash = samples.dragged(image, dirt * samples.FLASH_BYTES)
    for address, sector in uf2.read(image, "").sectors().items():
        at = address - samples.FLASH_AT
        assert flash[at : at + 4096] == sector
    disk = samples.mounted(samples.Storage(samples.storage_of(flash)))
    assert samples.files_in(disk) == files


def test_the_order_in_which_a_computer_copies_does_not_matter(image, files):
    pieces = [image[at : at + 4096] for at in range(0, len(image), 4096)]
    random.Random(3).shuffle(pieces)
    flash = samples.dragged(b"".join(pieces), b"\x55" * samples.FLASH_BYTES)
    disk = samples.mounted(samples.Storage(samples.storage_of(flash)))
    assert samples.files_in(disk) == files


def test_the_model_shows_what_blocks_without_whole_sectors_do(base, files):
    """So it can fail: MicroPython's pages as they come, and the file system behind them."""
    raw = samples.micropython()
    stored = flash_image.file_system(files, samples.STORAGE_BLOCKS)
    pages = {samples.FLASH_AT + at: raw[at : at + 256] for at in range(0, len(raw), 256)}
    for block, data in stored.items():
        for at in range(0, 4096, 256):
            pages[samples.STORAGE_AT + 4096 * block + at] = data[at : at + 256]
    whole = b"".join(samples.blocks(page, at=address) for address, page in sorted(pages.items()))
    numbered = bytearray(whole)
    for number in range(len(pages)):
        numbered[512 * number + 20 : 512 * number + 28] = number.to_bytes(4, "little") + len(
            pages
        ).to_bytes(4, "little")
    flash = samples.dragged(bytes(numbered), b"\x55" * samples.FLASH_BYTES)
    wrong = [
        address
        for address, page in pages.items()
        if flash[address - samples.FLASH_AT :][: len(page)] != page
    ]
    assert wrong


# --- over file systems that were there before ---------------------------------------------


def over(old, stored):
    """An old file system with blocks of a new one written over it."""
    raw = bytearray(old)
    for block, data in stored.items():
        raw[4096 * block : 4096 * block + 4096] = data
    return raw


def readable(raw, files):
    try:
        return samples.files_in(samples.mounted(samples.Storage(raw))) == files
    except Exception:  # whatever littlefs makes of rubbish
        return False


def test_every_old_file_system_gives_way(files):
    """And the test can fail: without the blank halves of directories some old ones come back."""
    stored = flash_image.file_system(files, samples.STORAGE_BLOCKS)
    unblank = {block: data for block, data in stored.items() if set(data) != {0xFF}}
    assert len(unblank) < len(stored)
    bad = bad_without = 0
    for seed in range(OLD_SYSTEMS):
        old = samples.used(seed)
        bad += not readable(over(old, stored), files)
        bad_without += not readable(over(old, unblank), files)
    assert bad == 0
    assert bad_without > 10


def test_the_same_files_give_the_same_bytes(base, files, image):
    assert flash_image.image(base, dict(files)) == image


# --- what it holds, and refusals ----------------------------------------------------------


def test_it_holds_what_an_installation_leaves_and_the_probe(files):
    release = build("pico")
    names = {f"{release.folder}/{file.path}": file.data for file in release.files}
    names[f"{release.folder}/{MANIFEST}"] = release.manifest
    names |= {"main.py": release.main, "curves/probe": b"\x00\x3c\x01"}
    assert files == names
    assert "curves/probe" not in flash_image.contents(release, None)


ORDINARY = samples.micropython()
REFUSED = {
    "no UF2": (b"PK\x03\x04" * 400, None, "is no UF2 file"),
    "nothing": (b"", None, "is no UF2 file"),
    "cut off": (samples.blocks(ORDINARY)[: 512 * 50], None, "is damaged"),
    "torn": (samples.blocks(ORDINARY)[:-100], None, "is no UF2 file"),
    "another chip": (samples.blocks(ORDINARY, samples.ESP32S3), None, "is for another chip"),
    "another board": (samples.blocks(ORDINARY), "pico2", "is for a pico, not for a pico2"),
    "an old one": (
        samples.blocks(samples.micropython(version="v1.27.0")),
        None,
        "MicroPython 1.27.0, and the firmware needs 1.28 or newer",
    ),
    "another program": (
        samples.blocks(samples.micropython(name="blink")),
        None,
        "does not hold MicroPython",
    ),
    "no storage": (samples.blocks(samples.micropython(storage=None)), None, "does not say"),
    "no information": (samples.blocks(bytes(5000)), None, "does not hold MicroPython"),
    "with a file system": (
        samples.blocks(samples.micropython(storage=(0x10008000, 1 << 20))),
        None,
        "has a file system in it already",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_will_not_do_is_refused_in_one_sentence(name, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("SNAPCURVE_FOLDER", str(tmp_path / "data"))
    data, board, words = REFUSED[name]
    source, target = tmp_path / "in.uf2", tmp_path / "out.uf2"
    source.write_bytes(data)
    options = ["--board", board] if board else []
    assert main(["install", "--image", str(source), str(target), *options]) == 2
    err = capsys.readouterr().err
    assert words in " ".join(err.split())
    assert err.count("snapcurve: ") == 1
    assert "Traceback" not in err
    assert not target.exists()


def test_a_flash_that_is_too_small(base, files):
    for count in (10, 30):
        with pytest.raises(SnapcurveError, match="too little for the firmware"):
            flash_image.file_system(files, count)


def test_the_command(tmp_path, capsys, monkeypatch, files):
    monkeypatch.setenv("SNAPCURVE_FOLDER", str(tmp_path / "data"))
    source, target = tmp_path / "in.uf2", tmp_path / "out.uf2"
    source.write_bytes(samples.blocks(ORDINARY))
    words = ["install", "--image", str(source), str(target), "--type", "K", "--mains", "60"]
    assert main([*words, "--converter", "MAX31855"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "MicroPython 1.28.0" in out
    assert "Probe: type K, MAX31855, mains 60 Hz." in out
    assert "profile, calibration and curves of one in use are lost" in out
    flash = samples.dragged(target.read_bytes(), b"\x55" * samples.FLASH_BYTES)
    disk = samples.mounted(samples.Storage(samples.storage_of(flash)))
    assert samples.files_in(disk) == files
    assert main(words) == 2
    assert "add --replace" in capsys.readouterr().err
    assert main([*words, "--replace"]) == 0
