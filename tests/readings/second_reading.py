"""The published relations read a second time, apart from the declarations of the package.

Every coefficient here was read apart from the declarations; nothing is imported from the package. A
test that compares the two readings finds a slip of either reader. Sums are typed as they are
printed ("-20.1 + 3 Cr - 2.79 Ni"), everything else is a plain scalar function of a full composition
(`full` makes one) and of conditions in the unit of the source. The algebra is the printed one:
floors and ceilings that a text asks for are not applied, except where the formula itself carries
them.
"""

import re
from collections.abc import Callable
from math import exp, log10, sqrt

ELEMENTS = "C N Si Mn P S Cr Ni Mo Cu Nb Ti V W Al Co Ta B".split()


def full(composition: dict[str, float]) -> dict[str, float]:
    """All elements in wt%, absent ones 0, and Fe as the balance."""
    contents = {element: composition.get(element, 0.0) for element in ELEMENTS}
    return contents | {"Fe": 100.0 - sum(contents.values())}


def linear(relation: str, composition: dict[str, float]) -> float:
    """Value of a linear form as read here."""
    row = LINEAR[relation]
    return row["intercept"] + sum(k * composition.get(e, 0.0) for e, k in row["terms"].items())


def _read(printed: str) -> tuple[float, dict[str, float]]:
    intercept, terms = 0.0, {}
    for sign, number, element in re.findall(r"([+-]?) ?([\d.]*) ?([A-Z][a-z]?)?", printed):
        if not number and not element:
            continue
        factor = float(number or 1) * (-1 if sign == "-" else 1)
        if element:
            assert element not in terms, f"{element} twice in {printed}"
            terms[element] = factor
        else:
            intercept += factor
    return intercept, terms


def _sum(printed: str, c: dict[str, float]) -> float:
    intercept, terms = _read(printed)
    return intercept + sum(factor * c[element] for element, factor in terms.items())


def _heat(printed: str) -> dict[str, float]:
    return {element: float(content) for element, content in map(str.split, printed.split(","))}


def _row(printed: str, composition: dict[str, float], value: float, unit: str, status: str) -> dict:
    intercept, terms = _read(printed)
    check = (composition, value)
    return dict(intercept=intercept, terms=terms, check=check, unit=unit, status=status)


# Compositions on which the rows are checked.
WELD = _heat(
    "C 0.037, N 0.113, Si 0.53, Mn 1.71, P 0.023, S 0.004, Cr 19.3, Ni 9.7, Mo 2.3, Cu 0.41, "
    "Nb 0.29, Ti 0.19, V 0.083, W 0.62, Al 0.071, Co 0.167, Ta 0.059, B 0.0031"
)
CR_MN = _heat(
    "C 0.06, N 0.21, Si 0.44, Mn 7.4, P 0.031, S 0.0035, Cr 16.9, Ni 1.6, Mo 0.13, Cu 2.7, "
    "Nb 0.012, Ti 0.008, V 0.07, W 0.02, Al 0.009, Co 0.05, Ta 0.004, B 0.0022"
)
DUPLEX = _heat(
    "C 0.021, N 0.172, Si 0.43, Mn 1.37, P 0.022, S 0.002, Cr 22.3, Ni 5.7, Mo 3.1, Cu 0.21, "
    "Nb 0.013, Ti 0.011, V 0.06, W 0.35, Al 0.017, Co 0.09, Ta 0.005, B 0.0027"
)
FERRITIC = _heat(
    "C 0.017, N 0.013, Si 0.47, Mn 0.39, P 0.024, S 0.003, Cr 17.6, Ni 0.23, Mo 1.15, Cu 0.11, "
    "Nb 0.33, Ti 0.21, V 0.07, W 0.08, Al 0.033, Co 0.027, Ta 0.006, B 0.0012"
)
MARTENSITIC = _heat(
    "C 0.118, N 0.031, Si 0.38, Mn 0.57, P 0.021, S 0.0045, Cr 12.3, Ni 1.9, Mo 0.84, Cu 0.15, "
    "Nb 0.047, Ti 0.009, V 0.22, W 0.41, Al 0.026, Co 0.33, Ta 0.008, B 0.0025"
)
NICKEL_BASE = _heat(
    "C 0.012, N 0.02, Si 0.06, Mn 0.4, P 0.008, S 0.001, Cr 21.6, Ni 60, Mo 9.1, Cu 0.1, "
    "Nb 3.5, Ti 0.19, V 0.03, W 3.1, Al 0.18, Co 0.3, Ta 0.05, B 0.002"
)
COLD_WORKED_316 = _heat("C 0.066, N 0.069, Si 0.42, Mn 1.67, Cr 16.87, Ni 12.34, Mo 2.49")
CASTING_65 = _heat("C 0.049, N 0.064, Si 0.48, Mn 0.5, Cr 20.78, Ni 9.63, Mo 2.57")
CF8M = _heat("C 0.049, N 0.041, Si 0.67, Mn 0.58, Cr 19.7, Ni 9.4, Mo 2.4")
CF8 = _heat("C 0.049, N 0.041, Si 1.07, Mn 0.58, Cr 20.2, Ni 8.4, Mo 0.31")
LEAN_18_8 = WELD | {"C": 0.04, "N": 0.03, "Cr": 17.3, "Ni": 8.1}
INCREMENT = _heat(
    "C 0.011, N 0.007, Si 0.13, Mn 0.21, Cr 0.6, Ni 0.34, Mo 0.45, Cu 0.05, V 0.09, Al 0.017, "
    "Co 0.26"
)
INCREMENT_AC1 = _heat("Si 0.13, Mn 0.21, Ni 0.34, Mo 0.45, V 0.09, Al 0.017, Co 0.26")
LOW_ALLOY = _heat("C 0.19, Si 0.31, Mn 0.72, Cr 1.9, Ni 1.2, Mo 0.3, W 0.4")
TYPE_430 = _heat(
    "C 0.045, N 0.032, Si 0.37, Mn 0.46, Cr 16.4, Ni 0.21, Mo 0.06, Cu 0.08, Nb 0.011, Ti 0.009, "
    "V 0.07, Al 0.005, B 0.0008"
)

