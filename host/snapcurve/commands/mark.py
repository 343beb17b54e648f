"""snapcurve mark: what the button can say, and more, from the computer."""

import argparse

from snapcurve.commands import options
from snapcurve.errors import Refused, SnapcurveError

# what a person types -> the word of catalogue.MARKS, what it means
WORDS = {
    "dip": ("dip_test", "a test blade was dipped now"),
    "passed": ("passed", "the blade set without a mark"),
    "failed": ("failed", "the blade took a mark when it was due"),
    "set-early": ("set_early", "the blade set too soon"),
    "next": ("next", "go on to the next phase"),
    "back": ("back", "go back to the phase before"),
    "silence": ("silence", "be quiet until something new happens"),
    "note": ("note", "a numbered note for your own book"),
}
NUMBER_MAX = 0xFFFF


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    meanings = "; ".join(f"{word}: {meaning}" for word, (_, meaning) in WORDS.items())
    parser.add_argument("word", choices=tuple(WORDS), metavar="WORD", help=meanings)
    parser.add_argument(
        "--number",
        type=int,
        default=0,
        help=f"of a note, 0 to {NUMBER_MAX}; of the dip whose result this is (0: the newest)",
    )
    options.port(parser)


def run(arguments: argparse.Namespace) -> int:
    """Mark the running recording."""
    from snapcurve.commands.chosen_board import open_board
    from snapcurve.recording.event_words import RESULT_WORDS

    if not 0 <= arguments.number <= NUMBER_MAX:
        raise SnapcurveError(f"--number is {arguments.number}: choose one from 0 to {NUMBER_MAX}")
    word, meaning = WORDS[arguments.word]
    with open_board(arguments.port) as board:
        # Silence is wanted without a recording too: a probe fault sounds at any time.
        if word != "silence" and not board.reading().curve:
            raise SnapcurveError(
                "the board is not recording, so there is nothing to mark: "
                "put the probe into the chocolate or press the button first"
            )
        try:
            board.mark(word, arguments.number)
        except Refused as refusal:
            if refusal.code != "bad_value":
                raise
            if word in RESULT_WORDS:
                raise SnapcurveError(
                    f"no dip {arguments.number} was marked in this recording: leave --number out "
                    "for the newest one"
                ) from refusal
            raise SnapcurveError(
                f"there is no phase to go {'on' if word == 'next' else 'back'} to: "
                "'snapcurve watch' shows the one that runs"
            ) from refusal
        phase = board.reading().phase
    print(
        f"noted: {meaning}" + (f"; the phase is now {phase}" if word in ("next", "back") else "")
    )
    return 0
