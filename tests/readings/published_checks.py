"""Values that publications print or measured, to hold the relations of the package against.

`CHECKS` are the printed and measured values with their tolerances; `STATED_EXAMPLES` are the
worked figures stated for one relation, with half a
unit of their last printed digit as tolerance. Compositions in wt%, conditions in the unit of the
source, expected values and tolerances in the unit of the relation.
"""

from typing import NamedTuple


class Check(NamedTuple):
    relation: str
    case: str
    composition: dict[str, float]
    conditions: dict[str, float]
    expected: float
    tolerance: float
    kind: str
    status: str
    source: str


_ANALYSED = ("C", "Si", "Mn", "Cr", "Ni", "Mo", "N")


def _analysis(contents):
    return {e: x for e, x in zip(_ANALYSED, contents, strict=True) if x is not None}


# case, C, Si, Mn, Cr, Ni, Mo, N (None = not in the printed analysis), Ni equivalent, Md30
# From: M Faizan (repository mfaizansworkspace-ai), HE-Austenite v0.3, "Hydrogen embrittlement of
# austenitic stainless steels tested in hydrogen gas", github.com/mfaizansworkspace-ai, licensed
# CC BY 4.0 (creativecommons.org/licenses/by/4.0). Changed: the contents and the two printed values
# only, other columns left out.
_HYDROGEN_HEATS = (
    ("iyer-304", 0.1, 0.5, 1.5, 18.4, 10.2, None, None, 25.17, 1.1),
    ("2101-c83", 0.03, 0.43, 1.57, 18.35, 10.29, 0.17, None, 24.56, 30.2),
    ("2101-o76", 0.026, 0.63, 1.51, 19.1, 9.41, None, None, 23.96, 31.9),
    ("2101-c83n", 0.06, 0.19, 1.66, 18.37, 8.43, 0.1, 0.25, 23.03, None),
    ("2101-o76n", 0.031, 0.39, 1.73, 19.75, 8.35, None, 0.25, 23.53, None),
    ("2101-w69", 0.2, 0.49, 1.78, 18.5, 9.78, 0.09, None, 26.45, None),
    ("younes-tig", 0.02, 0.38, 1.7, 19.8, 10.4, 0.01, 0.04, 25.45, -2.2),
    ("younes-base", 0.02, 0.4, 1.65, 18.7, 10.5, 0.01, 0.05, 24.79, 7.5),
    ("balch-weld", 0.028, 0.5, 1.56, 20.5, 10.3, 0.01, 0.055, 25.8, -21.5),
    ("2101-b83w", 0.02, 0.56, 1.8, 19.8, 10.4, None, 0.04, 25.61, -4.5),
    ("2103-w69", 0.05, 0.56, 1.73, 17.52, 12.45, 2.67, None, 29.1, -37.0),
    ("2103-o76", 0.061, 0.71, 1.56, 17.41, 13.51, 2.53, None, 29.96, -48.0),
    ("2103-r84", 0.029, 0.6, 1.4, 17.7, 10.2, 1.6, None, 25.32, 13.8),
    ("fuku-316cw", 0.066, 0.42, 1.67, 16.87, 12.34, 2.49, 0.069, 28.48, -61.2),
    ("naka-p", 0.07, 0.48, 1.74, 16.95, 13.53, 2.51, None, 29.88, -45.0),
    ("naka-a", 0.011, 0.44, 1.56, 18.59, 13.06, 3.04, None, 30.05, None),
    ("michler-s7", 0.019, 0.49, 1.41, 17.13, 12.19, 2.05, 0.019, 27.22, -8.9),
    ("michler-s8", 0.016, 0.68, 1.19, 17.4, 12.15, 2.057, 0.026, 27.16, -14.2),
    ("2104-w73", 0.06, 0.58, 1.46, 17.8, 10.45, None, None, 24.51, 25.0),
    ("2104-h73", 0.06, 0.94, 2.0, 18.4, 10.1, None, None, 25.25, 12.4),
    ("caskey-n40", 0.015, 0.24, 9.01, 20.32, 6.71, None, 0.35, 29.65, None),
    ("2202-b83bw", 0.03, 0.6, 9.3, 20.7, 7.8, None, 0.27, 31.61, None),
    ("2202-b83aw", 0.03, 0.61, 8.1, 20.8, 8.8, None, 0.17, 31.42, None),
    ("2201-c83", 0.05, 0.42, 5.44, 21.48, 12.36, 2.12, 0.25, 34.89, None),
    ("2201-o76", 0.05, 0.36, 4.68, 23.0, 12.98, 1.75, 0.38, 35.31, None),
    ("2201-o75", 0.05, 0.5, 5.26, 22.15, 12.74, 2.2, 0.34, 35.62, None),
    ("fuku-a286", 0.037, 0.11, 0.38, 13.64, 24.01, 1.08, 0.004, 34.84, None),
)