LINEAR: dict[str, dict] = {
    "cr_eq_schaeffler_1949": _row("Cr + Mo + 1.5 Si + 0.5 Nb", WELD, 22.54, "wt%", "verified"),
    "ni_eq_schaeffler_1949": _row("Ni + 0.5 Mn + 30 C", WELD, 11.665, "wt%", "verified"),
    "cr_eq_schaeffler_ti": _row("Cr + Mo + 1.5 Si + 0.5 Nb + 2 Ti", WELD, 22.92, "wt%", "verified"),
    "cr_eq_jsme_short_a": _row("Cr + 0.8 Mo", WELD, 21.14, "wt%", "verified"),
    "cr_eq_jsme_short_b": _row("Cr + Mo + 0.3 Si", WELD, 21.759, "wt%", "verified"),
    "cr_eq_delong_1973": _row("Cr + Mo + 1.5 Si + 0.5 Nb", WELD, 22.54, "wt%", "verified"),
    "ni_eq_delong_1973": _row("Ni + 0.5 Mn + 30 C + 30 N", WELD, 15.055, "wt%", "verified"),
    "cr_eq_bn2": _row("Cr + Mo + 1.5 Si + 0.5 Nb + 2 Ti", WELD, 22.92, "wt%", "verified"),
    "ni_eq_bn2": _row("-0.6 + Ni + 0.5 Mn + 30 C + 30 N", WELD, 14.455, "wt%", "verified"),
    "cr_eq_lean_duplex_2003": _row(
        "Cr + Mo + 1.5 Si + 0.5 Nb + 2 Ti", WELD, 22.92, "wt%", "verified"
    ),
    "ni_eq_lean_duplex_2003": _row(
        "Ni + 0.5 Co + 0.5 Cu + 0.5 Mn + 30 C + 30 N", WELD, 15.3435, "wt%", "verified"
    ),
    "cr_eq_wrc_1988": _row("Cr + Mo + 0.7 Nb", WELD, 21.803, "wt%", "secondary"),
    "ni_eq_wrc_1988": _row("Ni + 35 C + 20 N", WELD, 13.255, "wt%", "secondary"),
    "cr_eq_wrc_1992": _row("Cr + Mo + 0.7 Nb", WELD, 21.803, "wt%", "verified"),
    "ni_eq_wrc_1992": _row("Ni + 0.25 Cu + 35 C + 20 N", WELD, 13.3575, "wt%", "verified"),
    "cr_eq_hammar_1979": _row(
        "Cr + 1.37 Mo + 1.5 Si + 2 Nb + 3 Ti", WELD, 24.396, "wt%", "verified"
    ),
    "ni_eq_hammar_1979": _row(
        "Ni + Cu + 0.31 Mn + 22 C + 14.2 N", WELD, 13.0587, "wt%", "verified"
    ),
    "cr_eq_schneider_1960": _row(
        "Cr + 1.5 Mo + 0.75 W + 2 Si + 1.75 Nb + 1.5 Ti + 5 V + 5.5 Al",
        WELD,
        25.873,
        "wt%",
        "verified",
    ),
    "ni_eq_schneider_1960": _row(
        "Ni + Co + 0.3 Cu + 0.5 Mn + 30 C + 25 N", WELD, 14.78, "wt%", "verified"
    ),
    "cr_eq_hull_1973": _row(
        "Cr + 1.21 Mo + 0.72 W + 0.48 Si + 0.14 Nb + 2.2 Ti + 2.27 V + 2.48 Al + 0.21 Ta",
        WELD,
        23.61928,
        "wt%",
        "memory",
    ),
    "cr_eq_hull_cass_1994": _row("-4.99 + Cr + 1.21 Mo + 0.48 Si", WELD, 17.3474, "wt%", "memory"),
    "cr_eq_schoefer_a800": _row("-4.99 + Cr + 1.4 Mo + 1.5 Si + Nb", WELD, 18.615, "wt%", "memory"),
    "ni_eq_schoefer_a800": _row("2.25 + Ni + 0.5 Mn + 30 C + 26 N", WELD, 16.853, "wt%", "memory"),
    "cr_eq_espy_1982": _row(
        "Cr + Mo + 1.5 Si + 0.5 Nb + 5 V + 3 Al", WELD, 23.168, "wt%", "memory"
    ),
    "ni_eq_kotecki_mn_1984": _row("0.35 + Ni + 30 C + 30 N", WELD, 14.55, "wt%", "memory"),
    "cr_eq_uggowitzer_1991": _row(
        "Cr + 1.5 Mo + 1.5 W + 0.48 Si + 1.75 Nb + 2.3 V + 2.5 Al",
        CR_MN,
        17.5407,
        "wt%",
        "secondary",
    ),
    "ni_eq_us6056917": _row(
        "Ni + 0.46 Cu + 0.08 Mn + 20.04 C + 21.31 N", CR_MN, 9.1115, "wt%", "verified"
    ),
    "cr_eq_duplex_annealed": _row("Cr + 0.88 Mo + 1.73 Si", DUPLEX, 25.7719, "wt%", "memory"),
    "ni_eq_duplex_annealed": _row(
        "Ni + 0.4 Cu + 24.55 C + 21.75 N", DUPLEX, 10.04055, "wt%", "memory"
    ),
    "ferrite_factor_kaltenhauser_1971": _row(
        "Cr + 4 Mo + 6 Si + 8 Ti + 2 Al - 4 Ni - 2 Mn - 40 C - 40 N",
        FERRITIC,
        23.866,
        "wt%",
        "memory",
    ),
    "cr_eq_balmforth_2000": _row("Cr + 2 Mo + 10 Ti + 10 Al", FERRITIC, 22.33, "wt%", "memory"),
    "ni_eq_balmforth_2000": _row("Ni + 35 C + 20 N", FERRITIC, 1.085, "wt%", "memory"),
    "cr_eq_9cr_p91": _row(
        "Cr + 4 Mo + 1.5 W + 6 Si + 5 Nb + 9 Ti + 11 V + 12 Al - 4 Ni - Cu - 2 Mn - 40 C - 30 N",
        MARTENSITIC,
        7.063,
        "wt%",
        "conflicting",
    ),
    "cr_eq_newhouse_1976": _row(
        "Cr + 4 Mo + 1.5 W + 6 Si + 5 Nb + 8 Ti + 11 V + 12 Al - 4 Ni - 2 Co - Cu "
        "- 2 Mn - 40 C - 30 N",
        MARTENSITIC,
        6.394,
        "wt%",
        "memory",
    ),
    "cr_eq_pryce_1960": _row("Cr + Mo + 3 Si", WELD, 23.19, "wt%", "memory"),
    "ni_eq_pryce_1960": _row("Ni + 0.5 Mn + 21 C + 11.5 N", WELD, 12.6315, "wt%", "memory"),
    "ni_eq_hirayama_1970": _row(
        "0.65 Cr + 0.98 Mo + 0.35 Si + Ni + 1.05 Mn + 12.6 C",
        COLD_WORKED_316,
        28.48,
        "wt%",
        "verified",
    ),
    "ferrite_seferian_1959": _row(
        "-20.1 + 3 Cr + 3 Mo + 4.5 Si + 1.5 Nb - 2.79 Ni - 1.395 Mn - 83.7 C",
        WELD,
        14.97465,
        "%",
        "memory",
    ),
    "ferrite_delta_cal_slab": _row(
        "-19.8 + 3 Cr + 3 Mo + 4.5 Si - 2.8 Ni - 1.4 Cu - 1.4 Mn - 84 C - 84 N",
        WELD,
        4.657,
        "%",
        "memory",
    ),
    "fn_delong_linear": _row(
        "-28.6 + 3.34 Cr + 3.34 Mo + 5.01 Si + 1.67 Nb - 2.46 Ni - 1.23 Mn - 73.8 C - 73.8 N",
        WELD,
        9.6483,
        "FN",
        "memory",
    ),
    "ni_balance": _row(
        "8.2 - 1.1 Cr - 1.1 Mo - 1.1 W - 1.65 Si + Ni + 0.5 Cu + 0.5 Mn + 30 C + 30 N",
        WELD,
        -1.8565,
        "wt%",
        "verified",
    ),
    "bn2_margin": _row(
        "-7.154 + Cr + Mo + 1.5 Si + 0.5 Nb + 2 Ti - 0.91 Ni - 0.455 Mn - 27.3 C - 27.3 N",
        WELD,
        2.06595,
        "wt%",
        "verified",
    ),
    "ferrite_increment_irvine_12cr": _row(
        "14 Cr + 5 Mo + 6 Si + 18 V + 54 Al - 20 Ni - 7 Co - 7 Cu - 6 Mn - 210 C - 220 N",
        INCREMENT,
        -0.112,
        "%",
        "memory",
    ),
    "ferrite_increment_irvine_17cr": _row(
        "15 Cr + 11 Mo + 8 W + 8 Si + 19 V + 38 Al - 10 Ni - 6 Co - 3 Cu - Mn - 180 C - 200 N",
        INCREMENT | {"W": 0.31},
        11.126,
        "%",
        "memory",
    ),
    "austenite_max_17cr": _row(
        "189 - 11.5 Cr - 12 Mo - 11.5 Si - 47 Nb - 49 Ti - 23 V - 52 Al + 23 Ni + 9 Cu "
        "+ 7 Mn + 420 C + 470 N",
        MARTENSITIC,
        137.208,
        "%",
        "memory",
    ),
    "pren_16n": _row("Cr + 3.3 Mo + 16 N", DUPLEX, 35.282, "1", "verified"),
    "pren_16n_w": _row("Cr + 3.3 Mo + 1.65 W + 16 N", DUPLEX, 35.8595, "1", "verified"),
    "pre_ferritic": _row("Cr + 3.3 Mo + 1.65 W", FERRITIC, 21.527, "1", "verified"),
    "pren_27n": _row("Cr + 3.3 Mo + 27 N", WELD, 29.941, "1", "verified"),
    "pren_30n": _row("Cr + 3.3 Mo + 30 N", DUPLEX, 37.69, "1", "verified"),
    "pren_13n": _row("Cr + 3.3 Mo + 13 N", WELD, 28.359, "1", "secondary"),
    "pren_30n_w": _row("Cr + 3.3 Mo + 1.65 W + 30 N", DUPLEX, 38.2675, "1", "memory"),
    "pren_mn_rondelli_1995": _row("Cr + 3.3 Mo - Mn + 30 N", CR_MN, 16.229, "1", "memory"),
    "marc_speidel_2003": _row(
        "Cr + 3.3 Mo - 0.25 Ni - 0.5 Mn + 20 C + 20 N", CR_MN, 18.629, "1", "memory"
    ),
    "pren_sp": _row("Cr + 3.3 Mo + 30 N - 123 P - 123 S", WELD, 26.959, "1", "memory"),
    "pren_ni_base": _row("Cr + 1.5 Mo + 1.5 W + 1.5 Nb + 30 N", NICKEL_BASE, 45.75, "1", "memory"),
    "cpt_g48": _row("-41 + 2.5 Cr + 7.6 Mo + 31.9 N", DUPLEX, 43.7968, "C", "memory"),
    "cct_g48": _row("-81 + 3.2 Cr + 7.6 Mo + 10.5 N", DUPLEX, 15.726, "C", "memory"),
    "cct_g48_ni_base": _row(
        "-36.2 + 1.5 Cr + 1.9 Mo + 8.6 W + 4.9 Nb", NICKEL_BASE, 57.3, "C", "memory"
    ),
    "cpt_brigham_1974": _row("5 + 7 Mo", WELD, 21.1, "C", "memory"),
    "cpt_brigham_refit": _row("6.8 + 7.95 Mo", WELD, 25.085, "C", "computed-from-data"),
    "cct_brigham_1974": _row("-45 + 11 Mo", WELD, -19.7, "C", "memory"),
    "cct_brigham_refit": _row("-40.7 + 10.9 Mo", WELD, -15.63, "C", "computed-from-data"),
    "cpt_fit_mo_n_mn_si": _row(
        "12.7 + 7.3 Mo + 5.8 Si - 7.3 Mn + 17.6 N", WELD, 22.0698, "C", "computed-from-data"
    ),
    "cpt_fit_pren16w_fecl3": _row(
        "-47.3 + 2.551 Cr + 8.4183 Mo + 4.20915 W + 40.816 N",
        DUPLEX,
        44.17758,
        "C",
        "computed-from-data",
    ),
    "cpt_fit_pren30w_fecl3": _row(
        "-41.2 + 2.258 Cr + 7.4514 Mo + 3.7257 W + 67.74 N",
        DUPLEX,
        45.20802,
        "C",
        "computed-from-data",
    ),
    "cpt_fit_nacl_sun": _row(
        "-99 + 4.38 Cr + 14.454 Mo + 70.08 N", WELD, 26.69724, "C", "computed-from-data"
    ),
    "cpt_fit_g150_typical": _row(
        "-69 + 3.53 Cr + 11.649 Mo + 56.48 N", DUPLEX, 55.54546, "C", "computed-from-data"
    ),
    "cr_eff_fullman_1982": _row(
        "Cr + 1.45 Mo - 0.22 W - 0.22 Si + 0.61 Ti + 0.34 V - 0.51 Al - 0.19 Ni "
        "- 0.2 Co + 0.01 Cu + 0.13 Mn - 100 C + 9.2 N",
        WELD,
        18.17951,
        "wt%",
        "memory",
    ),
    "c_eff_cihal_1984": _row("-0.02 + 0.002 Ni + C", WELD, 0.0364, "wt%", "memory"),
    "stabilisation_margin_us4119765": _row(
        "0.125 Nb + 0.1666666667 Ti - C - N", FERRITIC, 0.04625, "wt%", "verified"
    ),
    "sigma_eq_hull_1973": _row(
        "Cr + 1.76 Mo + 0.97 W + 1.58 Si + 1.7 Nb + 2.44 Ti + 2.02 V + 1.22 Ta "
        "- 0.266 Ni - 0.177 Co + 0.31 Mn",
        WELD,
        23.90338,
        "wt%",
        "memory",
    ),
    "sigma_solvus_rechsteiner_1994": _row(
        "447 + 26.4 Cr + 50.9 Mo + 92.2 Si - 9.2 Ni + 6.7 Mn - 17.9 C - 230.4 N",
        WELD,
        1017.976,
        "C",
        "conflicting",
    ),
    "md30_angel_1954": _row(
        "413 - 13.7 Cr - 18.5 Mo - 9.2 Si - 9.5 Ni - 8.1 Mn - 462 C - 462 N",
        COLD_WORKED_316,
        -61.2,
        "C",
        "verified",
    ),
    "md30_gladman_1974": _row(
        "497 - 13.7 Cr - 18.5 Mo - 9.2 Si - 20 Ni - 8.1 Mn - 462 C - 462 N",
        WELD,
        -91.987,
        "C",
        "memory",
    ),
    "md30_sjoberg_1973": _row(
        "608 - 13 Cr - 6.5 Mo - 7.8 Si - 34 Ni - 12 Mn - 515 C - 821 N",
        WELD,
        -124.132,
        "C",
        "memory",
    ),
    "ms_eichelman_1953": _row(
        "1305 - 41.7 Cr - 27.8 Si - 61.1 Ni - 33.3 Mn - 1667 C - 1667 N",
        LEAN_18_8,
        -99.687,
        "C",
        "conflicting",
    ),
    "ms_monkman_1957": _row(
        "1182 - 36.7 Cr - 56.7 Ni - 1456 C - 1456 N", LEAN_18_8, -14.1, "C", "memory"
    ),
    "ms_pickering_1978": _row(
        "502 - 12 Cr - 46 Mo - 30 Ni - 54 Cu - 13 Mn - 810 C - 1230 N",
        MARTENSITIC | {"C": 0.06, "Cr": 16.6, "Ni": 4.3},
        32.92,
        "C",
        "memory",
    ),
    "ms_gooch_1982": _row(
        "540 - 10.8 Cr - 46.6 Mo - 36.3 Ni - 6.3 Mn - 497 C", MARTENSITIC, 236.809, "C", "memory"
    ),
    "ms_andrews_1965": _row(
        "539 - 12.1 Cr - 7.5 Mo - 17.7 Ni - 30.4 Mn - 423 C", MARTENSITIC, 282.998, "C", "verified"
    ),
    "ms_steven_haynes_1956": _row(
        "561 - 17 Cr - 21 Mo - 17 Ni - 33 Mn - 474 C", MARTENSITIC, 227.218, "C", "memory"
    ),
    "sfe_schramm_1975": _row(
        "-53 + 0.7 Cr + 9.3 Mo + 6.2 Ni + 3.2 Mn", WELD, 47.512, "mJ/m2", "memory"
    ),
    "sfe_rhodes_1977": _row(
        "1.2 + 0.6 Cr - 44.7 Si + 1.4 Ni + 17.7 Mn", WELD, 32.936, "mJ/m2", "memory"
    ),
    "sfe_brofman_1978": _row("16.7 - 0.9 Cr + 2.1 Ni + 26 C", WELD, 20.662, "mJ/m2", "memory"),
    "sfe_pickering_1985": _row(
        "25.7 - 0.9 Cr - 13 Si + 2 Ni - 1.2 Mn + 410 C - 77 N", WELD, 25.257, "mJ/m2", "memory"
    ),
    "sfe_yonezawa_2013": _row(
        "-7.1 + 0.49 Cr + 2 Mo - 2 Si + 2.8 Ni + 0.75 Mn - 5.7 C - 24 N",
        WELD,
        31.4166,
        "mJ/m2",
        "memory",
    ),
    "sfe_ojima_2009": _row("5.53 - 0.16 Cr + 1.4 Ni + 17.1 N", WELD, 17.9543, "mJ/m2", "memory"),
    "ac1_tricot_1966_linear": _row(
        "310 + 35 Cr + 60 Mo + 73 Si + 170 Nb + 620 Ti + 290 V + 750 Al - 115 Ni "
        "- 18 Cu - 66 Mn - 250 C - 280 N + 1400 B",
        TYPE_430,
        871.07,
        "C",
        "conflicting",
    ),
    "ac1_increment_irvine_1960": _row(
        "25 Mo + 25 Si + 50 V + 30 Al - 30 Ni - 5 Co - 25 Mn", INCREMENT_AC1, 2.76, "C", "memory"
    ),
    "ac1_andrews_1965": _row(
        "723 + 16.9 Cr + 6.38 W + 29.1 Si - 16.9 Ni - 10.7 Mn", LOW_ALLOY, 738.699, "C", "verified"
    ),
    "ac1_gooch_soft": _row(
        "650 + 20 Cr + 25 Mo + 25 Si - 50 Ni - 25 Mn - 1500 C - 1500 N",
        MARTENSITIC | {"C": 0.019, "N": 0.013, "Ni": 4.6},
        634.25,
        "C",
        "memory",
    ),
    "neel_warnes_1976": _row(
        "90 - 1.25 Cr - 5.5 Mo - 14 Si - 2.75 Ni + 7.75 Mn", WELD, 32.3825, "K", "memory"
    ),
    "lattice_dyson_1970": _row(
        "3.578 + 0.0006 Cr + 0.0031 Mo + 0.0018 W + 0.0051 Nb + 0.0039 Ti + 0.0018 V "
        "+ 0.0056 Al - 0.0002 Ni - 0.0004 Co + 0.0015 Cu + 0.00095 Mn + 0.033 C + 0.022 N",
        WELD,
        3.604533,
        "angstrom",
        "memory",
    ),
    "liquidus_kawawa_1974": _row(
        "1536 - 1.3 Cr - 7.6 Si - 3.6 Al - 3.1 Ni - 4.7 Cu - 4.9 Mn - 78 C - 34.4 P - 38 S",
        WELD,
        1462.421,
        "C",
        "memory",
    ),
    "liquidus_roeser_1951": _row(
        "1536 - 1.5 Cr - 2 Mo - W - 8 Si - 18 Ti - 2 V - 4 Ni - 1.7 Co - 5 Cu - 5 Mn "
        "- 70 C - 90 N - 30 P - 25 S",
        WELD,
        1430.77,
        "C",
        "memory",
    ),
    "solidus_takeuchi_1985": _row(
        "1536 - 1.4 Cr - 12.3 Si - 4.1 Al - 4.3 Ni - 6.8 Mn - 415.5 C - 124.5 P - 183.9 S",
        WELD,
        1429.859,
        "C",
        "memory",
    ),
    # Takeuchi-Brimacombe less the liquidus slopes divided by k: Mo 2.5/0.75, N 90/0.30, Cu 5/0.75,
    # Nb 5/0.25, Ti 18/0.35; V and W as given.
    "solidus_takeuchi_extended": _row(
        "1536 - 1.4 Cr - 12.3 Si - 4.1 Al - 4.3 Ni - 6.8 Mn - 415.5 C - 124.5 P - 183.9 S "
        "- 3.3 Mo - 300 N - 6.7 Cu - 20 Nb - 51 Ti - 2.2 V - 1.2 W",
        WELD,
        1369.2057,
        "C",
        "heuristic",
    ),
    "ni_min_binder_1950": _row("-11.1 + 1.3 Cr - 30 C - 26 N", WELD, 9.942, "wt%", "secondary"),
    "n_margin_lean_duplex_us9212412": _row(
        "0.616 - 0.033 Cr - 0.033 Mo - 0.033 W - 0.0495 Si + 0.03 Ni + 0.015 Cu "
        "+ 0.015 Mn + 0.9 C - 0.1 N",
        WELD,
        0.201305,
        "wt%",
        "verified",
    ),
}

