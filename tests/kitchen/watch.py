"""What the estimate says of itself in a rough batch: deafness, and how honest its spread is."""

from typing import Any

from .batch import RoughBatch
from .table import Trust

SETTLED_S = 10.0  # after the way in
HOLDING = ("inside", "too_warm", "too_cool")


class Watch:
    """Called after each reading with the app and the batch; ``trust`` is what was seen."""

    def __init__(self) -> None:
        self.trust = Trust()
        self._out_s = 0.0

    def __call__(self, app: Any, world: RoughBatch) -> None:
        """Take one reading."""
        seconds, liquid_c, _, inside = world.truth[-1]
        estimate, engine = app.batch.estimate, app.batch.engine
        if not inside:
            self._out_s = seconds
        if seconds - self._out_s < SETTLED_S or not app.recorder.running:
            return
        holding = engine.phase_kind() == "work" and engine.state in HOLDING
        if holding:
            self.trust.listen(world.own.room_c, not estimate.trusted)
        if estimate.trusted:
            phase = "hold" if holding else engine.phase_kind()
            self.trust.take(phase, abs(estimate.chocolate_c - liquid_c), estimate.spread_c)
