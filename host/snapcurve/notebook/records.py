"""What goes into the notebook and what comes out of it.

Moments are milliseconds since 1970-01-01 UTC, offsets milliseconds since the start of the
curve, temperatures hundredths of a degree Celsius, masses milligrams. None means unknown,
never zero. Allergens are in one of three states, see `vocabulary`; `allergens` computes those
of a batch.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any


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


@dataclass(frozen=True, kw_only=True)
class _Curve:
    """Board, generation and number together name a curve for ever.

    `crc` is the CRC-32/ISO-HDLC which the board gave for the whole curve.
    """

    board_id: int
    board_name: str
    boot: int
    curve: int
    generation: int
    crc: int
    collected_unix_ms: int


@dataclass(frozen=True, kw_only=True)
class NewCurve(_Curve):
    """A curve as downloaded."""

    raw: bytes


@dataclass(frozen=True, kw_only=True)
class FiledCurve(_Curve):
    """What is known of a filed curve; its `size` bytes are read by `Notebook.curve_raw`."""

    size: int


# Stands for the curve of a batch that has lost it.
LOST = FiledCurve(
    board_id=0, board_name="", boot=0, curve=0, generation=0, crc=0, collected_unix_ms=0, size=-1
)


@dataclass(frozen=True)
class Lot:
    """One ingredient of a batch: whose, which lot, how much, and what is in it.

    `supplier` is the maker or who sold it, "" when nobody wrote it down; `allergens` is
    empty when it was declared to hold none; `best_before` is a day in ISO 8601.
    """

    ingredient: str
    lot: str
    supplier: str = ""
    mass_mg: int | None = None
    allergens: tuple[str, ...] | None = None
    best_before: str | None = None


@dataclass(frozen=True, kw_only=True)
class _Batch:
    """`started_unix_ms` is None when nothing proves when the batch ran. `utc_offset_min` is
    what local clocks were ahead of UTC then (at filing, for a batch of unknown time). `profile`
    is what the board worked with; `couverture_toml` the couverture's file as it was.
    `uncertainty_centi_c` is the expanded uncertainty (k = 2) of its temperatures at
    `uncertainty_at_centi_c`, as it was known when the batch was filed; `calibration` the probe's
    calibration then, as the board sent it (catalogue.CALIBRATION_HEAD ...), b"" for none and
    None for not known. `place` is the bench, `mass_mg` the whole batch, `allergens` what the
    couverture holds. `mistake`: it is no batch but was started by mistake, which is filed as an
    amendment.
    """

    couverture: str
    method: str
    profile: bytes
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
    place: str | None = None
    room_centi_c: int | None = None
    mass_mg: int | None = None
    allergens: tuple[str, ...] | None = None
    calibration: bytes | None = None
    lots: tuple[Lot, ...] = ()
    mistake: bool = False


@dataclass(frozen=True, kw_only=True)
class NewBatch(_Batch):
    """A batch to be filed."""

    curve: NewCurve


@dataclass(frozen=True, kw_only=True)
class Batch(_Batch):
    """A filed batch as it was filed; `Notebook.as_amended` gives it with its entries.

    Marks and alarms are in the order of their offsets, lots in that of their filing.
    """

    id: int
    code: str
    created_unix_ms: int
    curve: FiledCurve


@dataclass(frozen=True)
class BatchRow:
    """One line of the list of batches; `mistake`: it was started by mistake."""

    id: int
    code: str
    started_unix_ms: int | None
    utc_offset_min: int
    couverture: str
    method: str
    rehearsal: bool
    operator: str | None
    mistake: bool = False


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
class Picture:
    """A picture that is kept: one of `pictures.ENDINGS`, and the file's bytes."""

    media_type: str
    content: bytes


@dataclass(frozen=True)
class NewEntry:
    """Something to be added to a batch, or to the bench when no batch is named.

    `kind` is one of `vocabulary.ENTRY_KINDS`; `payload` holds what `checks.PAYLOADS` says
    of that kind. `at_unix_ms` None is now. An amendment needs a reason (`why`), an entry of
    kind "picture" the bytes of a file with one (`picture`).
    """

    kind: str
    who: str
    payload: Mapping[str, Any]
    why: str = ""
    at_unix_ms: int | None = None
    utc_offset_min: int | None = None
    picture: bytes | None = field(default=None, repr=False)


