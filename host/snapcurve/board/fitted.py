"""What is fitted to a board: thermocouple, mains filter and converter (wire.catalogue.PROBE)."""

from dataclasses import dataclass

# What plug and cable show, and where they come from: IEC 60584-3 (most of the world), ASTM E230
# (North America). From memory.
CABLE_MARKS = {
    "K": "green, in North America yellow",
    "T": "brown, in North America blue",
    "N": "pink, in North America orange",
    "J": "black",
}
ASSUMED = " (assumed)"  # behind what nobody has chosen


@dataclass(frozen=True)
class Fitted:
    """``tc_type`` is the thermocouple's letter, ``mains_hz`` 50 or 60."""

    tc_type: str
    mains_hz: int
    converter: str

    @property
    def words(self) -> str:
        """In a line."""
        return f"type {self.tc_type}, {self.converter}, mains {self.mains_hz} Hz"


@dataclass(frozen=True)
class ProbeSetting:
    """``chosen``: somebody has said so, else the board assumes it; ``recognised``: the converter
    itself has answered."""

    fitted: Fitted
    chosen: bool
    recognised: bool

    @property
    def words(self) -> str:
        """In a line."""
        return self.fitted.words + ("" if self.chosen else ASSUMED)