FUNCTIONS: dict[str, Callable[..., float]] = {}
FUNCTION_CHECKS: dict[str, tuple[dict[str, float], dict[str, float], float]] = {}
FUNCTION_UNITS: dict[str, str] = {}
FUNCTION_STATUS: dict[str, str] = {}


def _reading(
    composition: dict[str, float], value: float, unit: str, status: str, **conditions: float
) -> Callable:
    def register(function: Callable[..., float]) -> Callable[..., float]:
        name = function.__name__
        FUNCTIONS[name] = function
        FUNCTION_CHECKS[name] = (composition, conditions, value)
        FUNCTION_UNITS[name] = unit
        FUNCTION_STATUS[name] = status
        return function

    return register


# Equivalents and their ratios


@_reading(WELD, 13.09752, "wt%", "memory")
def ni_eq_hull_1973(c):
    return _sum("Ni + 0.44 Cu + 0.41 Co + 24.5 C + 18.4 N + 0.11 Mn", c) - 0.0086 * c["Mn"] ** 2


@_reading(WELD, 15.61865, "wt%", "memory")
def ni_eq_hull_cass_1994(c):
    return _sum("2.77 + Ni + 24.5 C + 18.4 N + 0.11 Mn", c) - 0.0086 * c["Mn"] ** 2


