"""The curve on the screen: readings kept within bounds, and the SVG that shows them. Pure."""

from dataclasses import dataclass
from math import ceil, floor

from snapcurve.page.standing import Profile
from snapcurve.shown.units import Style

EVERY_S = 2.0  # one pixel of a screen is several seconds of a batch
POINTS_MOST = 4096
COLUMNS = 400
GAP_S = 30.0  # no line is drawn over a longer silence
WIDTH, HEIGHT = 1000, 400
AT_LEAST_S = 600.0
_MARGIN_C = 2.0


class Trail:
    """What was read, one point each EVERY_S; with POINTS_MOST every second one goes."""

    def __init__(self) -> None:
        self._every_s = EVERY_S
        self.points: list[tuple[float, float | None]] = []

    def add(self, at_s: float, value_c: float | None) -> bool:
        """Take one in, of a clock that rises; whether it was kept."""
        if self.points and at_s < self.points[-1][0]:
            self.points.clear()  # the board has started anew
        if self.points and at_s - self.points[-1][0] < self._every_s:
            return False
        self.points.append((at_s, value_c))
        if len(self.points) >= POINTS_MOST:
            del self.points[1::2]
            self._every_s *= 2
        return True

    def since(self, start_s: float) -> None:
        """Forget what was before."""
        self.points = [one for one in self.points if one[0] >= start_s]


@dataclass(frozen=True)
class Frame:
    """What the picture spans: seconds and °C."""

    start_s: float
    end_s: float
    low_c: float
    high_c: float

    def x(self, at_s: float) -> float:
        """Where a moment lies."""
        return (at_s - self.start_s) / (self.end_s - self.start_s) * WIDTH

    def y(self, value_c: float) -> float:
        """Where a temperature lies, 0 at the top."""
        return (self.high_c - value_c) / (self.high_c - self.low_c) * HEIGHT


def frame_of(points: list[tuple[float, float | None]], profile: Profile | None) -> Frame:
    """All points and the window, with room around them."""
    values = [value for _, value in points if value is not None]
    if profile is not None and profile.work is not None:
        values += [*profile.work]
    low_c, high_c = (min(values), max(values)) if values else (20.0, 40.0)
    start_s = points[0][0] if points else 0.0
    end_s = max(points[-1][0] if points else 0.0, start_s + AT_LEAST_S)
    return Frame(start_s, end_s, floor(low_c - _MARGIN_C), ceil(high_c + _MARGIN_C))


def path(points: list[tuple[float, float | None]], frame: Frame) -> str:
    """The line as the ``d`` of an SVG path: per column its lowest and highest, in the order in
    which they came; a new piece after a gap."""
    pieces: list[str] = []
    at = 0
    last_s: float | None = None
    while at < len(points):
        column = int(frame.x(points[at][0]) * COLUMNS / WIDTH)
        here = []
        while at < len(points) and int(frame.x(points[at][0]) * COLUMNS / WIDTH) == column:
            here.append(points[at])
            at += 1
        known = [(s, c) for s, c in here if c is not None]
        if not known:
            last_s = None
            continue
        # A gap is one between readings; lowest and highest of a column may lie farther apart.
        new = last_s is None or known[0][0] - last_s > GAP_S
        ends = {min(known, key=lambda one: one[1]), max(known, key=lambda one: one[1])}
        for at_s, value_c in sorted(ends):
            pieces.append(f"{'M' if new else 'L'}{frame.x(at_s):.1f} {frame.y(value_c):.1f}")
            new = False
        last_s = known[-1][0]
    return "".join(pieces)


def picture(
    points: list[tuple[float, float | None]], profile: Profile | None, style: Style
) -> str:
    """The curve with its window; the words beside it are HTML, so that they are not stretched."""
    frame = frame_of(points, profile)
    band, words = "", ""
    if profile is not None and profile.work is not None:
        low_c, high_c = profile.work
        top, bottom = frame.y(high_c), frame.y(low_c)
        band = (
            f'<rect class="window" x="0" y="{top:.1f}" width="{WIDTH}" '
            f'height="{bottom - top:.1f}"/>'
        )
        words = f", window {style.window(low_c, high_c)}"
    minutes = (frame.end_s - frame.start_s) / 60
    label = f"Curve of the last {minutes:.0f} minutes{words}"
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" preserveAspectRatio="none" role="img" '
        f'aria-label="{label}">{band}<path class="line" d="{path(points, frame)}"/></svg>'
        f'<p class="high">{style.degrees_words(frame.high_c)}</p>'
        f'<p class="low">{style.degrees_words(frame.low_c)}</p>'
        f'<p class="span">{minutes:.0f} min{words}</p>'
    )
