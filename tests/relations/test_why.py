"""Shares of a change: they add up, nobody idle gets one, and the way back is the same."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import gradekit as gk
from gradekit.relations.shares import shares
from gradekit.relations.topics import CATALOGUE

RANGES = {
    "C": (0.01, 0.12), "Si": (0.2, 1.5), "Mn": (0.3, 9), "P": (0.01, 0.04), "S": (0.001, 0.02),
    "Cr": (12, 27), "Ni": (0.2, 22), "Mo": (0, 6), "N": (0.01, 0.4), "Cu": (0, 3), "Nb": (0, 0.6),
    "Ti": (0, 0.6), "W": (0, 1), "Al": (0, 0.2), "Co": (0, 0.3), "V": (0, 0.2),
}  # fmt: skip
CONDITIONS = {
    "temperature_C": (20.0, 400.0), "grain_size_um": (30.0, 50.0), "grain_size_astm": (7.0, 9.0),
    "delta_ferrite_pct": (5.0, 2.0), "ferrite_vol_pct": (45.0, 55.0), "twin_spacing_um": (15.0, 20),
    "free_N": (0.02, 0.1), "chloride_M": (0.1, 1.0), "pN2_atm": (1.0, 0.6), "pCO_atm": (1.0, 0.3),
    "pH2_atm": (1.0, 0.5), "mode_factor": (0.7, 0.95),
}  # fmt: skip


def steel(rng: np.random.Generator) -> dict[str, float]:
    return {e: float(rng.uniform(*ends)) for e, ends in RANGES.items()}


def conditions_of(name: str) -> dict[str, tuple[float, float]]:
    ends = {c: CONDITIONS.get(c) for c in CATALOGUE[name].conditions}
    if "temperature_C" in ends and CATALOGUE[name].quantity not in ("proof strength",):
        ends["temperature_C"] = (1550.0, 1600.0)
    return ends


@pytest.mark.parametrize("name", list(CATALOGUE))
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_shares_of_any_relation_add_up_to_the_change(name, seed):
    rng = np.random.default_rng([seed, *name.encode()])
    before = steel(rng)
    after = {e: v * rng.uniform(0.7, 1.3) for e, v in before.items()}
    for idle in rng.choice(list(before), 4, replace=False):
        after[idle] = before[idle]
    ends = conditions_of(name)
    table = gk.why(before, after, name, **ends)
    for side, heat in enumerate((before, after)):
        at_end = {c: pair[side] for c, pair in ends.items()}
        value = gk.evaluate(heat, name, **at_end).values.iat[0, 0]
        key = ("before", "after")[side]
        assert table.attrs[key] == pytest.approx(value, rel=1e-12, nan_ok=True)
    change = table.attrs["after"] - table.attrs["before"]
    if math.isnan(change):
        assert table["contribution"].isna().all() and any(table.attrs["flags"])
        return
    size = max(1.0, abs(change))
    assert abs(table["contribution"].sum() - change) <= 1e-9 * size
    assert not {e for e in before if before[e] == after[e]} & set(table.index)
    back = gk.why(after, before, name, **{c: pair[::-1] for c, pair in ends.items()})
    pd.testing.assert_series_equal(
        -back["contribution"].reindex(table.index), table["contribution"], atol=1e-9 * size
    )


def test_most_relations_have_a_value_on_ordinary_steels():
    """The test above would hold of nothing but NaN."""
    rng = np.random.default_rng(7)
    before, after = steel(rng), steel(rng)
    missing = [
        name
        for name in CATALOGUE
        if gk.why(before, after, name, **conditions_of(name))["contribution"].isna().any()
    ]
    assert len(missing) <= len(CATALOGUE) // 10, missing


@given(st.dictionaries(st.sampled_from("abcd"), st.tuples(*[st.floats(-9, 9)] * 2), min_size=2))
@settings(deadline=None)
def test_what_enters_alike_gets_alike_and_a_sum_is_taken_term_by_term(ends):
    before, after = ({n: pair[k] for n, pair in ends.items()} for k in (0, 1))
    weights = dict(zip("abcd", (1.0, -2.0, 3.0, 0.5), strict=True))

    def total(x):
        return sum(weights[n] * v for n, v in x.items())

    for name, share in shares(total, before, after, list(ends)).items():
        assert share == pytest.approx(weights[name] * (after[name] - before[name]), abs=1e-9)


def test_a_product_is_shared_by_the_mean_of_both_orders():
    parts = shares(
        lambda x: x["a"] * x["b"], {"a": 2.0, "b": 3.0}, {"a": 4.0, "b": 5.0}, ["a", "b"]
    )
    assert parts == pytest.approx({"a": 2 * (3 + 5) / 2, "b": 2 * (2 + 4) / 2})


def test_a_step_is_shared_exactly_though_it_has_no_slope():
    def step(x):
        return np.where(x["a"] + x["b"] > 1.5, 10.0, 0.0)

    assert shares(step, {"a": 0, "b": 0}, {"a": 1, "b": 1}, ["a", "b"]) == {"a": 5.0, "b": 5.0}


def test_where_a_corner_has_no_value_the_straight_way_is_walked_in_steps():
    def root(x):
        return np.sqrt(x["a"] - x["b"])

    parts = shares(root, {"a": 3.0, "b": 2.0}, {"a": 8.0, "b": 7.0}, ["a", "b"])
    assert sum(parts.values()) == pytest.approx(0.0, abs=1e-12)
    assert parts["a"] > 0 > parts["b"]


def test_the_shares_agree_with_the_integral_of_the_slope_where_the_change_is_small():
    before = {"C": 0.03, "Cr": 19.0, "Ni": 9.5, "Mo": 0.3, "N": 0.06, "Nb": 0.01, "Cu": 0.2}
    after = before | {"Cr": 19.05, "Ni": 9.45, "N": 0.061}
    table = gk.why(before, after, "ferrite_wrc_1992")
    for element in ("Cr", "Ni", "N"):
        ends = [before | {element: before[element] + s * 1e-4} for s in (-1, 1)]
        low, high = gk.evaluate(ends, "ferrite_wrc_1992").values["ferrite_wrc_1992"]
        slope = (high - low) / 2e-4
        expected = slope * (after[element] - before[element])
        assert table.at[element, "contribution"] == pytest.approx(expected, rel=0.05)


def test_a_condition_can_change_too():
    heat = {"C": 0.05, "Cr": 18.2, "Ni": 8.1, "Mn": 1.4, "Si": 0.4, "Mo": 0.3, "N": 0.05}
    table = gk.why(heat, heat, "md30_nohara_1977", grain_size_astm=(8.0, 6.0))
    assert table.index.tolist() == ["grain_size_astm"]
    assert table["contribution"].iloc[0] == pytest.approx(2.84)  # -1.42 a number of the scale


def test_two_heats_on_one_side_are_refused_and_so_is_half_a_pair():
    heat = {"Cr": 18.2, "Mo": 0.3, "N": 0.05}
    with pytest.raises(gk.InputError, match="one heat"):
        gk.why([heat, heat], heat, "pren_16n")
    with pytest.raises(gk.InputError, match="a pair"):
        gk.why(heat, heat, "md30_nohara_1977", grain_size_astm=(8, 7, 6))
