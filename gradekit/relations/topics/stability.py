"""Stability of austenite: Md30, Ms, Ac1, stacking fault energy, magnetic order."""

from gradekit.relations import groups
from gradekit.relations.declaration import Check
from gradekit.relations.topics._catalogue import CATALOGUE
from gradekit.relations.topics._checks import ADDED, AUSTENITIC, MARTENSITIC, PRINTED_316, steel
from gradekit.relations.topics._ranges import EIGHTEEN_EIGHT

_MD30 = CATALOGUE.group(families=("austenitic",), ranges=EIGHTEEN_EIGHT)
_MD30.linear(
    "md30_angel_1954",
    "Md30, Angel",
    "413 - 13.7*Cr - 9.5*Ni - 18.5*Mo - 8.1*Mn - 9.2*Si - 462*C - 462*N",
    status="verified",
    source=("angel_1954", "he_austenite_2026"),
    domain="18-8 family",
    check=Check(PRINTED_316, -61.2, "printed", tolerance=0.06),
    note=(
        "50 % martensite at 30 % true strain. Under-rewards Ni; no Cu, no grain size. 16 "
        "printed values reproduced"
    ),
)
_MD30.function(
    "md30_nohara_1977",
    "Md30, Nohara with grain size",
    (
        "551 - 13.7*Cr - 29*Ni - 18.5*Mo - 8.1*Mn - 9.2*Si - 462*C - 462*N - 29*Cu - "
        "68*Nb - 1.42*(grain_size_astm - 8)"
    ),
    status="verified",
    source=("nohara_1977",),
    domain="304-type sheet; ASTM 5-12",
    ranges=EIGHTEEN_EIGHT | {"grain_size_astm": (5, 12)},
    error=18.0,
    error_basis="trade judgement, 15 to 20 °C within 304 and 301",
    check=Check(AUSTENITIC, -156.187, conditions={"grain_size_astm": 7.5}),
    note=(
        "default when Cu and grain size are known; annex form in EN 10088-1; a second "
        "print without the grain-size term; for duplex steel apply it to the composition "
        "of the austenite"
    ),
)
_MD30.linear(
    "md30_gladman_1974",
    "Md30, Gladman",
    "497 - 13.7*Cr - 20*Ni - 18.5*Mo - 8.1*Mn - 9.2*Si - 462*C - 462*N",
    status="memory",
    source=("gladman_1974", "pickering_1978"),
    domain="18-8 family, as Md30 by Angel: every term but that of nickel is its own",
    check=Check(AUSTENITIC, -91.987),
)
_MD30.linear(
    "md30_sjoberg_1973",
    "Md30, Sjoberg",
    "608 - 13*Cr - 34*Ni - 6.5*Mo - 12*Mn - 7.8*Si - 515*C - 821*N",
    status="memory",
    source=("sjoberg_1973",),
    domain="18-8 spring steels",
    check=Check(AUSTENITIC, -124.132),
    note="only common form with a separate N coefficient",
)

_MS = CATALOGUE.group(status="memory")
_ON_44 = "rmse on 44 stainless martensitic compositions C <= 0.3 (sd 88 C), bias "

