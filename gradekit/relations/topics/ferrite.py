"""Ferrite, austenite and martensite balance read from composition."""

from gradekit.relations import groups
from gradekit.relations.declaration import Check
from gradekit.relations.topics._catalogue import CATALOGUE
from gradekit.relations.topics._checks import (
    ADDED,
    AUSTENITIC,
    DUPLEX,
    FERRITIC,
    LOW_NICKEL,
    MARTENSITIC,
    steel,
)
from gradekit.relations.topics._ranges import BN2, CAST_CF, EIGHTEEN_EIGHT, HALF_MN, SLAB, WELD_300

_SLAB = "161*((Cr + Mo + 1.5*Si + 18)/(Ni{copper} + 30*(C + N) + 0.5*Mn + 36) + 0.262) - 161"

CATALOGUE.linear(
    "ferrite_factor_kaltenhauser_1971",
    "Kaltenhauser ferrite factor",
    "Cr - 4*Ni + 4*Mo - 2*Mn + 6*Si - 40*C - 40*N + 8*Ti + 2*Al",
    quantity="ferrite factor, wt%",
    families=("ferritic", "stabilised ferritic", "ferritic-martensitic"),
    status="memory",
    source=("kaltenhauser_1971",),
    domain="Cr 11-18 ferritic welds",
    ranges={"Cr": (11, 18)},
    check=Check(FERRITIC, 23.866),
    note="> 13.5 (405/409) or > 17.0 (430/439): no martensite in the weld. Some users add +4Nb",
)
CATALOGUE.linear(
    "ferrite_seferian_1959",
    "Seferian linear ferrite",
    "3*(cr_eq_schaeffler_1949 - 0.93*ni_eq_schaeffler_1949 - 6.7)",
    families=groups.AUSTENITIC,
    state="weld",
    status="memory",
    source=("seferian_1959",),
    domain="ferrite 0-15 %; rough to 40 %; Mn <=4",
    ranges=HALF_MN | {"value": (0, 15)},
    error=6.8,
    error_basis="rms on 39 castings CF3/CF8/CF8M, bias -0.5 (recalled measured values)",
    floor=0.0,
    check=Check(AUSTENITIC, 14.97465),
    note=(
        "= 3(Creq - 0.93Nieq - 6.7), Schaeffler equivalents; parallel lines cannot follow "
        "the fan above about 20 %; clamp at 0"
    ),
)

_CAST = CATALOGUE.group(families=("austenitic",), state="casting", floor=0.0)
_CAST.linear(
    "ferrite_delta_cal_slab",
    "Delta ferrite of slab, linear form",
    "-19.8 + 3*Cr - 2.8*Ni + 3*Mo - 1.4*Mn + 4.5*Si - 84*C - 84*N - 1.4*Cu",
    status="memory",
    source=("slab_practice",),
    domain="Cr-Ni slab",
    ranges=EIGHTEEN_EIGHT,
    check=Check(AUSTENITIC, 4.657),
    note="Seferian slope with N and Cu added; window 2-8 % for Cr-Ni strip",
)

