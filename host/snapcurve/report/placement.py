"""Finds room for words on the chart: boxes in points that do not overlap.

Pure geometry: the origin is the lower left corner of the plot, y goes up.
"""

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, field

COLUMN_PT = 3.0  # the line is made of boxes so wide
LINE_CLEAR_PT = 3.0  # and kept clear by so much
LABEL_CLEAR_PT = 2.0
BESIDE_CLEAR_PT = 7.0  # two labels side by side must not read as one
AT_END_PT = 10.0  # so near its end a leader may touch the line it points to

Leader = tuple[float, float, float, float]  # x, y at the label; x, y of what it points to


@dataclass(frozen=True)
class Box:
    """An upright rectangle."""

    left: float
    bottom: float
    right: float
    top: float

    def overlaps(self, other: "Box") -> bool:
        """Whether the two have any area in common."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.bottom < other.top
            and other.bottom < self.top
        )

    def inside(self, other: "Box") -> bool:
        """Whether all of this box lies in ``other``."""
        return (
            self.left >= other.left
            and self.right <= other.right
            and self.bottom >= other.bottom
            and self.top <= other.top
        )

    def grown(self, by: float) -> "Box":
        """This box with ``by`` more on every side."""
        return Box(self.left - by, self.bottom - by, self.right + by, self.top + by)

    def widened(self, by: float) -> "Box":
        """This box with ``by`` more at the left and right."""
        return Box(self.left - by, self.bottom, self.right + by, self.top)

    def crossed_by(self, x0: float, y0: float, x1: float, y1: float) -> bool:
        """Whether the straight line from (x0, y0) to (x1, y1) passes through."""
        enters, leaves = 0.0, 1.0
        for at, step, low, high in (
            (x0, x1 - x0, self.left, self.right),
            (y0, y1 - y0, self.bottom, self.top),
        ):
            if step == 0:
                if not low < at < high:
                    return False
                continue
            first, second = sorted(((low - at) / step, (high - at) / step))
            enters, leaves = max(enters, first), min(leaves, second)
        return enters < leaves


@dataclass(frozen=True)
class Plane:
    """Seconds and °C to points within the plot."""

    width_pt: float
    height_pt: float
    end_s: float
    low_c: float
    high_c: float

    def x(self, at_s: float) -> float:
        """Points from the left edge."""
        return at_s / self.end_s * self.width_pt

    def y(self, at_c: float) -> float:
        """Points from the lower edge."""
        return (at_c - self.low_c) / (self.high_c - self.low_c) * self.height_pt

    def box(self) -> Box:
        """The whole plot."""
        return Box(0.0, 0.0, self.width_pt, self.height_pt)


@dataclass(frozen=True)
class Place:
    """Somewhere a label could go: its lower left corner, and the far end of its leader
    (None: the label needs none)."""

    left: float
    bottom: float
    leader: Leader | None = None


@dataclass
class Room:
    """What is free: ``solid`` and ``marks`` are never covered, ``soft`` only on demand."""

    plot: Box
    solid: list[Box] = field(default_factory=list)
    soft: list[Box] = field(default_factory=list)
    marks: list[Box] = field(default_factory=list)
    leaders: list[Leader] = field(default_factory=list)
    labels: list[Box] = field(default_factory=list)

    def take(
        self,
        places: Iterable[Place],
        width: float,
        height: float,
        over_soft: bool = True,
        across: bool = False,
    ) -> Place | None:
        """The first free one of ``places`` for a label of that size, which takes it.

        First without covering anything soft, then, with ``over_soft``, doing so; None if
        there is no room. ``across``: its leader may cross what is solid, though no marks.
        """
        second: tuple[Place, Box] | None = None
        for place in places:
            box = Box(place.left, place.bottom, place.left + width, place.bottom + height)
            if not self._free(box, place.leader, across):
                continue
            if not any(box.overlaps(other) for other in self.soft):
                return self._taken(place, box)
            second = second or (place, box)
        return self._taken(*second) if second and over_soft else None

    def _taken(self, place: Place, box: Box) -> Place:
        self.labels.append(box)
        if place.leader:
            self.leaders.append(place.leader)
        return place

    def _free(self, box: Box, leader: Leader | None, across: bool) -> bool:
        if not box.inside(self.plot):
            return False
        clear = box.grown(LABEL_CLEAR_PT)
        beside = clear.widened(BESIDE_CLEAR_PT - LABEL_CLEAR_PT)
        if (
            any(beside.overlaps(other) for other in self.labels)
            or any(box.overlaps(other) for other in (*self.solid, *self.marks))
            or any(clear.crossed_by(*other) for other in self.leaders)
        ):
            return False
        return leader is None or self._leader_free(leader, across)

    def _leader_free(self, leader: Leader, across: bool) -> bool:
        if any(other.crossed_by(*leader) for other in self.labels):
            return False
        x, y = leader[2:]
        end = Box(x, y, x, y).grown(AT_END_PT)
        return not any(
            other.crossed_by(*leader) and not other.overlaps(end)
            for other in (self.marks if across else (*self.solid, *self.marks))
        )


def line_boxes(plane: Plane, times_s: list[float], values_c: list[float]) -> list[Box]:
    """Boxes that together cover the line, one for each COLUMN_PT of width it crosses."""
    heights: dict[int, tuple[float, float]] = {}
    points = [(plane.x(at_s), plane.y(at_c)) for at_s, at_c in zip(times_s, values_c, strict=True)]
    for (x0, y0), (x1, y1) in itertools.pairwise(points if len(points) > 1 else points * 2):
        for column in range(int(x0 // COLUMN_PT), int(x1 // COLUMN_PT) + 1):
            # The part of this stretch that lies in the column.
            ends = []
            for edge in (column * COLUMN_PT, (column + 1) * COLUMN_PT):
                part = (edge - x0) / (x1 - x0) if x1 > x0 else edge > x0
                ends.append(y0 + (y1 - y0) * min(max(part, 0.0), 1.0))
            low, high = heights.get(column, (ends[0], ends[0]))
            heights[column] = (min(low, *ends), max(high, *ends))
    return [
        Box(column * COLUMN_PT, low, (column + 1) * COLUMN_PT, high).grown(LINE_CLEAR_PT)
        for column, (low, high) in heights.items()
    ]
