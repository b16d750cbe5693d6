"""Questions of the trade with the answer that a seasoned application engineer gives.

The customers are those of the demo scenario. An answer is 'yes', 'reserved', 'no' or 'open'; what
decides is the criterion named first, and `open` is what must be said to be not assessed. Where the
trade accepts two answers both stand. `guidance` is what was published or is commonly taught, with
its source (a key of the bibliography) and status.
"""

from __future__ import annotations

from typing import NamedTuple

from gradekit.service.exposure import Atmosphere

__all__ = ["QUESTIONS", "Question"]


class Question(NamedTuple):
    """One question, how it is answered, and what that rests on."""

    who: str
    what: str
    now: str
    new: str
    service: dict
    answer: str
    decisive: str
    guidance: str
    source: str
    status: str
    open: str = ""


def at(**where: object) -> dict:
    return {"atmosphere": Atmosphere(**where)}


def water(chloride: float, heat: float = 20.0, **more: object) -> dict:
    return {
        "water": "supply or natural water", "chloride_mg_l": chloride, "water_temperature_C": heat,
    } | more  # fmt: skip


def hot(temperature: float, **more: object) -> dict:
    return {"contact": "dry heat", "temperature_max_C": temperature} | more


SEA = {"water": "seawater", "chloride_mg_l": 19000}
INDOORS = at(indoors=True)
PLATE = {"form": "plate", "thickness_mm": 12.0}
WELDED = {"welded": True}
DRIED = {"contact": "rinsed and dried"}
POOL = at(indoors=True, pool="fasteners or threaded parts")
DAIRY, LIFTS = "Plumebrook Dairy", "Halden & Wick Lifts"
SALT, CUTLERY = "Skerrow Desalination", "Orrin Cutlery"
EN_ANNEX = ("grades are listed by class of the place", "en_1993_1_4", "memory")
LADDER = ("304 to 200, 316 to 1000 mg/l chloride in crevices at ambient", "nidi_11003", "verified")
TRADE = ("taught and practised so", "trade_practice", "memory")
MATERIALS = ("properties of the product standard", "en_10088_2", "memory")
CODES = ("the code decides, not composition", "trade_practice", "memory")
FERRITIC = ("stabilised ferritics serve in hot water; plain 17Cr pits", "nidi_11003", "memory")

