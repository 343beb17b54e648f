"""32-bit floats, as the board has them: every result is rounded."""

import struct
from array import array

from snapcurve.probe.tempering.estimate import Estimate
from snapcurve.probe.tempering.lag_filter import LagBank


class Float32(float):
    """A float whose every result is rounded to 32 bits."""


def _rounded(name):
    method = getattr(float, name)

    def operation(self, other):
        result = method(self, float(other))
        return result if result is NotImplemented else float32(result)

    return operation


for _name in ("add", "radd", "sub", "rsub", "mul", "rmul", "truediv", "rtruediv"):
    setattr(Float32, f"__{_name}__", _rounded(f"__{_name}__"))


def float32(value):
    return Float32(struct.unpack("f", struct.pack("f", value))[0])


class _RoundedList(list):
    """Stands for an array of numbers: whatever it keeps is rounded to 32 bits."""

    def __setitem__(self, place, value):
        super().__setitem__(place, float32(value))


class _Rounding:
    """Whatever it keeps is rounded to 32 bits, and so is every result made from it."""

    def __setattr__(self, name, value):
        if isinstance(value, array):
            value = _RoundedList(map(float32, value))
        object.__setattr__(self, name, float32(value) if isinstance(value, float) else value)


class Float32Bank(_Rounding, LagBank):
    """The filters as the board computes them."""

    def step(self, indicated_c, phase, learn):
        super().step(float32(indicated_c), phase, learn)


class Float32Estimate(_Rounding, Estimate):
    """The estimate with its whole bank as the board computes it."""

    def __init__(self):
        super().__init__()
        self._bank = Float32Bank()
