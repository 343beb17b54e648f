"""A batch goes on after a restart that nobody asked for, or a long absence of the probe.

While a batch runs, a small file says which curve it is and in which phase; it is written
when one of them changes, a few times in a batch, and every half minute of a dwell. A batch
that ends as it should takes the file with it. Found at a start, it means that the board
failed, was restarted by its watchdog or lost its power in the middle.

After a failure or the watchdog it is surely the same batch: it goes on at once. After the
power was off nobody knows for how long, a probe that is well away from the room's
temperature decides; one that stays at the room's for _WAIT_MS means that the batch is over.
The dip test's clock is not resumed: nobody knows how long the board was off.

A batch also ends when its probe lies in the room for long, and perhaps it was forgotten there.
Put back into chocolate within _REST_MS, it goes on where it was; in the melt a new batch would
do the same. It is a new one where the chocolate is too warm for a batch in temper: a bowl that
is left alone does not warm. Pieces that melt may have been where temper is possible at first:
``returned`` is true until the batch is known to be the old one.
"""

import struct

from snapcurve.wire import catalogue
from snapcurve.wire.const import const

from .recorder import is_away

NAME = "batch"
_WAIT_MS = const(15 * 60000)
_SURE_S = const(12)  # in chocolate for so long: not a hand that has touched the probe
_REST_MS = const(60 * 60000)  # common practice, no source: by then a bowl has set
_FORM = "<HBBBH"  # curve, phase index, engine state, begun by hand, dwell left in s
_DWELL_STEP_S = const(30)  # it is written anew so often
_LEFT = ("too_warm", "too_cool")  # said again after a restart, if it still holds


class Resuming:
    """``app`` is what goes on: its store, recorder and engine. Step it before the app looks
    whether a new batch begins."""

    def __init__(self, app):
        self._app = app
        self._kept = b""  # what the file says
        self._pending = b""
        self._sure = False
        self._resting = b""  # the batch that ended in the room
        self._rested_ms = 0
        self._profile = None  # of that batch
        self.returned = False

    def start(self, root: str, restarted: bool) -> None:
        """Look for a batch that was broken off; ``restarted``: not by switching on. ``root``
        is where the store's files are."""
        store = self._app.store
        if restarted:
            from . import crashes

            try:
                crashes.after_reset(root, store.boot)
            except OSError:
                pass  # the store has said so, or will
        raw = store.load(NAME)
        self._kept = raw
        if len(raw) != struct.calcsize(_FORM):
            return
        curve, _, state, _, _ = struct.unpack(_FORM, raw)
        if state >= len(catalogue.ENGINE_STATES):
            return
        row = store.row(curve)
        if row is None or not row.ended:
            self._pending = raw
            self._sure = restarted

    def step(self, now_ms: int) -> None:
        """Keep the running batch's state, or go on with the one that was broken off."""
        app = self._app
        if self._pending:
            if app.recorder.running or now_ms > _WAIT_MS:
                self._pending = b""  # another has begun, or it is over
            elif self._sure or is_away(*app.feels()):
                self._go_on(now_ms)
        if app.recorder.running:
            self._resting = b""  # whatever began it
            self._keep(now_ms)
        elif self._kept and not self._pending:
            self._kept = b""
            try:
                app.store.forget(NAME)
            except OSError:
                pass  # the curve's last block says that it ended, too

    def rest(self, now_ms: int) -> None:
        """The batch, whose engine still runs, ends because its probe lies in the room."""
        app = self._app
        engine = app.engine
        if engine.phase is not None and (engine.index or engine.worked):
            self._resting = self._kept
            self._rested_ms = now_ms
            self._profile = app.profile

    def returns(self, now_ms: int) -> bool:
        """A batch would begin now; whether that is not so, since one goes on, or where the
        probe is must be known first."""
        app = self._app
        estimate = app.estimate
        if now_ms - self._rested_ms > _REST_MS or self._profile is not app.profile:
            self._resting = b""
        if not self._resting:
            return False
        if not estimate.trusted or estimate.inside_s < _SURE_S:
            return True
        self._pending = self._resting
        self._resting = b""
        last = app.profile.phases[-1]
        if estimate.chocolate_c > (last.high_c if last.lost_c is None else last.lost_c):
            self._pending = b""
            return False
        self._go_on(now_ms)
        self.returned = True
        return True

    def _go_on(self, now_ms: int) -> None:
        app = self._app
        curve, index, state, by_hand, dwell_left_s = struct.unpack(_FORM, self._pending)
        self._pending = b""
        app.go_on(
            now_ms, bool(by_hand), curve, index, catalogue.ENGINE_STATES[state], dwell_left_s
        )

    def _keep(self, now_ms: int) -> None:
        app = self._app
        engine = app.engine
        state = "inside" if engine.state in _LEFT else engine.state
        code = catalogue.ENGINE_STATES.index(state)
        recorder = app.recorder
        left_s = -(-engine.dwell_left_s(now_ms) // _DWELL_STEP_S) * _DWELL_STEP_S
        raw = struct.pack(
            _FORM,
            recorder.curve & 0xFFFF,
            engine.index,
            code,
            recorder.by_hand,
            min(left_s, 0xFFFF),
        )
        if raw != self._kept:
            self._kept = raw
            try:
                app.store.save(NAME, raw)
            except OSError:
                pass  # the recorder meets the same flash, and says so
