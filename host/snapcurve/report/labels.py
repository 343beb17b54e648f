"""Where the words of the chart go: which places each label would like, and in what order."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from snapcurve.report.chart_content import Band, Content, Gap, Level, Marker
from snapcurve.report.chart_words import Measure
from snapcurve.report.placement import Box, Leader, Place, Plane, Room, line_boxes

SIZE_PT = 11.0
LINE_HEIGHT = 1.25  # of the size
MARKER_PT, MARKER_LEAST_PT = 4.0, 1.8  # half its width
EDGE_PT = 3.0  # kept free at the edges of the plot
LINE_PT = 1.0  # half the width of a level's line, with a little air
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


@dataclass(frozen=True)
class Label:
    """Words with their lower left corner at (x, y) points of the plot."""

    words: str
    x: float
    y: float
    width: float
    height: float
    leader: Leader | None = None


@dataclass(frozen=True)
class Labels:
    """The labels placed, and the markers whose words found no room."""

    placed: list[Label]
    left_out: list[Marker]


def place_labels(content: Content, plane: Plane, measure: Measure) -> Labels:
    """Words for bands, levels, gaps, the room and markers, without overlap."""
    room = Room(plane.box().grown(-EDGE_PT))
    for piece in content.pieces:
        room.solid += line_boxes(plane, piece.times_s, piece.values_c)
    for marker in content.markers:
        x, y = plane.x(marker.at_s), plane.y(marker.at_c)
        room.marks.append(Box(x, y, x, y).grown(MARKER_PT))
    for level in content.levels:
        y = plane.y(level.at_c)
        box = Box(plane.x(level.start_s), y - LINE_PT, plane.x(level.end_s), y + LINE_PT)
        (room.solid if level.kind == "never" else room.soft).append(box)
    for band in content.bands:
        for edge_c in (band.low_c, band.high_c):
            y = plane.y(edge_c)
            left, right = plane.x(band.start_s), plane.x(band.end_s)
            room.soft.append(Box(left, y - LINE_PT, right, y + LINE_PT))
    if len(content.room) > 1:
        room.soft += line_boxes(plane, *map(list, zip(*content.room, strict=True)))
    placer = _Placer(room, plane, measure)
    for level in content.levels:
        placer.level(level)
    for band in content.bands:
        placer.band(band)
    for gap in content.gaps:
        placer.gap(gap)
    if content.room:
        placer.room_line(content.room)
    often = crowded(content.markers)
    left_out = []
    for marker in _in_order(content.markers):
        if not placer.marker(marker, often.get(marker.name, 1)):
            left_out.append(marker)
    return Labels(placer.labels, sorted(left_out, key=lambda marker: marker.at_s))


def crowded(markers: list[Marker]) -> dict[str, int]:
    """Alarms that came more than MANY times, and how many times."""
    names = [marker.name for marker in markers if marker.name != "note"]
    return {name: names.count(name) for name in names if names.count(name) > MANY}


def marker_half_pt(times: int) -> float:
    """Half the width of a marker, smaller the more there are of a crowded kind."""
    return MARKER_PT if times <= MANY else max(MARKER_PT * MANY / times, MARKER_LEAST_PT)


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


class _Placer:
    def __init__(self, room: Room, plane: Plane, measure: Measure):
        self.labels: list[Label] = []
        self._room = room
        self._plane = plane
        self._measure = measure
        self._height = SIZE_PT * LINE_HEIGHT
        self._explained: set[str] = set()
        self._gap_words: set[str] = set()
        self._named: dict[str, list[float]] = {}

    def _put(self, words: str, places: Iterable[Place], width: float, **how: bool) -> bool:
        place = self._room.take(places, width, self._height, **how)
        if place is None:
            return False
        label = Label(words, place.left, place.bottom, width, self._height, place.leader)
        self.labels.append(label)
        return True

    def _along(
        self, left: float, right: float, low: float, high: float, width: float
    ) -> Iterator[Place]:
        """Above ``high``, then below ``low``, from left to right; then beyond the ends."""
        last = max(right - width - 4, left + 4)
        within = [left + 4 + (last - left - 4) * step / STEPS for step in range(STEPS + 1)]
        beyond = [right + 4, left - width - 4, left - width / 2]
        for away in AWAY_PT:
            for xs in (within, beyond):
                for bottom in (high + 3 + away, low - 3 - away - self._height):
                    for x in xs:
                        yield Place(x, bottom)

    def level(self, level: Level) -> None:
        width = self._measure(level.words, SIZE_PT)
        left, right = self._plane.x(level.start_s), self._plane.x(level.end_s)
        y = self._plane.y(level.at_c)
        places = list(self._along(left, right, y, y, width))
        if level.kind == "never":  # at the right, where the other lines have ended
            places = places[STEPS::-1] + places[STEPS + 1 :]
        self._put(level.words, places, width)

    def band(self, band: Band) -> None:
        width = self._measure(band.words, SIZE_PT)
        left, right = self._plane.x(band.start_s), self._plane.x(band.end_s)
        low, high = self._plane.y(band.low_c), self._plane.y(band.high_c)

        def places() -> Iterator[Place]:
            if high - low > self._height + 2:
                last = max(right - width - 4, left + 4)
                for step in range(STEPS + 1):
                    x = left + 4 + (last - left - 4) * step / STEPS
                    yield Place(x, high - 3 - self._height)
            yield from self._along(left, right, low, high, width)

        self._put(band.words, places(), width)

    def gap(self, gap: Gap) -> None:
        """Within the gap where it is wide enough, else beside it, with a leader."""
        left, right = self._plane.x(gap.start_s), self._plane.x(gap.end_s)
        width = self._measure(gap.words, SIZE_PT)
        if right - left < 1.5 and gap.words in self._gap_words:
            return  # one sample missed again and again needs no words each time

        def places() -> Iterator[Place]:
            heights = [self._plane.height_pt * part / 10 for part in (8, 7, 6, 5, 4, 3, 2, 1)]
            for y in heights:
                if width + 8 < right - left:
                    yield Place((left + right - width) / 2, y)
            for y in heights:
                middle = y + self._height / 2
                x = (left + right) / 2
                yield Place(right + 6, y, (right + 5, middle, x, middle))
                yield Place(left - 6 - width, y, (left - 5, middle, x, middle))

        if self._put(gap.words, places(), width):
            self._gap_words.add(gap.words)

    def room_line(self, room: list[tuple[float, float]]) -> None:
        words = "room"
        width = self._measure(words, SIZE_PT)
        plane = self._plane

        def places() -> Iterator[Place]:
            for at_s, value_c in reversed(room):
                x = min(plane.x(at_s), plane.width_pt - width - 4)
                yield Place(x, plane.y(value_c) + 3)
                yield Place(x, plane.y(value_c) - 3 - self._height)

        self._put(words, places(), width)

    def marker(self, marker: Marker, times: int) -> bool:
        """Whether the words of ``marker`` found room, or one label speaks for all ``times``."""
        explained = marker.name in self._explained
        if explained and times > 1:
            return True
        words = f"{marker.words}, {times}×" if times > 1 else marker.words
        width = self._measure(words, SIZE_PT)
        x, y = self._plane.x(marker.at_s), self._plane.y(marker.at_c)
        named = self._named.setdefault(marker.words, [])
        if any(abs(x - other) < SAME_PT for other in named):
            return True
        brief = explained and marker.name not in FIRST
        sides = (-1, 1) if marker.name == "too_cool" else (1, -1)
        around = list(self._around(x, y, width, NEAR_PT if brief else FAR_PT, sides))
        placed = self._put(words, around, width, over_soft=False)
        if not placed and not brief:
            anywhere = self._anywhere(x, y, width)
            placed = self._put(words, anywhere, width, over_soft=False, across=True)
            placed = placed or self._put(words, around, width)
        if placed:
            self._explained.add(marker.name)
            named.append(x)
        return placed

    def _around(
        self, x: float, y: float, width: float, reach: tuple[float, ...], sides: tuple[int, int]
    ) -> Iterator[Place]:
        """Over, under and beside the marker at (x, y), farther and farther off."""
        half = self._height / 2
        for distance in reach:
            near = distance == reach[0]
            for side in sides:
                bottom = y + side * (distance + half) - half
                edge = bottom if side > 0 else bottom + self._height
                lefts = [x - width / 2, x - 6, x - width + 6]
                if not near:
                    lefts += [x + distance / 2, x - width - distance / 2]
                for left in lefts:
                    at_label = min(max(x, left + 2), left + width - 2)
                    leader = None if near else (at_label, edge, x, y + side * MARKER_PT)
                    yield Place(left, bottom, leader)
            for left, side in ((x + distance, 1), (x - distance - width, -1)):
                at_label = left - 1 if side > 0 else left + width + 1
                leader = None if near else (at_label, y, x + side * MARKER_PT, y)
                yield Place(left, y - half, leader)

    def _anywhere(self, x: float, y: float, width: float) -> Iterator[Place]:
        """Places all over the plot, the nearest first."""
        across = int((self._plane.width_pt - width) // 20)
        up = int((self._plane.height_pt - self._height) // 10)
        places = [(column * 20.0, row * 10.0) for column in range(across) for row in range(up)]
        for left, bottom in sorted(
            places, key=lambda place: 2 * abs(place[0] + width / 2 - x) + abs(place[1] - y)
        ):
            at_label = min(max(x, left + 2), left + width - 2)
            edge = bottom + (self._height if bottom < y else 0)
            yield Place(left, bottom, (at_label, edge, x, y))