@_reading(WELD, 13.8553, "wt%", "memory")
def ni_eq_espy_1982(c):
    slope = 30 if c["N"] <= 0.20 else 22 if c["N"] <= 0.25 else 20
    return _sum("0.87 + Ni + 0.33 Cu + 30 C", c) + slope * (c["N"] - 0.045)


@_reading(WELD | {"N": 0.263}, 17.4397, "wt%", "heuristic")
def ni_eq_espy_smooth(c):
    share = min(max((c["N"] - 0.20) / (0.35 - 0.20), 0), 1)
    slope = 30 + share * (20 - 30)
    return _sum("0.87 + Ni + 0.33 Cu + 30 C", c) + slope * (c["N"] - 0.045)


@_reading(CR_MN, 7.4224, "wt%", "memory")
def ni_eq_uggowitzer_1991(c):
    return _sum("Ni + Co + 30 C + 18 N + 0.1 Mn", c) - 0.01 * c["Mn"] ** 2


@_reading(WELD, 1.932276, "1", "verified")
def cr_ni_ratio_schaeffler(c):
    return _sum("Cr + Mo + 1.5 Si + 0.5 Nb", c) / _sum("Ni + 30 C + 0.5 Mn", c)


def _hammar(c):
    chromium = _sum("Cr + 1.37 Mo + 1.5 Si + 2 Nb + 3 Ti", c)
    nickel = _sum("Ni + 0.31 Mn + 22 C + 14.2 N + Cu", c)
    return chromium, nickel


@_reading(WELD, 1.86818, "1", "verified")
def cr_ni_ratio_hammar(c):
    chromium, nickel = _hammar(c)
    return chromium / nickel


@_reading(WELD, 1.104551, "1", "memory")
def cr_ni_ratio_schoefer_a800(c):
    chromium = _sum("Cr + 1.5 Si + 1.4 Mo + Nb - 4.99", c)
    nickel = _sum("Ni + 30 C + 0.5 Mn + 2.77", c) + 26 * (c["N"] - 0.02)
    return chromium / nickel


@_reading(WELD, 1.110685, "1", "memory")
def cr_ni_ratio_hull_cass(c):
    return _sum("Cr + 1.21 Mo + 0.48 Si - 4.99", c) / ni_eq_hull_cass_1994(c)


@_reading(WELD | {"C": 0.31, "Cr": 25.3, "Ni": 12.4}, 1.640323, "1", "memory")
def sigma_ratio_cast_25_12(c):
    return (c["Cr"] - 16 * c["C"]) / c["Ni"]


@_reading(WELD, 13.4802, "wt%", "secondary")
def ni_min_post_eberly_1947(c):
    return (c["Cr"] + 1.5 * c["Mo"] - 20) ** 2 / 12 - c["Mn"] / 2 - 35 * c["C"] + 15


# Ferrite and martensite


def _slab(c, copper):
    ferrite_side = _sum("Cr + Mo + 1.5 Si + 18", c)
    austenite_side = _sum("Ni + 30 C + 30 N + 0.5 Mn + 36", c) + copper * c["Cu"]
    return 161 * (ferrite_side / austenite_side + 0.262) - 161


@_reading(WELD, 8.566096, "%", "conflicting")
def ferrite_slab_ratio(c):
    return _slab(c, copper=0)


@_reading(WELD, 8.036366, "%", "conflicting")
def ferrite_slab_ratio_cu(c):
    return _slab(c, copper=0.52)


@_reading(WELD | {"Ni": 10.7, "Nb": 0.021, "Ti": 0.013}, 13.35941, "FN", "verified")
def fn_valiente_2012(c):
    chromium, nickel = _hammar(c)
    s = (chromium + nickel) / 100
    r = chromium / nickel
    return 54.22 - 126.26 * s + (-48.11 + 37.14 * s) * r + (-0.23 + 61.95 * s) * r**2


