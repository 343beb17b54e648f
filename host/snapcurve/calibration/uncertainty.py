"""Uncertainty of a measurement after JCGM 100:2008 (the GUM).

Components of independent origin, each a half-width, a standard or an expanded uncertainty
with its divisor, sensitivity coefficient and degrees of freedom, are combined to first
order (GUM 5.1); effective degrees of freedom by Welch and Satterthwaite (G.4).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, inf, isfinite, isinf, lgamma, log, pi, sqrt, tan
from statistics import NormalDist

from snapcurve.errors import UnusableValueError

# What turns the stated value into a standard uncertainty (GUM 4.3): for a normal one
# stated as expanded uncertainty, give its k as divisor instead.
DIVISORS = {"normal": 1.0, "rectangular": sqrt(3), "triangular": sqrt(6), "arcsine": sqrt(2)}


@dataclass(frozen=True)
class Component:
    """One line of a budget.

    `value` is in the unit of the input quantity and not negative: the half-width of a
    bounded distribution, or a standard (divisor 1) or expanded (divisor k) uncertainty.
    `sensitivity` turns that unit into the result's. UnusableValueError for anything else.
    """

    name: str
    value: float
    distribution: str = "normal"
    divisor: float | None = None
    sensitivity: float = 1.0
    dof: float = inf

    def __post_init__(self) -> None:
        if self.distribution not in DIVISORS:
            raise UnusableValueError(
                f"{self.name}: the distribution is one of {', '.join(DIVISORS)}, "
                f"not {self.distribution!r}."
            )
        if not isfinite(self.value) or self.value < 0:
            raise UnusableValueError(
                f"{self.name}: an uncertainty is zero or more, not {self.value}."
            )
        if self.divisor is not None and not self.divisor > 0:
            raise UnusableValueError(
                f"{self.name}: the divisor is above zero, not {self.divisor}."
            )
        if not isfinite(self.sensitivity):
            raise UnusableValueError(f"{self.name}: the sensitivity is not a number.")
        if not self.dof > 0:
            raise UnusableValueError(f"{self.name}: degrees of freedom are above zero.")

    @property
    def standard_uncertainty(self) -> float:
        """u(x), in the input quantity's unit."""
        divisor = DIVISORS[self.distribution] if self.divisor is None else self.divisor
        return self.value / divisor

    @property
    def contribution(self) -> float:
        """|c| u(x), in the result's unit."""
        return abs(self.sensitivity) * self.standard_uncertainty


@dataclass(frozen=True)
class Budget:
    """Components of one result; all independent of each other."""

    components: tuple[Component, ...]

    @property
    def combined(self) -> float:
        """Combined standard uncertainty, the root of the summed squares."""
        return hypot(*(component.contribution for component in self.components))

    @property
    def effective_dof(self) -> float:
        """Effective degrees of freedom by Welch-Satterthwaite; inf if nothing limits them."""
        fourth = sum(part.contribution**4 / part.dof for part in self.components)
        return self.combined**4 / fourth if fourth > 0 else inf

    def expanded(self, k: float = 2.0) -> float:
        """Expanded uncertainty U = k u_c."""
        return k * self.combined

    def expanded_at(self, confidence: float = 0.95) -> float:
        """Expanded uncertainty with the t-factor of the effective degrees of freedom.

        The degrees of freedom are cut to the next lower whole number (GUM G.4.1).
        """
        dof = self.effective_dof
        return t_factor(confidence, dof if isinf(dof) else max(1, int(dof))) * self.combined

    def share(self, component: Component) -> float:
        """A component's part of the combined variance, 0 to 1."""
        return (component.contribution / self.combined) ** 2 if self.combined else 0.0


def repeated_readings(name: str, values: Sequence[float], sensitivity: float = 1.0) -> Component:
    """Type A component: standard deviation of the mean of repeated readings (GUM 4.2).

    UnusableValueError for fewer than two values.
    """
    count = len(values)
    if count < 2:
        raise UnusableValueError(f"{name}: repeated readings means two at least, not {count}.")
    mean = sum(values) / count
    variance = sum((value - mean) ** 2 for value in values) / (count - 1)
    return Component(name, sqrt(variance / count), sensitivity=sensitivity, dof=count - 1)


def dof_of_judgement(relative: float) -> float:
    """Degrees of freedom of an uncertainty that is itself uncertain by a share (GUM G.3)."""
    if not relative > 0:
        raise UnusableValueError(f"a relative uncertainty is above zero, not {relative:g}.")
    return 0.5 / relative**2


def t_factor(confidence: float, dof: float) -> float:
    """Student's t for a two-sided interval: P(|T| <= t) = `confidence`, `dof` from 1 to inf.

    With t = sqrt(dof) tan(a) the density becomes cos(a)^(dof - 1), bounded and smooth; the
    angle is found by bisection. UnusableValueError out of range.
    """
    if not 0 < confidence < 1:
        raise UnusableValueError(f"a confidence lies between 0 and 1, not {confidence:g}.")
    if not dof >= 1:
        raise UnusableValueError(f"degrees of freedom are 1 or more, not {dof:g}.")
    if dof > 1e6:
        return NormalDist().inv_cdf((1 + confidence) / 2)
    log_whole = log(pi) / 2 - log(2) + lgamma(dof / 2) - lgamma((dof + 1) / 2)
    scale = 2.718281828459045**-log_whole
    low, high = 0.0, pi / 2
    for _ in range(50):
        angle = (low + high) / 2
        if scale * _cosine_power_integral(dof - 1, angle) < confidence:
            low = angle
        else:
            high = angle
    return sqrt(dof) * tan((low + high) / 2)


def _cosine_power_integral(power: float, angle: float) -> float:
    """Integral of cos^power from 0 to `angle`, by Simpson's rule."""
    # Beyond this the integrand is below 1e-17 of its start: keep the steps where it lives.
    angle = min(angle, 9.0 / sqrt(power)) if power > 40 else angle
    steps = 200
    width = angle / steps
    total = 1.0 + cos(angle) ** power
    for step in range(1, steps):
        total += (4 if step % 2 else 2) * cos(step * width) ** power
    return float(total * width / 3)