_RATIO = _CAST.group(
    status="conflicting",
    source=("slab_practice",),
    domain="304-type slab; CF3, CF8, CF8M",
    ranges=SLAB,
)
_RATIO.function(
    "ferrite_slab_ratio",
    "Delta ferrite of slab, ratio form",
    _SLAB.format(copper=""),
    error=5.9,
    error_basis="rms on 39 castings, bias -1.7 (recalled measured values)",
    check=Check(AUSTENITIC, 8.566096),
    note=(
        "variant with 0.52Cu in the denominator is ferrite_slab_ratio_cu; some users add "
        "0.5Nb to the numerator"
    ),
)
_RATIO.function(
    "ferrite_slab_ratio_cu",
    "Delta ferrite of slab, ratio form with copper",
    _SLAB.format(copper=" + 0.52*Cu"),
    check=Check(AUSTENITIC, 8.036366),
    note=(
        "preferred where Cu is reported; reads under 1 % ferrite lower than "
        "ferrite_slab_ratio below 0.5Cu"
    ),
)
CATALOGUE.linear(
    "ni_balance",
    "Nickel balance",
    "8.2 - 1.1*Cr + Ni - 1.1*Mo + 0.5*Mn - 1.65*Si + 30*C + 30*N + 0.5*Cu - 1.1*W",
    quantity="nickel balance, wt%",
    families=groups.AUSTENITIC_DUPLEX,
    status="verified",
    source=("us9212412", "slab_practice"),
    check=Check(AUSTENITIC, -1.8565),
    note="lean-duplex window -7.1 to -4 (claim); >= 0 about fully austenitic",
)
CATALOGUE.linear(
    "bn2_margin",
    "BN2 distance to the zero-ferrite line",
    "cr_eq_bn2 - 0.91*ni_eq_bn2 - 7.7",
    quantity="ferrite margin, wt%",
    families=("austenitic",),
    status="verified",
    source=("bn2",),
    domain="1.4404; 1.4435",
    ranges=BN2,
    check=Check(AUSTENITIC, 2.06595),
    note="= Creq - 0.91Nieq - 7.70; <= 0 means austenite without delta ferrite",
)
CATALOGUE.function(
    "fn_valiente_2012",
    "Valiente Bermejo FN",
    (
        "s = (cr_eq_hammar_1979 + ni_eq_hammar_1979)/100; r = cr_ni_ratio_hammar; 54.22 - "
        "126.26*s + (-48.11 + 37.14*s)*r + (-0.23 + 61.95*s)*r**2"
    ),
    families=("austenitic",),
    state="weld",
    status="verified",
    source=("valiente_2012", "hammar_svensson_1979"),
    domain="300 series; creq+nieq 30-40; creq/nieq 1.22-2.00; cooling 10-1000 C/s",
    ranges=(
        WELD_300
        | {"cr_eq_hammar_1979 + ni_eq_hammar_1979": (30, 40), "cr_ni_ratio_hammar": (1.22, 2.0)}
    ),
    error=1.06,
    error_basis="author's: mean +1.01 FN, +-2.12 FN at 95 %",
    floor=0.0,
    check=Check(AUSTENITIC | {"Ni": 10.7, "Nb": 0.021, "Ti": 0.013}, 13.35941),
    note=(
        "S must be the fraction 0.30-0.40; read as 30-40 it returns thousands. Reading of "
        "the abstract, form verified. Not for annealed castings (bias +10.5)"
    ),
)
_CAST.function(
    "ferrite_hull_cass_1994",
    "Castings: quadratic in the Hull CASS ratio",
    "r = max(cr_ni_ratio_hull_cass, 0.9); 100.3*r**2 - 170.72*r + 74.22",
    status="memory",
    source=("chopra_1994", "chopra_4744"),
    domain="CF3; CF8; CF8M; ferrite 2-45 %; ratio >= 0.9",
    ranges=CAST_CF | {"value": (2, 45), "cr_ni_ratio_hull_cass": (0.9, None)},
    error=4.0,
    error_basis="rms on 39 castings, bias -2.1 (recalled measured values)",
    check=Check(
        steel("C 0.049, N 0.064, Si 0.48, Mn 0.5, Cr 20.78, Ni 9.63, Mo 2.57"),
        20.9,
        "printed",
        tolerance=0.13,
    ),
    note="39 printed values reproduced within 0.13; minimum at ratio 0.851, hence the clamp at 0.9",
)
_CAST.function(
    "ferrite_a800_fit",
    "Quadratic in the A800 ratio fitted to 39 castings",
    "r = cr_ni_ratio_schoefer_a800; 40.77*r**2 - 38.36*r + 1.03",
    status="computed-from-data",
    source=("astm_a800", "chopra_4744"),
    domain="ratio 0.94-1.57; CF3; CF8; CF8M",
    ranges=CAST_CF | {"cr_ni_ratio_schoefer_a800": (0.94, 1.57)},
    error=4.1,
    error_basis="rms, in-sample, 39 castings (recalled measured values)",
    fitted=True,
    check=Check(AUSTENITIC, 8.400172),
    note="a fit, not the A800 chart line",
)