_MS.linear(
    "ms_eichelman_1953",
    "Ms of 18-8 steels, Eichelman-Hull",
    "1305 - 41.7*Cr - 61.1*Ni - 33.3*Mn - 27.8*Si - 1667*C - 1667*N",
    families=("austenitic",),
    status="conflicting",
    source=("eichelman_hull_1953",),
    domain="Cr 10-18; Ni 6-12; C+N <0.15",
    ranges={"Cr": (10, 18), "Ni": (6, 12), "C + N": (None, 0.15)},
    error=196.0,
    error_basis=f"{_ON_44}+142: outside its domain there",
    check=Check(AUSTENITIC | {"C": 0.04, "N": 0.03, "Cr": 17.3, "Ni": 8.1}, -99.687),
    note=(
        "Fahrenheit original: "
        "75(14.6-Cr)+110(8.9-Ni)+60(1.33-Mn)+50(0.47-Si)+3000[0.068-(C+N)], which "
        "converts to 1305; 1302 circulates. Never below 6 % Ni"
    ),
)
_MS.linear(
    "ms_monkman_1957",
    "Ms, Monkman-Cuff-Grant",
    "1182 - 36.7*Cr - 56.7*Ni - 1456*C - 1456*N",
    families=("austenitic",),
    source=("monkman_1957",),
    error=200.0,
    error_basis=f"{_ON_44}+155",
    check=Check(AUSTENITIC | {"C": 0.04, "N": 0.03, "Cr": 17.3, "Ni": 8.1}, -14.1),
)
_MS.linear(
    "ms_pickering_1978",
    "Ms of controlled-transformation steels",
    "502 - 12*Cr - 30*Ni - 46*Mo - 13*Mn - 810*C - 1230*N - 54*Cu",
    families=("precipitation-hardening", "nickel martensitic"),
    source=("irvine_1959", "pickering_1978"),
    domain="17Cr-4..7Ni",
    ranges={"Cr": (15, 18), "Ni": (4, 7)},
    error=118.0,
    error_basis=f"{_ON_44}-100: not meant for plain 12-13Cr",
    check=Check(MARTENSITIC | {"C": 0.06, "Cr": 16.6, "Ni": 4.3}, 32.92),
)
_MS.function(
    "ms_self_1984",
    "Ms, Self-Olson-Edwards",
    (
        "526 - 12.5*Cr - 17.4*Ni - 20.8*Mo - 29.7*Mn - 31.7*Si - 354*C - 1.34*Cr*Ni + "
        "22.4*(Cr + Mo)*C"
    ),
    families=(*groups.HARDENABLE, "austenitic"),
    source=("self_1984",),
    domain="not stated; C up to 0.5 by measured steels",
    ranges={"C": (None, 0.5)},
    error=49.0,
    error_basis=f"{_ON_44}+19",
    check=Check(MARTENSITIC, 254.3868),
    note=(
        "only form sensible for both 12Cr and 304 (-100 C), 100 C low for 13Cr-4Ni; reads 40 to "
        "60 C high on handbook steels of 0.3-0.5 C, 60 to 120 above (carbide); no nitrogen "
        "term: gives +39 C for 19Cr-3Mn-4Ni-0.15C-0.17N, which showed no martensite down to "
        "-196 C; use a form with nitrogen when N > 0.05 (ms_eichelman_1953, "
        "ms_monkman_1957, ms_pickering_1978 agree with that measurement)"
    ),
)
_MS.function(
    "ms_finkler_1996",
    "Ms of 8-14Cr steels, Finkler-Schirra",
    (
        "c_eff = C + 0.86*(N - 0.15*Nb) - 0.066*Ta; "
        "635 - 474*max(c_eff, 0) - 17*Cr - 17*Ni - 21*Mo - 33*Mn - 39*V - 11*W"
    ),
    families=("martensitic", "nickel martensitic", "ferritic-martensitic", "not stainless"),
    source=("finkler_schirra_1996",),
    domain="Cr 8-14; low Ni, 13Cr-4Ni checked; Zr and Hf taken as 0; C <=0.3 by measured steels",
    ranges={"Cr": (8, 14), "C": (None, 0.3)},
    error=54.0,
    error_basis=f"{_ON_44}+25",
    check=Check(MARTENSITIC, 278.6153),
    note=(
        "474*Ceff with Ceff = C + 0.86(N - 0.15(Nb+Zr)) - 0.066(Ta+Hf): carbon, and nitrogen as "
        "carbon, less what niobium binds; niobium beyond the nitrogen binds carbon, but no more "
        "than there is (Ceff not below 0). Leads for 8-14Cr: 13Cr-4Ni 289 C (270-300 usual); reads "
        "80 C low on handbook steels of 0.3-0.5 C, 400 above: part of the carbon stays carbide"
    ),
)
_MS.linear(
    "ms_gooch_1982",
    "Ms of 13Cr-Ni soft martensitic steels",
    "540 - 10.8*Cr - 36.3*Ni - 46.6*Mo - 6.3*Mn - 497*C",
    families=("nickel martensitic",),
    source=("gooch_1982",),
    domain="13Cr-Ni",
    ranges={"Cr": (11.5, 14), "Ni": (3.5, 6.5)},
    error=57.0,
    error_basis=f"{_ON_44}+12",
    check=Check(MARTENSITIC, 236.809),
)
_MS.linear(
    "ms_andrews_1965",
    "Ms, Andrews linear",
    "539 - 12.1*Cr - 17.7*Ni - 7.5*Mo - 30.4*Mn - 423*C",
    families=("not stainless",),
    status="verified",
    source=("andrews_1965",),
    domain="Cr <5 in the original",
    ranges={"Cr": (None, 5)},
    error=50.0,
    error_basis=f"{_ON_44}+13",
    check=Check(MARTENSITIC, 282.998),
    note="fits 12Cr by luck of the Cr slope; nonsense for 18-8 (+107 C for 304)",
)
_MS.linear(
    "ms_steven_haynes_1956",
    "Ms, Steven-Haynes",
    "561 - 17*Cr - 17*Ni - 21*Mo - 33*Mn - 474*C",
    families=("not stainless",),
    source=("steven_haynes_1956",),
    domain="low alloy",
    error=63.0,
    error_basis=f"{_ON_44}-42",
    check=Check(MARTENSITIC, 227.218),
    note="same slopes as the Finkler-Schirra form, lower constant",
)