QUESTIONS = [
    # --- where it stands ---------------------------------------------------------------------
    Question(LIFTS, "car panels, flat, in a heated building", "304", "430",
             INDOORS | {"thickness_mm": 1.2, "finish": "2K"}, "yes", "none", *EN_ANNEX),
    Question(LIFTS, "the same panels, folded", "304", "430",
             INDOORS | {"thickness_mm": 1.2, "forming": "bending"}, "reserved", "forming", *TRADE),
    Question(LIFTS, "facade 5 km from the sea, in the rain", "304", "430", at(sea_km=5), "no",
             "atmosphere", *EN_ANNEX),
    Question(LIFTS, "rails 800 m from the sea", "1.4401", "V2A", at(sea_km=0.8), "no",
             "atmosphere", *EN_ANNEX),
    Question(LIFTS, "balcony 200 m from the Atlantic, under a roof", "316L", "2205",
             at(sea_km=0.2, washing="none"), "no", "atmosphere", *EN_ANNEX),
    Question(LIFTS, "the same balcony in the rain", "316L", "2205", at(sea_km=0.2), "yes", "none",
             *EN_ANNEX),
    Question(LIFTS, "signs in a salted road tunnel", "304", "316L", at(salted_tunnel=True), "no",
             "atmosphere", *EN_ANNEX),
    Question(LIFTS, "facade 500 m from the sea in the rain", "316", "1.4162", at(sea_km=0.5),
             "yes", "none", *EN_ANNEX),
    Question(LIFTS, "cladding in an office", "SUS304", "304L", INDOORS, "yes reserved",
             "none|proof strength", *EN_ANNEX),
    Question(LIFTS, "panel in an office, nickel being dear", "304", "201", INDOORS, "reserved",
             "pitting index", "lower chromium, manganese: stains sooner", "rondelli_1995",
             "memory", "atmosphere"),
    Question(LIFTS, "brushed 2G panels 4 km from the surf", "304", "316L",
             at(sea_km=4) | {"finish": "2G"}, "reserved", "finish",
             "rough ground finishes hold salt and stain", "tea_staining_guide", "verified"),
    # --- pools -------------------------------------------------------------------------------
    Question(LIFTS, "hanger of a pool ceiling", "304", "316L", POOL | {"load_bearing": True}, "no",
             "atmosphere", *EN_ANNEX, "load bearing"),
    Question(LIFTS, "hanger of a pool ceiling", "316L", "1.4529",
             POOL | {"load_bearing": True, "form": "bar"}, "reserved", "stress corrosion",
             "approved 6Mo grades, case by case", "en_1993_1_4", "memory", "load bearing"),
    Question(LIFTS, "screws above a pool", "316L", "2507", POOL, "no", "atmosphere", *EN_ANNEX),
    Question(LIFTS, "rail in a pool hall, wiped every week", "316L", "1.4162",
             at(indoors=True, pool="cleaned at least weekly"), "no", "atmosphere", *EN_ANNEX),
    # --- waters ------------------------------------------------------------------------------
    Question(DAIRY, "tap water pipe, 180 mg/l", "304", "316L", water(180), "yes", "none", *LADDER),
    Question(DAIRY, "cooling water, 400 mg/l", "316L", "304L", water(400), "no", "water", *LADDER),
    Question(DAIRY, "drinking water, 60 mg/l, cold", "316L", "304L", water(60, 12), "yes reserved",
             "none|pitting index|proof strength", *LADDER),
    Question(DAIRY, "milk pipes, hot rinse of 90 mg/l at 75 °C", "316L", "304",
             water(90, 75, welded=True), "no", "water and stress corrosion",
             "chloride limits fall with warmth, cracking from 50 to 60 °C", "nidi_11003",
             "conflicting"),
    Question(DAIRY, "hot-water tank, 100 mg/l at 60 °C", "316L", "444", water(100, 60, welded=True),
             "yes", "none", *FERRITIC),
    Question(DAIRY, "hot-water tank, 50 mg/l at 60 °C", "304", "441", water(50, 60, welded=True),
             "reserved", "water", *FERRITIC),
    Question(DAIRY, "open tank of standing water, 30 mg/l", "304", "430", water(30), "no", "water",
             *LADDER),
    Question(DAIRY, "drum of a washing machine, 80 mg/l at 60 °C", "304", "430",
             water(80, 60, thickness_mm=0.6, forming="bending", **DRIED), "reserved",
             "water|forming", "drums of 17Cr are common where they drain", "trade_practice",
             "memory"),
    Question(DAIRY, "drawn kitchen sink", "304", "201",
             water(60, thickness_mm=0.8, forming="deep drawing", **DRIED) | INDOORS, "reserved",
             "water|forming", "pits sooner, and drawn Cr-Mn steel may crack later",
             "rondelli_1995", "memory", "atmosphere"),
    Question(DAIRY, "turned fitting in tap water, 60 mg/l", "304", "303",
             water(60, form="bar", thickness_mm=20.0), "no", "water",
             "sulphides start pits", *TRADE[1:]),
    Question(DAIRY, "closed heating circuit without oxygen, 100 mg/l at 60 °C", "316L", "304L",
             water(100, 60, oxygen_free=True), "reserved", "water|stress corrosion|proof strength",
             "without oxygen pits hardly start", *TRADE[1:]),
    Question(DAIRY, "hot splashes that dry, 200 mg/l at 70 °C", "304", "2205",
             water(200, 70, contact="splashed and drying"), "yes", "none",
             "duplex is taken where 304 cracks", "corrosion_2008_101", "conflicting"),
    Question(DAIRY, "hot splashes that dry, 50 mg/l at 70 °C", "304", "316L",
             water(50, 70, contact="splashed and drying"), "no", "stress corrosion",
             "both crack from 50 to 60 °C", "trade_practice", "conflicting"),
    Question(DAIRY, "water with 3 mg/l free chlorine", "316L", "304L",
             {"free_chlorine_mg_l": 3.0}, "no", "free chlorine",
             "304 to 2, 316 to 5 mg/l", "assda_chlorine", "verified"),
    Question(DAIRY, "water with 4 mg/l free chlorine", "304", "316L", {"free_chlorine_mg_l": 4.0},
             "yes", "none", "304 to 2, 316 to 5 mg/l", "assda_chlorine", "verified"),
    Question(DAIRY, "pure-water vessel", "316L", "1.4435", water(5, 80) | PLATE | WELDED,
             "yes reserved", "none|stress corrosion", *TRADE),
    Question(SALT, "brackish water, 3000 mg/l, cool", "316L", "2205", water(3000), "yes", "none",
             *LADDER),
    Question(SALT, "brackish water, 3000 mg/l at 45 °C, welded", "316L", "1.4162",
             water(3000, 45, welded=True), "no", "water", *LADDER),
    Question(SALT, "brackish water, 3000 mg/l at 45 °C", "316L", "SUS329J3L", water(3000, 45),
             "reserved", "water", *LADDER),
    Question(SALT, "sea water pipe, cool", "2205", "2507", SEA, "reserved", "water",
             "least index 40 for duplex, crevices ask for more", "kovach_redmond_1993",
             "secondary"),
    Question(SALT, "sea water pipe", "2507", "316L", SEA, "no", "water",
             "least index 45", "kovach_redmond_1993", "secondary"),
    Question(SALT, "sea water pipe", "1.4547", "2205", SEA, "no", "water",
             "least index 40", "kovach_redmond_1993", "secondary"),
    Question(SALT, "brine of 35 000 mg/l at 45 °C", "2507", "1.4547",
             {"water": "seawater", "chloride_mg_l": 35000, "water_temperature_C": 45.0},
             "yes reserved open", "none|water|proof strength",
             "no floor is published for warm brine",
             "kovach_redmond_1993", "secondary", "water"),
    Question(SALT, "uncoated vessel at 90 °C, 500 m from the sea", "316", "2205",
             at(sea_km=0.5) | {"temperature_max_C": 90.0}, "yes", "none",
             "22Cr to 100 °C in marine air", "norsok_m001", "memory"),
    Question(SALT, "uncoated vessel at 90 °C, 500 m from the sea", "2205", "316",
             at(sea_km=0.5) | {"temperature_max_C": 90.0}, "no", "warm in marine air",
             "316 to 60 °C in marine air", "norsok_m001", "memory"),
    # --- welds -------------------------------------------------------------------------------
    Question(DAIRY, "welded plate of 12 mm", "304", "304/304L", PLATE | WELDED, "yes", "none",
             "low carbon with the strength of 304", "astm_a240", "verified"),
    Question(DAIRY, "welded plate of 12 mm", "304", "304L", PLATE | WELDED, "reserved",
             "proof strength", "304L is specified 10 to 30 MPa lower", "astm_a240", "verified"),
    Question(DAIRY, "welded plate of 12 mm", "304L", "304", PLATE | WELDED, "no", "weld",
             "carbon above 0.03 sensitises thick welds", *TRADE[1:]),
    Question(DAIRY, "welded plate of 12 mm", "321", "304", PLATE | WELDED, "no", "weld",
             "stabilised or low carbon above 6 mm", *TRADE[1:]),
    Question(DAIRY, "pressure vessel at 200 °C", "316Ti", "316L",
             PLATE | WELDED | {"pressure": True, "temperature_max_C": 200.0}, "yes", "hot strength",
             "316L replaces 316Ti; the code gives the hot strength", "trade_practice", "memory",
             "hot strength, pressure"),
    Question(DAIRY, "welded sheet of 1.5 mm", "304", "430", WELDED, "no", "weld",
             "unstabilised 17Cr welds are brittle and corrode", *TRADE[1:]),
    Question(DAIRY, "welded sheet of 1.2 mm, in a kitchen", "304", "441",
             INDOORS | WELDED | {"thickness_mm": 1.2}, "open", "atmosphere",
             "dual stabilised for welding; the annex does not list it", *TRADE[1:], "atmosphere"),
    Question(DAIRY, "welded plate of 12 mm", "316L", "444", PLATE | WELDED, "no", "product form",
             "ferritic Mo steel is thin-gauge steel", *MATERIALS[1:]),
    Question(SALT, "welded plate of 12 mm", "316L", "2205", PLATE | WELDED, "reserved", "weld",
             "qualified procedures for duplex welds", *TRADE[1:]),
    Question(CUTLERY, "welded holder", "304", "420", WELDED, "no", "weld",
             "13Cr hardens beside the weld", *TRADE[1:]),
    # --- forming, magnetism, springs -----------------------------------------------------------
    Question(CUTLERY, "deep cup", "304", "430", {"forming": "deep drawing"}, "reserved", "forming",
             "drawn as deep, but hardly stretched: the shape decides", *MATERIALS[1:]),
    Question(CUTLERY, "deep cup", "304", "305", {"forming": "deep drawing"}, "yes reserved",
             "none|proof strength", "305 hardens less", *MATERIALS[1:]),
    Question(LIFTS, "panels that must not be magnetic", "304", "430",
             {"magnetism": "non-magnetic"}, "no", "magnetism", *TRADE),
    Question(CUTLERY, "pan base for induction", "430", "304", {"magnetism": "magnetic"}, "no",
             "magnetism", *TRADE),
    Question(LIFTS, "folded panels that must not be magnetic", "304", "316L",
             {"magnetism": "non-magnetic", "forming": "bending"}, "yes reserved",
             "none|magnetism|forming", "316L hardly transforms", "nohara_1977", "verified"),
    Question(CUTLERY, "clip spring, +C1500", "301", "304",
             {"form": "spring strip", "temper": "+C1500", "thickness_mm": 0.5}, "no", "temper",
             "1.4301 is listed to lower tempers", "en_10151", "memory"),
    Question(CUTLERY, "clip spring, +C1300, folded", "301", "304",
             {"form": "spring strip", "temper": "+C1300", "thickness_mm": 0.5,
              "forming": "bending"}, "reserved", "temper", "+C1300 is the last of its list",
             "en_10151", "memory", "forming"),
    Question(CUTLERY, "clip spring, +C1300", "301", "631",
             {"form": "spring strip", "temper": "+C1300", "thickness_mm": 0.5}, "yes", "none",
             "the spring steel that is hardened after forming", "en_10151", "memory",
             "pitting index"),
    Question(CUTLERY, "clip spring, temper not said", "301", "316",
             {"form": "spring strip", "thickness_mm": 0.5}, "yes reserved open",
             "none|temper|proof strength|forming", "a spring is ordered by its temper",
             "en_10151", "memory", "temper"),
    # --- heat and cold -------------------------------------------------------------------------
    Question(CUTLERY, "furnace hood at 1000 °C in air", "310S", "309S",
             hot(1000.0, form="plate", thickness_mm=8.0, welded=True),
             "reserved", "heat", "309S to 1000 °C, 310S to 1050 °C", "en_10095", "memory",
             "hot strength"),
    Question(CUTLERY, "furnace hood at 950 °C in air", "309S", "304", hot(950.0),
             "no", "heat", "304 to 925 °C at most", "ssina_heat", "conflicting"),
    Question(CUTLERY, "flue of 650 °C", "304", "409", hot(650.0), "reserved",
             "heat|proof strength", "409 to 675 °C", "asm_table", "memory"),
    Question(CUTLERY, "flue of 900 °C", "304", "441", hot(900.0), "reserved",
             "heat", "441 to 900 or 950 °C", "producer_literature", "memory"),
    Question(CUTLERY, "316L part at 700 °C in air", "304", "316L", hot(700.0),
             "reserved", "embrittlement", "scales to 800 °C and more, but sigma phase in years",
             "embrittlement_reviews", "memory", "hot strength"),
    Question(SALT, "pipe at 300 °C", "316L", "2205", {"temperature_max_C": 300.0}, "no",
             "embrittlement",
             "duplex steel to 250 °C: 475 °C embrittlement", "en_10028_7", "verified"),
    Question(SALT, "part at 400 °C for years", "304", "430", {"temperature_max_C": 400.0},
             "reserved", "embrittlement", "475 °C embrittlement of ferrite", "en_10028_7",
             "verified"),
    Question(CUTLERY, "carburising furnace at 900 °C", "310S", "314",
             hot(900.0, gas="carburising or nitriding"), "open", "hot gas",
             "a specialist chooses by the gas", *CODES[1:], "hot gas"),
    Question(DAIRY, "liquid nitrogen shell", "304", "304L", {"temperature_min_C": -196.0},
             "yes reserved", "none|proof strength", "austenite stays tough", *TRADE[1:]),
    Question(DAIRY, "cold store bracket at -60 °C", "304", "430", {"temperature_min_C": -60.0},
             "no", "cold", "ferrite is brittle in the cold", *TRADE[1:]),
    Question(SALT, "pipe at -60 °C", "316L", "2205", {"temperature_min_C": -60.0}, "no", "cold",
             "22Cr is specified to -46 °C", "project_specification", "verified"),
    Question(CUTLERY, "furnace plate at 1050 °C in air", "310S", "1.4835",
             {"form": "plate", "thickness_mm": 10.0, "temperature_max_C": 1050.0},
             "yes", "hot strength", "1.4835 to 1150 °C", "en_10095", "memory", "hot strength"),
    Question(CUTLERY, "furnace plate at 1050 °C in air", "310S", "317L",
             {"form": "plate", "thickness_mm": 10.0, "temperature_max_C": 1050.0},
             "open", "heat", "no scaling temperature is published", "en_10095", "memory", "heat"),
    Question(CUTLERY, "furnace plate at 1050 °C in air", "310S", "1.4406",
             {"form": "plate", "thickness_mm": 10.0, "temperature_max_C": 1050.0},
             "no", "heat", "316 to 925 °C at most", "ssina_heat", "conflicting"),
    Question(CUTLERY, "liner of a kiln, temperature not said", "310S", "316L", {}, "open", "heat",
             "a heat-resisting grade is chosen for its heat", *TRADE[1:], "heat"),
    # --- what the present grade was chosen for -------------------------------------------------
    Question(CUTLERY, "kitchen tool, hardness not said", "420", "304", {}, "open", "hardness",
             "austenite does not harden by heat treatment", *TRADE[1:], "hardness"),
    Question(CUTLERY, "blade", "420", "304", {"chosen_for": "hardness of the edge"}, "no",
             "hardness", "austenite does not harden by heat treatment", *TRADE[1:]),
    Question(CUTLERY, "blade", "1.4021", "1.4034", {"chosen_for": "hardness"}, "yes",
             "none", "more carbon hardens further", *TRADE[1:]),
    Question(CUTLERY, "blade", "1.4034", "1.4021", {"chosen_for": "hardness"}, "no",
             "hardness", "less carbon hardens less", *TRADE[1:]),
    Question(DAIRY, "turned bar", "303", "304", {"form": "bar", "thickness_mm": 20.0}, "reserved",
             "machining", "304 is slower to machine", *TRADE[1:]),
    Question(CUTLERY, "spring, temper not said", "301", "1.4318",
             {"form": "spring strip", "thickness_mm": 0.5}, "yes open", "temper",
             "the annealed strength of a spring grade says nothing", "en_10151", "memory",
             "temper"),
    Question(CUTLERY, "strip of a spring grade, temper not said", "301", "1.4318",
             {"thickness_mm": 0.5}, "open", "temper", "301 is bought by its temper", "en_10151",
             "memory", "temper"),
    Question(LIFTS, "folded panels", "304", "441", {"forming": "bending"}, "reserved", "forming",
             "bends to about its thickness", *TRADE[1:]),
    Question(CUTLERY, "deep cup", "304", "441", {"forming": "deep drawing"}, "reserved", "forming",
             "drawn as deep, but hardly stretched: the shape decides", *MATERIALS[1:]),
    # --- contact, codes, chemicals -------------------------------------------------------------
    Question(CUTLERY, "watch band", "304", "201", {"skin_contact": "prolonged contact"}, "no",
             "skin contact", "201 failed the release test", "amr_2015_114", "verified"),
    Question(CUTLERY, "watch band", "304", "303", {"skin_contact": "prolonged contact"}, "no",
             "skin contact", "303 failed through its sulphides", "haudrechy_1993", "verified"),
    Question(CUTLERY, "watch band", "304", "316L", {"skin_contact": "prolonged contact"},
             "reserved", "skin contact", "with sulphur up to 0.007 % it passes",
             "haudrechy_1993", "verified"),
    Question(CUTLERY, "serving tray", "304", "430", INDOORS | {"food_contact": True}, "yes",
             "food contact", "proved on the article", "trade_practice", "memory", "food contact"),
    Question(SALT, "sour gas piece", "316L", "2205", {"sour": True}, "open", "sour service",
             *CODES, "sour service"),
    Question(DAIRY, "20 % sulphuric acid at 60 °C", "316L", "904L",
             {"chemicals": "20 % H2SO4 at 60 °C"}, "open", "chemicals",
             "isocorrosion data decide", *CODES[1:], "chemicals"),
    Question(SALT, "cast pump body for cold sea water", "CF8M", "CE3MN",
             SEA | {"form": "casting", "thickness_mm": 20.0}, "reserved", "water",
             "least index 40 for duplex", "kovach_redmond_1993", "secondary"),
]  # fmt: skip
