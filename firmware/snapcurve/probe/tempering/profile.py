"""A profile: a couverture worked by a method, as phases with thresholds.

The bytes are those of catalogue.PROFILE_HEAD followed by one catalogue.PHASE each.
"""

from snapcurve.wire import catalogue, codec
from snapcurve.wire.errors import WireError


class Phase:
    """One phase; temperatures in °C, times in seconds.

    ``lost_c`` is where the temper of a holding phase is lost, None if unknown.
    """

    def __init__(self, kind, direction, target, low, high, lead_s, dwell_s):
        self.kind = kind
        self.direction = direction
        self.target_c = target / 100
        self.low_c = low / 100
        self.high_c = high / 100
        self.lost_c = target / 100 if direction == "hold" and target > high else None
        self.lead_s = lead_s
        self.dwell_s = dwell_s


class Profile:
    """A checked profile; ``raw`` is the bytes it came from."""

    def __init__(self, head, phases, raw: bytes):
        self.couverture = head[0]
        self.method = head[1]
        self.never_above_c = head[2] / 100
        self.test_times_s = head[3:]  # early, due, late
        self.phases = phases
        self.raw = raw


def parse(raw: bytes) -> Profile:
    """The profile in ``raw``; WireError if it breaks the catalogue or makes no sense.

    A phase count outside 1..PHASES_MAX is "bad_length"; a holding phase whose window is
    empty, or test times out of order, are "bad_value". The error's field, if any, is a place
    in PROFILE_HEAD or PHASE.
    """
    size = codec.fixed_size(catalogue.PROFILE_HEAD)
    if len(raw) <= size:
        raise WireError("bad_length")
    head = codec.unpack(catalogue.PROFILE_HEAD, raw, 0, size)
    if not head[3] < head[4] < head[5]:
        raise WireError("bad_value", 4)
    rows = codec.unpack_rows(catalogue.PHASE, raw[size:])
    if len(rows) > catalogue.PHASES_MAX:
        raise WireError("bad_length")
    for row in rows:
        if row[0] == "none":
            raise WireError("bad_choice")
        if row[1] == "hold" and row[3] >= row[4]:
            raise WireError("bad_value")
    return Profile(head, [Phase(*row) for row in rows], bytes(raw))
