"""What heap_script.py and heap32_script.py print, read back."""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Reading:
    """Bytes that readings with the probe in one place allocate."""

    mean: int
    most: int
    last: int


@dataclass
class Told:
    """Names to bytes; readings by the place where the probe is."""

    heap: dict[str, int] = field(default_factory=dict)
    allocates: dict[str, int] = field(default_factory=dict)
    readings: dict[str, Reading] = field(default_factory=dict)


def told(text: str) -> Told:
    """``text``, which a script printed."""
    found = Told()
    for line in text.splitlines():
        kind, *rest = line.split(" ")
        if kind == "reading":
            found.readings[rest[0]] = Reading(*map(int, rest[1:]))
        elif kind == "heap":
            found.heap[" ".join(rest[1:])] = int(rest[0])
        elif kind == "allocates":
            found.allocates[" ".join(rest[1:])] = int(rest[0])
    return found
