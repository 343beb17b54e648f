"""What the board does when the host asks: one method for each message of the catalogue.

Every request can be repeated without harm, since any answer may be lost on the way.
"""

import binascii

from snapcurve.wire import catalogue, codec
from snapcurve.wire.const import const
from snapcurve.wire.errors import WireError

from .marks import RESULTS
from .tempering import profile as profiles

_LIVE_MIN_MS = const(100)
_LIVE_MAX_MS = const(60000)
_TOKENS_KEPT = const(8)


def _parsed(parse, raw: bytes):
    """What ``parse`` makes of ``raw``, which is one field of a request, the first, whatever
    inside it is wrong."""
    try:
        return parse(raw)
    except WireError as error:
        raise WireError(error.code, 0)


class Requests:
    """Answers for ``app``; see catalogue.MESSAGES for the values and their order.

    ``chunk`` is room for CURVE_CHUNK_MAX bytes of a curve. It may be the very place in the
    frame to which they go.
    """

    def __init__(self, app, chunk=None):
        self._app = app
        self._tokens = [(-1, 0)] * _TOKENS_KEPT  # (token, when it was noted)
        self._token_at = 0
        self._chunk = bytearray(catalogue.CURVE_CHUNK_MAX) if chunk is None else chunk

    def handle(self, number: int, values):
        """The values of the answer to request ``number``; WireError for a refusal."""
        try:
            return getattr(self, "on_" + catalogue.message_name(number))(*values)
        except OSError:
            raise WireError("store_fault")

    def reading(self):
        """The values of catalogue.READING."""
        return self._app.reading()

    def on_hello(self):
        app = self._app
        who = (app.board_id, app.board_name, app.store.boot)
        return tuple(app.version) + who + app.moment() + app.converter

    def on_clock_set(self, unix_s: int, unix_ms: int):
        if unix_ms > 999:
            raise WireError("bad_value", 1)
        self._app.set_clock(unix_s, unix_ms)
        return self._app.moment()

    def on_profile_put(self, raw: bytes):
        profile = _parsed(profiles.parse, raw)
        self._app.use_profile(profile)
        return (binascii.crc32(raw),)

    def on_profile_get(self):
        return (self._app.store.profile(),)

    def on_calibration_get(self, file: str):
        return (self._app.store.calibration(file),)

    def on_calibration_put(self, raw: bytes):
        # Loaded only for a board that is calibrated: it is a twentieth of the firmware.
        from .thermometer import calibration as calibrations

        _parsed(calibrations.parse, raw)
        self._app.use_calibration(raw)
        return (binascii.crc32(raw),)

    def on_bath(self, length_s: int):
        if self._app.recorder.running:
            raise WireError("still_recording")
        self._app.hold_off(length_s * 1000)
        return ()

    def on_maintenance(self):
        if self._app.recorder.running:
            raise WireError("still_recording")
        self._app.link.leave()
        return ()

    def on_crash_get(self):
        from . import crashes

        return crashes.last(self._app.store)

    def on_curves_list(self, first: int):
        rows = self._app.store.rows
        part = rows[first : first + catalogue.CURVE_ROWS_MAX]
        packed = [
            codec.pack(
                catalogue.CURVE_ROW,
                (
                    row.curve,
                    "open" if row.open else "closed",
                    row.boot,
                    row.size,
                    row.crc,
                    row.generation,
                ),
            )
            for row in part
        ]
        return first, len(rows), b"".join(packed)

    def _row(self, curve: int):
        row = self._app.store.row(curve)
        if row is None:
            raise WireError("no_such_curve", 0)
        return row

    def on_curve_read(self, curve: int, offset: int, longest: int):
        row = self._row(curve)
        if offset > row.size:
            raise WireError("bad_value", 1)
        longest = min(longest, catalogue.CURVE_CHUNK_MAX)
        got = self._app.store.read_into(row, offset, self._chunk, 0, longest)
        return curve, offset, row.size, row.generation, memoryview(self._chunk)[:got]

    def on_curve_erase(self, curve: int, size: int, crc: int):
        row = self._app.store.row(curve)
        if row is None:
            return (curve,)  # erased before, and the answer was lost
        if row.open:
            raise WireError("still_recording", 0)
        if (row.size, row.crc) != (size, crc):
            raise WireError("not_the_same_curve", 2)
        self._app.store.erase(row)
        return (curve,)

    def on_live_on(self, interval_ms: int):
        if not _LIVE_MIN_MS <= interval_ms <= _LIVE_MAX_MS:
            raise WireError("bad_value", 0)
        self._app.link.live(interval_ms)
        return ()

    def on_live_off(self):
        self._app.link.live(0)
        return ()

    def on_reading_get(self):
        return self._app.reading()

    def on_mark(self, token: int, mark: str, number: int):
        for known, when_ms in self._tokens:
            if known == token:
                return (token,) + self._app.moment(when_ms)
        now_ms = self._app.mark(mark, number)
        if now_ms < 0:
            raise WireError("bad_value", 2 if mark in RESULTS else 1)
        self._tokens[self._token_at] = (token, now_ms)
        self._token_at = (self._token_at + 1) % _TOKENS_KEPT
        return (token,) + self._app.moment(now_ms)

    def on_volume_set(self, volume: str, hours: int):
        self._app.set_volume(catalogue.VOLUMES.index(volume), hours)
        return ()

    def on_sound(self, name: str):
        self._app.sound(name)
        return ()
