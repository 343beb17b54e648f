"""Scores of several ears on the same batches, side by side with their intervals."""

import math
from dataclasses import dataclass, field

from .scores import CROSSED_C, CROSSED_LATE_C, JUST_OUT_S, MELT_WITHIN_S, SHORT_C, Score

Z95 = 1.96
ROOMS_C = (8, 14, 20, 26, 29, 31)  # a batch counts for the nearest


def interval(good: int, of: int) -> tuple[float, float]:
    """Wilson's 95 % interval of a share (Wilson 1927)."""
    if of == 0:
        return 0.0, 1.0
    share = good / of
    middle = (share + Z95**2 / (2 * of)) / (1 + Z95**2 / of)
    half = Z95 / (1 + Z95**2 / of) * math.sqrt(share * (1 - share) / of + Z95**2 / (4 * of * of))
    return middle - half, middle + half


def share_text(values: list[bool]) -> str:
    """A share in per cent, and its interval."""
    if not values:
        return "none"
    low, high = interval(sum(values), len(values))
    share = 100 * sum(values) / len(values)
    return f"{share:.1f} [{100 * low:.1f}-{100 * high:.1f}] of {len(values)}"


def count_text(count: int, batches: int) -> str:
    """A number a batch, and the 95 % interval of a Poisson mean (Byar's approximation)."""
    low = count * (1 - 1 / (9 * count) - Z95 / (3 * math.sqrt(count))) ** 3 if count else 0.0
    one = count + 1
    high = one * (1 - 1 / (9 * one) + Z95 / (3 * math.sqrt(one))) ** 3
    return f"{count / batches:.2f} [{low / batches:.2f}-{high / batches:.2f}]"


@dataclass
class Trust:
    """What the estimate said of itself in the bowl; counts of readings."""

    hold: int = 0
    deaf: int = 0
    within_one: dict[str, int] = field(default_factory=dict)
    within_two: dict[str, int] = field(default_factory=dict)
    judged: dict[str, int] = field(default_factory=dict)
    hold_in: dict[int, int] = field(default_factory=dict)
    deaf_in: dict[int, int] = field(default_factory=dict)

    def listen(self, room_c: float, deaf: bool) -> None:
        """A reading in the hold, the probe in the bowl."""
        room = min(ROOMS_C, key=lambda one: abs(one - room_c))
        self.hold += 1
        self.deaf += deaf
        self.hold_in[room] = self.hold_in.get(room, 0) + 1
        self.deaf_in[room] = self.deaf_in.get(room, 0) + deaf

    def take(self, phase: str, off_c: float, spread_c: float) -> None:
        """A reading the engine judged."""
        self.judged[phase] = self.judged.get(phase, 0) + 1
        self.within_one[phase] = self.within_one.get(phase, 0) + (off_c <= spread_c)
        self.within_two[phase] = self.within_two.get(phase, 0) + (off_c <= 2 * spread_c)

    def add(self, other: "Trust") -> None:
        """Join another batch."""
        self.hold += other.hold
        self.deaf += other.deaf
        for room, count in other.hold_in.items():
            self.hold_in[room] = self.hold_in.get(room, 0) + count
            self.deaf_in[room] = self.deaf_in.get(room, 0) + other.deaf_in[room]
        for mine, theirs in (
            (self.within_one, other.within_one),
            (self.within_two, other.within_two),
            (self.judged, other.judged),
        ):
            for phase, count in theirs.items():
                mine[phase] = mine.get(phase, 0) + count


def rows_of(score: Score) -> dict[str, str]:
    """What is printed of one ear."""
    off = [abs(value) for value in score.work_off_c]
    return {
        "melt told within 15 s, %": share_text([v <= MELT_WITHIN_S for v in score.melt_late_s]),
        "over 0.4 °C short of it, %": share_text([v > SHORT_C for v in score.melt_short_c]),
        "shortest, °C": f"{max(score.melt_short_c, default=0):.2f}",
        "work within 0.25 °C, %": share_text([v <= CROSSED_C for v in off]),
        "work within 0.4 °C, %": share_text([v <= CROSSED_LATE_C for v in off]),
        "false while holding, a batch": count_text(len(score.false), score.batches),
        "true ones told, %": share_text(
            [True] * score.told + [False] * (score.true_events - score.told)
        ),
        "while out": str(len(score.out_s)),
        "  of them within 5 s": str(sum(out_s < JUST_OUT_S for out_s in score.out_s)),
        "sounds a batch": f"{score.sounds / score.batches:.1f}" if score.sounds else "-",
        "never sounded": str(score.missing),
    }


def table(scores: dict[str, Score]) -> str:
    """Ears side by side."""
    columns = {name: rows_of(score) for name, score in scores.items()}
    widths = {name: max(len(name), *map(len, rows.values())) for name, rows in columns.items()}
    lines = [" " * 31 + "  ".join(name.ljust(widths[name]) for name in columns)]
    for row in next(iter(columns.values())):
        cells = "  ".join(rows[row].ljust(widths[name]) for name, rows in columns.items())
        lines.append(f"{row:<31}{cells}".rstrip())
    return "\n".join(lines)


def trust_text(trust: Trust) -> str:
    """Deafness and the honesty of the spread."""
    lines = [f"deaf in the hold               {100 * trust.deaf / max(1, trust.hold):.2f} %"]
    for room in sorted(trust.hold_in):
        hours = trust.hold_in[room] / 4 / 3600
        share = 100 * trust.deaf_in[room] / trust.hold_in[room]
        lines.append(f"  in a room of {room:<2} °C            {share:.2f} % of {hours:.1f} h")
    for phase in sorted(trust.judged):
        judged = trust.judged[phase]
        one, two = trust.within_one[phase] / judged, trust.within_two[phase] / judged
        lines.append(
            f"spread, {phase:<22} within one {100 * one:.0f} %, within two {100 * two:.0f} % "
            f"of {judged}"
        )
    return "\n".join(lines)
