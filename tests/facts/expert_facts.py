"""What every expert knows: a quantity, a steel, the band it must lie in, and why one knows it.

A fact with `miss` lies outside its band today, and `miss` says why and where the library says so.
"""

from __future__ import annotations

from dataclasses import dataclass, field

#: Typical analyses of our own making, wt%.
STEELS: dict[str, dict[str, float]] = {
    "Fe": dict(C=0.0, Cr=0.0, Ni=0.0, N=0.0),
    "Fe-18Cr": dict(C=0.0, Cr=18.0, Ni=0.0, N=0.0),
    "Fe-40Cr": dict(C=0.0, Cr=40.0, Ni=0.0, N=0.0),
    "18-8": dict(C=0.0, Cr=18.0, Ni=8.0, N=0.0),
    "301": dict(C=0.1, Si=0.6, Mn=1.1, Cr=17.0, Ni=7.0, N=0.05),
    "304": dict(C=0.045, Si=0.45, Mn=1.3, P=0.03, S=0.003, Cr=18.2, Ni=8.1, Mo=0.2, Cu=0.3, N=0.05),
    "304L": dict(C=0.02, Si=0.45, Mn=1.5, P=0.03, S=0.003, Cr=18.2, Ni=8.1, Mo=0.2, Cu=0.3, N=0.06),
    "305": dict(C=0.05, Si=0.5, Mn=1.3, Cr=18.0, Ni=12.0, N=0.03),
    "310": dict(C=0.06, Si=0.6, Mn=1.5, P=0.02, S=0.001, Cr=25.0, Ni=20.0, N=0.04),
    "316": dict(C=0.05, Si=0.5, Mn=1.5, P=0.03, S=0.005, Cr=17.0, Ni=11.0, Mo=2.2, N=0.05),
    "316L": dict(C=0.02, Si=0.5, Mn=1.3, P=0.03, S=0.002, Cr=16.8, Ni=10.1, Mo=2.05, Cu=0.3,
                 N=0.045),
    "321": dict(C=0.04, Si=0.5, Mn=1.5, P=0.03, S=0.002, Cr=17.4, Ni=9.2, Ti=0.35, N=0.012),
    "201": dict(C=0.05, Si=0.4, Mn=6.5, P=0.03, S=0.003, Cr=17.0, Ni=4.5, Cu=0.4, N=0.16),
    "XM-19": dict(C=0.04, Si=0.5, Mn=5.0, Cr=22.0, Ni=12.5, Mo=2.2, N=0.3, Nb=0.2, V=0.2),
    "253MA": dict(C=0.08, Si=1.6, Mn=0.6, Cr=21.0, Ni=11.0, N=0.17),
    "904L": dict(C=0.015, Si=0.4, Mn=1.5, Cr=20.0, Ni=25.0, Mo=4.4, Cu=1.5, N=0.05),
    "6Mo": dict(C=0.012, Si=0.4, Mn=0.6, P=0.02, S=0.001, Cr=20.0, Ni=18.0, Mo=6.1, Cu=0.7, N=0.2),
    "1.4529": dict(C=0.01, Si=0.3, Mn=0.8, Cr=20.5, Ni=25.0, Mo=6.5, Cu=0.9, N=0.2),
    "1.4565": dict(C=0.02, Si=0.3, Mn=6.0, Cr=24.3, Ni=17.3, Mo=4.5, N=0.46),
    "1.3820": dict(C=0.03, Si=0.4, Mn=10.0, Cr=19.0, Ni=0.5, N=0.5),
    "2101": dict(C=0.025, Si=0.7, Mn=5.0, Cr=21.5, Ni=1.5, Mo=0.3, Cu=0.3, N=0.22),
    "2304": dict(C=0.02, Si=0.4, Mn=1.2, Cr=23.0, Ni=4.8, Mo=0.3, Cu=0.3, N=0.1),
    "2205": dict(C=0.02, Si=0.4, Mn=1.6, P=0.025, S=0.001, Cr=22.4, Ni=5.7, Mo=3.15, N=0.175),
    "2507": dict(C=0.02, Si=0.3, Mn=0.8, P=0.02, S=0.001, Cr=25.0, Ni=7.0, Mo=4.0, N=0.27),
    "409": dict(C=0.01, Si=0.5, Mn=0.3, P=0.025, Cr=11.3, Ni=0.1, Ti=0.2, N=0.010),
    "1.4003": dict(C=0.015, Si=0.5, Mn=1.0, Cr=11.3, Ni=0.5, N=0.012),
    "430": dict(C=0.045, Si=0.35, Mn=0.4, P=0.025, S=0.002, Cr=16.3, Ni=0.2, N=0.035),
    "439": dict(C=0.015, Si=0.4, Mn=0.4, P=0.025, Cr=17.5, Ni=0.2, Ti=0.35, N=0.013),
    "441": dict(C=0.015, Si=0.5, Mn=0.4, P=0.025, Cr=17.8, Ni=0.2, Ti=0.15, Nb=0.42, N=0.015),
    "444": dict(C=0.012, Si=0.4, Mn=0.4, Cr=17.7, Ni=0.2, Mo=2.0, Ti=0.15, Nb=0.3, N=0.012),
    "410": dict(C=0.12, Si=0.4, Mn=0.5, P=0.025, S=0.002, Cr=12.3, Ni=0.3, Mo=0.05, Cu=0.1, N=0.03),
    "420": dict(C=0.3, Si=0.4, Mn=0.5, P=0.025, S=0.002, Cr=13.2, Ni=0.2, Mo=0.05, Cu=0.1, N=0.03),
    "13-4": dict(C=0.03, Si=0.4, Mn=0.7, P=0.025, S=0.002, Cr=12.8, Ni=4.0, Mo=0.5, Cu=0.1, N=0.03),
    "17-4PH": dict(C=0.04, Si=0.4, Mn=0.6, Cr=15.8, Ni=4.4, Cu=3.4, Nb=0.28, N=0.03),
    "308L weld": dict(C=0.025, Si=0.5, Mn=1.7, Cr=20.0, Ni=10.0, N=0.05),
    "308L weld, N": dict(C=0.025, Si=0.5, Mn=1.7, Cr=19.7, Ni=10.0, N=0.09),
    "309L weld": dict(C=0.025, Si=0.5, Mn=1.7, Cr=23.5, Ni=13.3, N=0.06),
    "310 weld": dict(C=0.1, Si=0.4, Mn=1.8, Cr=26.0, Ni=21.0, N=0.05),
    "312 weld": dict(C=0.1, Si=0.5, Mn=1.7, Cr=29.5, Ni=9.5, N=0.05),
    "316L weld": dict(C=0.025, Si=0.5, Mn=1.7, Cr=18.7, Ni=12.0, Mo=2.6, N=0.05),
    "347 weld": dict(C=0.035, Si=0.5, Mn=1.7, Cr=19.5, Ni=9.7, Nb=0.6, N=0.06),
    "2209 weld": dict(C=0.025, Si=0.5, Mn=1.5, Cr=22.8, Ni=8.8, Mo=3.1, N=0.14),
    "1.4116": dict(C=0.5, Si=0.4, Mn=0.5, P=0.025, S=0.002, Cr=14.6, Ni=0.2, Mo=0.6, V=0.15,
                   N=0.03),
    "440B": dict(C=0.9, Si=0.5, Mn=0.5, P=0.03, S=0.005, Cr=17.7, Ni=0.2, Mo=1.1, V=0.09, N=0.03),
    "17-7PH": dict(C=0.07, Si=0.4, Mn=0.7, P=0.025, S=0.002, Cr=17.0, Ni=7.2, Al=1.05, N=0.02),
    "A286": dict(C=0.04, Si=0.3, Mn=1.0, P=0.015, S=0.002, Cr=14.8, Ni=25.3, Mo=1.3, Ti=2.1, Al=0.2,
                 V=0.3, B=0.002, N=0.004),
    "1.4742": dict(C=0.07, Si=1.1, Mn=0.5, P=0.025, S=0.002, Cr=17.8, Ni=0.3, Al=0.95, N=0.02),
    "1.4762": dict(C=0.07, Si=1.1, Mn=0.5, P=0.025, S=0.002, Cr=24.0, Ni=0.3, Al=1.45, N=0.03),
    "1.4592": dict(C=0.012, Si=0.3, Mn=0.4, P=0.02, S=0.001, Cr=28.7, Ni=0.2, Mo=3.8, Ti=0.3,
                   Nb=0.2, N=0.018),
    "1.4361": dict(C=0.01, Si=4.0, Mn=1.2, P=0.02, S=0.002, Cr=17.8, Ni=14.8, N=0.02),
    "1.4841": dict(C=0.1, Si=1.9, Mn=1.2, P=0.025, S=0.001, Cr=24.8, Ni=19.8, N=0.05),
    "1.4876": dict(C=0.06, Si=0.5, Mn=0.9, P=0.015, S=0.001, Cr=20.8, Ni=31.5, Ti=0.4, Al=0.08,
                   N=0.012),
    "303": dict(C=0.06, Si=0.5, Mn=1.8, P=0.035, S=0.32, Cr=17.3, Ni=8.2, Cu=0.6, N=0.05),
    "430F": dict(C=0.03, Si=0.6, Mn=1.2, P=0.03, S=0.28, Cr=17.3, Ni=0.2, Mo=0.4, N=0.02),
    "CF8M, 11Ni": dict(C=0.06, Si=1.0, Mn=0.8, Cr=19.5, Ni=11.0, Mo=2.4, N=0.05),
}  # fmt: skip


