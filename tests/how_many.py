"""How many random cases a run tries: a share at each change, all of them before a release.

The environment says which: SNAPCURVE_TESTS=all. The few are the first of the many, the same in
each run, so that a failure is of the change and not of the day.
"""

import os

ALL = os.environ.get("SNAPCURVE_TESTS") == "all"


def cases(few: int, all_of_them: int) -> int:
    """How many of them this run tries."""
    return all_of_them if ALL else few
