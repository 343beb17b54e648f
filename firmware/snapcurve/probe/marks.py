"""What hands and host tell the probe: the button's presses, marks, and the dip test.

A press while something sounds silences it and does nothing else, nor do the presses that
follow it at once. In silence, presses close together are counted:

======  ============================================================================
1       a test blade was dipped now; or, up to ANSWER_MS after it was due: it has set
2       it has set too soon, or it was due and takes a mark; without a blade to judge
        the same as one press, so that a nervous hand loses nothing
3       on to the next phase
4       back to the phase before
long    end the recording, on letting go (without one, any press begins it)
======  ============================================================================

Each is answered by a sound of its own, so that a miscount is heard and can be mended.

The dips of a curve are numbered from 1 on, by button and host alike, and a result is noted with
the number of its dip. Without a number from the host it is that of the newest.
"""

from .tempering.dip_test import DipTest

RESULTS = ("passed", "failed", "set_early")
STEPS = {"next": 1, "back": -1}


class Marks:
    """The marks of ``app``, and what it is to do: ``sound(now_ms, alarm, phase)``,
    ``note(now_ms, mark, number)``, ``start(now_ms, by hand)`` and
    ``end(now_ms, reason)``."""

    def __init__(self, app, sound, note, start, end):
        self._app = app
        self._raise = sound
        self._note = note
        self._start = start
        self._end = end
        self._pressed_ms = 0
        self.dip_test = DipTest()
        self.dips = 0

    def begin(self) -> None:
        """A curve begins: no dip yet."""
        self.dip_test.stop()
        self.dips = 0

    def step(self, now_ms: int) -> None:
        """Sound what is due of the dip test, look at the button."""
        app = self._app
        if app.profile is not None:
            alarm = self.dip_test.step(now_ms, app.profile)
            if alarm:
                self._raise(now_ms, alarm, app.engine.phase_kind())
        what = app.button.step(now_ms)
        if what == "press":
            if app.button.count == 1:
                self._pressed_ms = now_ms
            if app.sounder.silence():
                self.dip_test.acknowledge()
                app.button.swallow()
        elif what == "held":
            if app.recorder.running:
                app.sounder.play(now_ms, "stopped")  # it ends on letting go
        elif what == "long":
            if app.recorder.running:
                self._end(now_ms, "button")
        elif what == "stuck":
            self._raise(now_ms, "button_stuck", app.engine.phase_kind())
        elif what == "end":
            self._count(now_ms, app.button.count)

    def _count(self, now_ms: int, presses: int) -> None:
        if not self._app.recorder.running:
            self._start(now_ms, True)
        elif presses <= 2:
            answer = self.dip_test.answer(self._pressed_ms, presses)
            self.mark(now_ms, answer or "dip_test", 0)
            if not answer:
                self.dip_test.start(self._pressed_ms)
        elif presses <= 4:
            self.mark(now_ms, "next" if presses == 3 else "back", 0)

    def mark(self, now_ms: int, mark: str, number: int) -> bool:
        """Note ``mark`` in the curve, with what belongs to it; False if there is no such
        phase, or no dip of that number."""
        app = self._app
        if mark == "silence":
            app.sounder.silence()
            self.dip_test.acknowledge()
        elif mark == "dip_test":
            self.dips += 1
            number = self.dips
            self.dip_test.start(now_ms)
            app.sounder.play(now_ms, "mark")
        elif mark in RESULTS:
            if number > self.dips:
                return False
            number = number or self.dips
            if number == self.dips:  # of an earlier one it changes nothing any more
                self.dip_test.stop()
                app.engine.tested(mark)
            app.sounder.play(now_ms, "passed" if mark == "passed" else "failed")
        elif mark in STEPS:
            if not app.engine.shift(STEPS[mark]):
                return False
            app.sounder.play(now_ms, "phase")
        self._note(now_ms, mark, number)
        return True
