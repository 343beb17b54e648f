"""What the chart says in words: temperatures and the caption, and words made to fit."""

import datetime
from collections.abc import Callable

from snapcurve.notebook.records import Batch
from snapcurve.recording.curve import Curve
from snapcurve.recording.event_words import ENDS
from snapcurve.shown.quantities import MINUS, PLAIN, Style

Measure = Callable[[str, float], float]  # text and size in points -> width in points


def degrees(value_c: float, style: Style = PLAIN) -> str:
    """``value_c`` with no more decimals than it needs, at most one; no unit."""
    return style.degrees(value_c, trim=True).replace("-", MINUS)


def clean(text: str) -> str:
    """``text`` on one line, without characters that no picture format may hold."""
    return " ".join("".join(char if char.isprintable() else " " for char in text).split())


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def started_words(started_unix_ms: int | None, style: Style = PLAIN) -> str:
    """Local date and time with the distance from UTC, or "time unknown"."""
    if started_unix_ms is None:
        return "time unknown"
    moment = datetime.datetime.fromtimestamp(started_unix_ms / 1000, datetime.UTC).astimezone()
    return f"started {style.minute(moment)}"


def batch_uncertainty(batch: Batch, style: Style = PLAIN) -> str:
    """The uncertainty filed with a batch, in words; empty if none was."""
    if batch.uncertainty_centi_c is None or batch.uncertainty_at_centi_c is None:
        return ""
    figure = style.uncertainty(batch.uncertainty_centi_c / 100)
    return f"{figure} at {style.temperature(batch.uncertainty_at_centi_c / 100, 0)} (k = 2)"


def caption_parts(
    curve: Curve, couverture: str, method: str, uncertainty: str = "", style: Style = PLAIN
) -> list[str]:
    """The parts of the caption in order; empty ``couverture``: there was no profile."""
    parts = [clean(couverture), method] if couverture else ["no profile"]
    parts.append(started_words(curve.started_unix_ms, style))
    parts.append(f"board {curve.board_id:08x}")
    if curve.continues:
        parts.append(f"goes on with curve {curve.continues}")
    parts.append(_count(curve.recorded, "sample recorded", "samples recorded"))
    missing = len(curve.temperatures_c) - curve.recorded
    if missing:
        parts.append(f"{missing} without a reading")
    if curve.lost_blocks:
        parts.append(_count(curve.lost_blocks, "block lost", "blocks lost"))
    if curve.trailing_bytes:
        parts.append("end damaged")
    parts.append(ENDS.get(curve.end_reason, f"ended: {curve.end_reason}"))
    if curve.calibrated_unix_s:
        day = datetime.datetime.fromtimestamp(curve.calibrated_unix_s, datetime.UTC)
        parts.append(f"calibration: {style.day(day)}")
    else:
        parts.append("calibration: none")
    if uncertainty:
        parts.append(uncertainty)
    return parts


def fill(parts: list[str], joint: str, width: float, size: float, measure: Measure) -> list[str]:
    """``parts`` joined into lines no wider than ``width`` points; a part is not broken."""
    lines: list[str] = []
    for part in parts:
        longer = lines[-1] + joint + part if lines else part
        if lines and measure(longer, size) <= width:
            lines[-1] = longer
        else:
            lines.append(part)
    return lines


def shorten(text: str, width: float, size: float, measure: Measure) -> str:
    """``text`` cut to ``width`` points, with an ellipsis where something is left out."""
    if measure(text, size) <= width:
        return text
    while text and measure(text + "…", size) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def wrap(text: str, width: float, size: float, measure: Measure, most: int = 2) -> list[str]:
    """``text`` in at most ``most`` lines of ``width`` points, the last one shortened."""
    lines = fill(text.split(), " ", width, size, measure)
    kept = lines[: most - 1]
    rest = " ".join(lines[most - 1 :])
    if rest:
        kept.append(rest)
    return [shorten(line, width, size, measure) for line in kept]
