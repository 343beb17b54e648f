"""Trade and thermal constants of the arithmetic, each once, with source and status.

Every default here can be replaced by the caller. The comment says where a number comes from and
how far to trust it: read in the source named, from MEMORY, common PRACTICE without a source, or
a CHOICE made here. Beckett: Beckett (ed.), Industrial Chocolate Manufacture and Use, 4th ed. 2009.
"""

MEMORY = "from memory, editable"
PRACTICE = "common practice, no source"

# --- chocolate -----------------------------------------------------------------------

SPECIFIC_HEAT_SOLID_J_PER_G_K = 1.59  # Beckett, p. 667 (15 to 40 °C)
SPECIFIC_HEAT_LIQUID_J_PER_G_K = 1.67  # Beckett, p. 667 (40 to 60 °C)
LATENT_HEAT_COCOA_BUTTER_J_PER_G = 157.0  # Beckett, p. 668, after Chevalley et al. 1970
# With two specific heats the latent heat depends on the temperature it is quoted for
# (Kirchhoff). The sources give none; the end of the default melting curve is taken: CHOICE.
LATENT_HEAT_AT_C = 36.0

# Share of the latent heat taken up on warming tempered solid chocolate to °C, after the
# usual solid fat contents of West African cocoa butter (76 % at 20, 45 at 30, 0 at 36 °C).
MELTING_POINTS_DARK = ((20.0, 0.0), (25.0, 0.10), (30.0, 0.40), (32.5, 0.75), (36.0, 1.0))
MELTING_POINTS_STATUS = MEMORY
MILK_FAT_SHIFT_K = -1.5  # the usual milk fat lowers the melting range by 1 to 2 K: MEMORY
# What milk fat usually is of all the fat in milk or white: 6 of 36 % of the mass: MEMORY.
USUAL_MILK_FAT_SHARE = 1 / 6
# Nut oil stays liquid and loosens the crystals as milk fat does, more of it: gianduja of which
# two fifths of the fat are nut oil is worked some 5 K lower than milk: CHOICE.
NUT_FAT_SHIFT_K_PER_SHARE = -12.0

MELTING_POINT_FORM_V_C = 33.8  # Wille and Lutton, JAOCS 43 (1966) 491, as commonly quoted
# Highest working temperature of dark and of milk: chocolate-academy.com, "Guide to Different
# Tempering Methods". Their difference is put down to milk's usual milk fat: CHOICE.
HIGHEST_WORKING_DARK_C, HIGHEST_WORKING_MILK_C = 34.5, 32.5
# The guide's highest all lie 2.5 K above the windows beside them, so a limit that was worked out
# goes no further; nor nearer than the other: CHOICE.
LIMIT_ABOVE_WINDOW_AT_MOST_K, LIMIT_ABOVE_WINDOW_AT_LEAST_K = 2.5, 0.5
CRYSTAL_SHARE_TEMPERED = 0.03  # of the latent heat; 1 to 3 % in a tempered melt: MEMORY
THICK_UNMELTED_SHARE = 0.1  # from there it pours badly: PRACTICE

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
BOWL_TOUCHING_SHARE = 0.7  # rim and outside stay cooler than the chocolate: MEMORY
LOSS_AT_1_KG_W_PER_K = 1.0  # open bowl stirred on a bench, about 10 W/(m² K) on 0.1 m²
LOSS_STATUS = MEMORY
ROOM_WARM_ABOVE_C = 24.0  # rooms of 18 to 22 °C are usual: PRACTICE
HOT_BOWL_C = 48.0  # ISO 13732-1, bare metal held for ten minutes: MEMORY

# --- heating -------------------------------------------------------------------------

MICROWAVE_W = 800.0  # a usual oven: PRACTICE
# Share of the water-test power: chocolate takes up less than 1 l of water.
MICROWAVE_COUPLING = 0.7
MICROWAVE_COUPLING_STATUS = MEMORY
BURST_S_PER_KG = 30.0  # first bursts, kept between 15 and 60 s: PRACTICE
SHORTEST_BURST_S = 5.0  # the magnetron needs about 2 s to start: PRACTICE
MANY_BURSTS = 30  # a bowl this full is better divided: PRACTICE
STIR_AFTER_BURST_S = 30.0  # until the reading is steady: PRACTICE
HOT_AIR_BURST_S = 10.0  # longest blast of hot air while stirring: PRACTICE
HOT_AIR_STIR_S = 10.0  # stirring goes on during the blast: PRACTICE
HOT_AIR_AT_1_KG_W = 200.0  # what 1 kg takes of a 2 kW gun held over the bowl
HOT_AIR_STATUS = MEMORY
HOT_AIR_AT_MOST_W = 600.0  # a third of what such a gun gives: MEMORY
WATER_J_PER_G_K = 4.187  # water test as in IEC 60705
WATER_TEST_VESSEL_J_PER_G_K = 0.55  # borosilicate, in the formula of IEC 60705: MEMORY

