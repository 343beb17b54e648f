"""What the board does when the host asks: one method for each message of the catalogue.

Every request can be repeated without harm, since any answer may be lost on the way.
"""

import binascii

from snapcurve.wire import catalogue, codec
from snapcurve.wire.const import const
from snapcurve.wire.errors import WireError

from .marks import RESULTS
from .settings import VOLUME, check_probe
from .store import PROFILE
from .tempering import profile as profiles

_LIVE_MIN_MS = const(100)
_LIVE_MAX_MS = const(60000)
_TOKENS = const(8)
_HOUR_MS = const(3600000)


def moment(at_ms: int):
    """The values of catalogue.MOMENT."""
    return at_ms // 1000, at_ms % 1000


def _parsed(parse, raw: bytes):
    """What ``parse`` makes of ``raw``. An error inside it is one of the request's first field."""
    try:
        return parse(raw)
    except WireError as error:
        raise WireError(error.code, 0)


class Requests:
    """Answers to requests; see catalogue.MESSAGES for the values and their order.

    ``identity`` is what "hello" says before the moment, ``reading(now_ms)`` gives the values of
    catalogue.READING. ``chunk`` is room for CURVE_CHUNK_MAX bytes of a curve; it may be the
    very place in the frame to which they go.
    The link sends a reading at ``live_due_ms``, each ``live_interval_ms`` (0: none), and
    leaves for the prompt if ``leaving``.
    """

    def __init__(self, identity, store, settings, batch, marks, sounder, reading, chunk):
        self._identity = identity
        self._store = store
        self._settings = settings
        self._batch = batch
        self._marks = marks
        self._sounder = sounder
        self.reading = reading
        self._chunk = chunk
        self._tokens = [(-1, 0)] * _TOKENS  # (token, when it was noted)
        self._token_at = 0
        self._now_ms = 0
        self.live_interval_ms = 0
        self.live_due_ms = 0
        self.leaving = False

    def handle(self, now_ms: int, number: int, values):
        """The values of the answer to request ``number``; WireError for a refusal."""
        self._now_ms = now_ms
        try:
            return getattr(self, "on_" + catalogue.message_name(number))(*values)
        except OSError:
            raise WireError("store_fault")

    def _refuse_while_recording(self) -> None:
        if self._batch.recorder.running:
            raise WireError("still_recording")

    def on_hello(self):
        tc_type, _mains_hz, converter = self._settings.probe
        identity = self._identity + (self._store.boot,)
        return identity + moment(self._now_ms) + (converter, tc_type)

    def on_clock_set(self, unix_s: int, unix_ms: int):
        if unix_ms > 999:
            raise WireError("bad_value", 1)
        self._batch.set_clock(self._now_ms, unix_s, unix_ms)
        return moment(self._now_ms)

    def on_profile_put(self, raw: bytes):
        """A running curve ends and a new one begins with another profile."""
        another = self._settings.use_profile(_parsed(profiles.parse, raw))
        if another and self._batch.recorder.running:
            self._batch.begin_anew(self._now_ms, "button")
        return (binascii.crc32(raw),)

    def on_profile_get(self):
        return (self._store.load(PROFILE),)

    def on_calibration_get(self, file: str):
        return (self._store.calibration(file),)

    def on_calibration_put(self, raw: bytes):
        # Loaded only for a board that is calibrated: it is a twentieth of the firmware.
        from .thermometer import calibration as calibrations

        _parsed(calibrations.parse, raw)
        if raw != self._store.calibration():
            self._refuse_while_recording()  # a curve is of one calibration
            self._settings.use_calibration(raw)
        return (binascii.crc32(raw),)

    def on_probe_get(self):
        settings = self._settings
        return settings.probe + (int(settings.chosen), int(settings.recognised != ""))

    def on_probe_put(self, tc_type: str, mains_hz: int, converter: str):
        probe = check_probe((tc_type, mains_hz, converter))
        self._refuse_while_recording()  # a curve is of one probe
        self._settings.use_probe(probe)
        return ()

    def on_bath(self, length_s: int):
        self._refuse_while_recording()
        self._batch.hold_off(self._now_ms + length_s * 1000)
        return ()

    def on_maintenance(self):
        self._refuse_while_recording()
        self.leaving = True
        return ()

    def on_crash_get(self):
        from . import crashes

        return crashes.last(self._store)

    def on_chain_end_put(self, notebook: int, number: int, text: str):
        from . import chain_ends

        chain_ends.keep(self._store, (notebook, number, text))
        return ()

    def on_chain_ends_get(self):
        from . import chain_ends

        return (b"".join(chain_ends.kept(self._store)),)

    def on_curves_list(self, first: int):
        rows = self._store.rows
        packed = []
        for row in rows[first : first + catalogue.CURVE_ROWS_MAX]:
            state = "open" if row.open else "closed"
            values = (row.curve, state, row.boot, row.size, row.crc, row.generation)
            packed.append(codec.pack(catalogue.CURVE_ROW, values))
        return first, len(rows), b"".join(packed)

    def on_curve_read(self, curve: int, offset: int, longest: int):
        row = self._store.row(curve)
        if row is None:
            raise WireError("no_such_curve", 0)
        if offset > row.size:
            raise WireError("bad_value", 1)
        longest = min(longest, catalogue.CURVE_CHUNK_MAX)
        got = self._store.read_into(row, offset, self._chunk, 0, longest)
        return curve, offset, row.size, row.generation, memoryview(self._chunk)[:got]

    def on_curve_erase(self, curve: int, size: int, crc: int):
        row = self._store.row(curve)
        if row is None:
            return (curve,)  # erased before, and the answer was lost
        if row.open:
            raise WireError("still_recording", 0)
        if (row.size, row.crc) != (size, crc):
            raise WireError("not_the_same_curve", 2)
        self._store.erase(row)
        return (curve,)

    def on_live_on(self, interval_ms: int):
        if not _LIVE_MIN_MS <= interval_ms <= _LIVE_MAX_MS:
            raise WireError("bad_value", 0)
        self.live_interval_ms = interval_ms
        self.live_due_ms = self._now_ms
        return ()

    def on_live_off(self):
        self.live_interval_ms = 0
        return ()

    def on_reading_get(self):
        return self.reading(self._now_ms)

    def on_mark(self, token: int, mark: str, number: int):
        for known, noted_ms in self._tokens:
            if known == token:
                return (token,) + moment(noted_ms)
        if not self._marks.mark(self._now_ms, mark, number):
            raise WireError("bad_value", 2 if mark in RESULTS else 1)
        self._tokens[self._token_at] = (token, self._now_ms)
        self._token_at = (self._token_at + 1) % _TOKENS
        return (token,) + moment(self._now_ms)

    def on_volume_set(self, volume: str, hours: int):
        place = catalogue.VOLUMES.index(volume)
        if not hours:
            self._store.save(VOLUME, bytes([place]))
        self._sounder.set_volume(place, self._now_ms + hours * _HOUR_MS if hours else 0)
        return ()

    def on_sound(self, name: str):
        if name == "none":
            self._sounder.silence()
        else:
            self._sounder.play(self._now_ms, name, True)
        return ()
