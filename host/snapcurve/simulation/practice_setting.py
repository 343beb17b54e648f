"""How a practice bowl is asked for, checked before anything starts."""

from dataclasses import asdict, dataclass, replace
from typing import Any

from snapcurve.couvertures import Couverture, load, user_folder
from snapcurve.couvertures.methods import chosen
from snapcurve.couvertures.profile import compile_profile
from snapcurve.errors import SnapcurveError
from snapcurve.shown.units import PLAIN, Style
from snapcurve.simulation.practice import BenchState
from snapcurve.simulation.practice_pace import checked_speed
from snapcurve.simulation.situations import Situation, situation_named

# least, most, in what unit, and of what
LIMITS = {
    "mass_g": (200.0, 8000.0, "g", "in the bowl"),
    "pieces_g": (0.0, 5000.0, "g", "of pieces beside it"),
    "room_c": (10.0, 35.0, "°C", "in the room"),
    "microwave_w": (300.0, 1500.0, "W", "of the microwave oven"),
}


@dataclass(frozen=True)
class Setting:
    """What is set out. ``couverture`` is an id or the path of a file; ``method`` None for the
    usual one; ``lesson`` one of SITUATIONS, which then says couverture, method and bowl;
    ``pieces_g`` lie beside the bowl; ``number``: same number, same bench."""

    couverture: str = "milk"
    method: str | None = None
    mass_g: float = 1000.0
    pieces_g: float = 500.0
    room_c: float = 21.0
    microwave_w: float = 800.0
    speed: float = 10.0
    lesson: str | None = None
    number: int = 1
    halted: bool = False


@dataclass(frozen=True)
class SetOut:
    """A setting made good: what stands on the bench."""

    setting: Setting
    couverture: Couverture
    method: str
    profile: bytes
    state: BenchState
    situation: Situation | None


def set_out_of(setting: Setting, style: Style = PLAIN) -> SetOut:
    """What ``setting`` asks for, its words in the units of ``style``; SnapcurveError if there is
    no such couverture, method, lesson or bowl."""
    checked_speed(setting.speed)
    for name, (least, most, unit, what) in LIMITS.items():
        if not least <= getattr(setting, name) <= most:
            low, high = style.quantity(least, unit), style.quantity(most, unit)
            raise SnapcurveError(f"The practice bench takes {low} to {high} {what}.")
    situation = None if setting.lesson is None else situation_named(setting.lesson, style)
    if situation is not None:
        setting = replace(setting, couverture=situation.couverture, method=situation.method)
    couverture = load(setting.couverture, user_folder())
    method = chosen(setting.method, couverture)
    if method == "cup":
        raise SnapcurveError("A cup needs no bowl: 'snapcurve rehearse --method cup' shows one.")
    state = BenchState(
        mass_g=setting.mass_g,
        room_c=setting.room_c,
        start_c=setting.room_c,
        microwave_w=setting.microwave_w,
        pieces_g=setting.pieces_g,
        number=setting.number,
    )
    if situation is not None:
        state = replace(situation.state, number=setting.number)
    elif method == "hold":
        # stock in temper that was kept warm
        window = (couverture.work_low_c, couverture.work_high_c)
        state = replace(state, melted=True, start_c=sum(window) / 2, crystals=0.03)
    profile = compile_profile(couverture, method)
    return SetOut(replace(setting, method=method), couverture, method, profile, state, situation)


def setting_data(setting: Setting) -> dict[str, Any]:
    """The setting as it goes to the bench's process, and to scripts."""
    return asdict(setting)