_ANNEALED = CATALOGUE.group(families=groups.DUPLEX, source=("imoa_duplex_guide",), floor=0.0)
_ANNEALED.function(
    "ferrite_duplex_annealed",
    "Annealed duplex ferrite",
    (
        "-20.93 + 4.01*Cr - 5.6*Ni + 3.5288*Mo + 6.9373*Si - 137.48*C - 121.8*N - 2.24*Cu "
        "+ 0.016*temperature_C"
    ),
    status="memory",
    domain="temperature 1050-1150 C",
    ranges={"temperature_C": (1050, 1150)},
    error=4.0,
    error_basis="one heat S31803 at 1100 C: 44.0 against 48.1 measured",
    check=Check(DUPLEX, 43.46824, conditions={"temperature_C": 1080.0}),
    note=(
        "linear in composition; its slope with temperature is a quarter of that measured and it "
        "reads low at the anneal: ferrite_duplex_anchored"
    ),
)
# The form at 1050 °C, 5.5 % higher, and the measured slope in place of its own: 2205 45 to 50 % at
# 1050 °C, S32750 45 to 50 % at 1080 °C, one heat S31803 48.1 % at 1100 °C and 58.5 % at 1200 °C.
_ANNEALED.function(
    "ferrite_duplex_anchored",
    "Annealed duplex ferrite with the measured slope",
    (
        "asked = temperature_C; temperature_C = 1050; "
        "ferrite_duplex_annealed + 5.5 + 0.07*(asked - 1050)"
    ),
    status="heuristic",
    domain="temperature 1000-1250 C",
    ranges={"temperature_C": (1000, 1250)},
    error=4.1,
    error_basis="largest distance to four anchors of 2205 and S32750, 1050 to 1200 C",
    ceiling=100.0,
    check=Check(DUPLEX, 50.58824, conditions={"temperature_C": 1080.0}),
    note=(
        "default; slope 0.06-0.08 %/C above 1050 C (memory); measured S31803 48.1 at 1100 C and "
        "58.5 at 1200 C"
    ),
)

