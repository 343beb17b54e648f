"""Batches for sheets; people, lots, brands and places are invented."""

import dataclasses
import hashlib
from datetime import datetime, timedelta, timezone
from pathlib import Path

from chart_samples import recorded
from notebook_samples import picture

from snapcurve.analysis.verdict import judge
from snapcurve.calibration.stored import Calibration, Point, build
from snapcurve.notebook.entries import amended
from snapcurve.notebook.pictures import kept
from snapcurve.notebook.records import Alarm, Batch, Entry, FiledCurve, Lot, Mark
from snapcurve.recording.clock import Clock
from snapcurve.recording.curve import Curve, decode
from snapcurve.report import sheet_sections
from snapcurve.report.sheet_sections import sheet_of
from snapcurve.shown.settings_file import Settings

# Recorded by the firmware on the simulator: milk by seeding, worked for 222 minutes.
FOUR_HOURS = Path(__file__).parent / "data" / "four_hours.curve"
MORNING = datetime(2026, 11, 24, 9, 5, tzinfo=timezone(timedelta(hours=1)))
CALIBRATED_S = round((MORNING - timedelta(days=84)).timestamp())
ICE = Point(
    indicated_centi_c=121,
    correction_centi_c=-121,
    step="ice",
    unix_s=CALIBRATED_S,
    reference_limit_milli_c=50,
    spread_milli_c=4,
    readings=40,
    cold_junction_centi_c=2150,
)

NAMES = (
    "Jürgen Häßler-Groß",
    "Élodie Lefèvre-Œuvrard",
    "Íñigo Muñoz Güell",
    "Łucja Źdźbło-Śmigły",
    "Αγγελική Παπαδοπούλου-Ψαρρά",
)
HEBREW, ARABIC = "מיכל לוי", "سلمى الحلواني"
HOSTILE = (
    '=cmd()|"/c calc"!A1',
    "Robert'); DROP TABLE batches;--",
    'two "quotes" and a \\ back\\slash',
    "first line\nsecond line\r\nthird",
    "$\\frac{1}{2}$ & <b>no markup</b> 50 %",
    "漢字 and \U0001f36b and \u202eturned\u202c",
    "bell\x07 null\x00 tab\there",
)
LONG_WORD = "Wurzelpeterschokoladenüberzugsmassenlagerhalter" * 6 + "x" * 18
LONG_TEXT = " ".join(["Kuvertüre"] * 30)[:300]


FILED = FiledCurve(
    board_id=0x0BAD5EED,
    board_name="pico",
    boot=1,
    curve=1,
    generation=1,
    crc=0x1234ABCD,
    collected_unix_ms=0,
    size=1934,
)


