"""The second reading reproduces printed values, before anything is held against it."""

import math

import pytest
from published_checks import CHECKS, STATED_EXAMPLES
from second_reading import (
    FUNCTION_CHECKS,
    FUNCTION_STATUS,
    FUNCTION_UNITS,
    FUNCTIONS,
    LINEAR,
    PRINTED_DIGITS,
    RANGES,
    STANDARD_ERRORS,
    full,
    linear,
)

RELATIONS = [*LINEAR, *FUNCTIONS]


def value(relation, composition, conditions):
    if relation in LINEAR:
        return linear(relation, composition)
    return FUNCTIONS[relation](full(composition), **conditions)


def half_unit(printed, digits):
    """Half a unit of the last significant digit; a hair more, for values that end on the half."""
    return 0.5001 * 10.0 ** (math.floor(math.log10(abs(printed))) - digits + 1)


def book_check(relation):
    if relation in LINEAR:
        composition, printed = LINEAR[relation]["check"]
        return composition, {}, printed
    return FUNCTION_CHECKS[relation]


def test_every_form_was_read_whole():
    assert len(set(RELATIONS)) == len(RELATIONS)
    assert FUNCTIONS.keys() == FUNCTION_CHECKS.keys() == FUNCTION_UNITS.keys()
    assert FUNCTIONS.keys() == FUNCTION_STATUS.keys()
    assert RANGES.keys() == set(RELATIONS)
    assert STANDARD_ERRORS.keys() <= set(RELATIONS)


@pytest.mark.parametrize("relation", RELATIONS)
def test_check_value_to_the_printed_digits(relation):
    composition, conditions, printed = book_check(relation)
    tolerance = half_unit(printed, PRINTED_DIGITS.get(relation, 7))
    assert abs(value(relation, composition, conditions) - printed) <= tolerance


@pytest.mark.parametrize("relation", LINEAR)
def test_check_composition_moves_every_term(relation):
    composition, _ = LINEAR[relation]["check"]
    assert all(composition.get(element, 0.0) for element in LINEAR[relation]["terms"])


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: f"{c.relation} {c.case} {c.kind}")
def test_published_value_within_its_tolerance(check):
    found = value(check.relation, check.composition, check.conditions)
    assert abs(found - check.expected) <= check.tolerance


@pytest.mark.parametrize("check", STATED_EXAMPLES, ids=lambda c: f"{c.relation} {c.case}")
def test_example_stated_in_the_chapters(check):
    found = value(check.relation, check.composition, check.conditions)
    assert abs(found - check.expected) <= check.tolerance


# What the notes say one relation is in terms of others: constant, then factor by relation.
IDENTITIES = {
    "cr_eq_delong_1973": (0.0, {"cr_eq_schaeffler_1949": 1.0}),
    "cr_eq_bn2": (0.0, {"cr_eq_schaeffler_ti": 1.0}),
    "cr_eq_lean_duplex_2003": (0.0, {"cr_eq_schaeffler_ti": 1.0}),
    "ni_eq_bn2": (-0.6, {"ni_eq_delong_1973": 1.0}),
    "cr_eq_wrc_1988": (0.0, {"cr_eq_wrc_1992": 1.0}),
    "bn2_margin": (-7.70, {"cr_eq_bn2": 1.0, "ni_eq_bn2": -0.91}),
    "ferrite_seferian_1959": (
        -3 * 6.7,
        {"cr_eq_schaeffler_1949": 3.0, "ni_eq_schaeffler_1949": -3 * 0.93},
    ),
    "fn_delong_linear": (-28.6, {"cr_eq_delong_1973": 3.34, "ni_eq_delong_1973": -2.46}),
    "cpt_fit_pren16w_fecl3": (-47.3, {"pren_16n_w": 2.551}),
    "cpt_fit_pren30w_fecl3": (-41.2, {"pren_30n_w": 2.258}),
    "cpt_fit_nacl_sun": (-99.0, {"pren_16n": 4.38}),
    "cpt_fit_g150_typical": (-69.0, {"pren_16n": 3.53}),
}


@pytest.mark.parametrize("relation", IDENTITIES)
def test_identity_stated_in_a_note(relation):
    constant, parts = IDENTITIES[relation]
    expected = {}
    for part, factor in parts.items():
        constant += factor * LINEAR[part]["intercept"]
        for element, coefficient in LINEAR[part]["terms"].items():
            expected[element] = expected.get(element, 0.0) + factor * coefficient
    assert LINEAR[relation]["intercept"] == pytest.approx(constant)
    assert LINEAR[relation]["terms"] == pytest.approx(expected)


def test_eichelman_converts_from_fahrenheit():
    per_cent = {"Cr": 75, "Ni": 110, "Mn": 60, "Si": 50, "C": 3000, "N": 3000}
    fahrenheit = 75 * 14.6 + 110 * 8.9 + 60 * 1.33 + 50 * 0.47 + 3000 * 0.068
    row = LINEAR["ms_eichelman_1953"]
    assert row["intercept"] == pytest.approx((fahrenheit - 32) / 1.8, abs=0.5)
    assert row["terms"] == pytest.approx({e: -k / 1.8 for e, k in per_cent.items()}, abs=0.4)


def test_bounds_are_in_order():
    bounds = [pair for stated in RANGES.values() for pair in stated.values()]
    assert bounds
    assert all(low is not None or high is not None for low, high in bounds)
    assert all(low < high for low, high in bounds if low is not None and high is not None)