_LOW_NICKEL = CATALOGUE.group(
    families=("austenitic",),
    status="verified",
    source=("us_6056917",),
    domain="Mn 5-9; Ni 0.1-2; Cr 13-19; Cu 1-4; N 0.1-0.4",
)
_LOW_NICKEL.function(
    "ferrite_index_fi1_us6056917",
    "Low-Ni Cr-Mn-Cu-N ferrite index FI1",
    "x = max(6.903*(-6.998 + Cr - 0.972*ni_eq_us6056917), -4.2); 0.034*x**2 + 0.284*x - 0.347",
    quantity="ferrite index, %",
    floor=0.0,
    check=Check(LOW_NICKEL, 3.474241),
    note="claim limit < 20. Si and Mo absent. Quadratic rises again for x < -4.2: clamp x there",
)
_LOW_NICKEL.function(
    "martensite_index_si_us6056917",
    "Low-Ni Cr-Mn-Cu-N martensite stability index SI",
    (
        "x = max(250.4 - 205.4*C - 101.4*N - 7.6*Mn - 12.1*Ni - 6.1*Cr - 13.3*Cu, -8.1); "
        "0.0267*x**2 + 0.4332*x - 3.1459"
    ),
    quantity="martensite stability index, 1",
    check=Check(LOW_NICKEL, -2.073536),
    note="claim limit < 20. Quadratic rises again for x < -8.1: clamp x there",
)
CATALOGUE.function(
    "fn_from_vol_pct_2003",
    "FN from volume per cent of ferrite",
    "ferrite_vol_pct*(-0.025813*Fe**2 + 5.408679*Fe - 102.3902)/100",
    families=groups.AUSTENITIC_DUPLEX,
    state="weld",
    status="secondary",
    source=("vitek_2003",),
    domain="weld metal",
    ranges={"ferrite_vol_pct": (15, 100)},
    check=Check(steel("Cr 22.0, Ni 9.0, Mo 3.0"), 71.070593, conditions={"ferrite_vol_pct": 50.0}),
    note=(
        "Fe 66 gives FN = 1.42 vol%, i.e. vol% = 0.70FN. Practice 0.70FN (22Cr), 0.65FN "
        "(25Cr, conflicting: polynomial 0.76 at Fe 61, one study 0.91); below about 20 FN "
        "handbooks give FN x (0.86-1.0) as vol% (equal up to 8 FN, 16 FN about 13.8 "
        "vol%); 0.70 belongs to duplex levels"
        "; not below about 20 FN, where practice is nearer FN x (0.86-1.0)"
    ),
)
CATALOGUE.linear(
    "ferrite_increment_irvine_12cr",
    "Change of ferrite per wt%, 12Cr steels",
    "14*Cr - 20*Ni + 5*Mo - 6*Mn + 6*Si - 210*C - 220*N - 7*Cu + 18*V + 54*Al - 7*Co",
    families=("martensitic", "ferritic-martensitic"),
    status="memory",
    source=("irvine_1960",),
    domain="12Cr base; increments only",
    check=Check(ADDED, -0.112),
    note="apply to composition differences from a known base",
)
CATALOGUE.linear(
    "ferrite_increment_irvine_17cr",
    "Change of ferrite per wt%, 17Cr-4Ni steels",
    "15*Cr - 10*Ni + 11*Mo - Mn + 8*Si - 180*C - 200*N - 3*Cu + 19*V + 8*W + 38*Al - 6*Co",
    families=("precipitation-hardening", "nickel martensitic"),
    status="memory",
    source=("irvine_1959",),
    domain="17Cr-4Ni base; increments only",
    check=Check(ADDED, 11.126),
    note="apply to composition differences from a known base",
)
CATALOGUE.linear(
    "austenite_max_17cr",
    "Maximum austenite at 1050-1100 C of 11-18Cr steels",
    (
        "189 - 11.5*Cr + 23*Ni - 12*Mo + 7*Mn - 11.5*Si + 420*C + 470*N + 9*Cu - 47*Nb - 49*Ti "
        "- 23*V - 52*Al"
    ),
    quantity="austenite, %",
    families=("ferritic", "stabilised ferritic", "ferritic-martensitic", "martensitic"),
    status="memory",
    source=("austenite_max_practice",),
    domain="Cr 11-18",
    check=Check(MARTENSITIC, 137.208),
    note=(
        "430 gives about 42 %; <= 0 none; >= 100 fully transformable"
        "; values below 0 and above 100 only say none and full"
    ),
)
CATALOGUE.function(
    "ni_min_post_eberly_1947",
    "Nickel for austenite stable in cold work, Post-Eberly",
    "(Cr + 1.5*Mo - 20)**2/12 - Mn/2 - 35*C + 15",
    quantity="nickel for austenite stable in cold work, wt%",
    families=groups.AUSTENITIC,
    status="secondary",
    source=("post_eberly_1947",),
    domain="C 0.03-0.2; Cr 14-25; Mn 0.4-4.0; Ni 7.5-21",
    check=Check(AUSTENITIC, 13.4802, tolerance=5e-5),
    note=(
        "nickel with which austenite stays austenite in heavy cold work: 304 needs 12.8, the level "
        "of 305; 310 needs 14.9. Says nothing of ferrite (ni_min_binder_1950 does); with Cu and N "
        "(Griffiths, Wright): - Cu - 27N besides"
    ),
)
CATALOGUE.linear(
    "ni_min_binder_1950",
    "Nickel for full austenite, Binder",
    "-11.1 + 1.3*Cr - 30*C - 26*N",
    quantity="nickel for full austenite, wt%",
    families=groups.AUSTENITIC,
    status="secondary",
    source=("binder_1950",),
    domain="C 0-0.05; Cr 18-25; N 0-0.15; Ni 9-25",
    check=Check(AUSTENITIC, 9.942),
    note="read as quoted elsewhere; actual minus needed nickel > 0: no ferrite",
)
CATALOGUE.linear(
    "n_margin_lean_duplex_us9212412",
    "Room below the nitrogen that leaves nitride in the weld zone of lean duplex",
    "0.37 + 0.03*ni_balance - N",
    quantity="nitrogen margin, wt%",
    families=groups.DUPLEX,
    status="verified",
    source=("us9212412",),
    domain="nickel balance -7.1 to -4",
    ranges={"ni_balance": (-7.1, -4)},
    check=Check(AUSTENITIC, 0.201305),
    note=(
        "0.37 + 0.03 x nickel balance - N, at least 0; the nickel balance holds nitrogen too, so "
        "the claim is a condition on the whole steel and not a largest nitrogen"
    ),
)
