"""Numbers of a record in order, kept as one array and read as a sequence.

Judging goes over all of them at once, in numpy; what shows or sends them reads plain numbers, and
those are made when they are first asked for.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any, TypeAlias, overload

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Array: TypeAlias = "NDArray[np.float64]"


class Series(Sequence[Any]):
    """Floats; where ``array`` holds no number there is None."""

    def __init__(self, array: Array) -> None:
        self.array = array

    @cached_property
    def _plain(self) -> list[float | None]:
        return [None if value != value else value for value in self.array.tolist()]  # noqa: PLR0124

    def __len__(self) -> int:
        return len(self.array)

    def __iter__(self) -> Iterator[Any]:
        return iter(self._plain)

    @overload
    def __getitem__(self, index: int) -> Any: ...
    @overload
    def __getitem__(self, index: slice) -> list[Any]: ...
    def __getitem__(self, index: int | slice) -> Any:
        return self._plain[index]

    def __eq__(self, other: object) -> bool:
        return self._plain == (other._plain if isinstance(other, Series) else other)

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return repr(self._plain)


def array_of(numbers: Sequence[float | None]) -> Array:
    """Them as an array, with nan for None."""
    if isinstance(numbers, Series):
        return numbers.array
    import numpy as np

    return np.array(numbers, float)
