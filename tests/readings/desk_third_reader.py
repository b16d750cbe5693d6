"""A third reader's questions, with the answers written down before the desk was asked.

What differed is said at the question: the rule was mended at its cause, or the reader's answer was
taken back. Fields as in `desk_questions`.
"""

from __future__ import annotations

from desk_questions import (
    CODES,
    CUTLERY,
    DAIRY,
    DRIED,
    EN_ANNEX,
    INDOORS,
    LADDER,
    LIFTS,
    MATERIALS,
    PLATE,
    POOL,
    SALT,
    TRADE,
    WELDED,
    Question,
    at,
    hot,
    water,
)

__all__ = ["THIRD"]

BAR = {"form": "bar", "thickness_mm": 20.0}
HANGER = POOL | {"form": "bar", "thickness_mm": 12.0, "load_bearing": True}
SPRING = {"form": "spring strip", "thickness_mm": 0.4, "temper": "+C1700"}
CHLORINE = ("304 to 2, 316 to 5 mg/l free chlorine", "assda_chlorine", "verified")

THIRD = [
    # --- water ---------------------------------------------------------------------------------
    Question(DAIRY, "return of hot cleaning, 150 mg/l at 85 °C", "316L", "304L",
             water(150, 85, contact="flowing") | WELDED, "no", "water|stress corrosion", *LADDER),
    Question(DAIRY, "hot-water tank, 80 mg/l at 70 °C", "444", "316L", water(80, 70) | WELDED,
             "reserved", "stress corrosion", "ferritic 444 is taken because austenite may crack",
             "trade_practice", "conflicting"),
    Question(DAIRY, "pasteuriser, 35 mg/l at 72 °C", "316L", "304",
             water(35, 72, contact="flowing") | WELDED, "reserved", "water|stress corrosion",
             *TRADE),
    Question(DAIRY, "turned valve seat, 300 mg/l", "316L", "303",
             water(300) | BAR | {"forming": "machining"}, "no", "water", "sulphides start pits",
             *TRADE[1:]),
    # first: forming, in which 304 is a little better; but 304 falls short in this water
    Question(DAIRY, "plates of a heat exchanger, 400 mg/l at 60 °C", "304", "316L",
             {"water": "heat exchanger", "chloride_mg_l": 400, "water_temperature_C": 60.0,
              "thickness_mm": 0.6, "forming": "stretching"}, "reserved",
             "water|stress corrosion", *LADDER),
    Question(SALT, "condenser tubes, 100 mg/l at 35 °C", "304", "439",
             {"form": "tube", "thickness_mm": 1.0, "water": "heat exchanger",
              "chloride_mg_l": 100, "water_temperature_C": 35.0}, "reserved no", "water", *LADDER),
    # first: free chlorine, open for every steel but 304 and 316
    Question(DAIRY, "filter vessel, 1 mg/l free chlorine", "316L", "2205",
             water(500, 30, free_chlorine_mg_l=1.0) | WELDED | {"form": "plate",
             "thickness_mm": 6.0}, "reserved", "weld", *CHLORINE),
    Question(DAIRY, "hypochlorite, 4 mg/l", "316L", "304",
             water(100, free_chlorine_mg_l=4.0) | WELDED | DRIED, "no", "free chlorine",
             *CHLORINE),
    Question(SALT, "welded sea-water pipe", "316L", "2205",
             {"water": "seawater", "form": "tube", "thickness_mm": 3.0} | WELDED, "no", "water",
             "least index 40 for duplex", "kovach_redmond_1993", "secondary"),
    # --- air -----------------------------------------------------------------------------------
    # first: pitting index; but what nobody lists for this place is the answer
    Question(DAIRY, "silo inland", "304", "201", at() | {"thickness_mm": 2.0, "forming": "bending"},
             "reserved open", "atmosphere", *EN_ANNEX, "atmosphere"),
    # first: forming
    Question(LIFTS, "roof 0.5 km from the sea, sheltered", "316L", "444",
             at(sea_km=0.5, washing="none") | {"thickness_mm": 0.6, "forming": "bending"},
             "reserved open", "atmosphere", *EN_ANNEX, "atmosphere"),
    Question(LIFTS, "balustrade at a harbour", "316", "1.4362", at(sea_km=0.1) | {"form": "tube"},
             "no", "atmosphere", *EN_ANNEX),
    Question(LIFTS, "brushed balustrade 3 km from the sea", "316L", "304",
             at(sea_km=3.0) | {"form": "tube", "thickness_mm": 2.0, "finish": "1J"} | WELDED,
             "reserved no", "finish", "tea staining reaches 5 km", "tea_staining_guide",
             "verified"),
    Question(LIFTS, "fans of a road tunnel", "316L", "2205",
             at(salted_tunnel=True) | {"form": "plate", "thickness_mm": 6.0} | WELDED,
             "yes reserved", "none|weld", *EN_ANNEX),
    Question(SALT, "hopper of a salt spreader", "304", "1.4003",
             at(salted_road_km=0.0) | {"form": "hot rolled strip", "thickness_mm": 4.0} | WELDED,
             "no", "atmosphere", *EN_ANNEX),
    Question(LIFTS, "hanger above a pool", "316L", "2205", HANGER, "no", "atmosphere", *EN_ANNEX),
    Question(LIFTS, "hanger above a pool", "316L", "1.4529", HANGER, "reserved",
             "stress corrosion", *EN_ANNEX, "load bearing"),
    Question(SALT, "warm bolts on the coast, 80 °C", "316L", "2205",
             at(sea_km=0.1) | BAR | {"temperature_max_C": 80.0}, "yes reserved", "none",
             "22Cr to 100 °C uncoated", "norsok_m001", "memory"),
    # --- media that nobody answers by composition ----------------------------------------------
    Question(SALT, "carbamate at 180 °C", "316L", "2205",
             {"form": "tube", "thickness_mm": 3.0, "pressure": True,
              "chemicals": "ammonium carbamate at 180 °C"} | WELDED, "open", "chemicals",
             *CODES, "chemicals, pressure"),
    # first: not supported, by the pitting index, of which nitric acid knows nothing
    Question(DAIRY, "acid rinse, 50 % nitric acid", "316L", "304L",
             {"chemicals": "50 % nitric acid at 40 °C"}, "open", "chemicals",
             "nitric acid is borne without molybdenum", *CODES[1:], "chemicals"),
    Question(DAIRY, "tray of a steriliser", "316L", "304",
             {"forming": "deep drawing", "chemicals": "alkaline detergent, steam"}, "open",
             "chemicals", *CODES, "chemicals"),
    # --- heat and cold -------------------------------------------------------------------------
    Question(CUTLERY, "muffler at 900 °C", "409", "441", hot(900.0, welded=True), "reserved",
             "heat", "441 to 900 or 950 °C", "producer_literature", "memory"),
    Question(CUTLERY, "hood at 750 °C for years", "1.4948", "310S",
             hot(750.0) | {"form": "plate", "thickness_mm": 8.0}, "reserved", "embrittlement",
             "sigma phase from 22 % chromium", *TRADE[1:]),
    Question(CUTLERY, "fixture for carburising at 930 °C", "314", "310S",
             hot(930.0, gas="carburising or nitriding") | BAR, "open", "hot gas", *CODES,
             "hot gas"),
    Question(SALT, "shaft of a pump for liquefied gas", "304L", "2205",
             BAR | {"temperature_min_C": -196.0}, "no", "cold", "ferrite is brittle in the cold",
             *TRADE[1:]),
    # --- what it was chosen for ----------------------------------------------------------------
    # first: open; but a steel of at most 0.25 % carbon cannot harden as one of at least 0.43 %
    Question(CUTLERY, "knife blade", "1.4034", "1.4021", {"chosen_for": "edge holding"}, "no",
             "hardness", "less carbon hardens less", *TRADE[1:]),
    # first: not supported, with 1.4310, which is to be replaced, as the remedy
    Question(CUTLERY, "hinge spring", "1.4310", "1.4568", SPRING, "reserved", "temper",
             "reached by ageing after forming", "en_10151", "memory"),
    Question(CUTLERY, "turned nuts indoors", "304", "303",
             INDOORS | BAR | {"forming": "machining"}, "reserved", "pitting index|atmosphere",
             "turns better, rusts sooner", *TRADE[1:]),
    Question(CUTLERY, "bracket near a magnet", "316L", "2205",
             {"form": "plate", "thickness_mm": 8.0, "magnetism": "non-magnetic"}, "no",
             "magnetism", "half of it is ferrite", *TRADE[1:]),
    Question(CUTLERY, "back of a watch", "316L", "303",
             BAR | {"skin_contact": "prolonged contact"}, "no", "skin contact",
             "303 failed through its sulphides", "haudrechy_1993", "verified"),
    # --- castings, dual names, welding, forming --------------------------------------------------
    Question(SALT, "cast pump housing, welded repairs", "CF8M", "CF3M",
             water(500) | {"form": "casting", "thickness_mm": 15.0} | WELDED, "yes", "none",
             "the same but for carbon", "astm_a351", "memory"),
    Question(SALT, "dual plate", "304H", "304L/304H", PLATE, "no", "dual certification",
             "least carbon of one above the most of the other", *MATERIALS[1:]),
    Question(SALT, "tank bottom of 20 mm", "304L", "430",
             {"form": "plate", "thickness_mm": 20.0} | WELDED, "no", "weld|product form",
             "thick ferritic welds are brittle", *TRADE[1:]),
    Question(DAIRY, "drawn sink", "304", "441",
             water(60) | DRIED | INDOORS | {"thickness_mm": 0.8, "forming": "deep drawing"},
             "reserved", "forming", "drawn as deep, but hardly stretched", *MATERIALS[1:]),
]  # fmt: skip
