"""The firmware's text as the compiler gets it: terse, joined, with short names, compact."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from snapcurve.building.compacted import compact
from snapcurve.building.joined import join
from snapcurve.building.shortened import shorten
from snapcurve.building.terse import CATALOGUE, terse

# Host code sets the first by name: the board's own main.py (release.py); firmware/main.py asks
# whatever board it finds for the others.
KEPT_NAMES = frozenset({"FITTED", "Parts", "died"})
# Whatever these import when they are loaded becomes part of them, and what they name here, since
# every start loads it.
JOINED: Mapping[str, tuple[str, ...]] = {
    "probe/app": ("probe/memory",),
    "boards/desk": (),
    "boards/esp32s3": (),
    "boards/pico2": (),
    "boards/pico": (),
}


@dataclass(frozen=True)
class Prepared:
    """One module to compile, and for each of its lines the module it comes from and that one's
    first and last line."""

    text: str
    places: list[tuple[str, int, int]]


def prepare(sources: Mapping[str, Path], joined: bool = True) -> dict[str, Prepared]:
    """Module path without its ending ("probe/app") -> what is compiled. Packages that hold
    nothing are left out: a folder is a package without them."""
    texts = {name: path.read_text(encoding="utf-8") for name, path in sources.items()}
    origins = {name: [(1, name)] for name in texts}
    kept = KEPT_NAMES
    if CATALOGUE in texts:
        texts[CATALOGUE] = terse(texts[CATALOGUE])
    if joined:
        together = join(texts, JOINED)
        texts, origins = together.sources, together.origins
        kept |= together.looked_up
    found = {}
    for name, text in shorten(texts, kept).items():
        compacted = compact(text, [begin for begin, _ in origins[name]])
        if compacted.text.strip() or not name.endswith("__init__"):
            places = [_place(origins[name], first, last) for first, last in compacted.lines]
            found[name] = Prepared(compacted.text, places)
    return found


def _place(origins: list[tuple[int, str]], first: int, last: int) -> tuple[str, int, int]:
    """Where lines of a joined module come from."""
    begin, module = max(one for one in origins if one[0] <= first)
    return module, first - begin + 1, last - begin + 1
