"""A lag filter as an object: its state, and the firmware's functions on it."""

from probe.tempering import lag_filter


def _at(place):
    return property(lambda self: self.state[place])


class LagFilter:
    """As lag_filter.py says; ``kept`` makes the array that keeps its state."""

    def __init__(self, period_s, lag_s, junction_share=0.0, kept=lambda state: state):
        self.state = kept(lag_filter.made(period_s, lag_s, junction_share))

    def start(self, indicated_c):
        lag_filter.start(self.state, indicated_c)

    def step(self, indicated_c, learn, settled=False):
        return lag_filter.step(self.state, indicated_c, learn, settled)

    lag_s = _at(lag_filter.LAG_S)
    value_c = _at(lag_filter.VALUE_C)
    rate_c_per_s = _at(lag_filter.RATE_C_PER_S)
    variance = _at(lag_filter.VARIANCE)
    patch_c = _at(lag_filter.PATCH_C)
    surprise_c = _at(lag_filter.SURPRISE_C)