# --- seeding -------------------------------------------------------------------------

# Shares are of the finished mass.
LARGEST_SEED_SHARE = 1 / 3  # the highest of the cook-book rules
SMALLEST_SEED_SHARE = 0.05  # under it few survive: PRACTICE
HANDFUL_SHARE = 0.08  # what melts in one go: PRACTICE
HANDFUL_STIR_S = 90.0  # stirring one handful in: PRACTICE
MELT_REST_MIN = 3.0  # at the melting temperature
MELT_REST_STATUS = PRACTICE
# Powdered cocoa-butter crystals, 1 vol % at 34 °C (foodtech-portal.eu, "Chocolate seeding", 2011);
# a public recipe says 35. Nearer the window where that is lower: CHOICE.
CRYSTAL_SEED_SHARE, CRYSTAL_SEED_C, CRYSTAL_SEED_ABOVE_WINDOW_K = 0.01, 34.0, 2.0
CRYSTAL_STIR_S = 60.0  # until none is seen: PRACTICE
COLD_BATH_C = 16.0  # cold water from the tap: MEMORY
COLD_BATH_AT_1_KG_W_PER_K = 8.0  # half a bowl's wall in stirred water: MEMORY
LOW_POINT_S = 120.0  # at the low point, for crystals to form: PRACTICE
LARGEST_TABLE_SHARE = 0.8  # two thirds are usual: PRACTICE
WHOLE_TABLE_SHARE = 0.95  # where that is not enough: what clings to the bowl stays: PRACTICE
SLAB_STEP_SHARE = 0.01  # nobody pours onto a slab more finely: PRACTICE
TABLE_MIN = 5.0  # working the chocolate on the slab: PRACTICE

# --- testing and correcting ----------------------------------------------------------

# Shares are of the mass in the bowl.
TEST_MIN = 5.0  # a tempered film sets in 3 to 5 min (mould sellers)
CORRECTIONS_BEFORE_MELTING = 3  # then start again: PRACTICE
SETTING_BELOW_WINDOW_K = 5.0  # the bowl is setting by then: PRACTICE
LONGEST_STIR_MIN = 10.0  # longer is quicker done with pieces: PRACTICE
RESEED_SHARE = 0.05  # pieces where all crystals are gone; under it few survive: PRACTICE
TOUCH_SHARE, LEAST_TOUCH_SHARE = 0.02, 0.01  # pieces for a slow film: PRACTICE
TOUCH_STIR_S = 60.0  # so few, chopped fine: PRACTICE
WORK_ON_MIN = 3.0  # stirring lets crystals multiply: PRACTICE
MOST_PIECES_SHARE = 0.5  # a third of the new total: PRACTICE
MANY_PIECES_SHARE = 0.1  # more thickens a bowl that has its crystals still: PRACTICE
MUCH_MORE = 1.1  # a bowl that grows by more may run over: CHOICE
DILUTION_SHARE = 0.15  # melted chocolate, if over-seeded: PRACTICE
PIECES_STIR_S = 120.0  # until no piece is felt: PRACTICE
MELTED_STIR_S = 60.0  # until the colour is even: PRACTICE
SHORTEST_AIR_S = 3.0  # a hand does no less with a gun: PRACTICE
LEAST_WARMING_K = 0.1  # no reading shows less: CHOICE
LONG_AIR_S = 180.0  # longer is done in a water bath: PRACTICE
SHORTEST_STIR_S = 30.0  # nor with a spatula: PRACTICE
EDGE_SHARE = 0.15  # of the window, kept off its ends: CHOICE
GANACHE_LIQUID_SHARE = 0.25  # liquid that loosens seized chocolate: MEMORY
COCOA_BUTTER_SHARE = 0.02  # thins a thick melt: PRACTICE