@_reading(CASTING_65, 20.9, "%", "memory")
def ferrite_hull_cass_1994(c):
    r = max(cr_ni_ratio_hull_cass(c), 0.9)
    return 100.3 * r**2 - 170.72 * r + 74.22


@_reading(WELD, 8.400172, "%", "computed-from-data")
def ferrite_a800_fit(c):
    r = cr_ni_ratio_schoefer_a800(c)
    return 40.77 * r**2 - 38.36 * r + 1.03


@_reading(DUPLEX, 43.46824, "%", "memory", temperature_C=1080.0)
def ferrite_duplex_annealed(c, *, temperature_C):
    ferrite_side = _sum("4.01 Cr + 6.9373 Si + 3.5288 Mo", c)
    austenite_side = _sum("5.6 Ni + 137.48 C + 121.8 N + 2.24 Cu", c)
    return -20.93 + ferrite_side - austenite_side + 0.016 * temperature_C


@_reading(DUPLEX, 50.58824, "%", "heuristic", temperature_C=1080.0)
def ferrite_duplex_anchored(c, *, temperature_C):
    at_1050 = ferrite_duplex_annealed(c, temperature_C=1050) + 5.5
    return min(max(at_1050 + 0.07 * (temperature_C - 1050), 0), 100)


@_reading(CR_MN, 3.474241, "%", "verified")
def ferrite_index_fi1_us6056917(c):
    nickel = _sum("Ni + 20.04 C + 21.31 N + 0.46 Cu + 0.08 Mn", c)
    x = 6.903 * (-6.998 + c["Cr"] - 0.972 * nickel)
    return 0.034 * x**2 + 0.284 * x - 0.347


@_reading(CR_MN, -2.073536, "1", "verified")
def martensite_index_si_us6056917(c):
    x = _sum("250.4 - 205.4 C - 101.4 N - 7.6 Mn - 12.1 Ni - 6.1 Cr - 13.3 Cu", c)
    return 0.0267 * x**2 + 0.4332 * x - 3.1459


@_reading({"Cr": 22.0, "Ni": 9.0, "Mo": 3.0}, 71.070593, "FN", "secondary", ferrite_vol_pct=50.0)
def fn_from_vol_pct_2003(c, *, ferrite_vol_pct):
    percent = -0.025813 * c["Fe"] ** 2 + 5.408679 * c["Fe"] - 102.3902
    return ferrite_vol_pct * percent / 100


# Corrosion


@_reading(WELD, 30.0413, "1", "memory")
def pren_jargelius_1998(c):
    return _sum("Cr + 3.3 Mo + 36 N - 1.6 Mn", c) + 7 * c["Mo"] * c["N"]


@_reading(WELD, 53.69699, "C", "computed-from-data")
def cpt_fit_jargelius(c):
    return _sum("34.2 + 41.5 N - 1.8 Mn + 7.2 Mo", c) + 5.1 * c["Mo"] * c["N"]


@_reading(DUPLEX, 530.0639, "mV SCE", "computed-from-data", temperature_C=41.0, chloride_M=0.27)
def epit_fit_pren_t_cl(c, *, temperature_C, chloride_M):
    alloy = _sum("-140 + 19.6 Cr + 64.68 Mo + 32.34 W + 313.6 N", c)
    return alloy - 2.45 * temperature_C - 119 * log10(chloride_M)


@_reading(DUPLEX, 558.7799, "mV SCE", "computed-from-data", temperature_C=41.0, chloride_M=0.27)
def epit_fit_elements(c, *, temperature_C, chloride_M):
    alloy = _sum("-125 + 23.4 Cr + 60.4 Mo + 466 N - 25.4 Mn", c)
    return alloy - 3.29 * temperature_C - 113 * log10(chloride_M)


# Strength. Irvine's proof form is read from the bracket in the note, not from the products.


def _irvine_proof(c, constant, grain_size_um, delta_ferrite_pct):
    interstitial = _sum("23 C + 32 N", c)
    substitutional = _sum(
        "1.3 Si + 0.24 Cr + 0.94 Mo + 1.2 V + 0.29 W + 2.6 Nb + 1.7 Ti + 0.82 Al", c
    )
    structure = 0.16 * delta_ferrite_pct + 0.46 * (grain_size_um / 1000) ** -0.5
    return 15.4 * (constant + interstitial + substitutional + structure)


@_reading(WELD, 314.3614, "MPa", "conflicting", grain_size_um=45.0, delta_ferrite_pct=3.0)
def yield_irvine_1969(c, *, grain_size_um, delta_ferrite_pct):
    return _irvine_proof(c, 4.4, grain_size_um, delta_ferrite_pct)


@_reading(WELD, 309.7414, "MPa", "conflicting", grain_size_um=45.0, delta_ferrite_pct=3.0)
def yield_irvine_1969_const41(c, *, grain_size_um, delta_ferrite_pct):
    return _irvine_proof(c, 4.1, grain_size_um, delta_ferrite_pct)


@_reading(WELD, 752.5745, "MPa", "memory", twin_spacing_um=30.0, delta_ferrite_pct=3.0)
def uts_irvine_1969(c, *, twin_spacing_um, delta_ferrite_pct):
    alloy = _sum(
        "446.6 + 539 C + 847 N + 36.96 Si + 1.694 Ni + 18.48 Mo + 77 Nb + 46.2 Ti + 18.48 Al", c
    )
    return alloy + 2.156 * delta_ferrite_pct + 12.628 * (twin_spacing_um / 1000) ** -0.5


def _nordberg_proof(c, constant, grain_size_um, delta_ferrite_pct):
    nitrogen = c["N"] + 0.02
    solution = 210 * sqrt(nitrogen) + _sum("2 Mn + 2 Cr + 14 Mo + 10 Cu", c)
    ferrite = 6.15 * delta_ferrite_pct - 0.054 * delta_ferrite_pct**2
    return constant + solution + ferrite + (7 + 35 * nitrogen) / sqrt(grain_size_um / 1000)


@_reading(DUPLEX, 606.4565, "MPa", "memory", grain_size_um=11.0, delta_ferrite_pct=48.0)
def yield_nordberg_2004(c, *, grain_size_um, delta_ferrite_pct):
    return _nordberg_proof(c, 120, grain_size_um, delta_ferrite_pct)


@_reading(DUPLEX, 646.4565, "MPa", "memory", grain_size_um=11.0, delta_ferrite_pct=48.0)
def proof1_nordberg_2004(c, *, grain_size_um, delta_ferrite_pct):
    return _nordberg_proof(c, 160, grain_size_um, delta_ferrite_pct)


@_reading(DUPLEX, 776.877, "MPa", "memory", grain_size_um=11.0, delta_ferrite_pct=48.0)
def uts_nordberg_2004(c, *, grain_size_um, delta_ferrite_pct):
    solution = 600 * (c["N"] + 0.02) + 14 * c["Mo"]
    return 470 + solution + 1.5 * delta_ferrite_pct + 8 / sqrt(grain_size_um / 1000)


@_reading(FERRITIC, 217.25, "MPa", "memory", free_N=0.004, grain_size_um=38.0)
def yield_ferrite_pickering_1963(c, *, free_N, grain_size_um):
    solution = _sum("53.9 + 83.2 Si + 32.3 Mn", c) + 354 * sqrt(free_N)
    return solution + 17.4 / sqrt(grain_size_um / 1000)


# Stability of austenite, transformation temperatures, physical properties


@_reading(WELD, -156.187, "C", "verified", grain_size_astm=7.5)
def md30_nohara_1977(c, *, grain_size_astm):
    alloy = _sum(
        "551 - 462 C - 462 N - 9.2 Si - 8.1 Mn - 13.7 Cr - 29 Ni - 29 Cu - 18.5 Mo - 68 Nb", c
    )
    return alloy - 1.42 * (grain_size_astm - 8)


@_reading(MARTENSITIC, 254.3868, "C", "memory")
def ms_self_1984(c):
    alone = _sum("526 - 354 C - 31.7 Si - 29.7 Mn - 12.5 Cr - 17.4 Ni - 20.8 Mo", c)
    return alone - 1.34 * c["Cr"] * c["Ni"] + 22.4 * (c["Cr"] + c["Mo"]) * c["C"]


