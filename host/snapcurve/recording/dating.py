"""Dating: when a curve began. Only a proof dates a curve.

A board without a battery knows only how long it has run since its start. A curve says at
which start (``boot``) and how long after it it began. Proof is the time at any one moment of the
same start: by the curve's own clock, when it was set while it ran; by a dated curve of the same
start; or by the host, while that start still lasts. A curve of an earlier start of which no
curve has a time stays undated.
"""

from snapcurve.recording.curve import Curve


class Starts:
    """For each start of one board: Unix time in ms at uptime 0, as far as it is known."""

    def __init__(self, board_id: int):
        self._board_id = board_id
        self._unix_ms: dict[int, int] = {}
        self._longest_ms: dict[int, int] = {}  # uptime up to which the start is known to last

    def seen(self, boot: int, uptime_ms: int, unix_ms: int) -> None:
        """The board answered at ``uptime_ms`` of start ``boot`` when it was ``unix_ms``."""
        self._unix_ms[boot] = unix_ms - uptime_ms
        self._longest_ms[boot] = uptime_ms

    def learn(self, curve: Curve) -> None:
        """Take what a dated curve tells of its start; what the host saw itself goes first."""
        if curve.board_id == self._board_id and curve.started_unix_ms is not None:
            self._unix_ms.setdefault(curve.boot, curve.started_unix_ms - curve.started_uptime_ms)

    def date(self, curve: Curve) -> bool:
        """Date ``curve`` if it is not dated and can be; whether it is dated now."""
        if curve.started_unix_ms is None and curve.board_id == self._board_id:
            began = self._unix_ms.get(curve.boot)
            longest_ms = self._longest_ms.get(curve.boot, curve.started_uptime_ms)
            if began is not None and curve.started_uptime_ms <= longest_ms:
                curve.started_unix_ms = began + curve.started_uptime_ms
        return curve.started_unix_ms is not None