@dataclass(frozen=True)
class Entry:
    """A filed entry. `number` counts all that was ever sealed in this notebook, and `hash`
    is the SHA-256 over everything sealed up to and including this entry; `filed_by` the login of
    the server that filed it, which is sealed too, None on SQLite.

    Of a batch as amended, `picture` reads that of an entry of kind "picture": pictures are large,
    and few who ask for entries want them. It raises what `Notebook.picture` does.
    """

    id: int
    batch_id: int | None
    code: str | None
    kind: str
    who: str
    why: str
    at_unix_ms: int
    utc_offset_min: int
    payload: Mapping[str, Any]
    number: int
    hash: str
    picture: Callable[[], Picture] | None = field(default=None, compare=False, repr=False)
    filed_by: str | None = None


@dataclass(frozen=True)
class Change:
    """One field of a batch that an amendment changed: its name, before, after, and by what.

    `name` is a field of `Batch`, or "lots" for a lot added or replaced (`was` and `now` are
    then a Lot or None).
    """

    name: str
    was: Any
    now: Any
    entry: Entry


@dataclass(frozen=True)
class Leftover:
    """What went into a batch from an earlier one: its code, the allergen groups that are named
    of that one, and names of what is not known of it, each with the batch it is in."""

    code: str
    named: tuple[str, ...]
    not_known: tuple[str, ...]


@dataclass(frozen=True)
class AmendedBatch:
    """A batch as filed (`filed`), as it stands with its amendments (`now`), what changed
    what, and all its entries, both oldest first; what came into it from earlier batches, and
    the codes of those that had its leftover. `not_as_filed` is a sentence for the batch and each
    entry whose seal does not hold; `filed_by` as of an entry."""

    filed: Batch
    now: Batch
    changes: tuple[Change, ...]
    entries: tuple[Entry, ...]
    leftovers: tuple[Leftover, ...] = ()
    went_into: tuple[str, ...] = ()
    not_as_filed: tuple[str, ...] = ()
    filed_by: str | None = None


@dataclass(frozen=True)
class Search:
    """What to look for; everything given must hold, words in any order, case ignored.

    `since_unix_ms` <= start < `before_unix_ms` (a batch of unknown time counts from its
    filing). `text` and `couverture` are words, found whole, or by their beginning when they
    end with "*"; `operator` and `lot` are whole names; `outcome` is a word such as "dull",
    or "bloom=marked". Amended and original values are both found. `mistakes`: those too that
    were started by mistake; `rehearsals`: those as well.
    """

    since_unix_ms: int | None = None
    before_unix_ms: int | None = None
    couverture: str = ""
    lot: str = ""
    outcome: str = ""
    operator: str = ""
    text: str = ""
    mistakes: bool = False
    rehearsals: bool = True


@dataclass(frozen=True)
class Made:
    """What was made of a batch, "leftover" too; `best_before` a day in ISO 8601, `where` it
    went, in free words or a customer's code, "" when nobody wrote it down."""

    name: str
    pieces: int | None = None
    mass_mg: int | None = None
    best_before: str | None = None
    where: str = ""


@dataclass(frozen=True)
class TracedBatch:
    """A batch in a trace, with every lot that went into it and what was made of it.

    `batch` is its first record, `records` the codes of all. `replaced` are lots that a later
    entry put another one in place of; `through` are the batches whose leftover went into it, as
    far as the trace came to it through them.
    """

    batch: BatchRow
    lots: tuple[Lot, ...]
    replaced: tuple[Lot, ...] = ()
    through: tuple[str, ...] = ()
    records: tuple[str, ...] = ()
    made: tuple[Made, ...] = ()
    mass_mg: int | None = None


@dataclass(frozen=True)
class ChainEnd:
    """Where the hash chain ends. Written down elsewhere, it proves that nothing sealed until
    then was changed or left out.

    `late` counts what was filed before seals existed and sealed at `late_unix_ms` only.
    """

    number: int
    hash: str
    late: int = 0
    late_unix_ms: int | None = None
