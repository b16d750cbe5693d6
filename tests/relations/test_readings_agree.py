"""The declarations of the package against the second reading."""

import numpy as np
import published_checks as published
import pytest
from second_reading import (
    ELEMENTS,
    FUNCTION_STATUS,
    FUNCTION_UNITS,
    FUNCTIONS,
    LINEAR,
    RANGES,
    STANDARD_ERRORS,
    full,
)

import gradekit as gk
from gradekit.relations.declaration import Linear, Percent
from gradekit.relations.judgements import judged_errors, measured_error
from gradekit.relations.topics import CATALOGUE

UNITS = {"C": "°C", "angstrom": "Å", "mJ/m2": "mJ/m²", "g/cm3": "g/cm³"}
UNITS |= {"log10 J/cm2": "log10 J/cm²"}
# Values at the printed ends (x = -4.2 and x = -8.1), where the printed
# algebra would turn and rise again.
LOWEST = {
    "ferrite_index_fi1_us6056917": 0.0,
    "martensite_index_si_us6056917": 0.0267 * 8.1**2 - 0.4332 * 8.1 - 3.1459,
}


def published_names():
    """Everything but readings of diagrams, and limits of the works made of other relations."""
    return {n for n, r in CATALOGUE.items() if r.status != "reconstruction" and r.state != "route"}


def test_both_readings_hold_the_same_relations():
    assert published_names() == {*LINEAR, *FUNCTIONS}


@pytest.mark.parametrize("name", LINEAR)
def test_linear_coefficients_are_the_same(name):
    relation, read = CATALOGUE[name], LINEAR[name]
    assert isinstance(relation, Linear)
    assert relation.intercept == read["intercept"]
    assert dict(relation.terms) == read["terms"]
    assert relation.unit == UNITS.get(read["unit"], read["unit"])
    assert relation.status == read["status"]


@pytest.mark.parametrize("name", FUNCTIONS)
def test_formulas_give_the_same_values(name):
    relation = CATALOGUE[name]
    assert relation.unit == UNITS.get(FUNCTION_UNITS[name], FUNCTION_UNITS[name])
    assert relation.status == FUNCTION_STATUS[name]
    rng = np.random.default_rng(7)
    compared = 0
    for _ in range(60):
        heat = {e: float(rng.uniform(0.005, 1.0)) for e in ELEMENTS}
        heat |= {"Cr": float(rng.uniform(11, 27)), "Ni": float(rng.uniform(0.5, 22))}
        heat |= {"Mn": float(rng.uniform(0.2, 12)), "C": float(rng.uniform(0.01, 0.2))}
        heat |= {"N": float(rng.uniform(0.01, 0.5)), "Cu": float(rng.uniform(0.05, 3))}
        conditions = {c: _condition(c, rng) for c in relation.conditions}
        theirs = dict(conditions)
        if "temperature_C" in theirs and name in _KELVIN:
            theirs["temperature_K"] = theirs.pop("temperature_C") + 273.15
        expected = FUNCTIONS[name](full(heat), **theirs)
        if relation.floor is not None:
            expected = max(expected, relation.floor)
        space = {k: np.float64(v) for k, v in (full(heat) | conditions).items()}
        got = float(relation.value(space))
        if relation.floor is not None:
            got = max(got, relation.floor)
        if got != pytest.approx(LOWEST.get(name, np.nan), abs=1e-9):
            assert got == pytest.approx(expected, rel=1e-10, abs=1e-10), heat
            compared += 1
    assert compared > 3


_KELVIN = {
    n
    for n in FUNCTIONS
    if CATALOGUE[n].state == "melt" and "temperature_C" in CATALOGUE[n].conditions
}


def _condition(name, rng):
    low, high = {
        "temperature_C": (1500, 1750),
        "grain_size_um": (5, 100),
        "grain_size_astm": (3, 12),
        "delta_ferrite_pct": (0, 40),
        "ferrite_vol_pct": (1, 60),
        "twin_spacing_um": (5, 60),
        "free_N": (0.001, 0.1),
        "chloride_M": (0.01, 2),
        "mode_factor": (0.7, 0.95),
    }.get(name, (0.1, 1.0))
    return float(rng.uniform(low, high))


@pytest.mark.parametrize("name", STANDARD_ERRORS)
def test_standard_errors_are_the_same(name):
    error = CATALOGUE[name].error
    if name in judged_errors():
        # what was measured here holds; what stands elsewhere stays beside it
        assert error == measured_error(name)
        assert f"; elsewhere: {STANDARD_ERRORS[name]:g}, " in CATALOGUE[name].error_basis
    else:
        assert (error.size if isinstance(error, Percent) else error) == STANDARD_ERRORS[name]


def test_no_error_is_invented():
    assert {n for n in published_names() if CATALOGUE[n].error is not None} == set(STANDARD_ERRORS)


@pytest.mark.parametrize("name", RANGES)
def test_ranges_are_the_same(name):
    ours = CATALOGUE[name].ranges
    for key, (low, high) in RANGES[name].items():
        key, low, high = _our_key(name, key, low, high)
        if key is None:
            continue
        assert key in ours, (name, key)
        assert (
            ours[key] == pytest.approx((low, high))
            if None not in (low, high)
            else (ours[key] == (low, high))
        )
    if not RANGES[name]:  # then only the contents of the steels that it was made from
        assert set(ours) <= {*ELEMENTS}, name


def _our_key(name, key, low, high):
    """Translate a key of the second reading into ours; None where we have no such input."""
    if key == "temperature_K":
        return "temperature_C", low - 273.15, high - 273.15
    if key in ("cooling_C_s", "service_C"):  # nothing that a composition is evaluated with
        return None, low, high
    if key == "temperature_C" and "temperature_C" not in CATALOGUE[name].conditions:
        return None, low, high  # said of the steel's history, not an input of the sum
    own = ("fn_delong_linear", "fn_valiente_2012")
    if key in ("Creq", "Nieq") and name not in own:
        key = "value"
    named = {
        ("fn_delong_linear", "Creq"): "cr_eq_delong_1973",
        ("fn_delong_linear", "Nieq"): "ni_eq_delong_1973",
        ("fn_valiente_2012", "Creq+Nieq"): "cr_eq_hammar_1979 + ni_eq_hammar_1979",
        ("fn_valiente_2012", "ratio"): "cr_ni_ratio_hammar",
        ("ferrite_hull_cass_1994", "ratio"): "cr_ni_ratio_hull_cass",
        ("ferrite_a800_fit", "ratio"): "cr_ni_ratio_schoefer_a800",
        ("cpt_fit_pren16w_fecl3", "PREN"): "pren_16n_w",
        ("cpt_fit_pren30w_fecl3", "PREN"): "pren_30n_w",
    }
    key = named.get((name, key), key)
    if key == "C+N":
        key = "C + N"
    return key, low, high


PRINTED = [*published.CHECKS, *published.STATED_EXAMPLES]


@pytest.mark.parametrize("case", PRINTED, ids=lambda c: f"{c.relation}-{c.case}")
def test_published_values(case):
    conditions = dict(case.conditions)
    if "temperature_K" in conditions:
        conditions["temperature_C"] = conditions.pop("temperature_K") - 273.15
    names = published_inputs(case)
    result = gk.evaluate(names, case.relation, **conditions)
    assert result.values.iloc[0, 0] == pytest.approx(case.expected, abs=case.tolerance)


def published_inputs(case):
    """The printed analysis; what a relation cannot do without, and was not printed, is zero."""
    return dict.fromkeys(CATALOGUE[case.relation].required, 0.0) | dict(case.composition)
