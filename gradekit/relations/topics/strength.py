"""Strength of annealed steel, and the activation energy of hot working."""

from gradekit.relations import groups
from gradekit.relations.declaration import Check
from gradekit.relations.topics._catalogue import CATALOGUE
from gradekit.relations.topics._checks import AUSTENITIC, DUPLEX, FERRITIC
from gradekit.relations.topics._ranges import EIGHTEEN_EIGHT

_IRVINE = CATALOGUE.group(
    families=("austenitic",),
    status="conflicting",
    domain="annealed 18-8 family; N <=0.2; delta 0-20 %; 20 C",
    ranges=EIGHTEEN_EIGHT | {"N": (None, 0.2), "delta_ferrite_pct": (0, 20)},
)
_IRVINE.function(
    "yield_irvine_1969",
    "Rp0.2 of annealed austenitic steel, constant 4.4",
    (
        "67.76 + 3.696*Cr + 14.476*Mo + 20.02*Si + 354.2*C + 492.8*N + 40.04*Nb + "
        "26.18*Ti + 18.48*V + 4.466*W + 12.628*Al + 2.464*delta_ferrite_pct + "
        "7.084*(grain_size_um/1000)**-0.5"
    ),
    source=("irvine_1969", "pickering_1978"),
    error=30.2,
    error_basis=(
        "rmse on 60 heats 304H/316H/321H/347H/Alloy 800H (NRIM creep data sheets), bias -15"
    ),
    check=Check(AUSTENITIC, 314.3614, conditions={"grain_size_um": 45.0, "delta_ferrite_pct": 3.0}),
    note=(
        "15.4*(4.4 + 23C + 1.3Si + 0.24Cr + 0.94Mo + 1.2V + 0.29W + 2.6Nb + 1.7Ti + "
        "0.82Al + 32N + 0.16delta + 0.46 d^-0.5), d in mm. Constant 4.4 preferred over "
        "4.1. Ti and Nb as alloyed"
    ),
)
_IRVINE.function(
    "yield_irvine_1969_const41",
    "Rp0.2 of annealed austenitic steel, constant 4.1",
    "yield_irvine_1969 + 15.4*(4.1 - 4.4)",
    source=("irvine_1969",),
    error=32.8,
    error_basis="rmse on 60 heats (NRIM), bias -20",
    check=Check(AUSTENITIC, 309.7414, conditions={"grain_size_um": 45.0, "delta_ferrite_pct": 3.0}),
    note="variant; 4.6 MPa below yield_irvine_1969",
)
CATALOGUE.function(
    "uts_irvine_1969",
    "Rm of annealed austenitic steel",
    (
        "446.6 + 1.694*Ni + 18.48*Mo + 36.96*Si + 539*C + 847*N + 77*Nb + 46.2*Ti + "
        "18.48*Al + 2.156*delta_ferrite_pct + 12.628*(twin_spacing_um/1000)**-0.5"
    ),
    families=groups.AUSTENITIC,
    status="memory",
    source=("irvine_1969", "pickering_1978"),
    domain="stable or nearly stable austenite; 20 C",
    error_basis="bias +56/+88/+125 MPa on 60 heats with twin spacing guessed 50/20/10 um",
    check=Check(
        AUSTENITIC, 752.5745, conditions={"twin_spacing_um": 30.0, "delta_ferrite_pct": 3.0}
    ),
    note="needs a measured twin spacing; never guess it",
)