# case, C, Si, Mn, Cr, Ni, Mo, N, ferrite calculated in the report, ferrite measured
_CASTINGS = (
    ("heat 47 CF3", 0.018, 1.06, 0.6, 19.81, 10.63, 0.59, 0.028, 8.4, 16.3),
    ("heat 48 CF3", 0.011, 1.08, 0.6, 19.55, 10.46, 0.3, 0.072, 5.1, 8.7),
    ("heat 49 CF3", 0.01, 0.95, 0.6, 19.41, 10.69, 0.32, 0.065, 4.4, 7.2),
    ("heat 50 CF3", 0.034, 1.1, 0.6, 17.89, 9.14, 0.33, 0.079, 3.0, 4.4),
    ("heat 51 CF3", 0.01, 0.86, 0.63, 20.13, 9.06, 0.32, 0.058, 14.3, 18.0),
    ("heat 52 CF3", 0.009, 0.92, 0.57, 19.49, 9.4, 0.35, 0.052, 10.3, 13.5),
    ("heat 53 CF8", 0.065, 1.16, 0.64, 19.53, 9.23, 0.39, 0.049, 6.3, 8.7),
    ("heat 54 CF8", 0.063, 1.03, 0.55, 19.31, 9.17, 0.35, 0.084, 4.1, 1.8),
    ("heat 56 CF8", 0.066, 1.05, 0.57, 19.65, 9.28, 0.34, 0.03, 7.3, 10.1),
    ("heat 57 CF8", 0.056, 1.08, 0.62, 18.68, 9.27, 0.32, 0.047, 4.4, 4.0),
    ("heat 58 CF8", 0.054, 1.12, 0.62, 19.53, 10.89, 0.33, 0.04, 3.2, 2.9),
    ("heat 59 CF8", 0.062, 1.08, 0.6, 20.33, 9.34, 0.32, 0.045, 8.8, 13.5),
    ("heat 60 CF8", 0.064, 0.95, 0.67, 21.05, 8.34, 0.31, 0.058, 15.4, 21.1),
    ("heat 61 CF8", 0.054, 1.01, 0.65, 20.65, 8.86, 0.32, 0.08, 10.0, 13.1),
    ("heat 62 CF8M", 0.063, 0.56, 0.72, 18.29, 12.39, 2.57, 0.03, 2.8, 4.5),
    ("heat 63 CF8M", 0.055, 0.58, 0.61, 19.37, 11.85, 2.57, 0.031, 6.4, 10.4),
    ("heat 64 CF8M", 0.038, 0.63, 0.6, 20.76, 9.4, 2.46, 0.038, 29.0, 28.4),
    ("heat 65 CF8M", 0.049, 0.48, 0.5, 20.78, 9.63, 2.57, 0.064, 20.9, 23.4),
    ("heat 66 CF8M", 0.047, 0.49, 0.6, 19.45, 9.28, 2.39, 0.029, 19.6, 19.8),
    ("heat 68 CF8", 0.063, 1.07, 0.64, 20.64, 8.08, 0.31, 0.062, 14.9, 23.4),
    ("heat 69 CF3", 0.023, 1.13, 0.63, 20.18, 8.59, 0.34, 0.028, 21.0, 23.6),
    ("heat 70 CF8M", 0.066, 0.72, 0.55, 19.17, 9.01, 2.3, 0.049, 14.2, 18.9),
    ("heat 74 CF8M", 0.064, 0.73, 0.54, 19.11, 9.03, 2.51, 0.048, 15.5, 18.4),
    ("heat 75 CF8M", 0.065, 0.67, 0.53, 20.86, 9.12, 2.58, 0.052, 24.8, 27.8),
    ("heat P1 CF8", 0.036, 1.12, 0.59, 20.49, 8.1, 0.04, 0.056, 17.6, 24.1),
    ("heat P2 CF3", 0.019, 0.94, 0.74, 20.2, 9.38, 0.16, 0.04, 12.5, 15.6),
    ("heat P3 CF3", 0.021, 0.88, 1.06, 18.89, 8.45, 0.01, 0.168, 2.8, 1.9),
    ("heat P4 CF8M", 0.04, 1.02, 1.07, 19.64, 10.0, 2.05, 0.151, 5.9, 10.0),
    ("heat I CF3", 0.019, 0.83, 0.47, 20.2, 8.7, 0.45, 0.032, 20.4, 17.1),
    ("heat C1 CF8", 0.039, 1.18, 1.22, 19.0, 9.37, 0.65, 0.04, 7.8, 2.2),
    ("heat 280 CF8", 0.028, 1.37, 0.5, 21.6, 8.0, 0.25, 0.038, 36.3, 38.0),
    ("heat 282 CF8", 0.035, 0.35, 0.43, 22.5, 8.53, 0.15, 0.04, 29.7, 38.0),
    ("heat 281 CF8", 0.036, 0.45, 0.41, 23.1, 8.6, 0.17, 0.053, 31.4, 30.0),
    ("heat 283 CF8", 0.036, 0.53, 0.48, 22.6, 7.88, 0.23, 0.032, 42.6, 42.0),
    ("heat 292 CF8", 0.09, 1.57, 0.34, 21.6, 7.52, 0.13, 0.039, 23.9, 28.0),
    ("heat 278 CF8", 0.038, 1.0, 0.28, 20.2, 8.27, 0.13, 0.03, 18.5, 15.0),
    ("heat 279 CF8", 0.04, 1.36, 0.37, 22.0, 7.85, 0.22, 0.032, 39.5, 40.0),
    ("heat 277 CF8", 0.052, 1.81, 0.54, 20.5, 8.13, 0.06, 0.019, 22.5, 28.0),
    ("heat F CF8", 0.038, 1.16, 0.26, 19.7, 8.33, 0.34, 0.026, 17.7, 12.0),
)

