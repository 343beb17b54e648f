"""Batches for the notebook's tests; lots, people and couvertures are invented."""

import io
import random
import subprocess
import sys
import zlib
from dataclasses import replace
from pathlib import Path

from chart_samples import RECORDED, recorded
from PIL import Image
from sqlalchemy import NullPool, create_engine, event

from snapcurve import notebook
from snapcurve.board.client import CurveRow
from snapcurve.collecting import filing
from snapcurve.notebook import records, tables

START_UNIX_MS = 1_795_500_000_000  # 2026-11-24T06:00:00Z
DAY_MS = 86_400_000
ROOT = Path(__file__).parents[2]


def new_batch(number=1, *, board_id=7, size=900, raw=None, started=START_UNIX_MS, **changed):
    """A batch of curve `number`, whose bytes follow from board and number alone."""
    if raw is None:
        raw = random.Random(board_id * 1000 + number).randbytes(size)
    curve = records.NewCurve(
        board_id=board_id,
        board_name="bench by the window",
        boot=3,
        curve=number,
        generation=0xFFFF_0000 + number,
        crc=zlib.crc32(raw),
        raw=raw,
        collected_unix_ms=START_UNIX_MS + 5_000_000,
    )
    values = {
        "couverture": "Generic milk",
        "method": "seeding",
        "profile": b"\x00\x01\xff",
        "curve": curve,
        "started_unix_ms": started,
        "utc_offset_min": 60,
        "marks": (
            records.Mark(900_000, "dip_test", 1, "work", 2987),
            records.Mark(960_000, "note", 2, "work"),
        ),
        "alarms": (
            records.Alarm(312_400, "reached", "melt", 4502),
            records.Alarm(700_000, "probe_out", "melt"),
        ),
    }
    return records.NewBatch(**{**values, **changed})


def raw_engine(place):
    """The notebook's database past the notebook: SQL of the tests' own."""
    if "://" not in place:
        engine = create_engine(
            f"sqlite:///{place}", poolclass=NullPool, connect_args={"isolation_level": None}
        )
        event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN"))
        return engine
    url = place.replace("postgresql://", "postgresql+psycopg://")
    return create_engine(url, poolclass=NullPool)


def raw_sql(place, *statements):
    """Run these in one transaction; the rows of the last, if it has any."""
    with raw_engine(place).begin() as connection:
        for statement in statements:
            result = connection.exec_driver_sql(statement)
        return [tuple(row) for row in result] if result.returns_rows else []


def unguard(place):
    """Take away what refuses changes, as somebody with all rights could."""
    if "://" not in place:
        names = raw_sql(place, "SELECT name FROM sqlite_master WHERE type = 'trigger'")
        raw_sql(place, *(f"DROP TRIGGER {name}" for (name,) in names))
        return
    raw_sql(place, *(f"ALTER TABLE {one} DISABLE TRIGGER USER" for one in tables.metadata.tables))


def alter(place, *statements):
    """Run these past the guards, as somebody with all rights could, and leave the guards as they
    were."""
    if "://" in place:
        raw_sql(place, "SET session_replication_role = replica", *statements)
        return
    guards = raw_sql(place, "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
    raw_sql(
        place, *(f"DROP TRIGGER {name}" for name, _ in guards), *statements,
        *(made for _, made in guards),
    )  # fmt: skip


def start_python(script, *arguments):
    """Another Python process that runs `script` with this project's packages."""
    paths = [str(ROOT / name) for name in ("host", "protocol", "firmware", "tests/host")]
    return subprocess.Popen(
        [sys.executable, "-c", f"import sys; sys.path[:0] = {paths!r}\n{script}", *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )


def assert_one_sentence(error):
    """The message is one line for a person, without the database library's own words."""
    text = str(error)
    assert text.endswith(".")
    assert "\n" not in text
    assert "sqlalche" not in text.lower()


def picture(number=1, size=(40, 30), kind="JPEG", **how):
    """A file with a picture, another for each number."""
    colour = (10 * number % 256, 90, 30)
    target = io.BytesIO()
    Image.new("RGB", size, colour).save(target, kind, **how)
    return target.getvalue()


def full_batch(number, **changed):
    """A batch in which every column is filled."""
    values = {
        "couverture_toml": f'name = "Generic milk"\nkind = "milk"\n# bag {number}\n',
        "operator": ("Ilka Brandner", "Łucja O'Neil", "Ωμέγα Παππά")[number % 3],
        "notes": f"bowl {number}, spatula of wood",
        "uncertainty_centi_c": 26,
        "uncertainty_at_centi_c": 3100,
        "place": "bench by the window" if number % 2 else "bench by the door",
        "room_centi_c": 2050 + number,
        "mass_mg": 1_500_000 + number,
        "allergens": ("milk", "soya"),
        "calibration": bytes(range(number % 7, 40)),
        "lots": (
            records.Lot(
                "milk couverture", f"MC-{number // 10:03d}", "Hollerbach", 1_200_000, ("milk",)
            ),
            records.Lot("hazelnut paste", f"HN {number % 4}", "Feldmann", 300_000, ("nuts",)),
        ),
    }
    return new_batch(number, **{"size": 120, **values, **changed})


def with_curve(**changed):
    """A batch whose curve can be read, with the marks of its test blades."""
    raw, curve = RECORDED.read_bytes(), recorded()
    row = CurveRow(
        curve=curve.curve,
        generation=1,
        boot=curve.boot,
        size=len(raw),
        crc=zlib.crc32(raw),
        state="closed",
    )
    new = filing.new_batch(curve, raw, row, "pico")
    return replace(new, **{"started_unix_ms": START_UNIX_MS, "utc_offset_min": 60, **changed})


def entries_on(book, code, number):
    """A few entries on a batch, all kinds in turn."""
    who = "Ilka Brandner"
    kinds = [
        records.NewEntry("note", who, {"text": f"tray {number} looks well"}),
        records.NewEntry(
            "amendment", who, {"field": "operator", "value": "Jean Petit"}, "wrong name typed"
        ),
        records.NewEntry(
            "outcome",
            who,
            {"what": "bloom", "value": "marked", "after_days": 7},
            at_unix_ms=START_UNIX_MS + 7 * DAY_MS,
        ),
        records.NewEntry("dip_test", who, {"result": "set", "mark": 1, "set_s": 240}),
        records.NewEntry("correction", who, {"text": "40 g of seed added"}),
        records.NewEntry("picture", who, {"name": f"tray-{number}.jpg"}, picture=picture(number)),
        records.NewEntry(
            "lot", who, {"ingredient": "sea salt", "lot": f"S-{number}", "mass_mg": 9000}
        ),
        records.NewEntry("cleaning", who, {"text": "bowl and probe, hot water, dried"}),
    ]
    for shift in range(2):
        book.add_entry(kinds[(2 * number + shift) % len(kinds)], code)


def filled_book(place, batches):
    """A notebook with so many full batches, entries, calibrations and a bench's cleaning."""
    with notebook.open_notebook(place) as book:
        for number in range(1, batches + 1):
            if number % 10 == 1:
                raw = bytes(range(number % 5, 44))
                book.file_calibration(
                    records.Calibration(7, "bench by the window", "ice", "MAX31856", "K", raw)
                )
            entries_on(book, book.file_batch(full_batch(number)).code, number)
        book.add_entry(records.NewEntry("cleaning", "Ilka Brandner", {"text": "all benches"}))
