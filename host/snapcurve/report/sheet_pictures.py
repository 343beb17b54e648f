"""Pictures made as small as a batch sheet needs them."""

import io
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from snapcurve.report.sheet_sections import Pictures

IN_A_ROW = 3
PIXELS_PER_MM = 10  # 254 to an inch: what a desk printer shows
QUALITY = 85  # of a JPEG, 0 to 95


@dataclass(frozen=True)
class Small:
    """A picture as a JPEG, its size on paper, and what is written below it."""

    jpeg: bytes
    wide_mm: float
    high_mm: float
    words: str


@lru_cache(maxsize=1)  # of one sheet: the room for the first row is looked at beforehand
def rows(block: Pictures, wide_mm: float, high_mm: float) -> tuple[tuple[Small, ...], ...]:
    """The pictures by rows, each scaled to fit ``wide_mm`` and ``high_mm``.

    RecordError for one that is missing in the notebook, or damaged there.
    """
    small = tuple(_small(block, wide_mm, high_mm))
    return tuple(small[at : at + IN_A_ROW] for at in range(0, len(small), IN_A_ROW))


def _small(block: Pictures, wide_mm: float, high_mm: float) -> Iterator[Small]:
    from PIL import Image, ImageOps

    box = (round(wide_mm * PIXELS_PER_MM), round(high_mm * PIXELS_PER_MM))
    for number, (words, read) in enumerate(block.items, start=1):
        with Image.open(io.BytesIO(read().content)) as image:
            image.draft("RGB", box)  # of a JPEG no more is decoded than is wanted
            mode = "RGBA" if image.has_transparency_data else "RGB"
            whole = image.point(lambda value: value / 256, "L") if "I" in image.mode else image
            fitted = ImageOps.contain(whole if whole.mode == mode else whole.convert(mode), box)
        if mode == "RGBA":
            paper = Image.new("RGBA", fitted.size, "white")
            fitted = Image.alpha_composite(paper, fitted).convert("RGB")
        target = io.BytesIO()
        fitted.save(target, "JPEG", quality=QUALITY)
        wide, high = (pixels / PIXELS_PER_MM for pixels in fitted.size)
        yield Small(target.getvalue(), wide, high, f"{number}. {words}")
