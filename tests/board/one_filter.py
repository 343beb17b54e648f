"""A lag filter as an object: its state, and the firmware's functions on it."""

from probe.tempering import lag_filter


class LagFilter:
    """As lag_filter.py says; ``kept`` makes the array that keeps its state."""

    def __init__(self, period_s, lag_s, junction_share=0.0, kept=lambda state: state):
        self.state = kept(lag_filter.made(period_s, lag_s, junction_share))

    def start(self, indicated_c):
        lag_filter.start(self.state, indicated_c)

    def step(self, indicated_c, learn, settled=False):
        return lag_filter.step(self.state, indicated_c, learn, settled)

    @property
    def lag_s(self):
        return self.state[lag_filter.LAG_S]

    @property
    def value_c(self):
        return self.state[lag_filter.VALUE_C]

    @property
    def rate_c_per_s(self):
        return self.state[lag_filter.RATE_C_PER_S]

    @property
    def variance(self):
        return self.state[lag_filter.VARIANCE]

    @property
    def patch_c(self):
        return self.state[lag_filter.PATCH_C]

    @property
    def surprise_c(self):
        return self.state[lag_filter.SURPRISE_C]
