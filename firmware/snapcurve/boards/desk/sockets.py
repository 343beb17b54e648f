"""The desk board's lines as sockets: for a computer without MicroPython (CPython)."""

import socket
import sys


class SocketStream:
    """The wire over a socket that never blocks."""

    def __init__(self, port: int):
        """Wait for a connection to ``port`` of this computer."""
        listener = socket.socket()
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(("127.0.0.1", port))
        listener.listen(1)
        self.source = listener.accept()[0]
        listener.close()
        self.source.setblocking(False)

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


def connected(port: int):
    """File and poll source of a connection to ``port`` of this computer."""
    connection = socket.socket()
    connection.connect(("127.0.0.1", port))
    connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)  # head and data go apart
    return connection.makefile("rwb", buffering=0), connection
