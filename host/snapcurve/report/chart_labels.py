"""Where the words of a batch's chart go: none over another, over the line, or cut off.

Pure geometry in points; the origin is the lower left corner of the plot, y goes up.
"""

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from snapcurve.recording.dip_tests import DipTest
from snapcurve.recording.line import Gap
from snapcurve.recording.timeline import Phase
from snapcurve.report.chart_content import Band, Content, Level, Marker
from snapcurve.report.chart_page import TEXT_PT, measure

HEIGHT_PT = TEXT_PT * 1.25  # of a label
MARKER_PT, MARKER_LEAST_PT = 4.0, 1.8  # half its width
EDGE_PT = 3.0  # left free at the edges of the plot
INSET_PT = 4.0  # of words in their block
LINE_PT = 1.0  # half the width of a level's line, with a little air
COLUMN_PT = 3.0  # the chocolate's line is made of boxes so wide
LINE_CLEAR_PT = 3.0  # and is not touched by so much
LABEL_CLEAR_PT = 2.0
BESIDE_CLEAR_PT = 7.0  # two labels side by side must not read as one
AT_END_PT = 10.0  # so near its end a leader may touch the line it points to
STEPS = 12  # places tried along a line
AWAY_PT = (0.0, 12.0, 24.0, 40.0)  # and how far from it
MANY = 6  # an alarm that came more often is named once, with how often it came
SAME_PT = 8.0  # two of a kind so close together are named once
# How far a marker's words may go from it: those that matter most and the first of each
# kind far, so that every shape is explained somewhere; the others only close by.
NEAR_PT = (9.0, 18.0)
FAR_PT = (*NEAR_PT, 28.0, 40.0, 54.0, 70.0, 90.0, 115.0, 145.0, 180.0, 220.0)
FIRST = ("reached", "too_hot", "dwell_done", "probe_fault", "note")
LAST = ("back", "probe_ok")

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

    def grown(self, by: float, across: float | None = None) -> "Box":
        """This box with ``by`` more on every side, left and right with ``across``."""
        across = by if across is None else across
        return Box(self.left - across, self.bottom - by, self.right + across, self.top + by)

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
class Spot:
    """Somewhere a label could go: its lower left corner, and its leader (None: it needs none)."""

    left: float
    bottom: float
    leader: Leader | None = None


@dataclass(frozen=True)
class Label:
    """Words in their box."""

    words: str
    box: Box
    leader: Leader | None = None


@dataclass
class Room:
    """What is free: ``solid`` and ``marks`` are never covered, ``soft`` only on demand."""

    plot: Box
    solid: list[Box] = field(default_factory=list)
    soft: list[Box] = field(default_factory=list)
    marks: list[Box] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    def take(
        self, words: str, spots: Iterable[Spot], over_soft: bool = True, across: bool = False
    ) -> bool:
        """Put ``words`` at the first free one of ``spots``; False if there is no room.

        First without covering anything soft, then, with ``over_soft``, doing so. ``across``:
        its leader may cross what is solid, though no marks.
        """
        width = measure(words)
        second: Label | None = None
        for spot in spots:
            box = Box(spot.left, spot.bottom, spot.left + width, spot.bottom + HEIGHT_PT)
            if self._free(box, spot.leader, across):
                label = Label(words, box, spot.leader)
                if not any(box.overlaps(other) for other in self.soft):
                    self.labels.append(label)
                    return True
                second = second or label
        if second is None or not over_soft:
            return False
        self.labels.append(second)
        return True

    def _free(self, box: Box, leader: Leader | None, across: bool) -> bool:
        if not box.inside(self.plot):
            return False
        clear, beside = box.grown(LABEL_CLEAR_PT), box.grown(LABEL_CLEAR_PT, BESIDE_CLEAR_PT)
        if (
            any(beside.overlaps(other.box) for other in self.labels)
            or any(box.overlaps(other) for other in (*self.solid, *self.marks))
            or any(other.leader and clear.crossed_by(*other.leader) for other in self.labels)
        ):
            return False
        if leader is None:
            return True
        end = Box(*leader[2:], *leader[2:]).grown(AT_END_PT)
        in_the_way = self.marks if across else (*self.solid, *self.marks)
        return not any(other.box.crossed_by(*leader) for other in self.labels) and not any(
            other.crossed_by(*leader) and not other.overlaps(end) for other in in_the_way
        )


