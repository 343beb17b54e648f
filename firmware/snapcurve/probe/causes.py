"""Which urgent sounds have a cause now.

At each step that follows from the engine's state, the probe's place and the faults; nothing
is cleared by name. A set of names is a number whose bit N stands for NAMES[N]; the most
important name comes first.
"""

from snapcurve.wire.const import const

NAMES = ("probe_fault", "too_hot", "temper_lost", "too_warm", "too_cool", "unreadable")
_PROBE_FAULT = const(1)
_TOO_HOT = const(2)
_TEMPER_LOST = const(4)
_TOO_WARM = const(8)
_TOO_COOL = const(16)
_UNREADABLE = const(32)


def lasting(
    before: int,
    state: str,
    confirmed: bool,
    hot: bool,
    lost: bool,
    place: str,
    faults: int,
    unreadable: bool,
) -> int:
    """The names that have a cause.

    ``before`` is what had one a step ago; ``state``, ``confirmed``, ``hot`` and ``lost`` are
    the engine's; ``unreadable``: a stored setting cannot be read. Without a reading, or with
    the probe in the air, the chocolate is not known. Back in it, its state has no cause until
    the engine has confirmed it. Where the probe's place is not known, a cause stays.
    """
    always = _UNREADABLE if unreadable else 0
    if faults:
        return always | _PROBE_FAULT
    if place == "air":
        return always
    found = 0
    if hot:
        found |= _TOO_HOT
    if lost:
        found |= _TEMPER_LOST
    if state == "too_warm":
        found |= _TOO_WARM
    elif state == "too_cool":
        found |= _TOO_COOL
    fresh = 0
    if place == "chocolate":
        fresh = -1 if confirmed else _TOO_HOT
    return always | found & (before | fresh)
