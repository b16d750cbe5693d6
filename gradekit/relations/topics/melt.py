"""The liquid steel: liquidus and solidus, nitrogen, hydrogen, carbon, titanium nitride."""

from gradekit.relations.declaration import Check, Percent
from gradekit.relations.topics._catalogue import CATALOGUE
from gradekit.relations.topics._checks import AUSTENITIC

_MELT = CATALOGUE.group(state="melt", status="memory")
_KELVIN = "temperature_K = temperature_C + 273.15; "
# log10 of the activity coefficient of nitrogen at 1873 K, shared by every form that uses this set.
_WITHOUT_TITANIUM = (
    "-0.048*Cr + 0.00035*Cr**2 - 0.023*Mn + 0.011*Ni + 0.000035*Ni**2 - 0.011*Mo "
    "+ 0.000079*Mo**2 + 0.047*Si + 0.13*C + 0.009*Cu - 0.1*V - 0.06*Nb - 0.003*W "
    "+ 0.045*P + 0.007*S - 0.028*Al + 0.011*Co + 0.094*B - 0.032*Ta"
)
_INTERACTION = _WITHOUT_TITANIUM + " - 0.53*Ti"

_MELT.function(
    "liquidus_aymard_1974",
    "Liquidus, Aymard-Detrez",
    "1538 - 1.5*Cr - 4.3*Ni - 4.8*Mn - 13*Si - 55*C - 30*P - 30*S - 80*C**2",
    source=("aymard_detrez_1974",),
    error=10.0,
    error_basis="as liquidus_aymard_extended, of steel without Mo, N, Cu",
    check=Check(AUSTENITIC, 1449.287),
    note="base set",
)
_MELT.function(
    "liquidus_aymard_extended",
    "Liquidus, Aymard-Detrez with minor elements",
    (
        "1538 - 1.5*Cr - 4.3*Ni - 2.5*Mo - 4.8*Mn - 13*Si - 55*C - 90*N - 5*Cu - 18*Ti - "
        "2*V - 1*W - 1.7*Co - 30*P - 30*S - 80*C**2"
    ),
    source=("aymard_detrez_1974", "roeser_wensel_1951"),
    domain="not stated; C <=0.5, where it meets the Fe-C diagram",
    ranges={"C": (None, 0.5)},
    error=10.0,
    error_basis=(
        "three measured anchors (304L 1434 C between solidus and liquidus, 316 1424 C, 316 up to "
        "1440 C), and within 3 C of the Roeser-Wensel form on 27 steels; 20 C above 0.3 C or 20 Ni"
    ),
    check=Check(AUSTENITIC, 1426.828),
    note=(
        "default; 304 1453, 316L 1443, 430 1498, 2205 1441, 1.4547 1384 C; at 1 C it reads 1403 C, "
        "the Fe-C diagram 1460 and liquidus_roeser_1951 1466; Sn 10 per wt% "
        "where known. Handbook upper ends are the lean limit of a whole specification, rounded to "
        "5-25 C, and too low for 316, 301, 321: no test of the form"
    ),
)
_MELT.function(
    "liquidus_kagawa_1986",
    "Liquidus, Kagawa-Okamoto",
    (
        "1536 - 1.59*Cr - 4.18*Ni - 5.82*Mn - 13.55*Si - 100.3*C - 4.2*Cu + 22.4*C**2 + "
        "0.64*Si**2 - 0.3*Mn**2 + 0.007*Cr**2 - 0.01*Ni**2"
    ),
    source=("kagawa_okamoto_1986",),
    domain="Mn <8",
    check=Check(AUSTENITIC, 1443.2),
    note="quadratic Mn term runs away: 1296 C at 18 Mn",
)
_MELT.linear(
    "liquidus_kawawa_1974",
    "Liquidus, Kawawa",
    "1536 - 1.3*Cr - 3.1*Ni - 4.9*Mn - 7.6*Si - 78*C - 4.7*Cu - 3.6*Al - 34.4*P - 38*S",
    source=("kawawa_1974",),
    check=Check(AUSTENITIC, 1462.421),
    note="reads 10-20 C high for Cr-Ni",
)
_MELT.linear(
    "liquidus_roeser_1951",
    "Liquidus, Roeser-Wensel",
    (
        "1536 - 1.5*Cr - 4*Ni - 2*Mo - 5*Mn - 8*Si - 70*C - 90*N - 5*Cu - 18*Ti - 2*V - W "
        "- 1.7*Co - 30*P - 25*S"
    ),
    source=("roeser_wensel_1951",),
    check=Check(AUSTENITIC, 1430.77),
    note=(
        "C coefficient 65-90 by carbon level; As 14, Sn 10, O 80, H 1300 per wt% where "
        "known; eight coefficients seen in a second, weak print, C 65 there, Al -3 "
        "besides"
    ),
)
_MELT.linear(
    "solidus_takeuchi_1985",
    "Solidus, Takeuchi-Brimacombe",
    "1536 - 1.4*Cr - 4.3*Ni - 6.8*Mn - 12.3*Si - 415.5*C - 4.1*Al - 124.5*P - 183.9*S",
    source=("takeuchi_brimacombe_1985",),
    domain="steel without Mo, N, Cu, Nb, Ti, which the form does not count",
    ranges={
        "Mo": (None, 0.5),
        "N": (None, 0.06),
        "Cu": (None, 1),
        "Nb": (None, 0.1),
        "Ti": (None, 0.1),
    },
    check=Check(AUSTENITIC, 1429.859),
    note=(
        "equilibrium-like; real slab solidus 20-50 C lower by segregation. Never subtract it from "
        "a liquidus that counts other elements"
    ),
)
# Slope of the liquidus over the partition coefficient (van 't Hoff): 2.5/0.75, 90/0.30, 5/0.75,
# 5/0.25, 18/0.35 for the first five.
_MELT.linear(
    "solidus_takeuchi_extended",
    "Solidus, Takeuchi-Brimacombe with minor elements",
    "solidus_takeuchi_1985 - 3.3*Mo - 300*N - 6.7*Cu - 20*Nb - 51*Ti - 2.2*V - 1.2*W",
    status="heuristic",
    source=("takeuchi_brimacombe_1985", "aymard_detrez_1974"),
    domain="not stated; C up to 0.2 (above, austenite freezes last); Si up to 2.5 (slope too flat)",
    ranges={"C": (None, 0.2), "Si": (None, 2.5)},
    error=33.0,
    error_basis="rmse against the lower ends of 14 handbook melting ranges, bias +1",
    check=Check(AUSTENITIC, 1369.2057),
    note=(
        "default; liquidus slopes over partition coefficients for what Takeuchi-Brimacombe does "
        "not count: 2205 1390, 1.4547 1327, 316 1395 C (measured 1401). With 0.5 C it reads 1328 C "
        "for iron, where the solidus of austenite is at 1436"
    ),
)
_SOLUBILITY = _MELT.function(
    "n_solubility_recommended",
    "Nitrogen in liquid steel, recommended set",
    _KELVIN + f"s = {_INTERACTION}; "
    "10**(0.5*log10(pN2_atm) - 518/temperature_K - 1.063 - (3280/temperature_K - 0.75)*s)",
    source=("ishii_1982a", "ishii_1982b", "chipman_corrigan_1965", "sigworth_elliott_1974"),
    domain="Cr <=30; Ni <=25; Mn <=26; C <=0.5; Si <=3; pN2 <=1 atm; 1773-1973 K",
    ranges={
        "Cr": (None, 30),
        "Ni": (None, 25),
        "Mn": (None, 26),
        "C": (None, 0.5),
        "Si": (None, 3),
        "pN2_atm": (None, 1),
        "temperature_C": (1499.85, 1699.85),
    },
    error=Percent(8.0),
    error_basis=(
        "relative %, sets with second-order terms against 43 liquid iron alloys (lecture "
        "notes); first-order sets 28 %"
    ),
    check=Check(AUSTENITIC, 0.287595, conditions={"temperature_C": 1599.85, "pN2_atm": 0.8}),
    note=(
        "constant and Mn, S, V, W terms verified; Cr, Ni, Mo, Si, C recalled but "
        "supported by independent facts. N self-term 0 at <= 1 atm. Check TiN before "
        "trusting a Ti-bearing result; 18Cr-8Ni at 1873 K: 0.207 in lecture notes, 0.210 "
        "here; e_Cr -0.047, r_Cr 0.0004, e_Ni 0.010 there"
    ),
)
_MELT.function(
    "n_solubility_wada_1977",
    "Nitrogen in liquid steel, Wada-Pehlke form",
    _KELVIN + f"s = {_INTERACTION}; "
    "10**(0.5*log10(pN2_atm) - 247/temperature_K - 1.22 "
    "- (4780/temperature_K - 1.51)*s - (1760/temperature_K - 0.91)*s**2)",
    source=("wada_pehlke_1977",),
    domain="as n_solubility_recommended",
    ranges=_SOLUBILITY.ranges,
    check=Check(AUSTENITIC, 0.2882698, conditions={"temperature_C": 1599.85, "pN2_atm": 0.8}),
    note="uses the interaction sum of n_solubility_recommended; within 3 % of it",
)
_MELT.function(
    "n_solubility_cross_terms",
    "Nitrogen in liquid steel, single polynomial (AOD practice)",
    _KELVIN
    + (
        "lf = (-164*Cr + 8.33*Ni - 33.2*Mo - 134*Mn + 1.68*Cr**2 - 1.83*Ni**2 - "
        "2.78*Mo**2 + 8.82*Mn**2 + (1.6*Ni + 1.2*Mo + 2.16*Mn)*Cr + (-0.26*Mo + "
        "0.09*Mn)*Ni)/temperature_K + 0.0415*Cr + 0.0019*Ni + 0.0064*Mo + 0.035*Mn - "
        "0.0006*Cr**2 + 0.001*Ni**2 + 0.0013*Mo**2 - 0.0056*Mn**2 + (-0.0009*Ni - "
        "0.0005*Mo - 0.0005*Mn)*Cr + (0.0003*Mo + 0.0007*Mn)*Ni + 0.13*C + 0.06*Si + "
        "0.046*P + 0.007*S + 0.01*Al - 0.9*Ti - 0.1*V - 0.003*W; 10**(0.5*log10(pN2_atm) "
        "- 518/temperature_K - 1.063 - lf)"
    ),
    source=("ishii_1982a", "balachandran_2001"),
    domain="Mn <=4",
    check=Check(AUSTENITIC, 0.3359146, conditions={"temperature_C": 1599.85, "pN2_atm": 0.8}),
    note=(
        "oxygen term -0.12O left out (O taken as 0). Within 6 % of n_solubility_recommended for "
        "Fe-Cr, 304, 316L, 430, S32101, S32205, S32750; runs away at high Mn (18Cr-18Mn "
        "1.25 against 0.63)"
    ),
)
_MELT.function(
    "pn2_needed_sieverts",
    "Nitrogen pressure for a wanted N (Sieverts)",
    "pN2_atm = 1; (N/n_solubility_recommended)**2",
    quantity="nitrogen pressure, atm",
    status="secondary",
    source=("pitkala_2023", *_SOLUBILITY.source),
    domain="as n_solubility_recommended; N is the wanted content",
    ranges={"value": (None, 1)} | {k: r for k, r in _SOLUBILITY.ranges.items() if k != "pN2_atm"},
    check=Check(AUSTENITIC, 0.1426673, conditions={"temperature_C": 1649.85}),
    note=(
        "Sieverts law verified in production AOD heats at 0.1-0.4 % N; uses "
        "n_solubility_recommended"
    ),
)
CATALOGUE.function(
    "n_castable_heuristic",
    "Largest nitrogen that casts without pores",
    "temperature_C = 1773 - 273.15; pN2_atm = 1; mode_factor*n_solubility_recommended",
    quantity="castable nitrogen, wt%",
    state="casting",
    status="heuristic",
    source=("ridolfi_tassa_2003", *_SOLUBILITY.source),
    check=Check(AUSTENITIC, 0.3571904, conditions={"mode_factor": 0.95}),
    note="not published; built on six published cases with and without pores",
)
_MELT.function(
    "c_eq_hilty_kaveney",
    "Carbon in equilibrium with Cr2O3, Hilty-Kaveney",
    _KELVIN + "Cr/10**(-13800/temperature_K + 8.76 - 0.925*log10(pCO_atm))",
    source=("hilty_kaveney",),
    check=Check(AUSTENITIC, 0.141869, conditions={"temperature_C": 1699.85, "pCO_atm": 0.4}),
    note="Ni ignored",
)
_MELT.function(
    "c_eq_hilty_kaveney_ni",
    "Carbon in equilibrium with Cr2O3, with nickel",
    _KELVIN + "Cr/10**(-13800/(temperature_K + 4.21*Ni) + 8.76 - 0.925*log10(pCO_atm))",
    source=("hilty_kaveney",),
    check=Check(AUSTENITIC, 0.1023418, conditions={"temperature_C": 1699.85, "pCO_atm": 0.4}),
    note="preferred at 1650-1750 C; below 1600 C all forms spread by a factor 2-3",
)
_MELT.function(
    "c_eq_hilty_1948",
    "Carbon in equilibrium with Cr2O3, older form",
    _KELVIN + "Cr*pCO_atm/10**(-15200/temperature_K + 9.46)",
    source=("hilty_1948",),
    domain="published at 1 atm; pCO scaling assumed proportional",
    check=Check(AUSTENITIC, 0.1354008, conditions={"temperature_C": 1699.85, "pCO_atm": 0.4}),
)
_MELT.function(
    "pco_eq_itoh_2000",
    "CO pressure in equilibrium with Cr, C and Cr2O3",
    _KELVIN
    + (
        "t = 1873/temperature_K; fc = t*(0.14*C - 0.024*Cr + 0.012*Ni + 0.08*Si - "
        "0.012*Mn - 0.0083*Mo + 0.016*Cu + 0.11*N + 0.046*S + 0.051*P - 0.06*Nb - "
        "0.077*V); fcr = t*(-0.12*C - 0.0003*Cr + 0.0002*Ni - 0.0043*Si + 0.0039*Mn + "
        "0.0018*Mo - 0.19*N); 10**((-32720/temperature_K + 22.109 + 3*(fc + log10(C)) - "
        "2*(fcr + log10(Cr)))/3)"
    ),
    quantity="equilibrium CO pressure, atm",
    source=("itoh_2000", "sigworth_elliott_1974"),
    domain="Cr <46; 1823-1923 K",
    ranges={"Cr": (None, 46), "temperature_C": (1549.85, 1649.85)},
    essential=("C", "Cr"),
    check=Check(AUSTENITIC, 0.1743329, conditions={"temperature_C": 1699.85}),
    note=(
        "Cr2O3 constant verified, C-O constant and interaction terms recalled. Solve for "
        "C at a given pCO; thermodynamic cross-check of the Hilty forms"
        "; above 1650 C outside its range; a published 0.28 C at 15Cr, 1800 C, 1 atm is "
        "more than twice every form"
    ),
)
_MELT.function(
    "h_solubility_1963",
    "Hydrogen in liquid steel",
    _KELVIN
    + (
        "10**(0.5*log10(pH2_atm) - 1905/temperature_K - 1.591 - (-0.0022*Cr - 0.0014*Mn + "
        "0.027*Si + 0.06*C + 0.0107*Al + 0.058*B + 0.0017*Ta))"
    ),
    quantity="hydrogen solubility, wt%",
    status="conflicting",
    source=("weinstein_elliott_1963", "tetsu_1974_h", "sigworth_elliott_1974"),
    domain="Al <10; B <2.5; Ta <25",
    check=Check(AUSTENITIC, 0.0003712909, conditions={"temperature_C": 1599.85, "pH2_atm": 0.02}),
    note=(
        "Al, B, Ta terms verified, the rest recalled; Ni and Mo zero. Keep H < 6 ppm; "
        "Nozaki 1966: e_C 0.019 at 1873 K, e_Si 0.031, e_Ni about -0.0016 (raises H: +4 % "
        "at 10Ni), e_P 0.015; pure iron -1900/T - 1.577"
    ),
)
_MELT.function(
    "tin_onset_inoue_1998",
    "Temperature where TiN forms in the melt",
    "13500/(4.46 - log10(Ti*N)) - 273.15",
    status="verified",
    source=("inoue_1998",),
    domain="liquid steel",
    essential=("Ti", "N"),
    check=Check(AUSTENITIC | {"N": 0.015, "Ti": 0.25}, 1687.358),
    note=(
        "log[Ti][N] = 4.46 - 13500/T; activity corrections left out, so it reads 100 to 200 C "
        "high in stainless steel, where chromium holds nitrogen: tin_onset_inoue_activities"
    ),
)
_ACTIVITIES = _MELT.group(
    source=("inoue_1998", *_SOLUBILITY.source),
    ranges={e: _SOLUBILITY.ranges[e] for e in ("Cr", "Ni", "Mn", "C", "Si")},
    essential=("Ti", "N", "Cr"),
)
# Titanium's own effect on nitrogen is in the measured product already.
_NITROGEN = f"s = {_WITHOUT_TITANIUM}"
_ACTIVITIES.function(
    "tin_onset_inoue_activities",
    "Temperature where TiN forms, nitrogen held by chromium counted",
    f"{_NITROGEN}; (13500 + 3280*s)/(4.46 + 0.75*s - log10(Ti*N)) - 273.15",
    domain="liquid stainless steel",
    check=Check(AUSTENITIC | {"N": 0.015, "Ti": 0.25}, 1474.258916),
    note=(
        "tin_onset_inoue_1998 with log f_N = (3280/T - 0.75) s of n_solubility_recommended; "
        "chromium holds nitrogen back. The activity coefficient of titanium is left at 1: recalled "
        "e_Ti(Cr) of 0.024 would raise the onset in 18Cr by about 130 C; a recalled industrial "
        "limit of Ti*N 0.0044 for 11Cr without titanium nitride would lower it by 70 C"
    ),
)
_ACTIVITIES.function(
    "n_max_tin_inoue_activities",
    "Largest nitrogen without TiN at a temperature of the melt",
    (f"{_NITROGEN}; {_KELVIN}10**(4.46 + 0.75*s - (13500 + 3280*s)/temperature_K)/Ti"),
    quantity="nitrogen limit, wt%",
    domain="liquid stainless steel; N is not used",
    check=Check(AUSTENITIC | {"Ti": 0.25}, 0.021751508, conditions={"temperature_C": 1520.0}),
    note="tin_onset_inoue_activities solved for nitrogen",
    essential=("Ti", "Cr"),
)
