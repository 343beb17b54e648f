"""What goes into the notebook and what comes out of it.

Moments are milliseconds since 1970-01-01 UTC, offsets milliseconds since the start of the
curve, temperatures hundredths of a degree Celsius. None means unknown, never zero.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Mark:
    """Something the person marked: a dip test or a note, numbered by the board."""

    offset_ms: int
    kind: str
    number: int
    phase: str
    estimate_centi_c: int | None = None


@dataclass(frozen=True)
class Alarm:
    """Something the board sounded."""

    offset_ms: int
    alarm: str
    phase: str
    estimate_centi_c: int | None = None


@dataclass(frozen=True)
class NewCurve:
    """A curve as downloaded. Board, generation and number together name it for ever.

    `crc` is the CRC-32/ISO-HDLC which the board gave for the whole curve.
    """

    board_id: int
    board_name: str
    boot: int
    curve: int
    generation: int
    crc: int
    raw: bytes
    collected_unix_ms: int


@dataclass(frozen=True)
class NewBatch:
    """A batch to be filed.

    `started_unix_ms` is None when nothing proves when the batch ran. `utc_offset_min` is
    what local clocks were ahead of UTC then (now, for a batch of unknown time). `profile`
    is what the board worked with; `couverture_toml` the couverture's file as it was.
    `uncertainty_centi_c` is the expanded uncertainty (k = 2) of its temperatures at
    `uncertainty_at_centi_c`.
    """

    couverture: str
    method: str
    profile: bytes
    curve: NewCurve
    started_unix_ms: int | None
    utc_offset_min: int
    marks: tuple[Mark, ...] = ()
    alarms: tuple[Alarm, ...] = ()
    couverture_toml: str | None = None
    rehearsal: bool = False
    operator: str | None = None
    notes: str | None = None
    uncertainty_centi_c: int | None = None
    uncertainty_at_centi_c: int | None = None


@dataclass(frozen=True)
class Calibration:
    """A calibration a board was given, as it was sent (catalogue.CALIBRATION_HEAD ...).

    `step` is what was measured: ice, boil, point, gallium, response, clear, or "found" for
    one that was on the board already. `filed_unix_ms` is 0 until it is filed.
    """

    board_id: int
    board_name: str
    step: str
    converter: str
    tc_type: str
    raw: bytes
    rehearsal: bool = False
    filed_unix_ms: int = 0


@dataclass(frozen=True)
class Curve:
    """What is known of a filed curve; its `size` bytes are read by `Notebook.curve_raw`."""

    board_id: int
    board_name: str
    boot: int
    curve: int
    generation: int
    size: int
    crc: int
    collected_unix_ms: int


@dataclass(frozen=True)
class BatchRow:
    """One line of the list of batches."""

    id: int
    code: str
    started_unix_ms: int | None
    utc_offset_min: int
    couverture: str
    method: str
    rehearsal: bool
    operator: str | None


@dataclass(frozen=True)
class Batch:
    """A filed batch. Marks and alarms are in the order of their offsets."""

    id: int
    code: str
    started_unix_ms: int | None
    utc_offset_min: int
    couverture: str
    method: str
    profile: bytes
    couverture_toml: str | None
    rehearsal: bool
    operator: str | None
    notes: str | None
    created_unix_ms: int
    uncertainty_centi_c: int | None
    uncertainty_at_centi_c: int | None
    curve: Curve
    marks: tuple[Mark, ...]
    alarms: tuple[Alarm, ...]
