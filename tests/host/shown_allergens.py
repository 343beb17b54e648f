"""What the commands say of a batch's allergens."""

import csv
import io
import json

BY = ("--by", "Ilka Brandner")
WHY = ("--why", "the maker's sheet of 2026-11-20")


def headline(shown):
    """What `show` says of the whole batch."""
    (line,) = [one for one in shown.splitlines() if one.startswith("  allergens ")]
    return line.removeprefix("  allergens ").strip()


def exported(type_in):
    """The one batch, as a table's row and as JSON."""
    (row,) = csv.DictReader(io.StringIO(type_in("batches", "--output", "-")))
    (held,) = json.loads(type_in("batches", "--json"))
    return row, held