_HYDROGEN = "HE-Austenite data set v0.3 (CC BY 4.0)"
_REPORTS = "NUREG/CR-4744 and NUREG/CR-4513 (recalled"
_S31803 = {
    "C": 0.017,
    "Si": 0.34,
    "Mn": 1.38,
    "P": 0.02,
    "S": 0.001,
    "Cr": 22.07,
    "Ni": 5.68,
    "Mo": 3.2,
    "N": 0.17,
}
_FORGAS = (
    "Forgas, Otubo, Magnabosco 2016 J. Aerosp. Technol. Manag. 8 357 (point counting); "
    "only 1100 C lies in the domain"
)
_316L = {
    "C": 0.01,
    "Si": 0.34,
    "Mn": 1.26,
    "P": 0.03,
    "S": 0.002,
    "Cr": 16.82,
    "Ni": 10.06,
    "Mo": 2.05,
    "N": 0.05,
    "Cu": 0.42,
    "Nb": 0.07,
    "Ti": 0.07,
    "Co": 0.37,
}
_RIFFEL = "Riffel et al 2026 Materials & Design, doi 10.1016/j.matdes.2026.116100"
_RIFFEL_NICKEL = (
    "Riffel et al 2026: printed as WRC-1992 Nieq, but equals the Hammar-Svensson value "
    "(WRC-1992 gives 11.52)"
)
_S20910 = {
    "C": 0.04,
    "N": 0.27,
    "Si": 0.4,
    "Mn": 4.75,
    "Cr": 21.25,
    "Ni": 12.4,
    "Mo": 2.25,
    "Nb": 0.16,
    "V": 0.2,
}
_201 = {"C": 0.05, "N": 0.17, "Si": 0.4, "Mn": 6.8, "Cr": 17.0, "Ni": 4.0, "Mo": 0.1}
_S21904 = {"C": 0.015, "N": 0.35, "Si": 0.24, "Mn": 9.01, "Cr": 20.32, "Ni": 6.71}


def _hydrogen_checks():
    for case, *contents, nickel, md30 in _HYDROGEN_HEATS:
        values = (("ni_eq_hirayama_1970", nickel, 0.011), ("md30_angel_1954", md30, 0.06))
        for relation, value, tolerance in values:
            if value is not None:
                analysis = _analysis(contents)
                rest = (value, tolerance, "printed", "verified", _HYDROGEN)
                yield Check(relation, case, analysis, {}, *rest)


def _casting_checks():
    for case, *contents, calculated, measured in _CASTINGS:
        analysis = _analysis(contents)
        printed = (calculated, 0.14, "printed", "memory", f"{_REPORTS})")
        yield Check("ferrite_hull_cass_1994", case, analysis, {}, *printed)
        magnetic = (measured, 12.0, "measured", "memory", f"{_REPORTS}, magnetic)")
        yield Check("ferrite_hull_cass_1994", case, analysis, {}, *magnetic)


