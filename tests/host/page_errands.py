"""Commands as the page runs them, in the test's own process: the same parser and the same run."""

import gc
import io
import threading
from contextlib import redirect_stderr, redirect_stdout

from snapcurve.cli import main
from snapcurve.page.errands import Came, checked


class InProcess:
    """An errand that notes what was asked for."""

    def __init__(self):
        self.asked: list[list[str]] = []
        self._one = threading.Lock()  # standard output belongs to all threads

    def __call__(self, words):
        with self._one:
            return self._run(checked(words))

    def _run(self, words):
        self.asked.append(words)
        out, err = io.StringIO(), io.StringIO()
        with redirect_stdout(out), redirect_stderr(err):
            try:
                code = main(words)
            except SystemExit as ended:
                code = ended.code
        gc.enable()  # a command that ends with its process may do without
        return Came(code, out.getvalue(), err.getvalue())
