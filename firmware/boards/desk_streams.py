"""The wire of the desk board."""

import sys


class SocketStream:
    """The wire, or the tape, over a socket that never blocks."""

    def __init__(self, connection):
        self.source = connection
        connection.setblocking(False)

    def read_into(self, buffer) -> int:
        """Bytes read, 0 if there are none now."""
        try:
            data = self.source.recv(len(buffer))
        except OSError:
            return 0
        if not data:
            sys.exit(0)  # whoever was at the other end has gone
        buffer[: len(data)] = data
        return len(data)

    def write(self, view) -> int:
        """Bytes taken, 0 if there is no room now."""
        try:
            return self.source.send(view)
        except OSError:
            return 0


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
