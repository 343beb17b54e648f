"""What hands and host tell the probe: the button's presses, marks, and the dip test.

A press while something sounds silences it and does nothing else, nor do the presses that
follow it at once. In silence, presses close together are counted:

======  ============================================================================
1       a test blade was dipped now; or, up to three minutes after it was due: it has set
2       it has set too soon, or it was due and takes a mark; without a blade to judge
        the same as one press, so that a nervous hand loses nothing
3       on to the next phase
4       back to the phase before
long    end the recording, on letting go (without one, any press begins it)
======  ============================================================================

Each has a sound of its own, and three and four presses undo each other: a miscount is heard
and costs no batch. A result is noted with the number of its dip; without one from the host
it is that of the newest.
"""

RESULTS = ("passed", "failed", "set_early")
_STEPS = {"next": 1, "back": -1}


class Marks:
    """The marks of ``batch``, by ``button`` and host."""

    def __init__(self, batch, button, sounder):
        self._batch = batch
        self._button = button
        self._sounder = sounder
        self._pressed_ms = 0

    def step(self, now_ms: int) -> None:
        """Sound what is due of the dip test, look at the button."""
        batch = self._batch
        button = self._button
        running = batch.recorder.running
        batch.step_dip_test(now_ms)
        event = button.step(now_ms)
        if event == "press":
            if button.count == 1:
                self._pressed_ms = now_ms
            if self._silence():
                button.swallow()
        elif event == "held" and running:
            self._sounder.play(now_ms, "stopped")  # it ends on letting go
        elif event == "long" and running:
            batch.end(now_ms, "button")
        elif event == "stuck":
            batch.alarm(now_ms, "button_stuck")
        elif event == "end" and not running:
            batch.start(now_ms, True)
        elif event == "end":
            self._count(now_ms, button.count)

    def _silence(self) -> bool:
        silenced = self._sounder.silence()
        if silenced:
            self._batch.dip_test.acknowledge()
        return silenced

    def _count(self, now_ms: int, presses: int) -> None:
        dip_test = self._batch.dip_test
        if presses <= 2:
            result = dip_test.answer(self._pressed_ms, presses)
            self.mark(now_ms, result or "dip_test", 0)
            if not result:
                dip_test.start(self._pressed_ms)
        elif presses <= 4:
            self.mark(now_ms, "next" if presses == 3 else "back", 0)

    def mark(self, now_ms: int, mark: str, number: int) -> bool:
        """Note ``mark`` in the curve, with what belongs to it; False if there is no such
        phase, or no dip of that number."""
        engine = self._batch.engine
        dip_test = self._batch.dip_test
        if mark == "silence":
            self._sounder.silence()
            dip_test.acknowledge()
        elif mark == "dip_test":
            dip_test.number += 1
            number = dip_test.number
            dip_test.start(now_ms)
            self._sounder.play(now_ms, "mark")
        elif mark in RESULTS:
            if number > dip_test.number:
                return False
            number = number or dip_test.number
            if number == dip_test.number:  # an earlier one changes nothing any more
                dip_test.stop()
                engine.tested(mark)
            self._sounder.play(now_ms, "passed" if mark == "passed" else "failed")
        elif mark in _STEPS:
            if not engine.shift(_STEPS[mark]):
                return False
            self._sounder.play(now_ms, "phase")
        self._batch.note_mark(now_ms, mark, number)
        return True