@_reading(MARTENSITIC, 278.6153, "C", "memory")
def ms_finkler_1996(c):
    nitrogen = 0.86 * (c["N"] - 0.15 * c["Nb"])  # 0.86 is 12/14: nitrogen as carbon
    free = max(c["C"] + nitrogen - 0.066 * c["Ta"], 0)
    return _sum("635 - 17 Cr - 21 Mo - 11 W - 39 V - 17 Ni - 33 Mn", c) - 474 * free


@_reading(WELD, 59.66302, "mJ/m2", "memory")
def sfe_dai_2002(c):
    interstitial = c["C"] + 1.2 * c["N"]
    alone = _sum("39 + 1.59 Ni - 1.34 Mn - 1.75 Cr + 15.21 Mo - 5.59 Si", c)
    squares = 0.06 * c["Mn"] ** 2 + 0.01 * c["Cr"] ** 2
    roots = -60.69 * sqrt(interstitial) + 0.61 * sqrt(c["Ni"] * (c["Cr"] + c["Mn"]))
    mixed = 26.27 * interstitial * sqrt(c["Cr"] + c["Mn"] + c["Mo"])
    return alone + squares + roots + mixed


@_reading(MARTENSITIC | {"Ni": 0.6}, 950.756, "C", "conflicting")
def ac1_tricot_1966_quadratic(c):
    raising = _sum("35 Cr + 60 Mo + 73 Nb + 170 Si + 290 Ti + 620 V + 750 Al + 1400 B", c)
    lowering = _sum("250 C + 280 N + 115 Ni + 66 Mn + 18 Cu", c)
    return 310 + raising - lowering + 3.5 * (c["Cr"] - 17) ** 2


@_reading(WELD, 7.92942, "g/cm3", "memory")
def density_dyson_1970(c):
    edge = _sum(
        "3.578 + 0.033 C + 0.022 N + 0.00095 Mn + 0.0006 Cr - 0.0002 Ni + 0.0031 Mo + 0.0015 Cu "
        "+ 0.0051 Nb + 0.0039 Ti + 0.0018 V + 0.0018 W + 0.0056 Al - 0.0004 Co",
        c,
    )
    # C, N and B sit between the sites: their mass counts in the balance, their number does not.
    molar_mass = _heat(
        "Fe 55.845, Cr 51.996, Ni 58.693, Mn 54.938, Mo 95.95, Si 28.085, Cu 63.546, Nb 92.906, "
        "Ti 47.867, V 50.942, W 183.84, Al 26.982, Co 58.933, P 30.974, S 32.06, Ta 180.948"
    )
    moles = sum(c[element] / mass for element, mass in molar_mass.items())
    return 400 / (moles * 0.602214 * edge**3)


# Ageing of castings


@_reading(CF8M, 20.76993, "1", "memory", delta_ferrite_pct=14.0)
def phi_cass_cf8m(c, *, delta_ferrite_pct):
    return delta_ferrite_pct * _sum("Ni + Si + Mn", c) ** 2 * _sum("C + 0.4 N", c) / 5


@_reading(CF8, 19.47481, "1", "memory", delta_ferrite_pct=14.0)
def phi_cass_cf8(c, *, delta_ferrite_pct):
    return delta_ferrite_pct * _sum("Cr + Si", c) * _sum("C + 0.4 N", c)


@_reading(CF8M, 1.919896, "log10 J/cm2", "memory", delta_ferrite_pct=14.0)
def log_cvsat_cass_cf8m(c, *, delta_ferrite_pct):
    phi = phi_cass_cf8m(c, delta_ferrite_pct=delta_ferrite_pct)
    factor, decay = (2.12, 0.041) if c["Ni"] < 10 else (2.64, 0.064)
    from_ageing = 1.10 + factor * exp(-decay * phi)
    alloy = _sum("7.28 - 0.185 Cr - 0.369 Mo - 0.451 Si - 0.007 Ni", c)
    from_alloy = alloy - 0.011 * delta_ferrite_pct - 4.71 * _sum("C + 0.4 N", c)
    return min(from_ageing, from_alloy)


@_reading(CF8, 1.837885, "log10 J/cm2", "memory", delta_ferrite_pct=14.0)
def log_cvsat_cass_cf8(c, *, delta_ferrite_pct):
    phi = phi_cass_cf8(c, delta_ferrite_pct=delta_ferrite_pct)
    from_ageing = 1.15 + 1.36 * exp(-0.035 * phi)
    alloy = _sum("5.64 - 0.185 Cr + 0.273 Mo - 0.204 Si + 0.044 Ni", c)
    from_alloy = alloy - 0.006 * delta_ferrite_pct - 2.12 * _sum("C + 0.4 N", c)
    return min(from_ageing, from_alloy)


# Melt


@_reading(WELD, 1449.287, "C", "memory")
def liquidus_aymard_1974(c):
    alloy = _sum("1538 - 55 C - 13 Si - 4.8 Mn - 30 P - 30 S - 1.5 Cr - 4.3 Ni", c)
    return alloy - 80 * c["C"] ** 2


@_reading(WELD, 1426.828, "C", "memory")
def liquidus_aymard_extended(c):
    minor = _sum("2.5 Mo + 5 Cu + 90 N + 18 Ti + 2 V + W + 1.7 Co", c)
    return liquidus_aymard_1974(c) - minor


@_reading(WELD, 1443.2, "C", "memory")
def liquidus_kagawa_1986(c):
    alloy = _sum("1536 - 100.3 C - 13.55 Si - 5.82 Mn - 1.59 Cr - 4.18 Ni - 4.2 Cu", c)
    raising = 22.4 * c["C"] ** 2 + 0.64 * c["Si"] ** 2 + 0.007 * c["Cr"] ** 2
    return alloy + raising - 0.3 * c["Mn"] ** 2 - 0.01 * c["Ni"] ** 2


def _nitrogen_activity(c):
    first = _sum(
        "-0.048 Cr - 0.023 Mn + 0.011 Ni - 0.011 Mo + 0.047 Si + 0.13 C + 0.009 Cu - 0.1 V "
        "- 0.06 Nb - 0.003 W + 0.045 P + 0.007 S - 0.53 Ti - 0.028 Al + 0.011 Co + 0.094 B "
        "- 0.032 Ta",
        c,
    )
    return first + 0.00035 * c["Cr"] ** 2 + 0.000035 * c["Ni"] ** 2 + 0.000079 * c["Mo"] ** 2


@_reading(WELD, 0.287595, "wt%", "memory", temperature_K=1873.0, pN2_atm=0.8)
def n_solubility_recommended(c, *, temperature_K, pN2_atm):
    activity = (3280 / temperature_K - 0.75) * _nitrogen_activity(c)
    return 10 ** (0.5 * log10(pN2_atm) - 518 / temperature_K - 1.063 - activity)


@_reading(WELD, 0.2882698, "wt%", "memory", temperature_K=1873.0, pN2_atm=0.8)
def n_solubility_wada_1977(c, *, temperature_K, pN2_atm):
    s = _nitrogen_activity(c)
    activity = (4780 / temperature_K - 1.51) * s + (1760 / temperature_K - 0.91) * s**2
    return 10 ** (0.5 * log10(pN2_atm) - 247 / temperature_K - 1.22 - activity)


@_reading(WELD, 0.3359146, "wt%", "memory", temperature_K=1873.0, pN2_atm=0.8)
def n_solubility_cross_terms(c, *, temperature_K, pN2_atm):
    cr, ni, mo, mn = c["Cr"], c["Ni"], c["Mo"], c["Mn"]
    over_t = (
        _sum("-164 Cr + 8.33 Ni - 33.2 Mo - 134 Mn", c)
        + 1.68 * cr**2
        - 1.83 * ni**2
        - 2.78 * mo**2
        + 8.82 * mn**2
        + cr * _sum("1.6 Ni + 1.2 Mo + 2.16 Mn", c)
        + ni * _sum("-0.26 Mo + 0.09 Mn", c)
    )
    constant = (
        _sum("0.0415 Cr + 0.0019 Ni + 0.0064 Mo + 0.035 Mn", c)
        - 0.0006 * cr**2
        + 0.001 * ni**2
        + 0.0013 * mo**2
        - 0.0056 * mn**2
        + cr * _sum("-0.0009 Ni - 0.0005 Mo - 0.0005 Mn", c)
        + ni * _sum("0.0003 Mo + 0.0007 Mn", c)
        + _sum("0.13 C + 0.06 Si + 0.046 P + 0.007 S + 0.01 Al - 0.9 Ti - 0.1 V - 0.003 W", c)
    )
    activity = over_t / temperature_K + constant
    return 10 ** (0.5 * log10(pN2_atm) - 518 / temperature_K - 1.063 - activity)


