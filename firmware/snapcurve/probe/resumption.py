"""A batch goes on after an unplanned restart, or a long absence of the probe.

While a batch runs, a small file says which curve it is and in which phase; it is written
when one of them changes, a few times in a batch, and every half minute of a dwell. A batch
that ends as it should takes the file with it. Found at a start, it means that the board
failed, was restarted by its watchdog or lost its power in the middle.

After a failure or the watchdog it is the same batch and goes on at once. After a power cut
of unknown length it goes on if the probe is well away from the room's temperature within
_WAIT_MS. The dip test's clock is not resumed.

A batch also ends when its probe lies in the room for long, perhaps forgotten there. Put back
into chocolate within _REST_MS, it goes on where it was; in the melt a new batch would do the
same. Chocolate too warm for a batch in temper is a new batch, since a bowl that is left alone
does not warm. Melting pieces may be cool enough at first: ``Batch.returned`` is true until
the batch is known to be the old one.
"""

import struct

from snapcurve.wire import catalogue
from snapcurve.wire.const import const

from .recorder import is_away

NAME = "batch"
_FORM = "<HBBBH"  # curve, phase index, engine state, begun by hand, dwell left in s
_DWELL_STEP_S = const(30)  # between two writings
_WAIT_MS = const(15 * 60000)
_REST_MS = const(60 * 60000)  # common practice, no source: by then a bowl has set
_SURE_S = const(12)  # immersed for so long: not a hand that has touched the probe
_REPEATED = ("too_warm", "too_cool")  # sound again after a restart, if they still hold


class Resumption:
    """Goes on with ``batch``. Step it before asking whether a new batch begins."""

    def __init__(self, store, settings, batch):
        self._store = store
        self._settings = settings
        self._batch = batch
        self._saved = b""  # what the file says
        self._pending = b""  # a batch that was broken off
        self._sure = False
        self._resting = b""  # a batch that ended in the room, when, and with which profile
        self._rested_ms = 0
        self._profile = None
        self._begun = False  # more of the batch than its first approach is over

    def start(self, restarted: bool) -> None:
        """Look for a batch that was broken off; ``restarted``: not by switching on."""
        raw = self._saved = self._store.load(NAME)
        if len(raw) != struct.calcsize(_FORM):
            return
        curve, _, state, _, _ = struct.unpack(_FORM, raw)
        if state >= len(catalogue.ENGINE_STATES):
            return
        row = self._store.row(curve)
        if row is None or not row.ended:
            self._pending = raw
            self._sure = restarted

    def step(self, now_ms: int) -> None:
        """Save the running batch's state, or go on with the one that was broken off."""
        recorder = self._batch.recorder
        if self._pending:
            if recorder.running or now_ms > _WAIT_MS:
                self._pending = b""  # another has begun, or it is over
            elif self._sure or is_away(*self._batch.probe()):
                self._go_on(now_ms)
        if recorder.running:
            self._resting = b""
            self._save(now_ms)
        elif self._saved and not self._pending:
            if recorder.ended == "room" and self._begun:
                self._resting = self._saved
                self._rested_ms = now_ms
                self._profile = self._settings.profile
            self._saved = b""
            try:
                self._store.forget(NAME)
            except OSError:
                pass  # the curve's last block says that it ended, too

    def returns(self, now_ms: int) -> bool:
        """A batch would begin now. True if one goes on instead, or if it is still open where
        the probe is."""
        estimate = self._batch.estimate
        profile = self._settings.profile
        if now_ms - self._rested_ms > _REST_MS or self._profile is not profile:
            self._resting = b""
        if not self._resting:
            return False
        if not estimate.trusted or estimate.immersed_s < _SURE_S:
            return True
        self._pending, self._resting = self._resting, b""
        last = profile.phases[-1]
        if estimate.chocolate_c > (last.high_c if last.lost_c is None else last.lost_c):
            self._pending = b""
            return False
        self._go_on(now_ms)
        self._batch.returned = True
        return True

    def _go_on(self, now_ms: int) -> None:
        curve, index, state, by_hand, dwell_left_s = struct.unpack(_FORM, self._pending)
        self._pending = b""
        state = catalogue.ENGINE_STATES[state]
        self._batch.resume(now_ms, bool(by_hand), curve, index, state, dwell_left_s)

    def _save(self, now_ms: int) -> None:
        engine = self._batch.engine
        recorder = self._batch.recorder
        self._begun = engine.phase is not None and (engine.index > 0 or engine.worked)
        state = "inside" if engine.state in _REPEATED else engine.state
        left_s = -(-engine.dwell_left_s(now_ms) // _DWELL_STEP_S) * _DWELL_STEP_S
        raw = struct.pack(
            _FORM,
            recorder.curve & 0xFFFF,
            engine.index,
            catalogue.ENGINE_STATES.index(state),
            recorder.by_hand,
            min(left_s, 0xFFFF),
        )
        if raw != self._saved:
            self._saved = raw
            try:
                self._store.save(NAME, raw)
            except OSError:
                pass  # the recorder meets the same flash, and says so
