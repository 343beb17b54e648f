"""Trade and thermal constants of the arithmetic, each once, with source and status.

Every default here can be replaced by the caller; `status` says how far to trust it:
`READ` was read in the source named, `MEMORY` is only remembered, `PRACTICE` is what
bench workers do without a source, `CHOICE` is chosen here without a source.
"""

from typing import NamedTuple

READ = "read in the source named"
MEMORY = "from memory, editable"
PRACTICE = "common practice, no source"
CHOICE = "chosen here"


class Constant(NamedTuple):
    """A number with its unit, where it comes from and how well that is known."""

    value: float
    unit: str
    source: str
    status: str


_BECKETT = "Beckett (ed.), Industrial Chocolate Manufacture and Use, 4th ed. 2009, p. "

# --- chocolate -----------------------------------------------------------------------

SPECIFIC_HEAT_SOLID = Constant(1.59, "J/(g K)", _BECKETT + "667 (15 to 40 °C)", READ)
SPECIFIC_HEAT_LIQUID = Constant(1.67, "J/(g K)", _BECKETT + "667 (40 to 60 °C)", READ)
LATENT_HEAT_COCOA_BUTTER = Constant(
    157.0, "J/g of fat", _BECKETT + "668, after Chevalley et al. 1970", READ
)
LATENT_HEAT_DARK = Constant(
    46.0, "J/g of chocolate", _BECKETT + "668, after Chevalley et al. 1970", READ
)
LATENT_HEAT_MILK = Constant(
    44.0, "J/g of chocolate", _BECKETT + "668, after Chevalley et al. 1970", READ
)
# The 157 J/g then gives white chocolate's latent heat; dark and milk have their own.
FAT_FRACTION_WHITE = Constant(0.31, "share of mass", "usual for white couverture", MEMORY)
# With two specific heats the latent heat depends on the temperature it is quoted for
# (Kirchhoff). The sources give none; the end of the default melting curve is taken.
LATENT_HEAT_TEMPERATURE = Constant(36.0, "°C", "end of the default melting curve", CHOICE)

# Share of the latent heat taken up on warming tempered solid chocolate to °C, after the
# usual solid fat contents of West African cocoa butter (76 % at 20, 45 at 30, 0 at 36 °C).
MELTING_POINTS_DARK = ((20.0, 0.0), (25.0, 0.10), (30.0, 0.40), (32.5, 0.75), (36.0, 1.0))
MELTING_POINTS_STATUS = MEMORY
MILK_FAT_SHIFT = Constant(-1.5, "K", "milk fat lowers the melting range by 1 to 2 K", MEMORY)

MELTING_POINT_FORM_V = Constant(
    33.8, "°C", "Wille and Lutton, JAOCS 43 (1966) 491, as commonly quoted", READ
)
CRYSTAL_SHARE_TEMPERED = Constant(
    0.03, "share of the latent heat", "1 to 3 % of crystals in a tempered melt", MEMORY
)
THICK_UNMELTED_SHARE = Constant(0.1, "share unmelted", "from there it pours badly", PRACTICE)

# --- bowl and room -------------------------------------------------------------------

# J/(g K); the second entry says whether the material may go into a microwave oven.
BOWL_MATERIALS = {
    "plastic": (1.9, True),
    "glass": (0.84, True),
    "ceramic": (0.90, True),
    "steel": (0.50, False),
    "aluminium": (0.90, False),
}
BOWL_MATERIALS_STATUS = MEMORY
# Weight in g of a bowl in which one kilogram is stirred.
USUAL_BOWL_G_AT_1_KG = {
    "plastic": 250.0,
    "glass": 800.0,
    "ceramic": 900.0,
    "steel": 400.0,
    "aluminium": 250.0,
}
USUAL_BOWL_STATUS = PRACTICE
BOWL_TOUCHING_SHARE = Constant(
    0.7, "share of the bowl", "rim and outside stay cooler than the chocolate", MEMORY
)
LOSS_AT_1_KG = Constant(
    1.0, "W/K", "open bowl stirred on a bench, about 10 W/(m² K) on 0.1 m²", MEMORY
)
ROOM_WARM_ABOVE = Constant(24.0, "°C", "rooms of 18 to 22 °C are usual", PRACTICE)
HOT_BOWL = Constant(48.0, "°C", "ISO 13732-1: bare metal held for ten minutes", MEMORY)

