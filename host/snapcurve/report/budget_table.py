"""The rows of a budget's table, for the terminal and for paper."""

from snapcurve.calibration.budget import Budget
from snapcurve.shown.units import Style

HEAD = ("component", "stated", "shape", "u", "c", "|c| u", "share")
RIGHT = (1, 3, 4, 5, 6)


def budget_rows(budget: Budget, style: Style) -> list[tuple[str, ...]]:
    """In the person's degrees, one row a component, the largest share first."""

    def degrees(value_k: float) -> str:
        return style.number(style.interval(value_k), 4)

    rows: list[tuple[str, ...]] = []
    for part in sorted(budget.components, key=lambda part: -part.contribution):
        stated, u = degrees(part.value), degrees(part.standard_uncertainty)
        c, share = style.number(part.sensitivity, 3), f"{100 * budget.share(part):.0f} %"
        contribution = degrees(part.contribution)
        rows.append((part.name, stated, part.distribution, u, c, contribution, share))
    rows.append(("combined", "", "", "", "", degrees(budget.combined), ""))
    return rows
