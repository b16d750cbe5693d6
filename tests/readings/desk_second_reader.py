"""A second reader's questions, answered from published guidance before the desk was asked.

Written by someone who did not write the rules, and kept apart from the first library. Where the
desk answered otherwise the rules were mended, but for four answers that the reader took back; each
says so. Fields as in `desk_questions`.
"""

from __future__ import annotations

from desk_questions import (
    CODES,
    CUTLERY,
    DAIRY,
    EN_ANNEX,
    INDOORS,
    LADDER,
    LIFTS,
    MATERIALS,
    PLATE,
    SALT,
    SEA,
    TRADE,
    WELDED,
    Question,
    at,
    hot,
    water,
)

__all__ = ["SECOND"]

CHLORIDE_CHART = (
    "least plate steel at this chloride and warmth",
    "producer_literature",
    "verified",
)
TURNED = {"form": "bar", "thickness_mm": 20.0, "forming": "machining"}


def plates(chloride: float, heat: float) -> dict:
    return water(chloride, heat) | {"water": "heat exchanger", "thickness_mm": 0.6}


SECOND = [
    # --- made how, and what is made of it --------------------------------------------------------
    Question(CUTLERY, "turned spindles for a dry room", "304", "303", INDOORS | TURNED, "reserved",
             "pitting index|atmosphere", "turns better, sulphides start pits and rust",
             *TRADE[1:]),
    Question(CUTLERY, "turned spindles for a dry room", "303", "304", INDOORS | TURNED, "reserved",
             "machining", "without sulphides chips are long and tools wear", *TRADE[1:]),
    Question(CUTLERY, "turned and welded fitting", "304", "303", TURNED | WELDED, "no", "weld",
             "free-machining steel cracks when welded", *TRADE[1:]),
    Question(LIFTS, "panel stretched over a former", "304", "430", {"forming": "stretching"}, "no",
             "forming", "ferritic steel is drawn, not stretched", *MATERIALS[1:]),
    Question(LIFTS, "panel stretched over a former", "304", "444", {"forming": "stretching"}, "no",
             "forming", "ferritic steel is drawn, not stretched", *MATERIALS[1:]),
    Question(SALT, "cast valve body, repaired by welding", "CF8M", "CF3M",
             {"form": "casting", "thickness_mm": 15.0} | WELDED, "yes", "none",
             "the low-carbon casting is the one to weld", "astm_a351", "memory"),
    Question(SALT, "cast valve body", "CF8M", "316L", {"form": "casting", "thickness_mm": 15.0},
             "no", "product form", "a casting has a casting grade: CF3M", "astm_a351", "memory"),
    Question(SALT, "plate of a casting grade", "316L", "CF3M", PLATE, "no", "product form",
             "casting grades are not rolled", "astm_a351", "memory"),
    # --- one heat for two names ------------------------------------------------------------------
    Question(DAIRY, "plate sold under both names", "304", "321/304", PLATE | WELDED, "no",
             "dual certification", "titanium keeps 321 from being sold as 304", "astm_a240",
             "verified"),
    Question(SALT, "plate sold under both names", "2205", "S31803/S32205", PLATE, "yes", "none",
             "the usual double name of 22Cr duplex", "astm_a240", "verified"),
    Question(DAIRY, "plate sold under both names", "316L", "304/430", PLATE, "no",
             "dual certification", "nickel windows do not meet", *MATERIALS[1:]),
    # --- heat, and how long ----------------------------------------------------------------------
    Question(SALT, "part that is at 800 °C for an hour", "316L", "2205", hot(800.0, hot_hours=1.0),
             "no", "embrittlement|heat", "sigma phase in 22Cr duplex after 16 minutes at 800 °C",
             "duplex_reviews", "verified"),
    Question(SALT, "part that is at 475 °C for ten hours", "2205", "2507",
             hot(475.0, hot_hours=10.0), "no", "embrittlement|heat",
             "25Cr duplex falls from 150 J to 27 J in about ten hours", "embrittlement_reviews",
             "verified"),
    Question(CUTLERY, "furnace part at 750 °C for years", "304", "310S",
             hot(750.0, hot_hours=20000.0), "reserved", "embrittlement",
             "310 forms sigma phase below 900 to 950 °C", "embrittlement_reviews", "memory"),
    Question(CUTLERY, "furnace part at 1000 °C", "309S", "310S", hot(1000.0, hot_hours=5000.0),
             "yes", "hot strength", "310S to 1050 °C, above the sigma range", "en_10095", "memory",
             "hot strength"),
    Question(CUTLERY, "part at 700 °C for two years", "304", "316L", hot(700.0, hot_hours=17000.0),
             "reserved", "embrittlement", "Mo steels form sigma phase below 850 to 900 °C",
             "embrittlement_reviews", "memory", "hot strength"),
    Question(CUTLERY, "exhaust pipe at 850 °C, welded", "430", "441",
             hot(850.0, welded=True), "yes", "hot strength", "441 to 900 or 950 °C",
             "producer_literature", "verified"),
    Question(CUTLERY, "exhaust pipe at 900 °C", "441", "430", hot(900.0), "no", "heat",
             "430 to 815 °C, 870 °C if heated and cooled", "asm_table", "memory"),
    Question(SALT, "steam pipe at 600 °C, welded", "321", "347",
             hot(600.0, form="tube", thickness_mm=6.0, welded=True, pressure=True), "yes",
             "hot strength", "both stabilised; the code gives the stresses", *CODES[1:],
             "hot strength, pressure"),
    Question(CUTLERY, "flue at 700 °C in gas with sulphur", "304", "310S",
             hot(700.0, gas="sulphurous"), "open", "hot gas",  # first: yes, the gas open
             "nickel suffers in sulphur: a specialist chooses", *CODES[1:], "hot gas"),
    # --- places ----------------------------------------------------------------------------------
    Question(LIFTS, "parapet of a salted bridge", "316L", "304", at(salted_road_km=0.005), "no",
             "atmosphere", *EN_ANNEX),
    Question(LIFTS, "unwashed canopy in a dirty town", "304", "316L",
             at(so2="medium", washing="none"), "yes", "none", *EN_ANNEX),
    Question(LIFTS, "kiosk 100 m from the Baltic, washed on a plan", "304", "316L",
             at(sea_km=0.1, coast="North Sea (Germany) or Baltic", washing="cleaned on a plan"),
             "yes", "none", *EN_ANNEX),
    Question(LIFTS, "kiosk 100 m from the Atlantic, washed on a plan", "2205", "316L",
             at(sea_km=0.1, washing="cleaned on a plan"), "no", "atmosphere", *EN_ANNEX),
    Question(LIFTS, "rail in a pool hall, wiped every week", "304", "316L",
             at(indoors=True, pool="cleaned at least weekly"), "yes", "none", *EN_ANNEX),
    Question(LIFTS, "bolts of a facade 500 m from the sea", "A4", "A2",
             at(sea_km=0.5) | {"form": "bar"}, "no", "atmosphere", *EN_ANNEX),
    # --- waters ----------------------------------------------------------------------------------
    Question(DAIRY, "plates of a heat exchanger, 50 mg/l at 80 °C", "316", "304", plates(50, 80),
             "no", "water and stress corrosion", *CHLORIDE_CHART),  # first: water alone
    Question(DAIRY, "plates of a heat exchanger, 150 mg/l at 120 °C", "304", "316L",
             plates(150, 120), "no", "water", *CHLORIDE_CHART),
    Question(DAIRY, "plates of a heat exchanger, 80 mg/l at 120 °C", "316", "1.4547",
             plates(80, 120), "reserved", "water", *CHLORIDE_CHART,
             "water"),  # first: yes, by a maker's chart; none is held for water above boiling
    Question(DAIRY, "standing tap water of 150 mg/l", "316L", "304",
             water(150, contact="immersed"), "reserved", "water", *LADDER),
    Question(DAIRY, "water with 6 mg/l free chlorine", "304", "316L", {"free_chlorine_mg_l": 6.0},
             "no", "free chlorine", "304 to 2, 316 to 5 mg/l", "assda_chlorine", "verified"),
    Question(SALT, "sea water pipe, cool", "316L", "904L", SEA, "no", "water",
             "least index 45 for a high austenitic steel", "kovach_redmond_1993", "secondary"),
    Question(DAIRY, "hot tank of 100 mg/l at 80 °C", "304", "2205", water(100, 80), "yes", "none",
             "duplex is taken where 304 cracks", "corrosion_2008_101", "conflicting"),
    # --- the rest --------------------------------------------------------------------------------
    Question(CUTLERY, "frame that must not be magnetic", "304", "2205",
             {"magnetism": "non-magnetic"}, "no", "magnetism", "half of it is ferrite", *TRADE[1:]),
    Question(CUTLERY, "core of a solenoid", "430", "444", {"magnetism": "magnetic"}, "yes", "none",
             "both are ferritic", *TRADE[1:]),
    Question(SALT, "valve at -196 °C", "304", "1.4162", {"temperature_min_C": -196.0}, "no", "cold",
             "ferrite of a duplex steel is brittle in the cold", *TRADE[1:]),
    Question(CUTLERY, "posts of ear studs", "316L", "303", {"skin_contact": "pierced posts"}, "no",
             "skin contact", "303 released 0.5 to 2.1, the limit is 0.2", "haudrechy_1993",
             "verified"),
    Question(SALT, "bracket in sour gas", "2205", "2507", {"sour": True}, "open",
             "sour service", *CODES, "sour service"),  # first: yes, the code open
]  # fmt: skip
