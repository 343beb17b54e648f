"""A tape: what the probe feels, as rows in time.

A row is ``seconds,probe_c,ambient_c,fault,button``; the last three may be empty or absent.
Between rows the temperatures run straight. The rows may come from a file, or be written
while the board runs, by a bench that hears the beeper: time never passes the newest row,
so the two stay in step at any speed.
"""

from snapcurve.wire.const import const

_NO_AMBIENT_C = const(21.0)  # the room of a tape that does not say
_KEEP_MS = const(1000)


class Tape:
    """Rows in the order of time."""

    def __init__(self):
        self._rows = []  # (ms, probe_c, ambient_c, fault, button)
        self.covered_ms = 0
        self.ended = False

    def add(self, line: str) -> None:
        """Take one line of text; "end" says that no more rows will come."""
        line = line.strip()
        if line == "end":
            self.ended = True
            return
        if not line or not (line[0].isdigit() or line[0] == "-"):
            return
        cells = (line + ",,,,").split(",")
        ms = int(float(cells[0]) * 1000 + 0.5)
        last = self._rows[-1] if self._rows else None
        ambient = float(cells[2]) if cells[2] else (last[2] if last else _NO_AMBIENT_C)
        fault = int(cells[3]) if cells[3] else 0
        button = cells[4] == "1"
        self._rows.append((ms, float(cells[1]), ambient, fault, button))
        self.covered_ms = ms

    def empty(self) -> bool:
        """Whether no row has come yet."""
        return not self._rows

    def _forget(self, ms: int) -> None:
        while len(self._rows) > 2 and self._rows[1][0] < ms - _KEEP_MS:
            self._rows.pop(0)

    def at(self, ms: int):
        """``(probe_c, ambient_c, fault)`` at device time ``ms``; an ordinary room before the
        first row has come."""
        if not self._rows:
            return _NO_AMBIENT_C, _NO_AMBIENT_C, 0
        self._forget(ms)
        before = self._rows[0]
        for row in self._rows:
            if row[0] > ms:
                span = row[0] - before[0]
                part = (ms - before[0]) / span if span > 0 else 0.0
                part = max(0.0, part)
                return (
                    before[1] + (row[1] - before[1]) * part,
                    before[2] + (row[2] - before[2]) * part,
                    before[3],
                )
            before = row
        return before[1], before[2], before[3]

    def button(self, ms: int):
        """Whether the button is down at ``ms``, and until when nothing changes that."""
        level = False
        for row in self._rows:
            if row[0] <= ms:
                level = row[4]
            elif row[4] != level:
                return level, row[0] - 1
        return level, self.covered_ms
