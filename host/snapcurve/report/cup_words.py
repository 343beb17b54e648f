"""What a cup says, in lines and as JSON."""

import textwrap
from typing import Any

from snapcurve.analysis.cup_reading import CupReading

WIDTH = 92


def cup_lines(reading: CupReading) -> list[str]:
    """Slope, temper, where the slope lies, and the batch it belongs to."""
    inflection = reading.inflection
    lines = [
        textwrap.fill(reading.verdict.sentence, WIDTH),
        f"It lies at {inflection.temperature_c:.1f} °C, "
        f"{inflection.at_s - inflection.start_s:.0f} s after the fall began "
        f"(local cubics of ±{inflection.half_window_s:.0f} s).",
    ]
    if reading.batch is not None:
        lines.append(
            f"Taken to be of batch {reading.batch.code}, the newest of this couverture before it."
        )
    return lines


def cup_data(reading: CupReading) -> dict[str, Any]:
    """The same for a script."""
    inflection, limits = reading.inflection, reading.verdict.limits
    return {
        "cup": reading.code,
        "batch": None if reading.batch is None else reading.batch.code,
        "slope_c_per_min": round(inflection.slope_c_per_min, 3),
        "slope_uncertainty_c_per_min": round(inflection.slope_uncertainty_c_per_min, 3),
        "at_s": inflection.at_s,
        "temperature_c": round(inflection.temperature_c, 2),
        "noise_c": round(inflection.noise_c, 4),
        "half_window_s": inflection.half_window_s,
        "temper": reading.verdict.temper,
        "limits_c_per_min": None
        if limits is None
        else [round(limits.low_c_per_min, 3), round(limits.high_c_per_min, 3)],
        "good_cups": list(reading.good),
        "sentence": reading.verdict.sentence,
    }