_SFE = CATALOGUE.group(families=groups.AUSTENITIC, status="memory")
_SFE.linear(
    "sfe_schramm_1975",
    "SFE, Schramm-Reed",
    "-53 + 0.7*Cr + 6.2*Ni + 9.3*Mo + 3.2*Mn",
    source=("schramm_reed_1975",),
    domain="seven commercial grades, X-ray",
    check=Check(AUSTENITIC, 47.512),
    note=(
        "numbers recalled; signs of C, Cr and Mn are disputed: laboratory alloys read with Cr, Si, "
        "Mn and N lowering, Ni and C raising it"
    ),
)
_SFE.linear(
    "sfe_rhodes_1977",
    "SFE, Rhodes-Thompson",
    "1.2 + 0.6*Cr + 1.4*Ni + 17.7*Mn - 44.7*Si",
    source=("rhodes_thompson_1977",),
    domain="stable high-Ni Fe-Cr-Ni",
    check=Check(AUSTENITIC, 32.936),
    note="unusable for Mn steels",
)
_SFE.linear(
    "sfe_brofman_1978",
    "SFE, Brofman-Ansell",
    "16.7 - 0.9*Cr + 2.1*Ni + 26*C",
    source=("brofman_ansell_1978",),
    check=Check(AUSTENITIC, 20.662),
)
_SFE.linear(
    "sfe_pickering_1985",
    "SFE, Pickering",
    "25.7 - 0.9*Cr + 2*Ni - 1.2*Mn - 13*Si + 410*C - 77*N",
    source=("pickering_1985",),
    check=Check(AUSTENITIC, 25.257),
)
_SFE.function(
    "sfe_dai_2002",
    "SFE at 300 K, Dai",
    (
        "39 - 1.75*Cr + 1.59*Ni + 15.21*Mo - 1.34*Mn - 5.59*Si + 0.06*Mn**2 + 0.01*Cr**2 "
        "- 60.69*sqrt(C + 1.2*N) + 26.27*(C + 1.2*N)*sqrt(Cr + Mn + Mo) + "
        "0.61*sqrt(Ni*(Cr + Mn))"
    ),
    source=("dai_2002",),
    check=Check(AUSTENITIC, 59.66302),
)
_SFE.linear(
    "sfe_yonezawa_2013",
    "SFE, Yonezawa, solution treated and water cooled",
    "-7.1 + 0.49*Cr + 2.8*Ni + 2*Mo + 0.75*Mn - 2*Si - 5.7*C - 24*N",
    source=("yonezawa_2013",),
    error=10.0,
    error_basis="trade judgement; laboratories differ by a factor 2",
    check=Check(AUSTENITIC, 31.4166),
    note=(
        "default point value, with the band of the other forms (304 15-35, 316L 18-56), never a "
        "target of design: signs of C, Cr and Mn are disputed between laboratories"
    ),
)
_SFE.linear(
    "sfe_ojima_2009",
    "SFE of high-nitrogen austenite, Ojima",
    "5.53 - 0.16*Cr + 1.4*Ni + 17.1*N",
    source=("ojima_2009",),
    check=Check(AUSTENITIC, 17.9543),
)

