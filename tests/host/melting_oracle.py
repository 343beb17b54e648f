"""The melting curve by scipy: the oracle of the one that plans are made with."""

from scipy.interpolate import PchipInterpolator

from snapcurve.heat.enthalpy import MeltingCurve


def scipy_curve(melting: MeltingCurve) -> PchipInterpolator:
    """Share over °C. The flat stretches outside are given to scipy as further points."""
    points = melting.points
    ts = [points[0][0] - 1, *(t for t, _ in points), points[-1][0] + 1]
    return PchipInterpolator(ts, [0.0, *(y for _, y in points), 1.0])


def slope_per_k(melting: MeltingCurve, temperature_c: float) -> float:
    """Its derivative, 1/K; zero outside."""
    if not melting.start_c < temperature_c < melting.end_c:
        return 0.0
    return max(0.0, float(scipy_curve(melting).derivative()(temperature_c)))