@_reading(WELD, 0.1426673, "atm", "secondary", temperature_K=1923.0)
def pn2_needed_sieverts(c, *, temperature_K):
    return (c["N"] / n_solubility_recommended(c, temperature_K=temperature_K, pN2_atm=1)) ** 2


@_reading(WELD, 0.3571904, "wt%", "heuristic", mode_factor=0.95)
def n_castable_heuristic(c, *, mode_factor):
    return mode_factor * n_solubility_recommended(c, temperature_K=1773, pN2_atm=1)


@_reading(WELD, 0.141869, "wt%", "memory", temperature_K=1973.0, pCO_atm=0.4)
def c_eq_hilty_kaveney(c, *, temperature_K, pCO_atm):
    return c["Cr"] / 10 ** (-13800 / temperature_K + 8.76 - 0.925 * log10(pCO_atm))


@_reading(WELD, 0.1023418, "wt%", "memory", temperature_K=1973.0, pCO_atm=0.4)
def c_eq_hilty_kaveney_ni(c, *, temperature_K, pCO_atm):
    shifted = temperature_K + 4.21 * c["Ni"]
    return c["Cr"] / 10 ** (-13800 / shifted + 8.76 - 0.925 * log10(pCO_atm))


@_reading(WELD, 0.1354008, "wt%", "memory", temperature_K=1973.0, pCO_atm=0.4)
def c_eq_hilty_1948(c, *, temperature_K, pCO_atm):
    return c["Cr"] * pCO_atm / 10 ** (-15200 / temperature_K + 9.46)


@_reading(WELD, 0.1743329, "atm", "memory", temperature_K=1973.0)
def pco_eq_itoh_2000(c, *, temperature_K):
    on_carbon = _sum(
        "0.14 C - 0.024 Cr + 0.012 Ni + 0.08 Si - 0.012 Mn - 0.0083 Mo + 0.016 Cu + 0.11 N "
        "+ 0.046 S + 0.051 P - 0.06 Nb - 0.077 V",
        c,
    )
    on_chromium = _sum(
        "-0.12 C - 0.0003 Cr + 0.0002 Ni - 0.0043 Si + 0.0039 Mn + 0.0018 Mo - 0.19 N", c
    )
    scale = 1873 / temperature_K
    carbon = scale * on_carbon + log10(c["C"])
    chromium = scale * on_chromium + log10(c["Cr"])
    return 10 ** ((-32720 / temperature_K + 22.109 + 3 * carbon - 2 * chromium) / 3)


@_reading(WELD, 0.0003712909, "wt%", "conflicting", temperature_K=1873.0, pH2_atm=0.02)
def h_solubility_1963(c, *, temperature_K, pH2_atm):
    activity = _sum(
        "-0.0022 Cr - 0.0014 Mn + 0.027 Si + 0.06 C + 0.0107 Al + 0.058 B + 0.0017 Ta", c
    )
    return 10 ** (0.5 * log10(pH2_atm) - 1905 / temperature_K - 1.591 - activity)


# Solvus and hot working


@_reading(WELD | {"N": 0.015, "Ti": 0.25}, 1687.358, "C", "verified")
def tin_onset_inoue_1998(c):
    return 13500 / (4.46 - log10(c["Ti"] * c["N"])) - 273.15


def _nitrogen_without_titanium(c):
    return _nitrogen_activity(c | {"Ti": 0.0})


@_reading(WELD | {"N": 0.015, "Ti": 0.25}, 1474.259, "C", "memory")
def tin_onset_inoue_activities(c):
    # log Ti N = 4.46 - 13500/T - (3280/T - 0.75) s, solved for T
    s = _nitrogen_without_titanium(c)
    return (13500 + 3280 * s) / (4.46 + 0.75 * s - log10(c["Ti"] * c["N"])) - 273.15


@_reading(WELD | {"Ti": 0.25}, 0.021751508, "wt%", "memory", temperature_K=1793.15)
def n_max_tin_inoue_activities(c, *, temperature_K):
    activity = (3280 / temperature_K - 0.75) * _nitrogen_without_titanium(c)
    return 10 ** (4.46 - 13500 / temperature_K - activity) / c["Ti"]


@_reading(WELD, 932.3551, "C", "memory")
def m23c6_solvus_deighton(c):
    ppm = 10000 * c["C"]
    return 6272 / (7.771 - log10(ppm)) - 273.15


@_reading(WELD, 1161.031, "C", "memory")
def nbc_solvus_deighton(c):
    return 9350 / (4.55 - log10(c["Nb"] * c["C"])) - 273.15


@_reading(WELD, 1050.282, "C", "memory")
def tic_solvus_deighton(c):
    return 6780 / (2.97 - log10(c["Ti"] * c["C"])) - 273.15


@_reading(FERRITIC, 1010.010, "C", "verified")
def laves_solvus_fujita_2003(c):
    return 3780.3 / (2.4646 - log10(c["Nb"])) - 273.15


@_reading(FERRITIC, 1104.134, "C", "verified")
def fe3nb3c_solvus_fujita_2003(c):
    return 11613 / (5.2178 - log10(c["Nb"] ** 3 * c["C"])) - 273.15


@_reading(WELD, 460.1, "kJ/mol", "heuristic")
def q_hot_deformation_mo(c):
    return min(398 + 27 * c["Mo"], 500)


# Check values printed with fewer than seven significant digits, by their digits.
PRINTED_DIGITS = {
    "ni_eq_hirayama_1970": 4,
    "md30_angel_1954": 3,
    "ferrite_hull_cass_1994": 3,
    "ni_min_post_eberly_1947": 6,
}

# The column `domain` as bounds; None leaves a side open. Keys: element symbols in wt% and their
# sums; conditions under the name and unit of the source; `Creq`, `Nieq`, `ratio` = Creq/Nieq of
# the equivalents the relation belongs to; `PREN`; `ni_balance`; `value` = the result itself;
# `cooling_C_s`, `service_C`. Grade names, product forms and bare nominal figures ("Cr 20",
# "13Cr-Ni") give no bound.
_LOW_NICKEL = {
    "Mn": (5, 9),
    "Ni": (0.1, 2),
    "Cr": (13, 19),
    "Cu": (1, 4),
    "N": (0.1, 0.4),
}
_SCHAEFFLER = {
    "C": (None, 0.2),
    "Si": (None, 1),
    "Mn": (None, 4),
    "Mo": (None, 3),
    "Nb": (None, 1.5),
}
_WRC_1988 = {"Mn": (None, 10), "Mo": (None, 3), "N": (None, 0.2), "Si": (None, 1)}
_BALMFORTH = {
    "Cr": (11, 30),
    "Ni": (0.1, 3),
    "C": (0.07, 0.2),
    "Mn": (0.3, 1.8),
    "Si": (0.3, 1),
    "Mo": (0, 2),
    "Al": (None, 0.3),
    "Ti": (None, 0.5),
}
_TWENTY_CHROMIUM = {"Ni": (18, 25), "Mo": (0, 6), "Mn": (0.2, 11), "N": (None, 0.5)}
_MELT = {
    "Cr": (None, 30),
    "Ni": (None, 25),
    "Mn": (None, 26),
    "C": (None, 0.5),
    "Si": (None, 3),
    "temperature_K": (1773, 1973),
}