# --- heating -------------------------------------------------------------------------

MICROWAVE_W = Constant(800.0, "W", "a usual oven", PRACTICE)
MICROWAVE_COUPLING = Constant(
    0.7, "share of the water-test power", "chocolate takes up less than 1 l of water", MEMORY
)
BURST_S_PER_KG = Constant(30.0, "s/kg", "first bursts, kept between 15 and 60 s", PRACTICE)
SHORTEST_BURST_S = Constant(5.0, "s", "the magnetron needs about 2 s to start", PRACTICE)
MANY_BURSTS = Constant(30, "bursts", "a bowl this full is better divided", PRACTICE)
STIR_AFTER_BURST_S = Constant(30.0, "s", "stir until the reading is steady", PRACTICE)
HOT_AIR_BURST_S = Constant(10.0, "s", "longest blast of hot air while stirring", PRACTICE)
HOT_AIR_STIR_S = Constant(10.0, "s", "stirring goes on during the blast", PRACTICE)
HOT_AIR_AT_1_KG = Constant(200.0, "W", "what 1 kg takes of a 2 kW gun held over the bowl", MEMORY)
HOT_AIR_AT_MOST = Constant(600.0, "W", "a third of what such a gun gives", MEMORY)
WATER_HEAT_CAPACITY = Constant(4.187, "J/(g K)", "water test as in IEC 60705", READ)
WATER_TEST_VESSEL = Constant(
    0.55, "J/(g K)", "borosilicate vessel in the formula of IEC 60705", MEMORY
)

# --- seeding -------------------------------------------------------------------------

LARGEST_SEED_SHARE = Constant(
    1 / 3, "share of the finished mass", "the highest of the cook-book rules", READ
)
SMALLEST_SEED_SHARE = Constant(
    0.05, "share of the finished mass", "under it few survive", PRACTICE
)
HANDFUL_SHARE = Constant(0.08, "share of the finished mass", "what melts in one go", PRACTICE)
HANDFUL_STIR_S = Constant(90.0, "s", "stirring one handful in", PRACTICE)
MELT_REST_MIN = Constant(3.0, "min", "rest at the melting temperature", PRACTICE)
LARGEST_TABLE_SHARE = Constant(0.8, "share of the batch", "two thirds are usual", PRACTICE)
TABLE_MIN = Constant(5.0, "min", "working the chocolate on the slab", PRACTICE)

# --- testing and correcting ----------------------------------------------------------

TEST_MIN = Constant(5.0, "min", "a tempered film sets in 3 to 5 min (mould sellers)", READ)
CORRECTIONS_BEFORE_MELTING = Constant(3, "corrections", "then start again", PRACTICE)
SETTING_BELOW_WINDOW_K = Constant(5.0, "K", "the bowl is setting by then", PRACTICE)
LONGEST_STIR_MIN = Constant(10.0, "min", "longer is quicker done with pieces", PRACTICE)
EXTRA_SEED_SHARE = Constant(0.05, "share of the mass", "pieces for a slow film", PRACTICE)
MOST_PIECES_SHARE = Constant(0.5, "share of the mass", "a third of the new total", PRACTICE)
DILUTION_SHARE = Constant(0.15, "share of the mass", "melted chocolate, if over-seeded", PRACTICE)
PIECES_STIR_S = Constant(120.0, "s", "until no piece is felt", PRACTICE)
MELTED_STIR_S = Constant(60.0, "s", "until the colour is even", PRACTICE)
EDGE_SHARE = Constant(0.15, "share of the window", "kept off its ends", CHOICE)
GANACHE_LIQUID_SHARE = Constant(
    0.25, "share of the mass", "liquid that loosens seized chocolate", MEMORY
)
COCOA_BUTTER_SHARE = Constant(0.02, "share of the mass", "thins a thick melt", PRACTICE)
