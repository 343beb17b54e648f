"""snapcurve mark: how a test blade came out, or on to another phase; on the board while it
records, or in a batch that is filed."""

import argparse

from snapcurve.commands import options, people
from snapcurve.commands.chosen_board import open_board
from snapcurve.errors import Refused, SnapcurveError
from snapcurve.recording.event_words import RESULT_WORDS

# what a person types -> the word of catalogue.MARKS, what it means
WORDS = {
    "dip": ("dip_test", "a test blade was dipped now"),
    "passed": ("passed", "the blade set without a mark"),
    "failed": ("failed", "the blade took a mark when it was due"),
    "early": ("set_early", "the blade set too soon"),
    "next": ("next", "on to the next phase"),
    "back": ("back", "back to the phase before"),
    "silence": ("silence", "quiet until something new happens"),
    "note": ("note", "a numbered note for your own book"),
}
RESULTS = ("passed", "failed", "early")
NUMBER_MAX = 0xFFFF
SET_S_MAX = 3600


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.description = (
        f"{parser.description} It goes to the board that is recording, or with --batch to a "
        "batch in the notebook."
    )
    meanings = "; ".join(f"{word}: {meaning}" for word, (_, meaning) in WORDS.items())
    parser.add_argument("word", choices=tuple(WORDS), metavar="WORD", help=meanings)
    parser.add_argument(
        "--number",
        type=int,
        default=0,
        help=f"of a note, 0 to {NUMBER_MAX}; of the dip whose result this is (0: the newest)",
    )
    options.port(parser)
    parser.add_argument("--batch", help="a filed batch instead of the board: its code, or 'last'")
    parser.add_argument(
        "--set-s", type=int, metavar="SECONDS", help="with --batch: it set after so long"
    )
    parser.add_argument("--text", help="with --batch: how the blade looked")
    people.by(parser)
    options.notebook(parser)


def run(arguments: argparse.Namespace) -> int:
    """Mark the running recording, or file the result."""
    if not 0 <= arguments.number <= NUMBER_MAX:
        raise SnapcurveError(f"--number is {arguments.number}: choose one from 0 to {NUMBER_MAX}.")
    if arguments.batch is not None:
        return _file(arguments)
    if arguments.set_s is not None or arguments.text is not None:
        raise SnapcurveError("--set-s and --text go with --batch: the board keeps the word only.")
    word, meaning = WORDS[arguments.word]
    with open_board(arguments.port) as board:
        # A probe fault may sound at any time, so silence needs no recording.
        if word != "silence" and not board.reading().curve:
            raise SnapcurveError(
                "The board is not recording, so there is nothing to mark: put the probe into the "
                "chocolate or press the button first. --batch CODE marks a filed batch."
            )
        try:
            board.mark(word, arguments.number)
        except Refused as refusal:
            if refusal.code != "bad_value":
                raise
            if word in RESULT_WORDS:
                raise SnapcurveError(
                    f"No dip {arguments.number} was marked in this recording: leave --number out "
                    "for the newest one."
                ) from refusal
            raise SnapcurveError(
                f"There is no phase to go {'on' if word == 'next' else 'back'} to: "
                "'snapcurve watch' shows the one that runs."
            ) from refusal
        phase = f"; the phase is now {board.reading().phase}" if word in ("next", "back") else ""
    print(f"Noted: {meaning}{phase}.")
    return 0


def _file(arguments: argparse.Namespace) -> int:
    """The result with the dip it belongs to."""
    from snapcurve.analysis.filed_batch import judge_batch
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.entries import dips_of
    from snapcurve.shown.settings_file import load

    if arguments.word not in RESULTS:
        raise SnapcurveError(
            f"A filed batch takes {', '.join(RESULTS)}: words go to it with 'snapcurve note'."
        )
    with open_notebook(arguments.notebook) as notebook:
        batch = judge_batch(notebook, arguments.batch, load().style)[0].filed
    numbers = list(dips_of(batch))
    if not numbers:
        raise SnapcurveError(
            f"No test blade was marked in batch {batch.code}: press the button when you dip "
            "the next one, and put this one down with 'snapcurve note'."
        )
    number = arguments.number or numbers[-1]
    if number not in numbers:
        listed = ", ".join(map(str, numbers))
        raise SnapcurveError(f"Batch {batch.code} has no test blade {number}, but {listed}.")
    if arguments.set_s is not None and not 0 < arguments.set_s <= SET_S_MAX:
        raise SnapcurveError(f"--set-s is in seconds, from 1 to {SET_S_MAX}.")
    arguments.batch = batch.code
    payload = {
        "result": arguments.word,
        "mark": number,
        "set_s": arguments.set_s,
        "text": arguments.text,
    }
    return people.add_entry(arguments, "dip_test", payload)
