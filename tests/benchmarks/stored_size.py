"""What a curve takes on flash, beside other ways to write the same samples."""

import gzip
import math
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise

from snapcurve.recording.curve import decode


@dataclass
class Sizes:
    """Bytes for one curve, and how many samples it has."""

    samples: int
    stored: int
    raw16: int  # every sample as 16 bits, nothing else
    csv: int  # seconds and degrees with two decimals
    csv_gzip: int
    entropy: float  # order-0 entropy of the differences in 1/128 °C: no events, no heads

    def row(self) -> list[float]:
        """Bytes a sample, in the order of HEADINGS."""
        return [
            size / self.samples
            for size in (self.stored, self.raw16, self.csv, self.csv_gzip, self.entropy)
        ]


HEADINGS = ("stored", "raw 16-bit", "CSV", "CSV+gzip", "entropy")


def sizes_of(raw: bytes) -> Sizes:
    """Measure one curve as the board stored it."""
    curve = decode(raw)
    values = [c for c in curve.temperatures_c if c is not None]
    lines = "".join(
        f"{second:.0f},{'' if c is None else f'{c:.2f}'}\n"
        for second, c in zip(curve.times_s, curve.temperatures_c, strict=True)
    ).encode()
    differences = Counter(round((after - before) * 128) for before, after in pairwise(values))
    total = differences.total()
    bits = -sum(n * math.log2(n / total) for n in differences.values())
    return Sizes(
        samples=len(curve.times_s),
        stored=len(raw),
        raw16=2 * len(curve.times_s),
        csv=len(lines),
        csv_gzip=len(gzip.compress(lines, 9)),
        entropy=bits / 8,
    )