_TRICOT = CATALOGUE.group(status="conflicting", source=("tricot_castro_1966",))
_TRICOT.function(
    "ac1_tricot_1966_quadratic",
    "Ac1 of Cr stainless, form with (Cr-17)^2",
    (
        "310 + 35*Cr - 115*Ni + 60*Mo - 66*Mn + 170*Si - 250*C - 280*N - 18*Cu + 73*Nb + "
        "290*Ti + 620*V + 750*Al + 1400*B + 3.5*(Cr - 17)**2"
    ),
    families=("ferritic", "stabilised ferritic", "ferritic-martensitic", "martensitic"),
    domain="Cr 10.5-20 ferritic or martensitic; Ni <=1",
    ranges={"Cr": (10.5, 20), "Ni": (None, 1), "value": (None, 1000)},
    check=Check(MARTENSITIC | {"Ni": 0.6}, 950.756),
    note=(
        "above about 1000 C the loop of austenite is closed and there is no Ac1. "
        "410 gives 792 C (tabulated 800-830). Conflicts with ac1_tricot_1966_linear in "
        "the assignment of 73/170/290/620 to Nb/Si/Ti/V; "
        "a third recollection (patents) has 73 Si, 170 Nb, 290 V, 62 Ti"
    ),
)
_TRICOT.linear(
    "ac1_tricot_1966_linear",
    "Ac1 of Cr stainless, linear form",
    (
        "310 + 35*Cr - 115*Ni + 60*Mo - 66*Mn + 73*Si - 250*C - 280*N - 18*Cu + 170*Nb + 620*Ti "
        "+ 290*V + 750*Al + 1400*B"
    ),
    families=("ferritic", "stabilised ferritic"),
    domain="about 17Cr only; Ni <=1",
    ranges={"Ni": (None, 1), "value": (None, 1000)},
    check=Check(
        steel(
            "C 0.045, N 0.032, Si 0.37, Mn 0.46, Cr 16.4, Ni 0.21, Mo 0.06, Cu 0.08, Nb 0.011, "
            "Ti 0.009, V 0.07, Al 0.005, B 0.0008"
        ),
        871.07,
    ),
    note=(
        "equals 35(Cr + 1.72Mo + 2.09Si + 4.86Nb + 8.29V + 17.7Ti + 21.4Al + 40B - 7.14C "
        "- 8N - 3.29Ni - 1.89Mn - 0.51Cu) + 310. 410 gives 660 C, too low; 430 about 830 "
        "C"
    ),
)
CATALOGUE.linear(
    "ac1_increment_irvine_1960",
    "Change of Ac1 per wt%, 12Cr base",
    "-30*Ni + 25*Mo - 25*Mn + 25*Si + 50*V + 30*Al - 5*Co",
    quantity="Ac1 increment, °C",
    families=("martensitic",),
    status="memory",
    source=("irvine_1960",),
    domain="12Cr base; increments only",
    check=Check(ADDED, 2.76),
)
CATALOGUE.linear(
    "ac1_andrews_1965",
    "Ac1, Andrews",
    "723 + 16.9*Cr - 16.9*Ni - 10.7*Mn + 29.1*Si + 6.38*W",
    families=("not stainless",),
    status="verified",
    source=("andrews_1965",),
    domain="low alloy; Cr <5",
    check=Check(steel("C 0.19, Si 0.31, Mn 0.72, Cr 1.9, Ni 1.2, Mo 0.3, W 0.4"), 738.699),
    note=(
        "arsenic term +290As left out (As taken as 0); source warns against high Cr: do "
        "not use above 5 % Cr"
    ),
)
CATALOGUE.linear(
    "ac1_gooch_soft",
    "Ac1 of soft martensitic 13Cr-Ni steels",
    "650 + 20*Cr - 50*Ni + 25*Mo - 25*Mn + 25*Si - 1500*C - 1500*N",
    families=("nickel martensitic",),
    status="memory",
    source=("gooch_1999",),
    domain="C <0.03; 13Cr-Ni",
    check=Check(MARTENSITIC | {"C": 0.019, "N": 0.013, "Ni": 4.6}, 634.25),
    note=(
        "leads for nickel martensitic steel: 13Cr-4Ni 621 C (600-660 usual); = 850 - 1500(C+N) - "
        "50Ni - 25Mn + 25Si + 25Mo + 20(Cr-10)"
    ),
)
CATALOGUE.linear(
    "neel_warnes_1976",
    "Neel temperature of austenite",
    "90 - 1.25*Cr - 2.75*Ni - 5.5*Mo + 7.75*Mn - 14*Si",
    quantity="Neel temperature, K",
    families=groups.AUSTENITIC,
    status="memory",
    source=("warnes_king_1976",),
    check=Check(AUSTENITIC, 32.3825),
    note="S20910: 48 K computed against a published susceptibility peak at 33 K",
)