@dataclass(frozen=True)
class Fact:
    """`what` is a relation, or a word that `test_expert_facts.VALUES` knows."""

    what: str
    steel: str
    low: float | None
    high: float | None
    why: str
    given: dict[str, float] = field(default_factory=dict)
    miss: str = ""


@dataclass(frozen=True)
class Told:
    """What the route must say of a check: a verdict, or '' where the check has no place.

    `words` stand in its reason.
    """

    steel: str
    check: str
    verdict: str
    why: str
    words: str = ""


_PREN = "definition: Cr + 3.3 Mo + 16 N of the nominal steel"
_WELD = "consumable catalogues: all-weld-metal ferrite number"
_MELT = "thermal analysis and suppliers' melting ranges"
_SIEVERTS = "lecture notes and measured heats"
_CAST = "cast every day by AOD and slab caster"
_READS_LOW = "the reconstructed diagram reads 1 to 2 FN low; stated in its tolerance"
N1 = dict(temperature_C=1600.0, pN2_atm=1.0)
ASTM8 = dict(grain_size_astm=8.0)

FACTS: tuple[Fact, ...] = (
    # pitting index
    Fact("pren_16n", "304", 18, 20.5, _PREN),
    Fact("pren_16n", "316L", 23, 26, _PREN),
    Fact("pren_16n", "2304", 24, 27, _PREN),
    Fact("pren_16n", "2101", 25, 27.5, _PREN),
    Fact("pren_16n", "2205", 34, 37, _PREN),
    Fact("pren_16n", "2507", 41, 44, _PREN),
    Fact("pren_16n", "6Mo", 42.5, 45, _PREN),
    Fact("pren_16n", "904L", 34, 37, _PREN),
    Fact("pren_16n", "444", 23.5, 26, _PREN),
    # ferrite of welds
    Fact("ferrite_wrc_1992", "308L weld", 9, 12, _WELD),
    Fact("ferrite_wrc_1992", "308L weld, N", 5, 9, _WELD),
    Fact("ferrite_wrc_1992", "309L weld", 12, 15, _WELD, miss=_READS_LOW),
    Fact("ferrite_wrc_1992", "316L weld", 5, 9, _WELD),
    Fact("ferrite_wrc_1992", "347 weld", 6, 10, _WELD),
    Fact("ferrite_wrc_1992", "2209 weld", 35, 50, _WELD),
    Fact("ferrite_wrc_1992", "312 weld", 40, None, _WELD),
    Fact("ferrite_wrc_1992", "310 weld", 0, 0, "310 weld metal is fully austenitic"),
    Fact("ferrite_factor_kaltenhauser_1971", "430", None, 17, "430 welds hold martensite"),
    Fact("ferrite_factor_kaltenhauser_1971", "439", 17, None, "439 welds are ferritic"),
    Fact("ferrite_factor_kaltenhauser_1971", "409", 13.5, None, "409 welds are ferritic"),
    Fact("ferrite_factor_kaltenhauser_1971", "1.4003", None, 13.5, "1.4003 welds hold martensite"),
    Fact("austenite_max_17cr", "430", 30, 60, "430 is two-phase when hot"),
    Fact("austenite_max_17cr", "410", 90, None, "410 hardens through"),
    Fact("austenite_max_17cr", "439", None, 5, "439 stays ferritic at every temperature"),
    # slab
    Fact("ferrite_slab_ratio_cu", "304", 3, 8, "magnetic measurement on 304 slabs"),
    Fact("ferrite_slab_ratio_cu", "310", 0, 0, "310 slabs hold no ferrite"),
    Fact("ferrite_slab_ratio_cu", "305", 0, 3, "305 slabs hold next to no ferrite"),
    Fact("first phase", "304", 1, 1, "304 solidifies as ferrite first (1 ferrite, 0 austenite)"),
    Fact("first phase", "310", 0, 0, "310 solidifies as austenite"),
    Fact("first phase", "6Mo", 0, 0, "6Mo solidifies as austenite"),
    Fact("first phase", "2205", 1, 1, "duplex steel solidifies as ferrite"),
    # duplex at the anneal
    Fact("ferrite_duplex_anchored", "2205", 45, 50, "point counts", dict(temperature_C=1050.0)),
    Fact("ferrite_duplex_anchored", "2507", 45, 50, "point counts", dict(temperature_C=1080.0)),
    Fact("ferrite_duplex_anchored", "2101", 45, 60, "point counts", dict(temperature_C=1050.0)),
    Fact("ferrite_duplex_anchored", "2304", 45, 60, "point counts", dict(temperature_C=1050.0)),
    Fact("rise of duplex ferrite", "2205", 0.06, 0.08, "point counts from 1050 °C up, %/°C"),
    Fact("equal pitting index", "2507", 1050, 1110, "microanalysis of annealed S32750"),
    Fact("nitrogen in ferrite", "2205", None, 0.05, "solubility of nitrogen in ferrite"),
    Fact("chromium of ferrite over austenite", "2205", 1.15, 1.22, "microprobe"),
    Fact("chromium of ferrite over austenite", "2507", 1.08, 1.14, "microprobe"),
    Fact("nickel of ferrite over austenite", "2205", 0.56, 0.70, "microprobe"),
    # stability of austenite
    Fact("md30_nohara_1977", "301", 10, 50, "301 work-hardens by martensite", ASTM8),
    Fact("md30_nohara_1977", "304", -30, 10, "304 turns in part when cold rolled", ASTM8),
    Fact("md30_nohara_1977", "316L", None, -40, "316L stays non-magnetic when formed", ASTM8),
    Fact("md30_nohara_1977", "305", None, -60, "305 is chosen for deep drawing", ASTM8),
    Fact(
        "md30_angel_1954",
        "316L",
        None,
        -40,
        "316L stays non-magnetic when formed",
        miss="Angel gives nickel too little; said in its note, Nohara leads",
    ),
    Fact("ni_min_post_eberly_1947", "304", 12, 13.5, "the nickel of 305, stable in cold work"),
    Fact("ni_min_post_eberly_1947", "310", 14, 16, "310 is stable with far less nickel"),
    Fact("ni_min_binder_1950", "304", 8, 11.5, "fully austenitic 18Cr needs about 10 Ni"),
    # transformation of martensitic and ferritic steel
    Fact("leading ms", "410", 320, 355, "handbooks: 335 to 350 °C"),
    Fact("leading ms", "420", 230, 300, "handbooks"),
    Fact("leading ms", "13-4", 270, 300, "dilatometry of 1.4313"),
    Fact("leading ms", "17-4PH", 100, 150, "suppliers: about 130 °C"),
    Fact("leading ms", "1.4116", 150, 300, "handbooks: 0.3-0.5 C, with little carbide left"),
    Fact("estimate martensite_start", "410", 320, 355, "handbooks: 335 to 350 °C"),
    Fact("estimate martensite_start", "440B", None, None, "carbide: the carbon in solution counts"),
    Fact("martensite as quenched, low", "17-4PH", 70, 100, "makers: Ms 132, done at 32 °C"),
    Fact("martensite as quenched, low", "13-4", 90, 100, "soft martensite, done above 100 °C"),
    Fact("ferrite, high", "17-7PH", 10, 25, "5 to 20 % in strip: aluminium makes ferrite"),
    Fact("ms_self_1984", "304", None, -60, "304 does not turn in ice water"),
    Fact("ms_eichelman_1953", "304", None, -60, "304 does not turn in ice water"),
    Fact("leading ac1", "13-4", 600, 660, "dilatometry; tempering stays below"),
    Fact("leading ac1", "410", 770, 830, "tables: 800 to 830 °C"),
    Fact("leading ac1", "430", 840, 880, "bell anneal of 430 at 820 to 850 °C"),
    # liquid steel
    Fact("liquidus_aymard_extended", "304", 1448, 1458, _MELT),
    Fact("liquidus_aymard_extended", "316L", 1435, 1447, _MELT),
    Fact("liquidus_aymard_extended", "2205", 1435, 1450, _MELT),
    Fact("liquidus_aymard_extended", "430", 1495, 1510, _MELT),
    Fact("liquidus_aymard_extended", "310", 1385, 1400, _MELT),
    Fact("liquidus_aymard_extended", "6Mo", 1370, 1400, _MELT),
    Fact("leading liquidus", "440B", 1420, 1460, "Fe-C diagram: 55 °C above the quadratic form"),
    Fact("solidus_takeuchi_extended", "304", 1395, 1428, _MELT),
    Fact("solidus_takeuchi_extended", "304L", 1395, 1434, "304L melts at 1434 °C, measured"),
    Fact("solidus_takeuchi_extended", "316", 1380, 1405, "measured 1401 °C"),
    Fact("solidus_takeuchi_extended", "2205", 1370, 1400, _MELT),
    Fact("solidus_takeuchi_extended", "2507", 1335, 1370, _MELT),
    Fact("solidus_takeuchi_extended", "6Mo", 1310, 1340, _MELT),
    Fact("solidus_takeuchi_extended", "310", 1340, 1380, _MELT),
    Fact("freezing range", "304", 25, 60, "thermal analysis"),
    Fact("freezing range", "430", 15, 45, "thermal analysis"),
    Fact("freezing range", "6Mo", 45, 80, "6Mo segregates in the middle of the slab"),
    Fact("n_solubility_recommended", "18-8", 0.20, 0.25, _SIEVERTS, N1),
    Fact("n_solubility_recommended", "Fe", 0.044, 0.046, _SIEVERTS, N1),
    Fact("n_solubility_recommended", "Fe-18Cr", 0.24, 0.27, _SIEVERTS, N1),
    Fact("n_solubility_recommended", "Fe-40Cr", 1.0, None, _SIEVERTS, N1),
    Fact("hydrogen of iron, ppm", "Fe", 24, 27, "measured, 1600 °C and 1 atm"),
    Fact(
        "c_eq_hilty_kaveney_ni",
        "18-8",
        0.22,
        0.32,
        "converter practice at 1700 °C and 1 atm CO",
        dict(temperature_C=1700.0, pCO_atm=1.0),
    ),
    Fact("carbon end of 1:9, n 0.2", "18-8", 0.010, 0.020, "the last gas of the converter"),
    Fact("carbon end of 1:3, n 0.26", "18-8", 0.030, 0.055, "the third gas of the converter"),
    Fact("lowest nitrogen washed", "430", 0.006, 0.013, "converter practice: 80 to 120 ppm"),
    Fact("lowest nitrogen washed", "409", 0.004, 0.010, "converter practice in 11Cr"),
    # titanium nitride
    Fact("TiN above liquidus", "321", 40, 120, "321 clogs nozzles: nitride in the bath"),
    Fact("TiN above liquidus", "409", -60, 10, "409 casts without clogging, with fine grain"),
    Fact("TiN above liquidus", "441", None, 0, "441 casts without clogging"),
    Fact("TiN above liquidus", "444", None, 0, "444 casts without clogging"),
    # castable nitrogen
    *(
        Fact("n_margin_castable", steel, 0, None, _CAST)
        for steel in ("1.3820", "1.4565", "1.4529", "6Mo", "2507", "2205", "253MA", "201", "XM-19")
    ),
    Fact("n_castable_by_mode", "304", 0.16, 0.24, "304LN ends at 0.22 N"),
    Fact("n_castable_by_mode", "439", 0.15, 0.26, "titanium buys no room: 430Ti was 0.32"),
    # carbides, sigma
    Fact("m23c6_solvus_deighton", "304", 930, 980, "extraction on 18-8"),
    Fact("m23c6_solvus_deighton", "304L", 850, 912, "extraction on 18-8"),
    Fact("laves_solvus_fujita_2003", "441", 1000, 1080, "anneal of 441 above 1000 °C"),
    Fact("sigma_solvus_rechsteiner_1994", "6Mo", 1070, 1150, "anneal of 6Mo from 1150 °C"),
    Fact("sigma_solvus_rechsteiner_1994", "904L", 980, 1065, "anneal of 904L from 1080 °C"),
    Fact("stabilisation margin", "439", 0, None, "439 is stabilised"),
    Fact("sensitisation nose, s", "304", 300, 2000, "18-8 with 0.05 C: about ten minutes"),
    Fact("sensitisation nose, s", "304L", 36000, None, "18-8 with 0.02 C: days"),
    # corrosion
    Fact("cpt_g48", "316L", 12, 22, "measured in ferric chloride"),
    Fact("cpt_g48", "6Mo", 55, 75, "measured in ferric chloride"),
    Fact(
        "cpt_g48",
        "2205",
        30,
        38,
        "measured in ferric chloride; specified 25 °C",
        miss="reads 6 to 8 °C high on 2205; said in its note",
    ),
    Fact(
        "cct_g48",
        "2205",
        20,
        30,
        "measured with a crevice",
        miss="reads 11 °C low on duplex steel; said in its note",
    ),
    Fact(
        "cct_g48",
        "2507",
        35,
        45,
        "measured with a crevice",
        miss="reads 11 °C low on duplex steel; said in its note",
    ),
    Fact("estimate crevice_temperature", "2205", 20, 30, "measured; the bias of the family is off"),
    Fact("estimate crevice_temperature", "2507", 35, 46, "measured; the bias of the family is off"),
    # strength
    Fact("estimate proof_strength", "304", 235, 295, "annealed sheet"),
    Fact("estimate tensile_strength", "304", 580, 640, "annealed sheet"),
    Fact("estimate tensile_strength", "2205", 720, 800, "annealed sheet and plate"),
    Fact("estimate proof_strength", "2205", 560, 660, "cold-rolled strip"),
    Fact("proof_strength of plate", "2205", 480, 540, "hot-rolled plate of data sheets"),
    Fact("estimate proof_strength", "XM-19", 380, 450, "annealed bar and plate"),
    Fact("estimate proof_strength", "430", 280, 350, "annealed sheet"),
    Fact("estimate proof_strength", "409", 225, 265, "data sheets of 409: 240 MPa"),
    Fact("estimate proof_strength", "444", 330, 390, "data sheets of 444"),
    Fact("estimate proof_strength", "303", None, None, "no measured steel held such sulphur"),
    Fact("estimate proof_strength", "1.4361", None, None, "no measured steel held such silicon"),
    Fact("estimate pitting_temperature", "303", None, None, "it pits at its sulphides"),
    Fact("estimate density", "A286", 7.89, 7.99, "makers: 7.94"),
    Fact("low end of proof_strength", "2205", None, 500, "plate stands at 480 to 540 MPa"),
    Fact(
        "yield_nordberg_2004",
        "6Mo",
        310,
        340,
        "annealed sheet",
        dict(grain_size_um=40.0, delta_ferrite_pct=0.0),
        miss="the form adds without limit above 4 Mo: outside its range, flagged, not estimated",
    ),
    # working
    Fact("hot flow stress", "304", 140, 170, "compression at 1000 °C and 1/s, MPa"),
    Fact("hot flow stress", "6Mo", 210, 250, "compression at 1000 °C and 1/s, MPa"),
    Fact("hot flow stress", "430", 60, 90, "ferrite is soft: half of 304 or less"),
    Fact("hot flow stress", "2205", 120, 160, "compression at 1000 °C and 1/s, MPa"),
    Fact("hot flow stress", "410", 110, 150, "compression at 1000 °C and 1/s, MPa"),
    Fact("cold flow stress at 40 %", "304", 850, 1000, "tensile tests of rolled strip"),
    Fact("cold flow stress at 40 %", "430", 600, 750, "tensile tests of rolled strip"),
    Fact("cold flow stress at 40 %", "2205", 1050, 1250, "tensile tests of rolled strip"),
    Fact("grain after 1100 °C, 60 s from 12 µm", "304", 18, 23, "metallography"),
    # physics
    Fact("estimate density", "304", 7.88, 7.93, "weighed"),
    Fact("estimate density", "316L", 7.93, 7.99, "weighed"),
    Fact("estimate density", "2205", 7.78, 7.82, "weighed"),
    Fact("estimate density", "430", 7.65, 7.75, "weighed"),
    Fact("estimate density", "441", 7.65, 7.75, "weighed"),
    Fact("sfe_yonezawa_2013", "304", 15, 35, "band of the laboratories; never a target"),
    Fact("sfe_yonezawa_2013", "316L", 18, 56, "band of the laboratories; never a target"),
    # castings and charge
    Fact(
        "log_cvsat_cass_cf8m",
        "CF8M, 11Ni",
        None,
        1.83,
        "NUREG, 11 Ni and phi over 20: low",
        dict(delta_ferrite_pct=15.0),
    ),
    Fact("ferrosilicon 75, kg/t", "304", 22.3, 22.9, "worked charge of 304: 16.5 + 6.1 kg"),
    Fact("lime, kg/t", "304", 55, 57, "worked charge of 304, basicity 1.7"),
    Fact("silica of slag, kg/t", "304", 32.5, 33.5, "worked charge of 304"),
)

