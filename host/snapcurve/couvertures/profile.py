"""Couverture and method become a profile: phases with thresholds, as the board wants them."""

from functools import lru_cache
from typing import Any

from snapcurve.couvertures import Couverture
from snapcurve.couvertures.methods import METHODS, WITH_LOW_POINT, chosen, named
from snapcurve.errors import RecordError, SnapcurveError
from snapcurve.heat.constants import LOW_POINT_S
from snapcurve.probe.tempering import profile as board_profile
from snapcurve.shown.plain_text import visible
from snapcurve.wire import catalogue, codec
from snapcurve.wire.errors import WireError

# Common practice, no source: a blade sets in 3 to 5 minutes when the chocolate is in temper.
TEST_EARLY_S = 180
TEST_DUE_S = 300
TEST_LATE_S = 420

LEAD_S = 20  # how long before the predicted crossing "near" sounds
REWARM_PART = 0.3  # without an aim: warmed so far into the window, not just to its edge

CUP_DONE_C = 14.0  # by then crystallisation no longer holds a sample in ice water up

_HEAD_NAMES = [str(row[0]) for row in catalogue.PROFILE_HEAD]
_PHASE_NAMES = [str(row[0]) for row in catalogue.PHASE]
_HEAD_SIZE = codec.fixed_size(catalogue.PROFILE_HEAD)


def _centi(value_c: float) -> int:
    return round(value_c * 100)


def _phase(kind: str, direction: str, target_c: float, **more: Any) -> dict[str, Any]:
    return {
        "kind": kind,
        "direction": direction,
        "target_centi_c": _centi(target_c),
        "low_centi_c": _centi(more.get("low_c", 0)),
        "high_centi_c": _centi(more.get("high_c", 0)),
        "lead_s": LEAD_S,
        "dwell_s": more.get("dwell_s", 0),
    }


def phases_of(couverture: Couverture, method: str) -> list[dict[str, Any]]:
    """The phases of ``couverture`` by ``method``, in the words of catalogue.PHASE.

    Seeding and coating melt, then work; slab and cold bath melt, cool, warm again and work;
    crystal seed melts, cools to where the crystals go in, and works; hold only works; cup cools
    a sample in ice water. SnapcurveError for an unknown method, or one that does not go with
    the couverture.
    """
    method = named(method)
    if method not in METHODS:
        raise SnapcurveError(f"There is no method {method!r}: choose one of {', '.join(METHODS)}.")
    if method == "cup":
        return [_phase("cool", "fall", CUP_DONE_C)]
    chosen(method, couverture)
    low_c, high_c = couverture.work_low_c, couverture.work_high_c
    lost_c = couverture.crystals_last_to_c  # none to lose: no target beyond the window
    work = _phase("work", "hold", high_c if lost_c is None else lost_c, low_c=low_c, high_c=high_c)
    if method == "hold":
        return [work]
    melt = _phase("melt", "rise", couverture.melt_c)
    if method == "crystal-seed":
        return [melt, _phase("cool", "fall", couverture.crystal_seed_c), work]
    if method not in WITH_LOW_POINT or couverture.cool_c is None:
        return [melt, work]
    within_c = REWARM_PART * (high_c - low_c)
    rewarm_c = low_c + within_c if couverture.aim_c is None else couverture.aim_c
    return [
        melt,
        _phase("cool", "fall", couverture.cool_c, dwell_s=round(LOW_POINT_S)),
        _phase("rewarm", "rise", rewarm_c),
        work,
    ]


def compile_profile(couverture: Couverture, method: str) -> bytes:
    """The profile of ``couverture`` by ``method`` as the board stores it."""
    head = {
        "couverture": couverture.name,
        "method": method,
        "never_above_centi_c": _centi(couverture.never_above_c),
        "test_early_s": TEST_EARLY_S,
        "test_due_s": TEST_DUE_S,
        "test_late_s": TEST_LATE_S,
    }
    from snapcurve.board import structs  # which takes long to load, and who reads needs it not

    phases = phases_of(couverture, method)
    return structs.build(catalogue.PROFILE_HEAD, head) + b"".join(
        structs.build(catalogue.PHASE, phase) for phase in phases
    )


def read_profile(raw: bytes) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Head and phases of a profile; RecordError if ``raw`` is none by the board's own rules."""
    try:
        head, phases = _read(bytes(raw))
    except WireError as error:
        raise RecordError(
            "The profile cannot be read: send one with 'snapcurve load COUVERTURE'."
        ) from error
    return dict(head), [dict(row) for row in phases]


@lru_cache(maxsize=64)  # thousands of batches are made by the same few
def _read(raw: bytes) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    board_profile.parse(raw)
    values = codec.unpack(catalogue.PROFILE_HEAD, raw[:_HEAD_SIZE])
    head = dict(zip(_HEAD_NAMES, values, strict=True))
    rows = codec.unpack_rows(catalogue.PHASE, raw[_HEAD_SIZE:])
    phases = [dict(zip(_PHASE_NAMES, row, strict=True)) for row in rows]
    # A board may say what it likes: its text is made harmless.
    return head | {"couverture": visible(head["couverture"])}, phases


def method_of(raw: bytes) -> str:
    """The method of a profile, "none" where there is no profile that can be read."""
    try:
        return str(read_profile(raw)[0]["method"]) if raw else "none"
    except RecordError:
        return "none"


def profile_name(raw: bytes) -> str:
    """Couverture and method of a profile in words; "none", or why it cannot be read."""
    if not raw:
        return "none"
    try:
        head, _ = read_profile(raw)
    except RecordError as error:
        return str(error)
    return f"{head['couverture']} by {head['method']}"