def place_labels(content: Content, plane: Plane) -> list[Label]:
    """Words for bands, levels, gaps, the room and markers, as far as there is room for them."""
    room = Room(plane.box().grown(-EDGE_PT))
    for piece in content.line.pieces:
        room.solid += line_boxes(plane, piece.times_s, piece.values_c)
    for marker in content.markers:
        x, y = plane.x(marker.at_s), plane.y(marker.at_c)
        room.marks.append(Box(x, y, x, y).grown(MARKER_PT))
    for level in content.levels:
        line = _line_box(plane, level, level.at_c)
        (room.solid if level.kind == "never" else room.soft).append(line)
    for band in content.bands:
        room.soft += [_line_box(plane, band, edge_c) for edge_c in (band.low_c, band.high_c)]
    if len(content.room) > 1:
        room.soft += line_boxes(plane, *map(list, zip(*content.room, strict=True)))
    for level in content.levels:
        spots = list(_along(_line_box(plane, level, level.at_c), measure(level.words)))
        if level.kind == "never":  # at the right, where the other lines have ended
            spots = spots[STEPS::-1] + spots[STEPS + 1 :]
        room.take(level.words, spots)
    for band in content.bands:
        low, high = (_line_box(plane, band, edge_c) for edge_c in (band.low_c, band.high_c))
        box = Box(low.left, low.bottom, low.right, high.top)
        room.take(band.words, _along(box, measure(band.words)))
    named_gaps: set[str] = set()
    for gap, words in zip(content.line.gaps, content.gap_words, strict=True):
        # One sample missed again and again needs no words each time.
        short = plane.x(gap.end_s) - plane.x(gap.start_s) < 1.5
        spots = [] if short and words in named_gaps else list(_at_gap(plane, gap, words))
        if room.take(words, spots):
            named_gaps.add(words)
    room.take("room", _at_room_line(plane, content.room))
    _place_markers(room, plane, content.markers)
    return room.labels


def _line_box(plane: Plane, span: Level | Band, at_c: float) -> Box:
    left, right, y = plane.x(span.start_s), plane.x(span.end_s), plane.y(at_c)
    return Box(left, y - LINE_PT, right, y + LINE_PT)


def _along(box: Box, width: float) -> Iterator[Spot]:
    """Within ``box`` if that is tall enough, above it, below it, from left to right; then
    beyond its ends."""
    last = max(box.right - width - 4, box.left + 4)
    within = [box.left + 4 + (last - box.left - 4) * step / STEPS for step in range(STEPS + 1)]
    beyond = [box.right + 4, box.left - width - 4, box.left - width / 2]
    if box.top - box.bottom > HEIGHT_PT + 4:
        yield from (Spot(x, box.top - 4 - HEIGHT_PT) for x in within)
    for away in AWAY_PT:
        for xs in (within, beyond):
            for bottom in (box.top + 2 + away, box.bottom - 2 - away - HEIGHT_PT):
                yield from (Spot(x, bottom) for x in xs)


def _at_gap(plane: Plane, gap: Gap, words: str) -> Iterator[Spot]:
    """Within the gap where it is wide enough, else beside it, with a leader."""
    left, right, width = plane.x(gap.start_s), plane.x(gap.end_s), measure(words)
    heights = [plane.height_pt * part / 10 for part in range(8, 0, -1)]
    x = (left + right) / 2
    if width + 8 < right - left:
        yield from (Spot(x - width / 2, y) for y in heights)
    for y in heights:
        middle = y + HEIGHT_PT / 2
        yield Spot(right + 6, y, (right + 5, middle, x, middle))
        yield Spot(left - 6 - width, y, (left - 5, middle, x, middle))


def _at_room_line(plane: Plane, room: list[tuple[float, float]]) -> Iterator[Spot]:
    for at_s, value_c in reversed(room):
        x = min(plane.x(at_s), plane.width_pt - measure("room") - 4)
        yield Spot(x, plane.y(value_c) + 3)
        yield Spot(x, plane.y(value_c) - 3 - HEIGHT_PT)


def crowded(markers: list[Marker]) -> dict[str, int]:
    """Alarms that came more than MANY times, and how many times."""
    names = [marker.name for marker in markers if marker.name != "note"]
    return {name: names.count(name) for name in names if names.count(name) > MANY}


def marker_half_pt(times: int) -> float:
    """Half the width of a marker, smaller the more there are of a crowded kind."""
    return MARKER_PT if times <= MANY else max(MARKER_PT * MANY / times, MARKER_LEAST_PT)


def _place_markers(room: Room, plane: Plane, markers: list[Marker]) -> None:
    often, explained = crowded(markers), set[str]()
    named: dict[str, list[float]] = {}
    for marker in _in_order(markers):
        times = often.get(marker.name, 1)
        x = plane.x(marker.at_s)
        near = named.setdefault(marker.words, [])
        if (marker.name in explained and times > 1) or any(abs(x - one) < SAME_PT for one in near):
            continue  # another label speaks for it
        words = f"{marker.words}, {times}×" if times > 1 else marker.words
        brief = marker.name in explained and marker.name not in FIRST
        if _place_marker(room, plane, marker, words, brief):
            explained.add(marker.name)
            near.append(x)


