"""A running firmware asked to leave for the prompt, whatever release it is."""

import time
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from snapcurve.board import structs
from snapcurve.board.client import Board, CurveRow, Hello, Port
from snapcurve.errors import LinkError, Refused, SnapcurveError, WrongVersion
from snapcurve.wire import catalogue
from snapcurve.wire.frame import FrameReader, FrameWriter

ASK_WAIT_S = 1.0
ASKS = 3
PROMPTS = (b"\r\n>>> ", b"CTRL-B to exit\r\n>")
MAINTENANCE = catalogue.message_number("maintenance")


@dataclass
class Running:
    """What a firmware said of itself before it left; ``hello`` None: another protocol."""

    hello: Hello | None = None
    profile: bytes = b""
    calibration: bytes = b""
    curves: list[CurveRow] = field(default_factory=list)


class _Line:
    """Frames of any protocol version: ``(version, number, payload)``."""

    def __init__(self, port: Port):
        self._port = port
        self._reader = FrameReader(self._on_frame)
        self._writer = FrameWriter()
        self._frames: list[tuple[int, int, bytes]] = []

    def _on_frame(
        self, version: int, number: int, sequence: int, buffer: Any, start: int, end: int
    ) -> None:
        if number >= catalogue.ANSWER:
            self._frames.append((version, number, bytes(buffer[start:end])))

    def ask(self, number: int) -> tuple[int, int, bytes] | None:
        """The first answer or error to a request without payload; None if none comes, or
        if what comes is the interpreter's prompt."""
        heard = b""
        for sequence in range(1, ASKS + 1):
            length = self._writer.finish(number, sequence, FrameWriter.PAYLOAD_AT)
            self._port.write(bytes(self._writer.line[:length]))
            deadline_s = time.monotonic() + ASK_WAIT_S
            while time.monotonic() < deadline_s:
                data = self._port.read()
                if data:
                    self._reader.feed(data)
                    heard += data
                    if heard.endswith(PROMPTS):
                        return None
                for frame in self._frames:
                    if frame[1] in (number | catalogue.ANSWER, catalogue.ERROR):
                        self._frames.clear()
                        return frame
        return None


def running_on(port: Port) -> Running | None:
    """What runs there; None if nothing that speaks frames does."""
    with suppress(LinkError):
        frame = _Line(port).ask(catalogue.message_number("hello"))
        if frame is None:
            return None
        board = Board(port)
        found = Running()
        with suppress(WrongVersion, Refused):
            found.hello = board.hello()
            found.profile = board.profile()
            found.calibration = board.calibration()
            found.curves = board.curves()
        return found
    return None


def leave_for_prompt(port: Port) -> None:
    """End the firmware. LinkError if it will not, with what to do."""
    frame = _Line(port).ask(MAINTENANCE)
    if frame is None or frame[1] != catalogue.ERROR:
        return  # gone, or its answer was lost: the prompt will tell
    code = structs.parse_message("error", frame[2])["code"]
    if code == "still_recording":
        raise SnapcurveError(
            "the board is recording a batch: end it with a long press on the button, then install"
        )
    raise LinkError(
        f"the firmware on the board does not step aside ({code}): hold the button while you plug "
        "the board in, then install again"
    )
