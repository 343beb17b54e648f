"""Heat a standing bowl loses to the room, and its loss coefficient from a cooling curve.

Newton's law: the loss is a coefficient in W/K times the difference to the room. It holds
for one bowl, filling and way of stirring; it is fitted where the chocolate is molten,
because below about 34 °C crystals give heat that this law does not know.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, isfinite, log, sqrt

from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import LOSS_AT_1_KG, MELTING_POINT_FORM_V
from snapcurve.heat.guards import require_not_negative, require_positive, require_temperature

_FIT_STEPS = 60


def usual_loss_w_per_k(mass_g: float) -> float:
    """Loss coefficient to start from when this bench has no curve yet, W/K.

    From memory for 1 kg, scaled with surface, mass to the power 2/3.
    """
    require_positive("The mass", mass_g, "g")
    return float(LOSS_AT_1_KG.value * (mass_g / 1000.0) ** (2.0 / 3.0))


def cooled_c(start_c: float, room_c: float, time_constant_s: float, seconds: float) -> float:
    """Temperature after `seconds` of standing: T_r + (T_0 - T_r) exp(-t/tau), °C."""
    require_positive("The time constant", time_constant_s, "s")
    require_not_negative("The time", seconds, "s")
    return room_c + (start_c - room_c) * exp(-seconds / time_constant_s)


def heat_lost_j(
    heat_capacity_j_per_k: float,
    start_c: float,
    room_c: float,
    loss_w_per_k: float,
    seconds: float,
) -> float:
    """Heat lost in `seconds` by a body of constant heat capacity, J (negative: gained)."""
    require_positive("The heat capacity", heat_capacity_j_per_k, "J/K")
    require_positive("The loss coefficient", loss_w_per_k, "W/K")
    end_c = cooled_c(start_c, room_c, heat_capacity_j_per_k / loss_w_per_k, seconds)
    return heat_capacity_j_per_k * (start_c - end_c)


def seconds_to_cool_s(
    start_c: float, target_c: float, room_c: float, time_constant_s: float
) -> float:
    """Seconds from `start_c` to `target_c` in a room at `room_c`.

    Raises SnapcurveError if the room is not cooler than the target, or the target not
    cooler than the start.
    """
    require_positive("The time constant", time_constant_s, "s")
    if not room_c < target_c <= start_c:
        raise SnapcurveError(
            f"A room at {room_c:g} °C cannot cool {start_c:g} °C to {target_c:g} °C."
        )
    return time_constant_s * log((start_c - room_c) / (target_c - room_c))


@dataclass(frozen=True)
class LossFit:
    """Loss coefficient of a bench with its uncertainty.

    loss_w_per_k and its standard error; time_constant_s; start_c fitted at the first
    point used; residual_c the root mean square misfit; points how many were used.
    """

    loss_w_per_k: float
    standard_error_w_per_k: float
    time_constant_s: float
    start_c: float
    residual_c: float
    points: int


def fit_loss(
    times_s: Sequence[float],
    temperatures_c: Sequence[float],
    room_c: float,
    heat_capacity_j_per_k: float,
    above_c: float = MELTING_POINT_FORM_V.value,
) -> LossFit:
    """Least-squares loss coefficient of an undisturbed cooling curve.

    Fits start temperature and rate of Newton's law by Gauss-Newton to the points from the
    first up to the first reading at or below `above_c`; the standard error assumes
    independent errors of equal size. The heat capacity is that of chocolate and bowl.
    Raises SnapcurveError for fewer than five points, times that do not rise, a room not
    cooler than the points, or a curve that does not cool.
    """
    require_temperature("The room", room_c)
    require_positive("The heat capacity", heat_capacity_j_per_k, "J/K")
    if len(times_s) != len(temperatures_c):
        raise SnapcurveError("The cooling curve has not as many times as temperatures.")
    used: list[tuple[float, float]] = []
    for time_s, reading_c in zip(times_s, temperatures_c, strict=True):
        if not isfinite(time_s) or not isfinite(reading_c):
            raise SnapcurveError("The cooling curve has a reading that is no number; cut it out.")
        if used and time_s <= used[-1][0]:
            raise SnapcurveError("The times of the cooling curve must rise; sort them.")
        if reading_c <= above_c:
            break
        used.append((time_s, reading_c))
    if len(used) < 5:
        raise SnapcurveError(
            f"Only {len(used)} readings before the curve falls to {above_c:g} °C; at least "
            "five are needed, better five minutes of them."
        )
    first_s = used[0][0]
    times = [time_s - first_s for time_s, _ in used]
    excess = [reading_c - room_c for _, reading_c in used]
    if min(excess) <= 0:
        raise SnapcurveError(
            f"The chocolate is not warmer than the room at {room_c:g} °C, so nothing can be "
            "learned about the loss; check the room temperature."
        )
    amplitude, rate = _fit_decay(times, excess)
    residuals = [y - amplitude * exp(-rate * t) for t, y in zip(times, excess, strict=True)]
    squares = sum(r * r for r in residuals)
    if rate <= 0:
        raise SnapcurveError(
            "This curve does not cool towards the room; use a stretch without heating."
        )
    a, b, c = _normal_matrix(times, amplitude, rate)
    rate_error = sqrt(squares / (len(used) - 2) * a / (a * c - b * b))
    return LossFit(
        loss_w_per_k=rate * heat_capacity_j_per_k,
        standard_error_w_per_k=rate_error * heat_capacity_j_per_k,
        time_constant_s=1 / rate,
        start_c=room_c + amplitude,
        residual_c=sqrt(squares / len(used)),
        points=len(used),
    )


def _normal_matrix(
    times: Sequence[float], amplitude: float, rate: float
) -> tuple[float, float, float]:
    a = b = c = 0.0
    for t in times:
        by_amplitude = exp(-rate * t)
        by_rate = -amplitude * t * by_amplitude
        a += by_amplitude * by_amplitude
        b += by_amplitude * by_rate
        c += by_rate * by_rate
    return a, b, c


def _fit_decay(times: Sequence[float], excess: Sequence[float]) -> tuple[float, float]:
    """Amplitude and rate of A exp(-k t), from the straight line of the logarithms."""
    count = len(times)
    mean_t = sum(times) / count
    logs = [log(y) for y in excess]
    mean_log = sum(logs) / count
    spread = sum((t - mean_t) ** 2 for t in times)
    rate = -sum((t - mean_t) * y for t, y in zip(times, logs, strict=True)) / spread
    amplitude = exp(mean_log + rate * mean_t)
    for _ in range(_FIT_STEPS):
        a, b, c = _normal_matrix(times, amplitude, rate)
        right_a = right_k = 0.0
        for t, y in zip(times, excess, strict=True):
            by_amplitude = exp(-rate * t)
            residual = y - amplitude * by_amplitude
            right_a += by_amplitude * residual
            right_k -= amplitude * t * by_amplitude * residual
        determinant = a * c - b * b
        if determinant <= 0:
            break
        step_a = (c * right_a - b * right_k) / determinant
        step_k = (a * right_k - b * right_a) / determinant
        amplitude += step_a
        rate += step_k
        if abs(step_a) < 1e-11 * abs(amplitude) and abs(step_k) < 1e-11 * abs(rate):
            break
    return amplitude, rate