_NORDBERG = CATALOGUE.group(
    families=groups.AUSTENITIC_DUPLEX, status="memory", source=("nordberg_1990s",)
)
_PLATE = _NORDBERG.group(
    quantity="proof strength, MPa",
    domain="annealed plate, strip; Mo <=4; delta 0-60 %; 20 C",
    ranges={"delta_ferrite_pct": (0, 60), "Mo": (None, 4)},
)
_PLATE.function(
    "yield_nordberg_2004",
    "Rp0.2 of annealed austenitic and duplex steel",
    (
        "120 + 2*Cr + 14*Mo + 2*Mn + 10*Cu + 210*sqrt(N + 0.02) + (6.15 - "
        "0.054*delta_ferrite_pct)*delta_ferrite_pct + (7 + 35*(N + "
        "0.02))*(grain_size_um/1000)**-0.5"
    ),
    error=28.0,
    error_basis=(
        "rmse on 60 heats 304H/316H/321H/347H/Alloy 800H (NRIM), bias +2; duplex not tested"
    ),
    check=Check(DUPLEX, 606.4565, conditions={"grain_size_um": 11.0, "delta_ferrite_pct": 48.0}),
    note=(
        "year in the id is a label; the relation dates from the 1990s and the year of "
        "first print is not confirmed. Default: carries N, ferrite and grain size. "
        "Ferrite term peaks at 57 %; two cast duplex steels: 591/553 MPa (20/50 um) "
        "against 590 measured, 480/460 against 475; 18Cr-10Mn-0.96N: 676 (20 um) against "
        "755, reads low above about 0.5N; above 4 Mo it adds without limit (1.4547 427, sheet of "
        "the grade 310-340); duplex of strip grain (10 um) 607, plate stands at 480-540"
    ),
)
_PLATE.function(
    "proof1_nordberg_2004",
    "Rp1.0 of annealed austenitic and duplex steel",
    "yield_nordberg_2004 + 40",
    check=Check(DUPLEX, 646.4565, conditions={"grain_size_um": 11.0, "delta_ferrite_pct": 48.0}),
    note=(
        "year in the id is a label; the relation dates from the 1990s and the year of "
        "first print is not confirmed. = Rp0.2 + 40"
    ),
)
_NORDBERG.function(
    "uts_nordberg_2004",
    "Rm of annealed austenitic and duplex steel",
    "482 + 14*Mo + 600*N + 1.5*delta_ferrite_pct + 8*(grain_size_um/1000)**-0.5",
    domain="stable austenite and duplex; Mo <=4; 20 C",
    error=54.4,
    error_basis="rmse on 60 heats (NRIM), bias -47",
    check=Check(DUPLEX, 776.877, conditions={"grain_size_um": 11.0, "delta_ferrite_pct": 48.0}),
    note=(
        "year in the id is a label; the relation dates from the 1990s and the year of "
        "first print is not confirmed. = 470 + 600(N+0.02) + ...; reads 47 MPa low on "
        "18-8 bar and tube; low for metastable 301/304; same two duplex castings 777/756 "
        "against 745, 670/649 against 712"
    ),
)
CATALOGUE.function(
    "yield_ferrite_pickering_1963",
    "Yield of low-carbon ferrite (base for ferritic grades)",
    "53.9 + 32.3*Mn + 83.2*Si + 354*sqrt(free_N) + 17.4*(grain_size_um/1000)**-0.5",
    families=("not stainless",),
    status="memory",
    source=("pickering_gladman_1963",),
    domain="mild steel; weak base for ferritic stainless",
    check=Check(FERRITIC, 217.25, conditions={"free_N": 0.004, "grain_size_um": 38.0}),
    note=(
        "Cr/Mo/Nb adders are rules of thumb and conflict with the statement that Cr "
        "hardly strengthens ferrite; prefer 300-330 +-40 MPa for annealed 12-18Cr sheet"
    ),
)
CATALOGUE.function(
    "q_hot_deformation_mo",
    "Hot-deformation activation energy of austenitic steels",
    "min(398 + 27*Mo, 500)",
    quantity="activation energy, kJ/mol",
    families=groups.AUSTENITIC,
    status="heuristic",
    source=("mirzadeh_2013", "mcqueen_ryan", "pu_2014"),
    domain="Cr-Ni and Cr-Ni-Mo austenitic",
    essential=("Mo",),
    check=Check(AUSTENITIC, 460.1),
    note="not published; passes through 304L 392-410, 316 456, 317 502, S31254 496 kJ/mol",
)
