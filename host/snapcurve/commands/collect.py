"""snapcurve collect: new curves from the board into the notebook."""

import argparse
import sys
import time
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from snapcurve.board.client import Board
from snapcurve.commands import options
from snapcurve.commands.chosen_board import open_board
from snapcurve.couvertures import available, loaded, user_folder
from snapcurve.errors import SnapcurveError
from snapcurve.shown import folders
from snapcurve.shown.settings_file import Settings, load

if TYPE_CHECKING:
    from snapcurve.notebook.store import Notebook


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.port(parser)
    options.notebook(parser)
    parser.add_argument(
        "--keep", action="store_true", help="leave the curves on the board after filing them"
    )
    parser.add_argument(
        "--erase-damaged",
        action="store_true",
        help="erase also curves of which a part was lost on the board's flash",
    )
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Download what is new, file it, and only then let the board erase it."""
    from snapcurve.notebook import open_notebook

    with open_notebook(arguments.notebook) as notebook, open_board(arguments.port) as board:
        gather(
            board,
            notebook,
            arguments.port,
            load(),
            keep=arguments.keep,
            erase_damaged=arguments.erase_damaged,
            as_json=arguments.json,
        )
    return 0


def gather(
    board: Board,
    notebook: "Notebook",
    port: str | None,
    settings: Settings,
    *,
    keep: bool = False,
    erase_damaged: bool = False,
    as_json: bool = False,
) -> None:
    """Collect from ``board`` and say what came of it; ``port`` is what the person named.
    RecordError if curves stay on the board because they cannot be read."""
    from snapcurve.collecting.chain_ends import tell_or_say
    from snapcurve.collecting.collection import Collection
    from snapcurve.notebook import day as today

    complete = _Completion(settings, notebook)
    filed: list[dict[str, Any]] = []

    def tell(row: Any, code: str) -> None:
        given, said = complete.of_its_day(code)
        plain = None if given is None else today.given_plain(given)
        filed.append({"curve": row.curve, "batch": code, "bytes": row.size, "set_for_day": plain})
        if not as_json:
            print(f"Curve {row.curve}: batch {code} ({row.size} bytes)", flush=True)
            if given is not None:
                print(f"{code}: {today.given_words(given, settings.style)}", flush=True)
        for sentence in said:
            print(f"! {sentence}", file=sys.stderr)

    board.set_clock(time.time())
    progress = _progress if sys.stderr.isatty() else None
    collection = Collection(board, notebook, port, tell, progress, complete)
    collection.run(keep=keep, erase_damaged=erase_damaged)
    untold = tell_or_say(board, notebook, port)
    codes = [one["batch"] for one in filed]
    verdicts, warnings = _afterwards(notebook, codes, settings.style) if codes else ({}, [])
    mistakes = [code for code in codes if notebook.as_amended(code).now.mistake]
    for curve in collection.recording:
        print(
            f"Curve {curve} is still being recorded: collect it when it has ended.",
            file=sys.stderr,
        )
    if as_json:
        for one in filed:
            one["verdict"] = verdicts.get(one["batch"], (None, None))[1]
            one["mistake"] = one["batch"] in mistakes
        options.print_json(filed)
    elif not filed and not collection.unreadable:
        print("Nothing new on the board.")
    else:
        # A batch in several parts has one verdict.
        told: dict[str, str] = dict(verdicts.get(code, (code, "")) for code in codes)
        for code, said in told.items():
            print(f"{code}: {said}" if said else code)
        if mistakes:
            print(
                f"In no list: {', '.join(mistakes)}. 'snapcurve batches --mistakes' shows what "
                "was started by mistake, 'snapcurve note CODE --amend mistake no' brings it back."
            )
    for warning in [*collection.damaged, *warnings, *([] if untold is None else [untold])]:
        print(f"! {warning}", file=sys.stderr)
    collection.complain()


class _Completion:
    """Adds operator, bench, the couverture as it was loaded with its allergens, and what was set
    for the day on which a batch began."""

    def __init__(self, settings: Settings, notebook: "Notebook"):
        from snapcurve.notebook import day as today
        from snapcurve.notebook import lot_state

        self._settings = settings
        self._folder = folders.data_folder()
        self._entries = notebook.bench_entries("day")
        self._days = today.days_of(self._entries, settings.bench, self._folder)
        self._held = lot_state.on_hold(notebook.bench_entries("hold"))
        self._named = {one.name: one for one in available(user_folder())}
        self._new: Any = None
        self._given: Any = None

    def __call__(self, new: Any) -> Any:
        from snapcurve.notebook import day as today

        sent = loaded.recall(self._folder, new.profile)
        if sent is not None:
            new = replace(new, couverture_toml=sent.toml_text)
        couverture = sent or self._named.get(new.couverture)
        new = today.with_kinds_allergens(new, None if couverture is None else couverture.kind)
        self._new, self._given = today.applied(self._days, new)
        return replace(
            self._new,
            place=self._new.place or self._settings.bench or None,
            operator=self._new.operator or self._settings.operator or None,
        )

    def of_its_day(self, code: str) -> tuple[Any, list[str]]:
        """What the batch just filed as ``code`` got of its day, and what is to be said of that;
        neither if nothing was added to it."""
        from snapcurve.notebook import day as today
        from snapcurve.notebook import lot_state

        new, given = self._new, self._given
        self._new = self._given = None  # not told again of one to which nothing is added
        if new is None:
            return given, []
        missed = today.missed(self._days, new, code, self._entries, self._settings.bench)
        said = [] if missed is None else [missed]
        for lot in new.lots if given is not None else ():
            for trouble in lot_state.troubles(lot, given.day, self._held, self._settings.style):
                said.append(f"{code}: {trouble}.")
        return given, said


def _afterwards(
    notebook: Any, codes: list[str], style: Any
) -> tuple[dict[str, tuple[str, str]], list[str]]:
    """Of each record the code of its batch and what that proves; and what was worked without a
    cleaning before."""
    from snapcurve.analysis.deviations import deviations_of
    from snapcurve.analysis.filed_batch import judge_batch
    from snapcurve.notebook.descriptions import cleaning_sentences

    verdicts, opened = {}, dict[str, int]()
    started = [notebook.batch(code).started_unix_ms for code in codes]
    for code in codes:
        try:
            found, judgement = judge_batch(notebook, code, style)
            verdicts[code] = (str(found.filed.code), judgement.verdict)
            count = sum(bool(one.open) for one in deviations_of(found, judgement, style))
            if count and not found.now.rehearsal:
                opened[str(found.filed.code)] = count
        except SnapcurveError:
            continue  # what was filed is safe; 'snapcurve show' says what is wrong with it
    warnings = cleaning_sentences(notebook.missing_cleanings(started), codes)
    for code, count in opened.items():
        are = "1 deviation is" if count == 1 else f"{count} deviations are"
        warnings.append(f"{code}: {are} open; 'snapcurve show {code}' says what is asked for.")
    return verdicts, warnings


def _progress(got: int, total: int) -> None:
    from snapcurve.shown.table import redraw

    part = got * 100 // max(1, total)
    redraw(f"  {part:3d} % of {total} bytes", sys.stderr, last=got >= total)