_EVERY_DAY = "cast and rolled every day: a caution at every heat is none"
TOLD: tuple[Told, ...] = (
    # what is austenite, or meant to turn later
    Told("17-7PH", "Ms above room temperature", "ok", "strip is sold austenitic", "as is meant"),
    Told("A286", "Ms above room temperature", "ok", "it never turns", "austenite in every state"),
    Told("A286", "slab cooling and hot charging", "ok", "tough when cold"),
    Told("A286", "magnetism", "not assessed", "not magnetic, as 17-4PH is"),
    Told("A286", "force of the heaviest pass", "not assessed", "far stronger hot than 17-4PH"),
    Told("17-4PH", "slab cooling and hot charging", "caution", "thick sections crack", "cracks"),
    Told("410", "slab cooling and hot charging", "caution", "slabs crack in the yard", "cracks"),
    Told("420", "slab cooling and hot charging", "caution", "slabs crack in the yard", "cracks"),
    Told("440B", "Ms above room temperature", "not assessed", "half its carbon is carbide"),
    Told("1.4116", "first phase", "not assessed", "14Cr-0.5C freezes as ferrite, or nearly so"),
    # no austenite at any temperature
    Told("1.4742", "Ac1 against the bell furnace", "ok", "ferritic up to melting", "no austenite"),
    Told("1.4762", "Ac1 against the bell furnace", "ok", "ferritic up to melting", "no austenite"),
    # aluminium in the caster
    *(
        Told(steel, "depressions and nozzle clogging by alumina", "caution", "1 % Al", "clogs")
        for steel in ("1.4742", "1.4762", "17-7PH")
    ),
    Told("304", "depressions and nozzle clogging by alumina", "not assessed", "no aluminium"),
    # sulphur that is asked for
    *(
        Told(steel, check, said, "303 and 430F are made of it")
        for steel in ("303", "430F")
        for check, said in (("P + S against the first phase", ""), ("slab ferrite", ""),
                            ("S against edge cracks", "not assessed"),
                            ("Mn to S of free-machining steel", "ok"))
    ),
    Told("430F", "ferrite of free-machining steel", "", "it is all ferrite"),
    # acid
    *(Told(s, "bath", "", "pickled in mixed acid") for s in ("441", "444", "1.4762", "1.4592")),
    *(Told(s, "bath", "caution", "over-pickles", "over-pickling") for s in ("409", "430", "410")),
    Told("XM-19", "over-pickling", "", "12 % nickel"),
    Told("201", "over-pickling", "caution", "little nickel, much manganese"),
    Told("XM-19", "delayed cracking", "ok", "as stable as 310"),
    # coils that cool in air
    *(
        Told(s, "sigma equivalent on slow cooling", "ok", _EVERY_DAY)
        for s in ("316L", "316", "201", "253MA", "310")
    ),
    Told("1.4841", "sigma equivalent on slow cooling", "caution", "cooled with water"),
    # fully austenitic slabs
    *(
        Told(s, "P + S against the first phase", "ok", _EVERY_DAY)
        for s in ("310", "305", "904L", "6Mo", "1.4876")
    ),
    *(
        Told(s, "last pass against recrystallisation between passes", "ok", _EVERY_DAY)
        for s in ("316L", "316")
    ),
    Told("1.4361", "width of the anneal window", "caution", "the solvus is known to 40 °C"),
    # the weld zone of lean duplex
    Told("2304", "nitride beside welds of lean duplex", "ok", "0.1 N stays dissolved"),
    Told("2101", "nitride beside welds of lean duplex", "caution", "0.22 N with 1.5 Ni: known"),
    Told("2205", "nitride beside welds of lean duplex", "", "not lean"),
    # two phases by design, carbon bound by design
    Told("1.4003", "austenite on heating", "ok", "its martensite is wanted", "as is meant"),
    Told("430", "austenite on heating", "caution", "430 welds are brittle"),
    Told("441", "Fe3Nb3C dissolved at the hottest strip", "ok", "carbon is to stay bound"),
    Told("409", "Ti and Nb over C + N, best corrosion", "ok", "no standard asks for so much"),
)  # fmt: skip
