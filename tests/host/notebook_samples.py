"""Batches for the notebook's tests; lots, people and couvertures are invented."""

import random
import subprocess
import sys
import zlib
from pathlib import Path

from sqlalchemy import NullPool, create_engine

from snapcurve import notebook

START_UNIX_MS = 1_795_500_000_000  # 2026-11-24T06:00:00Z
ROOT = Path(__file__).parents[2]


def new_batch(number=1, *, board_id=7, size=900, raw=None, started=START_UNIX_MS, **changed):
    """A batch of curve `number`, whose bytes follow from board and number alone."""
    if raw is None:
        raw = random.Random(board_id * 1000 + number).randbytes(size)
    curve = notebook.NewCurve(
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
            notebook.Mark(900_000, "dip_test", 1, "work", 2987),
            notebook.Mark(960_000, "note", 2, "work"),
        ),
        "alarms": (
            notebook.Alarm(312_400, "reached", "melt", 4502),
            notebook.Alarm(700_000, "probe_out", "melt"),
        ),
    }
    return notebook.NewBatch(**{**values, **changed})


def raw_engine(place):
    """The notebook's database past the notebook: SQL of the tests' own."""
    if "://" not in place:
        return create_engine(f"sqlite:///{place}", poolclass=NullPool)
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
    tables = "batches curves marks alarms lots entries calibrations seals seal_head words"
    raw_sql(place, *(f"ALTER TABLE {one} DISABLE TRIGGER USER" for one in tables.split()))


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