_STATED: dict[str, dict[str, tuple[float | None, float | None]]] = {
    "cr_eq_schaeffler_1949": _SCHAEFFLER,
    "ni_eq_schaeffler_1949": _SCHAEFFLER,
    "cr_eq_delong_1973": {"Creq": (16, 27)},
    "ni_eq_delong_1973": {"Nieq": (10, 21)},
    "cr_eq_lean_duplex_2003": {"Creq": (20, 24.5)},
    "ni_eq_lean_duplex_2003": {"Nieq": (10, None)},
    "cr_eq_wrc_1988": _WRC_1988,
    "ni_eq_wrc_1988": _WRC_1988,
    "cr_eq_wrc_1992": {"Creq": (18, 30)},
    "ni_eq_wrc_1992": {"Nieq": (10, 18)},
    "ni_eq_hull_1973": {"Mn": (None, 20)},
    "cr_eq_espy_1982": {"N": (None, 0.35)},
    "ni_eq_espy_1982": {"N": (None, 0.35)},
    "ni_eq_espy_smooth": {"N": (None, 0.35)},
    "ni_eq_kotecki_mn_1984": {"Mn": (None, 12)},
    "ni_eq_us6056917": _LOW_NICKEL,
    "cr_eq_duplex_annealed": {"temperature_C": (1050, 1150)},
    "ni_eq_duplex_annealed": {"temperature_C": (1050, 1150)},
    "ferrite_factor_kaltenhauser_1971": {"Cr": (11, 18)},
    "cr_eq_balmforth_2000": _BALMFORTH,
    "ni_eq_balmforth_2000": _BALMFORTH,
    "cr_eq_newhouse_1976": {"Cr": (9, 12)},
    "ferrite_seferian_1959": {"value": (0, 15)},
    "fn_delong_linear": {"Creq": (16, 27), "Nieq": (10, 21), "value": (0, 18)},
    "fn_valiente_2012": {
        "Creq+Nieq": (30, 40),
        "ratio": (1.22, 2.0),
        "cooling_C_s": (10, 1000),
    },
    "ferrite_hull_cass_1994": {"value": (2, 45), "ratio": (0.9, None)},
    "ferrite_a800_fit": {"ratio": (0.94, 1.57)},
    "ferrite_duplex_annealed": {"temperature_C": (1050, 1150)},
    "ferrite_duplex_anchored": {"temperature_C": (1000, 1250)},
    "fn_from_vol_pct_2003": {"ferrite_vol_pct": (15, 100)},
    "ferrite_index_fi1_us6056917": _LOW_NICKEL,
    "martensite_index_si_us6056917": _LOW_NICKEL,
    "austenite_max_17cr": {"Cr": (11, 18)},
    "pren_jargelius_1998": _TWENTY_CHROMIUM,
    "cpt_brigham_1974": {"Cr": (17, 20), "Mo": (0.05, 7.6)},
    "cpt_brigham_refit": {"Cr": (17, 20), "Mo": (0.05, 7.6)},
    "cct_brigham_1974": {"Cr": (17, 20)},
    "cct_brigham_refit": {"Cr": (17, 20)},
    "cpt_fit_mo_n_mn_si": {"Mn": (0.5, 2), "Si": (0.3, 1.5), "Cr": (17, 20)},
    "cpt_fit_pren16w_fecl3": {"PREN": (27, 47)},
    "cpt_fit_pren30w_fecl3": {"PREN": (27, 47)},
    "cpt_fit_jargelius": _TWENTY_CHROMIUM,
    "stabilisation_margin_us4119765": {"Cr": (23, 28), "C+N": (0.006, 0.07)},
    "yield_irvine_1969": {"N": (None, 0.2), "delta_ferrite_pct": (0, 20)},
    "yield_irvine_1969_const41": {"N": (None, 0.2), "delta_ferrite_pct": (0, 20)},
    "yield_nordberg_2004": {"delta_ferrite_pct": (0, 60), "Mo": (None, 4)},
    "proof1_nordberg_2004": {"delta_ferrite_pct": (0, 60), "Mo": (None, 4)},
    "uts_nordberg_2004": {"Mo": (None, 4)},
    "md30_nohara_1977": {"grain_size_astm": (5, 12)},
    "ms_eichelman_1953": {"Cr": (10, 18), "Ni": (6, 12), "C+N": (None, 0.15)},
    "ms_pickering_1978": {"Ni": (4, 7)},
    "ms_finkler_1996": {"Cr": (8, 14)},
    "ms_andrews_1965": {"Cr": (None, 5)},
    "ac1_tricot_1966_quadratic": {"Cr": (10.5, 20), "Ni": (None, 1)},
    "ac1_tricot_1966_linear": {"Ni": (None, 1)},
    "ac1_andrews_1965": {"Cr": (None, 5)},  # the domain says "low alloy", the note 5 % Cr
    "ac1_gooch_soft": {"C": (None, 0.03)},
    "phi_cass_cf8m": {"service_C": (290, 400)},
    "phi_cass_cf8": {"service_C": (290, 400)},
    "log_cvsat_cass_cf8m": {"service_C": (290, 400)},
    "log_cvsat_cass_cf8": {"service_C": (290, 400)},
    "liquidus_kagawa_1986": {"Mn": (None, 8)},
    "solidus_takeuchi_1985": {
        "Mo": (None, 0.5),
        "N": (None, 0.06),
        "Cu": (None, 1),
        "Nb": (None, 0.1),
        "Ti": (None, 0.1),
    },
    "tin_onset_inoue_activities": {k: _MELT[k] for k in ("Cr", "Ni", "Mn", "C", "Si")},
    "n_max_tin_inoue_activities": {k: _MELT[k] for k in ("Cr", "Ni", "Mn", "C", "Si")},
    "n_solubility_recommended": _MELT | {"pN2_atm": (None, 1)},
    "n_solubility_wada_1977": _MELT | {"pN2_atm": (None, 1)},
    "n_solubility_cross_terms": {"Mn": (None, 4)},
    "pn2_needed_sieverts": _MELT | {"value": (None, 1)},
    "pco_eq_itoh_2000": {"Cr": (None, 46), "temperature_K": (1823, 1923)},
    "h_solubility_1963": {"Al": (None, 10), "B": (None, 2.5), "Ta": (None, 25)},
    "ni_min_post_eberly_1947": {
        "C": (0.03, 0.2),
        "Cr": (14, 25),
        "Mn": (0.4, 4.0),
        "Ni": (7.5, 21),
    },
    "ni_min_binder_1950": {"C": (0, 0.05), "Cr": (18, 25), "N": (0, 0.15), "Ni": (9, 25)},
    "n_margin_lean_duplex_us9212412": {"ni_balance": (-7.1, -4)},
}
RANGES = {relation: _STATED.get(relation, {}) for relation in (*LINEAR, *FUNCTIONS)}

# In the unit of the relation; n_solubility_recommended alone is in per cent of the value.
STANDARD_ERRORS: dict[str, float] = {
    "ferrite_seferian_1959": 6.8,
    "fn_delong_linear": 6.1,
    "ferrite_slab_ratio": 5.9,
    "fn_valiente_2012": 1.06,
    "ferrite_hull_cass_1994": 4.0,
    "ferrite_a800_fit": 4.1,
    "ferrite_duplex_annealed": 4.0,
    "cpt_g48": 7.1,
    "cct_g48": 9.1,
    "cpt_brigham_1974": 8.4,
    "cpt_brigham_refit": 5.9,
    "cct_brigham_1974": 5.0,
    "cct_brigham_refit": 4.1,
    "cpt_fit_mo_n_mn_si": 4.8,
    "cpt_fit_pren16w_fecl3": 6.8,
    "cpt_fit_pren30w_fecl3": 7.3,
    "cpt_fit_g150_typical": 4.3,
    "cpt_fit_jargelius": 5.2,
    "epit_fit_pren_t_cl": 267.0,
    "epit_fit_elements": 255.0,
    "sigma_solvus_rechsteiner_1994": 40.0,
    "yield_irvine_1969": 30.2,
    "yield_irvine_1969_const41": 32.8,
    "yield_nordberg_2004": 28.0,
    "uts_nordberg_2004": 54.4,
    "md30_nohara_1977": 18.0,
    "ms_eichelman_1953": 196.0,
    "ms_monkman_1957": 200.0,
    "ms_pickering_1978": 118.0,
    "ms_self_1984": 49.0,
    "ms_finkler_1996": 54.0,
    "ms_gooch_1982": 57.0,
    "ms_andrews_1965": 50.0,
    "ms_steven_haynes_1956": 63.0,
    "sfe_yonezawa_2013": 10.0,
    "density_dyson_1970": 0.03,
    "ferrite_duplex_anchored": 4.1,
    "solidus_takeuchi_extended": 33.0,
    "liquidus_aymard_1974": 10.0,
    "liquidus_aymard_extended": 10.0,
    "n_solubility_recommended": 8.0,
}