def texts_in(value):
    """Every text anywhere in a sheet, but for those of its chart."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from texts_in(one)
    elif dataclasses.is_dataclass(value) and type(value).__module__ == sheet_sections.__name__:
        for field in dataclasses.fields(value):
            yield from texts_in(getattr(value, field.name))


def four_hours():
    return decode(FOUR_HOURS.read_bytes())


def batch(code="2026-11-24-02", **changed):
    """Of which nothing is known but its code."""
    values = dict.fromkeys(field.name for field in dataclasses.fields(Batch))
    values |= {"id": 1, "code": code, "couverture": "", "method": "", "profile": b""}
    values |= {"utc_offset_min": 60, "rehearsal": False, "created_unix_ms": 0, "mistake": False}
    values |= {"curve": FILED, "marks": (), "alarms": (), "lots": ()}
    return Batch(**(values | changed))


def entry(kind, payload, days=0, who="Ida Brandt", why=""):
    at_ms = round((MORNING + timedelta(days=days)).timestamp() * 1000)
    return Entry(1, 1, "2026-11-24-01", kind, who, why, at_ms, 60, payload, 1, "")


def pictured(name, days=0, who="Ida Brandt", raw=None, **held):
    raw = picture() if raw is None else raw
    held |= {"name": name, "sha256": hashlib.sha256(raw).hexdigest()}
    one = entry("picture", held, days, who)
    return dataclasses.replace(one, picture=lambda: kept(raw))


EMPTY = sheet_of(amended(batch(), ()), judge(Curve()), Settings())


def normal(curve=None, entries=None, settings=None, cleaning=None, filed=None):
    """A sheet with something in every field."""
    curve = recorded() if curve is None else curve
    curve = dataclasses.replace(curve, calibrated_unix_s=CALIBRATED_S)
    settings = settings or Settings(operator=NAMES[0], bench="bench by the window")
    values = {
        "couverture": "Halde milk 36",
        "method": "three-step",
        "started_unix_ms": round(MORNING.timestamp() * 1000),
        "place": "Back room, Kandern",
        "operator": NAMES[0],
        "room_centi_c": 2040,
        "mass_mg": 1_280_000,
        "allergens": ("milk", "soya"),
        "notes": f"Moulds lent by {NAMES[4]}.",
        "uncertainty_centi_c": 32,
        "uncertainty_at_centi_c": 3150,
        "calibration": build(Calibration((ICE,))),
        "marks": (Mark(1_058_000, "dip_test", 1, "work"),),
        "alarms": (Alarm(1_400_000, "too_cool", "work"),),
        "lots": (
            Lot("Halde milk 36", "HM-2217/4", "Halde", 1_000_000, ("milk", "soya")),
            Lot("Hazelnut paste", "L 88-03", "Nussdorf", 30_000, ("hazelnut",)),
        ),
    }
    if entries is None:
        gloss = {"what": "gloss", "value": "even"}
        bloom = {"what": "bloom", "value": "none", "after_days": 7}
        operator = {"field": "operator", "was": "J. H.", "value": NAMES[0]}
        entries = (
            entry("correction", {"text": "hot air, 10 s"}, 0.01),
            entry("correction", {"text": "seed added, stirred"}, 1),
            entry("outcome", gloss, 1, NAMES[1]),
            entry("outcome", bloom, 7, NAMES[2]),
            entry("amendment", operator, 2, NAMES[3], "the name was written short"),
            entry("dip_test", {"result": "set, silky, no finger mark", "mark": 1}),
            pictured("tray-1.jpg"),
        )
    filed = batch("2026-11-24-01", **(values | (filed or {})))
    return sheet_of(
        amended(filed, entries),
        judge(curve, (), Clock(filed.started_unix_ms, 60), 0.32, settings.style),
        settings,
        (),
        ("washed and dried, after a dark batch",) if cleaning is None else cleaning,
    )


def worst():
    """Names of 300 letters, hostile texts and right-to-left names everywhere."""
    odd = "\n".join(HOSTILE)
    finding = {"what": odd, "value": LONG_TEXT, "after_days": 7}
    return normal(
        entries=(
            entry("correction", {"text": LONG_WORD}),
            entry("correction", {"text": odd}, 1, ARABIC),
            entry("outcome", finding, 1, HEBREW),
            entry("amendment", {"field": "notes", "was": odd, "value": LONG_WORD}, 2, HEBREW, odd),
            entry(
                "amendment", {"field": "place", "was": "", "value": LONG_TEXT}, 2, LONG_WORD, odd
            ),
            entry("note", {"text": LONG_TEXT * 20}, 2, LONG_WORD),
            pictured(LONG_WORD, 3, ARABIC, text=LONG_TEXT),
            entry("dip_test", {"result": LONG_WORD, "mark": 1}),
        ),
        settings=Settings(operator=LONG_TEXT, bench=ARABIC),
        cleaning=HOSTILE,
        filed={
            "couverture": LONG_WORD,
            "method": HOSTILE[0],
            "operator": f"{HEBREW} & {ARABIC}",
            "notes": odd,
            "curve": dataclasses.replace(FILED, board_name=HOSTILE[5]),
            "lots": tuple(
                Lot(text, text, text, 123_456_000, (text, "milk"))
                for text in (LONG_WORD, LONG_TEXT, ARABIC, *HOSTILE)
            ),
        },
    )
