"""Bytes of the compiled firmware, file by file, for each board of hardware.

They are what ``snapcurve install`` copies; on the flash each file takes whole blocks of 4 KiB.
"""

from snapcurve.board.firmware_files import board_names
from snapcurve.board.release import build

BLOCK = 4096


def main(words: list[str]) -> int:
    """Print the table; ``words`` are boards (none: all of hardware)."""
    boards = words or sorted(name for name in board_names() if name != "desk")
    releases = [build(board) for board in boards]
    sizes: dict[str, dict[str, int]] = {}
    for release in releases:
        for file in release.files:
            sizes.setdefault(file.path, {})[release.board] = len(file.data)
    head = f"{'file':<36}" + "".join(f"{board:>10}" for board in boards)
    print(head)
    for path, row in sorted(sizes.items()):
        print(f"{path:<36}" + "".join(f"{row.get(board, ''):>10}" for board in boards))
    print(f"{'total, bytes':<36}" + "".join(f"{release.size:>10}" for release in releases))
    blocks = [sum(-(-len(file.data) // BLOCK) for file in release.files) for release in releases]
    print(f"{'on flash at most, KiB':<36}" + "".join(f"{4 * count:>10}" for count in blocks))
    return 0
