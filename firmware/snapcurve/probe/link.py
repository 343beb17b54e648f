"""The board's end of the wire: frames in, one answer at a time out, never blocking.

``stream.read_into(buffer)`` and ``stream.write(view)`` return how many bytes moved, 0 if
none can now, and must not wait. While an answer waits to go out no further request is
taken, so memory is bounded; a host that stops reading costs its answer, nothing else. A
live reading that is due goes out before the next request is taken and is a few bytes long:
neither keeps the other waiting for more than one frame.

"maintenance" is understood in any protocol version, so that a release can replace one that
speaks another.
"""

from snapcurve.wire import catalogue, codec
from snapcurve.wire.const import const
from snapcurve.wire.errors import WireError
from snapcurve.wire.frame import FrameReader, FrameWriter

_CHUNK = const(64)
_STUCK_MS = const(2000)  # an answer that moves no byte for so long is given up
_POLL_MS = const(50)
_BUSY_MS = const(1)
_MAINTENANCE = catalogue.message_number("maintenance")


class Link:
    """``requests`` answers (requests.py)."""

    def __init__(self, stream, requests, writer=None):
        self._stream = stream
        self._requests = requests
        self._reader = FrameReader(self._on_frame, catalogue.REQUEST_BODY_MAX)
        self._writer = FrameWriter() if writer is None else writer
        self._in = bytearray(_CHUNK)
        self._in_view = memoryview(self._in)
        self._in_at = self._in_end = 0
        self._out = memoryview(self._writer.line)
        self._out_at = self._out_end = 0
        self._moved_ms = self._now_ms = self._due_ms = 0
        self.abandoned = 0

    def due_ms(self) -> int:
        """When ``step`` wants to be called again."""
        return self._due_ms

    def step(self, now_ms: int) -> None:
        """Send what waits, then take at most one request.

        KeyboardInterrupt once the answer to "maintenance" is out: what the interrupt
        character, which is switched off, would have raised.
        """
        requests = self._requests
        self._now_ms = now_ms
        self._due_ms = now_ms + _BUSY_MS
        if not self._send():
            return
        if requests.leaving:
            raise KeyboardInterrupt
        if requests.live_interval_ms and now_ms >= requests.live_due_ms:
            requests.live_due_ms = now_ms + requests.live_interval_ms
            self._answer(catalogue.LIVE, 0, requests.reading(now_ms))
            if not self._send():
                return
        if self._take_request():
            if self._send() and self._in_at < self._in_end:
                self._due_ms = now_ms  # the next request is here already
            return
        self._due_ms = now_ms + _POLL_MS

    def _send(self) -> bool:
        """Move waiting bytes; True if the line is free again."""
        while self._out_at < self._out_end:
            moved = self._stream.write(self._out[self._out_at : self._out_end])
            if not moved:
                if self._now_ms - self._moved_ms > _STUCK_MS:
                    # The next frame begins with a delimiter, which ends the torn one.
                    self._out_at = self._out_end
                    self.abandoned += 1
                    return True
                return False
            self._out_at += moved
            self._moved_ms = self._now_ms
        return True

    def _take_request(self) -> bool:
        """Feed bytes up to the end of one frame; True if something is to be sent."""
        while True:
            if self._in_at == self._in_end:
                self._in_at = 0
                self._in_end = self._stream.read_into(self._in)
                if not self._in_end:
                    return False
            end = self._in_at
            while end < self._in_end:
                end += 1
                if self._in[end - 1] == 0:
                    break
            self._reader.feed(self._in_view[self._in_at : end])
            self._in_at = end
            if self._out_at < self._out_end:
                return True

    def _on_frame(self, version: int, number: int, sequence: int, buffer, start, end) -> None:
        try:
            if version != catalogue.PROTOCOL_VERSION and number != _MAINTENANCE:
                raise WireError("wrong_version")
            if number >= catalogue.ANSWER or number == catalogue.LIVE:
                return  # the board's own frames, echoed
            try:
                record = catalogue.message_record(number)
            except KeyError:
                raise WireError("unknown_message")
            values = codec.unpack(record, buffer, start, end)
            answer = self._requests.handle(self._now_ms, number, values)
            self._answer(number | catalogue.ANSWER, sequence, answer)
        except WireError as error:
            values = (error.code, number, error.field, catalogue.PROTOCOL_VERSION)
            self._answer(catalogue.ERROR, sequence, values)

    def _answer(self, number: int, sequence: int, values) -> None:
        writer = self._writer
        fields = catalogue.message_record(number)
        end = codec.pack_into(fields, writer.body, writer.PAYLOAD_AT, values)
        self._out_end = writer.finish(number, sequence, end)
        self._out_at = 0
        self._moved_ms = self._now_ms
