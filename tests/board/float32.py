"""32-bit floats, as the board has them: every result is rounded."""

import struct
from array import array

from one_filter import LagFilter

from probe.tempering.estimate import BANK, Estimate


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


def _rounded_array(state):
    return _RoundedList(map(float32, state))


class _Rounding:
    """Whatever it keeps is rounded to 32 bits, and so is every result made from it."""

    def __setattr__(self, name, value):
        if isinstance(value, array):
            value = _rounded_array(value)
        object.__setattr__(self, name, float32(value) if isinstance(value, float) else value)


class Float32Filter(LagFilter):
    """The lag filter as the board computes it."""

    def __init__(self, period_s, lag_s, junction_share=0.0):
        super().__init__(period_s, lag_s, junction_share, _rounded_array)


class Float32Estimate(_Rounding, Estimate):
    """The estimate with its whole bank as the board computes it."""

    def __init__(self, bank=BANK):
        super().__init__(bank)
        self._filters = [_rounded_array(state) for state in self._filters]

    def update(self, now_ms, z, room_c):
        super().update(now_ms, float32(z), None if room_c is None else float32(room_c))