def _duplex_checks():
    for celsius, measured, tolerance in ((1000, 41.5, 2.0), (1100, 48.1, 5.0), (1200, 58.5, 14.0)):
        case = f"S31803 {celsius} C"
        conditions = {"temperature_C": float(celsius)}
        rest = (measured, tolerance, "measured", "secondary", _FORGAS)
        yield Check("ferrite_duplex_annealed", case, _S31803, conditions, *rest)


def _density_checks():
    measured = (("S20910", _S20910, 7.88, 0.02), ("201", _201, 7.86, 0.03))
    for case, composition, value, tolerance in (*measured, ("S21904", _S21904, 7.83, 0.03)):
        rest = (value, tolerance, "measured", "verified", "producer data")
        yield Check("density_dyson_1970", case, composition, {}, *rest)


CHECKS = (
    *_hydrogen_checks(),
    *_casting_checks(),
    *_duplex_checks(),
    Check("cr_eq_wrc_1992", "316L 2026", _316L, {}, 18.9, 0.06, "printed", "secondary", _RIFFEL),
    Check(
        *("ni_eq_hammar_1979", "316L 2026", _316L, {}, 11.8, 0.06, "printed", "conflicting"),
        _RIFFEL_NICKEL,
    ),
    *_density_checks(),
)

# Nitrogen at 1 atm: melt, composition, temperature in K, wt%.
_NITROGEN = (
    ("Fe-18Cr", dict(Cr=18), 1873, 0.258),
    ("Fe-20Cr", dict(Cr=20), 1873, 0.303),
    ("Fe-18Cr-8Ni", dict(Cr=18, Ni=8), 1873, 0.210),
    ("304", dict(C=0.05, Si=0.4, Mn=1.3, Cr=18.2, Ni=8.1, Mo=0.3, Cu=0.4), 1873, 0.215),
    ("316L", dict(C=0.02, Si=0.5, Mn=1.3, Cr=16.8, Ni=10.1, Mo=2.1, Cu=0.4), 1873, 0.189),
    ("430", dict(C=0.05, Si=0.4, Mn=0.5, Cr=16.3, Ni=0.3), 1873, 0.216),
    ("201", dict(C=0.06, Si=0.4, Mn=6.5, Cr=16.5, Ni=4.3, Cu=0.3), 1873, 0.269),
    ("15Cr-9Mn-1Ni-Cu", dict(C=0.08, Si=0.4, Mn=9.5, Cr=15.3, Ni=1.2, Cu=1.6), 1873, 0.299),
    ("1.3820 at 1600 C", dict(C=0.05, Si=0.4, Mn=10, Cr=19, Ni=0.8), 1873, 0.440),
    ("1.3820 at 1500 C", dict(C=0.05, Si=0.4, Mn=10, Cr=19, Ni=0.8), 1773, 0.530),
    ("18Cr-18Mn", dict(C=0.05, Si=0.4, Mn=18, Cr=18), 1873, 0.633),
    ("1.4162", dict(C=0.025, Si=0.6, Mn=5, Cr=21.5, Ni=1.5), 1873, 0.397),
    ("1.4462", dict(C=0.02, Si=0.4, Mn=1.6, Cr=22.3, Ni=5.6, Mo=3.1), 1873, 0.350),
    ("1.4410", dict(C=0.02, Si=0.3, Mn=0.8, Cr=25.2, Ni=6.9, Mo=3.9), 1873, 0.412),
    ("1.4539", dict(C=0.015, Si=0.4, Mn=1.5, Cr=20.2, Ni=24.8, Mo=4.4, Cu=1.5), 1873, 0.174),
    ("1.4547", dict(C=0.015, Si=0.4, Mn=0.6, Cr=20.1, Ni=18.1, Mo=6.2, Cu=0.7), 1873, 0.212),
)

# Carbon in equilibrium: Cr, Ni, C, atm CO, then the three explicit forms.
_CARBON = (
    (18, 0, 1600, 1.0, "0.73", "0.73", "0.81"),
    (18, 8, 1700, 1.0, "0.31", "0.236", "0.32"),
    (18, 8, 1700, 0.667, "0.21", "0.16", "0.21"),
    (18, 8, 1700, 0.40, "0.132", "0.101", "0.126"),
    (18, 8, 1700, 0.18, "0.063", "0.048", "0.057"),
    (11.5, 0, 1680, 0.4, "0.10", "0.10", "0.10"),
    (15, 0, 1550, 1.0, "0.968", "0.968", "1.132"),
    (15, 0, 1800, 1.0, "0.118", "0.118", "0.112"),
)
_CARBON_FORMS = ("c_eq_hilty_kaveney", "c_eq_hilty_kaveney_ni", "c_eq_hilty_1948")

