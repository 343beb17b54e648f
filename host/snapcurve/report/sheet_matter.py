"""What stands on a batch sheet, as plain values.

Temperatures in °C, masses in g, times in s since the curve began, moments with their zone.
None and "" and () mean that nothing was recorded, and the sheet says so.
"""

from dataclasses import dataclass
from datetime import datetime

from snapcurve.notebook.descriptions import NOT_KNOWN
from snapcurve.recording.curve import Curve


@dataclass(frozen=True)
class Phase:
    """A phase that ran; a hold has both targets, the others reach ``target_high_c``.

    The readings are those with the probe in the chocolate.
    """

    kind: str
    target_low_c: float | None
    target_high_c: float | None
    start_s: float
    end_s: float
    lowest_c: float | None
    highest_c: float | None
    last_c: float | None


@dataclass(frozen=True)
class Lot:
    """One ingredient; ``use`` says what it was for, such as seed. ``allergens`` are empty if
    it was declared to hold none, None if that is not known."""

    ingredient: str
    lot: str = ""
    maker: str = ""
    use: str = ""
    mass_g: float | None = None
    allergens: tuple[str, ...] | None = None


@dataclass(frozen=True)
class CalibrationPoint:
    """One comparison: the bath, when, what was added to the reading there, and where."""

    bath: str
    day: datetime
    correction_c: float
    at_c: float


@dataclass(frozen=True)
class Calibration:
    """What the probe was corrected by; ``uncertainty_c`` is expanded (k = 2), at ``at_c``.

    ``none`` is True where it is known that there was no calibration.
    """

    none: bool = False
    day: datetime | None = None
    points: tuple[CalibrationPoint, ...] = ()
    uncertainty_c: float | None = None
    at_c: float | None = None
    remark: str = ""


@dataclass(frozen=True)
class DipTest:
    """A blade dipped at ``at_s``; what the person saw on it, and when they looked. ``number``
    0: its place in the order of dipping."""

    at_s: float
    due_sounded_s: float | None = None
    looked_s: float | None = None
    result: str = ""
    number: int = 0


@dataclass(frozen=True)
class Correction:
    """Something done to bring the chocolate back."""

    at_s: float | None
    words: str
    mass_g: float | None = None


@dataclass(frozen=True)
class Outcome:
    """What was found on the finished pieces, such as "gloss", "even"."""

    moment: datetime | None
    after: str
    what: str
    finding: str
    who: str = ""


@dataclass(frozen=True)
class Amendment:
    """A later entry: who, when, why, and what it says."""

    moment: datetime | None
    who: str
    why: str
    what: str


@dataclass(frozen=True)
class SheetMatter:
    """Everything on a batch sheet; ``reasons`` are plain sentences, the verdict first.

    ``allergens`` are those of the whole batch, in words.
    """

    code: str
    couverture: str = ""
    method: str = ""
    rehearsal: bool = False
    started: datetime | None = None
    duration_s: float | None = None
    place: str = ""
    operator: str = ""
    bench: str = ""
    room_c: tuple[float, float] | None = None
    mass_g: float | None = None
    allergens: str = NOT_KNOWN
    board: str = ""
    firmware: str = ""
    recording: str = ""
    curve: Curve | None = None
    reasons: tuple[str, ...] = ()
    phases: tuple[Phase, ...] = ()
    lots: tuple[Lot, ...] = ()
    cleaning: str = ""
    calibration: Calibration = Calibration()
    dip_tests: tuple[DipTest, ...] = ()
    corrections: tuple[Correction, ...] = ()
    outcomes: tuple[Outcome, ...] = ()
    amendments: tuple[Amendment, ...] = ()
    notes: tuple[str, ...] = ()
    pictures: tuple[str, ...] = ()
    signer: str = ""
    signed_at: str = ""
