"""The wire of the desk board."""

import sys


class StdioStream:
    """The wire over standard input and output, which the starter made non-blocking."""

    def __init__(self):
        self.source = sys.stdin
        self._in = sys.stdin.buffer
        self._out = sys.stdout.buffer

    def read_into(self, buffer) -> int:
        """Bytes read, 0 if there are none now."""
        try:
            return self._in.readinto(buffer) or 0
        except OSError:
            return 0

    def write(self, view) -> int:
        """Bytes taken, 0 if there is no room now."""
        try:
            return self._out.write(view) or 0
        except OSError:
            return 0
