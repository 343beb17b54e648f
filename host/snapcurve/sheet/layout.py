"""What goes where on the pages of a batch sheet: points from the lower left corner."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from snapcurve.quantities import Style
from snapcurve.sheet import sections as s
from snapcurve.sheet.letters import shown
from snapcurve.sheet.matter import SheetMatter
from snapcurve.sheet.paragraphs import cut, lines_of

PT_PER_MM = 72 / 25.4
# The left margin leaves room for filing holes, 12 mm from the edge (ISO 838).
LEFT_PT, RIGHT_PT, TOP_PT, BOTTOM_PT = 62.0, 40.0, 40.0, 40.0
TITLE_PT, HEAD_PT, TEXT_PT, SMALL_PT = 16.0, 10.0, 8.5, 7.5
LEADING = 1.28
FOOT_PT = 22.0  # kept for code and page number
SECTION_GAP_PT, CELL_GAP_PT, COLUMN_GAP_PT, BLOCK_GAP_PT = 9.0, 8.0, 16.0, 3.0
LABEL_PT = 62.0  # of a fact's label
CHART_PT = 262.0
SIGN_PT, SIGN_NAME_PT = 34.0, 150.0


@dataclass(frozen=True)
class Font:
    """``kind`` is "plain" or "title"."""

    kind: str
    size_pt: float


PLAIN_FONT = Font("plain", TEXT_PT)
LABEL_FONT = Font("plain", SMALL_PT)
HEAD_FONT = Font("title", HEAD_PT)
TITLE_FONT = Font("title", TITLE_PT)

Measure = Callable[[str, Font], float]  # width of a text in points
HasLetter = Callable[[str, Font], bool]


@dataclass(frozen=True)
class Words:
    """A text on one line: its left edge and baseline."""

    x: float
    y: float
    text: str
    font: Font
    quiet: bool = False


@dataclass(frozen=True)
class Rule:
    """A level line."""

    x: float
    y: float
    length: float
    width: float


@dataclass(frozen=True)
class ChartBox:
    """Where the chart is drawn."""

    x: float
    y: float
    width: float
    height: float


Item = Words | Rule | ChartBox


@dataclass(frozen=True)
class Page:
    """One page and all that is drawn on it."""

    items: tuple[Item, ...]


@dataclass(frozen=True)
class Sheet:
    """Pages of one size."""

    width: float
    height: float
    pages: tuple[Page, ...]


@dataclass
class Strip:
    """A strip across the page; its items' heights count from its upper edge.

    ``glued``: it is not parted from the strip below while that can be avoided. ``again``
    are strips to be repeated if a page begins with this one.
    """

    height: float
    items: list[Item] = field(default_factory=list)
    glued: bool = False
    again: "tuple[Strip, ...]" = ()


def lay_out(
    matter: SheetMatter,
    style: Style,
    size_mm: tuple[float, float],
    measure: Measure,
    has_letter: HasLetter,
) -> Sheet:
    """The sheet of ``matter``; ``size_mm`` is width and height of the upright paper."""
    width, height = size_mm[0] * PT_PER_MM, size_mm[1] * PT_PER_MM
    setter = _Setter(width - LEFT_PT - RIGHT_PT, measure, has_letter)
    strips = setter.title(matter)
    for section in s.sections_of(matter, style):
        strips += setter.section(section)
    bodies = _paged(strips, height - TOP_PT - BOTTOM_PT - FOOT_PT)
    pages = [
        Page(
            tuple(_placed(body, height - TOP_PT)) + tuple(setter.foot(matter, number, len(bodies)))
        )
        for number, body in enumerate(bodies, 1)
    ]
    return Sheet(width, height, tuple(pages))


def _paged(strips: list[Strip], room: float) -> list[list[Strip]]:
    pages: list[list[Strip]] = [[]]
    left = room
    at = 0
    while at < len(strips):
        end = at
        while strips[end].glued and end + 1 < len(strips):
            end += 1
        run = strips[at : end + 1]
        height = sum(strip.height for strip in run)
        if height > left and pages[-1] and height <= room:
            pages.append([])
            left = room
        for strip in run:
            if strip.height > left and pages[-1]:
                pages.append([])
                left = room
            if not pages[-1]:
                for repeated in strip.again:
                    pages[-1].append(repeated)
                    left -= repeated.height
            pages[-1].append(strip)
            left -= strip.height
        at = end + 1
    return pages


def _placed(strips: list[Strip], top: float) -> list[Item]:
    items: list[Item] = []
    for strip in strips:
        items += [replace(item, y=top + item.y) for item in strip.items]
        top -= strip.height
    return items


class _Setter:
    """Sets blocks as strips across ``across`` points."""

    def __init__(self, across: float, measure: Measure, has_letter: HasLetter):
        self._across = across
        self._measure = measure
        self._has_letter = has_letter

    def _lines(self, text: str, most: float, font: Font = PLAIN_FONT) -> list[str]:
        return lines_of(self._clean(text, font), most, lambda part: self._measure(part, font))

    def _clean(self, text: str, font: Font) -> str:
        return shown(text, lambda letter: self._has_letter(letter, font))

    def title(self, matter: SheetMatter) -> list[Strip]:
        """The batch's code in large letters; like a name it may be of any length."""
        strips = []
        size = TITLE_FONT.size_pt
        for line in self._lines(f"Batch {matter.code}", self._across, TITLE_FONT):
            words = Words(LEFT_PT, -size, line, TITLE_FONT)
            strips.append(Strip(size * LEADING, [words], glued=True))
        strips.append(Strip(5, [Rule(LEFT_PT, -1, self._across, 1.0)], glued=True))
        return strips

    def section(self, section: s.Section) -> list[Strip]:
        """A section with its title."""
        head: list[Strip] = [Strip(SECTION_GAP_PT, glued=True)]
        if section.title:
            words = Words(LEFT_PT, -HEAD_PT, section.title, HEAD_FONT)
            rule = Rule(LEFT_PT, -HEAD_PT - 3, self._across, 0.4)
            head.append(Strip(HEAD_PT + 6, [words, rule], glued=True))
            if section.block == s.Sentences((s.NOTHING,)):
                x = LEFT_PT + self._across - self._measure(s.NOTHING, PLAIN_FONT)
                head[-1].items.append(Words(x, -HEAD_PT, s.NOTHING, PLAIN_FONT, quiet=True))
                head[-1].glued = False
                return head
        match section.block:
            case s.Facts():
                body = self._facts(section.block)
            case s.Table():
                body = self._table(section.block)
            case s.Sentences():
                body = self._sentences(section.block)
            case s.Chart():
                box = ChartBox(LEFT_PT, -CHART_PT, self._across, CHART_PT)
                body = [Strip(CHART_PT, [box])]
            case s.Signature():
                body = self._signature(section.block)
        return head + body

    def foot(self, matter: SheetMatter, number: int, count: int) -> list[Item]:
        """Code, couverture and number of the page."""
        page = f"page {number} of {count}"
        wide = self._measure(page, LABEL_FONT)
        about = f"Batch {matter.code}"
        if matter.couverture:
            about += f" · {matter.couverture}"
        about = self._clean(about, LABEL_FONT)
        about = cut(about, self._across - wide - 20, lambda part: self._measure(part, LABEL_FONT))
        y = BOTTOM_PT
        return [
            Rule(LEFT_PT, y + SMALL_PT + 4, self._across, 0.4),
            Words(LEFT_PT, y, about, LABEL_FONT),
            Words(LEFT_PT + self._across - wide, y, page, LABEL_FONT),
        ]

    def _row(self, cells: list[tuple[float, list[str], Font, bool]]) -> list[Strip]:
        """Cells side by side, each with its left edge, lines, font and whether quiet."""
        height = TEXT_PT * LEADING
        strips = []
        for at in range(max(len(lines) for _, lines, _, _ in cells)):
            items: list[Item] = [
                Words(x, -TEXT_PT, lines[at], font, quiet)
                for x, lines, font, quiet in cells
                if at < len(lines) and lines[at]
            ]
            strips.append(Strip(height, items, glued=True))
        strips[-1].glued = False
        strips[-1].height += BLOCK_GAP_PT
        return strips

    def _facts(self, block: s.Facts) -> list[Strip]:
        column = (self._across - COLUMN_GAP_PT) / 2
        strips = []
        for at in range(0, len(block.pairs), 2):
            cells = []
            for side, (label, value) in enumerate(block.pairs[at : at + 2]):
                x = LEFT_PT + side * (column + COLUMN_GAP_PT)
                lines = self._lines(value, column - LABEL_PT)
                cells.append((x, [label], LABEL_FONT, True))
                cells.append((x + LABEL_PT, lines, PLAIN_FONT, value == s.NOTHING))
            strips += self._row(cells)
        return strips

    def _table(self, block: s.Table) -> list[Strip]:
        gaps = CELL_GAP_PT * (len(block.parts) - 1)
        unit = (self._across - gaps) / sum(block.parts)
        widths = [part * unit for part in block.parts]
        lefts = [
            LEFT_PT + sum(widths[:column]) + CELL_GAP_PT * column for column in range(len(widths))
        ]

        def cells(row: tuple[str, ...], font: Font) -> list[tuple[float, list[str], Font, bool]]:
            found = []
            for column, text in enumerate(row):
                lines = self._lines(text, widths[column], font)
                x = lefts[column]
                if column in block.right and len(lines) == 1:
                    x += widths[column] - self._measure(lines[0], font)
                found.append((x, lines, font, font == LABEL_FONT or text == s.NOTHING))
            return found

        head = self._row(cells(block.head, LABEL_FONT))
        for strip in head:
            strip.glued = True
        strips = [*head]
        for row in block.rows:
            set_row = self._row(cells(row, PLAIN_FONT))
            for strip in set_row:
                strip.again = tuple(head)
            strips += set_row
        return strips

    def _sentences(self, block: s.Sentences) -> list[Strip]:
        strips: list[Strip] = []
        for text in block.texts:
            lines = self._lines(text, self._across)
            strips += self._row([(LEFT_PT, lines, PLAIN_FONT, text == s.NOTHING)])
        return strips

    def _signature(self, block: s.Signature) -> list[Strip]:
        column = (self._across - 2 * 14) / 3
        items: list[Item] = []
        for at, label in enumerate(("signature", "name and bench", "date")):
            x = LEFT_PT + at * (column + 14)
            items.append(Rule(x, -SIGN_PT + 2, column, 0.7))
            items.append(Words(x, -SIGN_PT - SMALL_PT, label, LABEL_FONT, quiet=True))
        name = ", ".join(part for part in (block.signer, block.signed_at) if part)
        if name:
            # What does not fit stands on lines of its own above.
            lines = self._lines(name, column)
            top = -SIGN_PT + 5 + TEXT_PT * LEADING * (len(lines) - 1)
            for number, line in enumerate(lines):
                x, y = LEFT_PT + column + 14, top - number * TEXT_PT * LEADING
                items.append(Words(x, y, line, PLAIN_FONT))
            spare = max(0.0, top + TEXT_PT)
            items = [replace(item, y=item.y - spare) for item in items]
            return [Strip(SIGN_PT + SMALL_PT + 6 + spare, items)]
        return [Strip(SIGN_PT + SMALL_PT + 6, items)]
