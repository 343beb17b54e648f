"""Matter for batch sheets; people, lots, brands and places are invented."""

import dataclasses
from datetime import datetime, timedelta, timezone
from pathlib import Path

from chart_samples import recorded

from snapcurve.recording.curve import decode
from snapcurve.report import sheet_matter as m

# Recorded by the firmware on the simulator: milk by seeding, worked for 222 minutes.
FOUR_HOURS = Path(__file__).parent / "data" / "four_hours.curve"
ZONE = timezone(timedelta(hours=1))
MORNING = datetime(2026, 11, 24, 9, 5, tzinfo=ZONE)

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


EMPTY = m.SheetMatter("2026-11-24-02")


def texts_in(value):
    """Every text anywhere in a dataclass, tuples included."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from texts_in(one)
    elif dataclasses.is_dataclass(value) and type(value).__module__ == m.__name__:
        for field in dataclasses.fields(value):
            yield from texts_in(getattr(value, field.name))


def four_hours():
    return decode(FOUR_HOURS.read_bytes())


def normal(**changed):
    """A sheet with something in every field."""
    values = {
        "code": "2026-11-24-01",
        "couverture": "Halde milk 36",
        "method": "three-step",
        "started": MORNING,
        "duration_s": 1451.0,
        "place": "Back room, Kandern",
        "operator": NAMES[0],
        "bench": "bench by the window",
        "room_c": (20.4, 21.3),
        "mass_g": 1280.0,
        "board": "pico 0bad5eed",
        "firmware": "0.1.0",
        "recording": "1451 samples, 1934 bytes, CRC-32 1234abcd, ended by the button",
        "curve": recorded(),
        "reasons": (
            "In temper as far as the record shows: it stood in the window and the dip set.",
            "Melted through at 9 min.",
            "The window was left three times towards the cool side, 40 s at most.",
        ),
        "phases": (
            m.Phase("melt", None, 48.0, 0, 540, 21.5, 48.2, 48.1),
            m.Phase("cool", None, 28.0, 540, 900, 27.9, 48.1, 28.0),
            m.Phase("rewarm", None, 31.3, 900, 960, 28.0, 31.4, 31.3),
            m.Phase("work", 31.0, 32.0, 960, 1451, 30.8, 31.7, 31.2),
        ),
        "lots": (
            m.Lot("Halde milk 36", "HM-2217/4", "Halde", "melt", 1000.0, ("milk", "soya")),
            m.Lot("Halde milk 36", "HM-2219/1", "Halde", "seed", 250.0, ("milk", "soya")),
            m.Lot("Hazelnut paste", "L 88-03", "Nussdorf", "", 30.0, ("hazelnut",)),
        ),
        "cleaning": "washed and dried, after a dark batch",
        "calibration": m.Calibration(
            day=MORNING - timedelta(days=84),
            points=(m.CalibrationPoint("ice", MORNING - timedelta(days=84), -1.21, 0.0),),
            uncertainty_c=0.32,
            at_c=31.5,
            remark="the next one is due on 2027-02-28",
        ),
        "dip_tests": (
            m.DipTest(1000.0, 1300.0, 1310.0, "set, silky, no finger mark"),
            m.DipTest(1400.0),
        ),
        "corrections": (
            m.Correction(1105.0, "hot air, 10 s"),
            m.Correction(1210.0, "seed added, stirred", 20.0),
        ),
        "outcomes": (
            m.Outcome(MORNING + timedelta(days=1), "1 day", "gloss", "even", NAMES[1]),
            m.Outcome(MORNING + timedelta(days=1), "1 day", "snap", "clean", NAMES[1]),
            m.Outcome(MORNING + timedelta(days=7), "7 days", "bloom", "none", NAMES[2]),
        ),
        "amendments": (
            m.Amendment(
                MORNING + timedelta(days=2),
                NAMES[3],
                "the lot was copied wrongly from the bag",
                "lot of the seed: HM-2219/1 instead of HM-2219/7",
            ),
        ),
        "notes": (f"Moulds lent by {NAMES[4]}.",),
        "pictures": ("tray-1.jpg, SHA-256 9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822c",),
        "signer": NAMES[0],
        "signed_at": "bench by the window",
    }
    return m.SheetMatter(**{**values, **changed})


def worst():
    """Names of 300 letters, hostile texts and right-to-left names everywhere."""
    odd = "\n".join(HOSTILE)
    return normal(
        code="2026-11-24-01",
        couverture=LONG_WORD,
        method=HOSTILE[0],
        place=LONG_TEXT,
        operator=f"{HEBREW} & {ARABIC}",
        bench=LONG_WORD,
        board=HOSTILE[5],
        firmware=HOSTILE[6],
        recording=odd,
        reasons=(LONG_TEXT, *HOSTILE),
        phases=tuple(
            m.Phase(LONG_WORD[:40], 31.0, 32.0, at, at + 60, -12.5, 118.25, None)
            for at in (0, 60, 120)
        ),
        lots=tuple(
            m.Lot(text, text, text, text, 123456.0, (text, "milk"))
            for text in (LONG_WORD, LONG_TEXT, ARABIC, *HOSTILE)
        ),
        cleaning=odd,
        calibration=m.Calibration(
            points=(m.CalibrationPoint(LONG_WORD, MORNING, -1.5, 0.0),) * 3, remark=odd
        ),
        dip_tests=(m.DipTest(10.0, None, None, LONG_WORD), m.DipTest(20.0, 320.0, 333.0, odd)),
        corrections=(m.Correction(None, LONG_WORD, 5.0), m.Correction(90.0, odd)),
        outcomes=(m.Outcome(None, LONG_WORD, odd, LONG_TEXT, HEBREW),),
        amendments=(m.Amendment(MORNING, LONG_WORD, HEBREW, odd),) * 2,
        notes=(LONG_TEXT * 20, odd, LONG_WORD),
        pictures=(LONG_WORD,),
        signer=LONG_TEXT,
        signed_at=ARABIC,
    )