def _in_order(markers: list[Marker]) -> list[Marker]:
    """What matters most, then the first of every other kind, then the rest."""
    seen: set[str] = set()
    ranked: list[tuple[int, float, Marker]] = []
    for marker in sorted(markers, key=lambda marker: marker.at_s):
        rank = 0 if marker.name in FIRST else 3 if marker.name in LAST else 2
        if rank and marker.name not in seen:
            rank = 1
        seen.add(marker.name)
        ranked.append((rank, marker.at_s, marker))
    return [marker for _, _, marker in sorted(ranked, key=lambda entry: entry[:2])]


def _place_marker(room: Room, plane: Plane, marker: Marker, words: str, brief: bool) -> bool:
    x, y, width = plane.x(marker.at_s), plane.y(marker.at_c), measure(words)
    sides = (-1, 1) if marker.name == "too_cool" else (1, -1)
    around = list(_around(x, y, width, NEAR_PT if brief else FAR_PT, sides))
    if room.take(words, around, over_soft=False):
        return True
    if brief:
        return False
    anywhere = _anywhere(plane, x, y, width)
    return room.take(words, anywhere, over_soft=False, across=True) or room.take(words, around)


def _around(
    x: float, y: float, width: float, reach: tuple[float, ...], sides: tuple[int, int]
) -> Iterator[Spot]:
    """Over, under and beside the marker at (x, y), farther and farther off."""
    half = HEIGHT_PT / 2
    for distance in reach:
        near = distance == reach[0]
        for side in sides:
            bottom = y + side * (distance + half) - half
            edge = bottom if side > 0 else bottom + HEIGHT_PT
            lefts = [x - width / 2, x - 6, x - width + 6]
            if not near:
                lefts += [x + distance / 2, x - width - distance / 2]
            for left in lefts:
                at_label = min(max(x, left + 2), left + width - 2)
                leader = None if near else (at_label, edge, x, y + side * MARKER_PT)
                yield Spot(left, bottom, leader)
        for left, side in ((x + distance, 1), (x - distance - width, -1)):
            at_label = left - 1 if side > 0 else left + width + 1
            yield Spot(left, y - half, None if near else (at_label, y, x + side * MARKER_PT, y))


def _anywhere(plane: Plane, x: float, y: float, width: float) -> Iterator[Spot]:
    """Spots all over the plot, the nearest first."""
    lefts = [20.0 * step for step in range(int((plane.width_pt - width) // 20))]
    bottoms = [10.0 * step for step in range(int((plane.height_pt - HEIGHT_PT) // 10))]
    for left, bottom in sorted(
        itertools.product(lefts, bottoms),
        key=lambda spot: 2 * abs(spot[0] + width / 2 - x) + abs(spot[1] - y),
    ):
        at_label = min(max(x, left + 2), left + width - 2)
        edge = bottom + (HEIGHT_PT if bottom < y else 0)
        yield Spot(left, bottom, (at_label, edge, x, y))


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


@dataclass(frozen=True)
class StripWord:
    """Words with their left edge at ``x`` points; ``above``: over the strip, not in it."""

    words: str
    x: float
    above: bool = False


def phase_words(phases: Sequence[Phase], end_s: float, width: float) -> list[StripWord]:
    """Name and length of each phase where the block is wide enough, else the name; over
    the strip where even that does not fit, side by side."""
    words: list[StripWord] = []
    above_until = 0.0
    for phase in phases:
        left, right = phase.start_s / end_s * width, phase.end_s / end_s * width
        length_s = phase.end_s - phase.start_s
        length = f"{length_s / 60:.0f} min" if length_s >= 60 else f"{length_s:.0f} s"
        for text in (f"{phase.kind}, {length}", phase.kind):
            wide = measure(text)
            middle = (left + right - wide) / 2
            if wide + 2 * INSET_PT <= right - left:
                words.append(StripWord(text, middle))
                break
        else:
            x = max(middle, above_until)
            above_until = x + wide + 2 * INSET_PT
            words.append(StripWord(phase.kind, x, above=True))
    return words


def dip_words(tests: Sequence[DipTest], plane: Plane) -> list[StripWord]:
    """Words within the blocks of each dip test, and its result behind it."""
    words: list[StripWord] = []
    starts = [test.at_s for test in tests]
    for test, next_s in zip(tests, [*starts, plane.end_s][1:], strict=True):
        early_s = test.end_s if test.early_s is None else test.early_s
        blocks = [(test.at_s, early_s, "too early")]
        if test.early_s is not None:
            blocks.append((early_s, test.due_s or test.end_s, "wait"))
        for start_s, end_s, text in blocks:
            wide = measure(text)
            if wide + 2 * INSET_PT <= plane.x(end_s - start_s):
                words.append(StripWord(text, plane.x((start_s + end_s) / 2) - wide / 2))
        if test.due_s is None and test.result is None:
            continue
        text = "due" if test.result is None else test.result.words
        x = plane.x(test.end_s if test.due_s is None else test.due_s) + 8
        if x + measure(text) + INSET_PT <= plane.x(min(next_s, plane.end_s)):
            words.append(StripWord(text, x))
    return words
