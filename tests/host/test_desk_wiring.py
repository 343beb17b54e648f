"""The desk board's bus when the board goes in the middle of a transfer."""

import socket

import pytest

from snapcurve.simulation.desk_wiring import DeskWiring

AT_MS = (1000).to_bytes(4, "little")
READ = AT_MS + bytes([4, 0x0C, 0, 0, 0])
WRITE = AT_MS + bytes([4 | 0x80, 0x80, 0x10, 0x03, 0xFF])


class Nothing:
    """A world that is never asked."""

    def rows(self, now_ms):
        raise AssertionError

    def heard(self, now_ms, words):
        raise AssertionError


def answered(data, converter):
    """What the bus answers to ``data`` from a board that goes right after it."""
    board, ours = socket.socketpair()
    with board:
        board.sendall(data)
        board.shutdown(socket.SHUT_WR)
        with ours:
            DeskWiring(Nothing(), converter).serve_bus(ours.makefile("rwb"))
        return board.makefile("rb").read()


@pytest.mark.parametrize(
    ("converter", "transfer"), [("MAX31856", READ), ("MAX31856", WRITE), ("MAX31855", READ)]
)
@pytest.mark.parametrize("length", range(len(READ)))
def test_a_board_killed_in_mid_transfer_ends_the_bus(converter, transfer, length):
    """A rehearsal pulls the plug at any instant: after a head without its body, or half of it."""
    assert answered(transfer[:length], converter) == b""
    whole = len(answered(transfer, converter))
    assert len(answered(transfer + transfer[:length], converter)) == whole


@pytest.mark.parametrize("count", [0, 0x80])
def test_a_transfer_of_no_bytes_ends_it_too(count):
    assert answered(AT_MS + bytes([count]), "MAX31856") == b""