# Solvus and onset in C.
_SOLVUS = (
    ("tin_onset_inoue_1998", dict(Ti=0.15, N=0.010), 1580),
    ("tin_onset_inoue_1998", dict(Ti=0.20, N=0.012), 1634),
    ("tin_onset_inoue_1998", dict(Ti=0.50, N=0.012), 1747),
    ("m23c6_solvus_deighton", dict(C=0.03), 912),
    ("m23c6_solvus_deighton", dict(C=0.08), 1015),
    ("nbc_solvus_deighton", dict(Nb=0.6, C=0.05), 1266),
    ("tic_solvus_deighton", dict(Ti=0.4, C=0.05), 1179),
    ("laves_solvus_fujita_2003", dict(Nb=0.3), 992),
    ("laves_solvus_fujita_2003", dict(Nb=0.5), 1094),
    ("laves_solvus_fujita_2003", dict(Nb=0.8), 1203),
    ("fe3nb3c_solvus_fujita_2003", dict(Nb=0.45, C=0.01), 1133),
)

_LOW_NICKEL_A = dict(Cr=17.0, Ni=1.6, Mn=7.5, Cu=2.8, C=0.05, N=0.20)
_LOW_NICKEL_B = dict(Cr=15.3, Ni=1.2, Mn=9.5, Cu=1.6, C=0.08, N=0.15)
_S31803_FERRITE = ((1000.0, 42.4), (1100.0, 44.0), (1200.0, 45.6))
_SINGLE = (
    ("ferrite_index_fi1_us6056917", "17Cr-7.5Mn-1.6Ni", _LOW_NICKEL_A, 6.2, 0.05),
    ("martensite_index_si_us6056917", "17Cr-7.5Mn-1.6Ni", _LOW_NICKEL_A, -1.9, 0.05),
    ("ferrite_index_fi1_us6056917", "15.3Cr-9.5Mn-1.2Ni", _LOW_NICKEL_B, 3.3, 0.05),
    ("martensite_index_si_us6056917", "15.3Cr-9.5Mn-1.2Ni", _LOW_NICKEL_B, 12.5, 0.05),
    ("neel_warnes_1976", "S20910", _S20910, 48.0, 0.5),
    ("density_dyson_1970", "S20910", _S20910, 7.884, 0.0005),
    ("density_dyson_1970", "201", _201, 7.850, 0.0005),
    ("density_dyson_1970", "S21904", _S21904, 7.820, 0.0005),
    ("ms_self_1984", "19Cr-3Mn-4Ni", dict(Cr=19, Mn=3, Ni=4, C=0.15, N=0.17), 39.0, 0.5),
    ("ni_eq_wrc_1992", "316L 2026", _316L, 11.52, 0.006),
)


def _stated_examples():
    told = ("stated", "computed-from-data", "worked figures")
    for case, composition, kelvin, nitrogen in _NITROGEN:
        conditions = {"temperature_K": float(kelvin), "pN2_atm": 1.0}
        yield Check(
            "n_solubility_recommended", case, composition, conditions, nitrogen, 0.0006, *told
        )
    for chromium, nickel, celsius, pressure, *printed in _CARBON:
        case = f"{chromium}Cr-{nickel}Ni at {celsius} C, {pressure} atm"
        composition = {"Cr": chromium, "Ni": nickel}
        conditions = {"temperature_K": celsius + 273.0, "pCO_atm": pressure}
        for relation, carbon in zip(_CARBON_FORMS, printed, strict=True):
            half_unit = 0.51 * 10.0 ** -len(carbon.partition(".")[2])
            rest = (float(carbon), half_unit, *told)
            yield Check(relation, case, composition, conditions, *rest)
    for relation, composition, celsius in _SOLVUS:
        case = ", ".join(f"{element} {content}" for element, content in composition.items())
        yield Check(relation, case, composition, {}, float(celsius), 0.7, *told)
    for celsius, ferrite in _S31803_FERRITE:
        case, conditions = f"S31803 {celsius:.0f} C", {"temperature_C": celsius}
        yield Check("ferrite_duplex_annealed", case, _S31803, conditions, ferrite, 0.05, *told)
    for relation, case, composition, value, tolerance in _SINGLE:
        yield Check(relation, case, composition, {}, value, tolerance, *told)


STATED_EXAMPLES = tuple(_stated_examples())
