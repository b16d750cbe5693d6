"""The linear programme: optima by hand, a second solver on random briefs, bounds moved."""

import numpy as np
import pandas as pd
import pytest
from design_kit import DATA, random_brief, second_opinion
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtri

import gradekit as gk

PREN = dict(bounds={"Cr": (16, 20), "Mo": (0, 2), "N": (0, 0.1)}, minimise={"Cr": 1.0, "Mo": 10.0})


def test_the_cheapest_pitting_resistance_by_hand():
    # A point of PREN costs 1 by chromium, 10/3.3 by molybdenum, nothing by nitrogen.
    found = gk.design_grade(gk.Brief(limits={"pren_16n": (20, None)}, **PREN), confidence=None)
    assert found.aim.to_dict() == pytest.approx({"Cr": 18.4, "Mo": 0.0, "N": 0.1}, abs=1e-9)
    assert found.cost == pytest.approx(18.4)
    assert found.proven and "proven" in found.route
    limits = found.limits
    assert limits.loc["pren_16n ≥ 20", "shadow price"] == pytest.approx(1.0)
    assert limits.loc["N ≤ 0.1", "shadow price"] == pytest.approx(16.0)
    assert limits.loc["pren_16n ≥ 20", "slack"] == 0


def test_beyond_the_chromium_bound_molybdenum_sets_the_price():
    found = gk.design_grade(gk.Brief(limits={"pren_16n": (23.25, None)}, **PREN), confidence=None)
    assert found.aim.to_dict() == pytest.approx({"Cr": 20, "Mo": 0.5, "N": 0.1}, abs=1e-9)
    assert found.limits.loc["pren_16n ≥ 23.25", "shadow price"] == pytest.approx(10 / 3.3)
    row = found.shadow_prices.loc["pren_16n ≥ 23.25"]
    # Molybdenum runs from 0 (PREN 21.6) to 2 (28.2).
    assert row["holds from"] == pytest.approx(21.6) and row["holds to"] == pytest.approx(28.2)
    assert "the last 1 of" in row["words"]
    assert found.savings["pren_16n ≥ 23.25"] == pytest.approx(
        25.0 - 16.0
    )  # without it chromium goes to its foot


def test_guard_bands_by_hand():
    brief = gk.Brief(limits={"pren_16n": (20, None)}, **PREN)
    found = gk.design_grade(brief, scatter={"Cr": 0.1, "N": 0.005}, confidence=0.95)
    z = ndtri(0.95)
    nitrogen = 0.1 - z * 0.005
    # no melt shop keeps out the last 0.02 % of molybdenum
    chromium = 20 + z * np.hypot(0.1, 16 * 0.005) - 16 * nitrogen - 3.3 * 0.02
    assert found.aim["N"] == pytest.approx(nitrogen, abs=1e-9)
    assert found.aim["Cr"] == pytest.approx(chromium, abs=1e-9)
    row = found.limits.loc["pren_16n ≥ 20"]
    assert row["heat scatter"] == pytest.approx(np.hypot(0.1, 0.08))
    assert row["guard band"] == pytest.approx(z * np.hypot(0.1, 0.08))
    assert np.isnan(row["relation error"])  # no figure is known for it, and none is made up


def test_a_published_error_is_added_in_squares_and_can_be_left_out():
    bounds = {"Cr": (16, 20), "Ni": (4, 12), "C": 0.05, "N": 0.05, "Mn": 1.5, "Si": 0.5}
    brief = gk.Brief(
        bounds, {"md30_nohara_1977": (None, 0)}, minimise="nickel",
        conditions={"grain_size_astm": 8},
    )  # fmt: skip
    scatter = {"Cr": 0.12, "Ni": 0.08}
    with_error = gk.design_grade(brief, scatter=scatter)
    without = gk.design_grade(brief, scatter=scatter, relation_error=False)
    heat = np.hypot(13.7 * 0.12, 29 * 0.08)
    key = "md30_nohara_1977 ≤ 0"
    z = ndtri(0.95)
    assert with_error.limits.loc[key, "guard band"] == pytest.approx(z * np.hypot(heat, 18))
    assert without.limits.loc[key, "guard band"] == pytest.approx(z * heat)
    for found in (with_error, without):  # kept apart in the table, counted or not
        assert found.limits.loc[key, "heat scatter"] == pytest.approx(heat)
        assert found.limits.loc[key, "relation error"] == 18
    assert with_error.cost > without.cost


def test_a_ratio_is_linearised_exactly_and_so_is_its_price():
    bounds = {"Cr": (16, 20), "Ni": (4, 14), "C": 0.05, "Si": 0.5, "Mn": 1.0, "N": 0.05}
    name = "cr_ni_ratio_schaeffler"

    def least(bound):
        return gk.design_grade(
            gk.Brief(bounds, {name: (None, bound)}, minimise={"Ni": 1.0, "Cr": 0.2}),
            confidence=None,
        )

    found = least(1.5)
    # Nickel must reach Creq/1.5 - 30 C - 0.5 Mn with chromium at its foot.
    assert found.aim["Ni"] == pytest.approx((16 + 1.5 * 0.5) / 1.5 - 1.5 - 0.5, abs=1e-9)
    assert found.proven
    assert found.limits.loc[f"{name} ≤ 1.5", "value"] == pytest.approx(1.5, abs=1e-9)
    slope = (least(1.5 - 1e-4).cost - least(1.5 + 1e-4).cost) / 2e-4
    assert found.limits.loc[f"{name} ≤ 1.5", "shadow price"] == pytest.approx(slope, rel=1e-5)
    same = gk.design_grade(
        gk.Brief(
            bounds,
            {"cr_eq_schaeffler_1949 / ni_eq_schaeffler_1949": (None, 1.5)},
            minimise={"Ni": 1.0, "Cr": 0.2},
        ),
        confidence=None,
    )
    assert same.cost == pytest.approx(found.cost, abs=1e-9) and same.proven


@pytest.mark.parametrize("seed", range(60))
def test_random_briefs_agree_with_another_formulation_and_method(seed):
    rng = np.random.default_rng(seed)
    elements, limits = int(rng.integers(3, 14)), int(rng.integers(2, 10))
    brief = random_brief(rng, elements, limits, tight=(1.0, 0.2, -0.4)[seed % 3])
    found = gk.design_grade(brief, confidence=None)
    other = second_opinion(brief)
    assert found.feasible == (other is not None)
    if not found.feasible:
        return
    scale = max(1.0, abs(other))
    assert found.cost == pytest.approx(other, abs=2e-6 * scale)
    # The multipliers are a proof: no other composition inside can be cheaper.
    assert found.sensitivity.residual < 1e-6
    assert (found.limits["slack"] > -1e-6 * np.maximum(1, found.limits["bound"].abs())).all()


@pytest.mark.parametrize("seed", range(6))
def test_no_point_of_a_grid_is_cheaper(seed):
    rng = np.random.default_rng(100 + seed)
    bounds = {"Cr": (16, 20), "Ni": (2, 10), "Mn": (1, 9)}
    fixed = {"C": 0.05, "N": 0.1, "Si": 0.5, "Mo": 0.2}
    limits = {
        "pren_16n": (float(rng.uniform(19, 21)), None),
        "md30_angel_1954": (None, float(rng.uniform(0, 60))),
        "cr_ni_ratio_hammar": (None, float(rng.uniform(1.4, 2.2))),
    }
    weights = {"Cr": 24.0, "Ni": 213.0, "Mn": float(rng.uniform(10, 80))}
    # where a relation holds is another test
    brief = gk.Brief(bounds | fixed, limits, minimise=weights, stay_in_range=False)
    found = gk.design_grade(brief, confidence=None)
    axes = [np.linspace(*bounds[e], 41) for e in bounds]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    heats = pd.DataFrame(grid, columns=list(bounds)).assign(**fixed)
    values = gk.evaluate(heats, list(limits)).values
    inside = np.ones(len(grid), bool)
    for name, (low, high) in limits.items():
        inside &= (values[name] >= low) if low is not None else (values[name] <= high)
    costs = grid @ np.array([weights[e] for e in bounds])
    assert inside.any()
    step = sum(
        w * (b[1] - b[0]) / 40 for w, b in zip(weights.values(), bounds.values(), strict=True)
    )
    assert found.feasible
    assert found.cost <= costs[inside].min() + 1e-9
    assert found.cost >= costs[inside].min() - 3 * step


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), share=st.floats(0.05, 1.0))
def test_a_tighter_limit_never_lowers_the_cost(seed, share):
    rng = np.random.default_rng(seed)
    brief = random_brief(rng)
    first = gk.design_grade(brief, confidence=None)
    if not first.feasible:
        return
    key = str(rng.choice(list(brief.limits)))
    low, high = brief.limits[key]
    move = share * 0.05 * max(1.0, abs(low if low is not None else high))
    span = (low + move, None) if low is not None else (None, high - move)
    second = gk.design_grade(brief.but(limits={key: span}), confidence=None)
    assert not second.feasible or second.cost >= first.cost - 1e-6 * max(1.0, abs(first.cost))


@pytest.mark.parametrize("seed", range(12))
def test_a_shadow_price_is_what_moving_the_bound_costs_as_far_as_it_holds(seed):
    rng = np.random.default_rng(500 + seed)
    brief = random_brief(rng, elements=6, limits=5)
    found = gk.design_grade(brief, confidence=None)
    if not found.feasible:
        return
    for key in brief.limits:
        low, high = brief.limits[key]
        sense, bound = (-1, low) if low is not None else (1, high)
        rows = found.limits[found.limits.index.str.startswith(f"{key} ")]
        label = rows.index[0]
        if label not in found.shadow_prices.index:
            continue
        row = found.shadow_prices.loc[label]
        for end in (row["holds from"], row["holds to"]):
            if not np.isfinite(end):
                continue
            near = bound + 0.9 * (end - bound)
            span = (near, None) if sense < 0 else (None, near)
            moved = gk.design_grade(brief.but(limits={key: span}), confidence=None)
            expected = found.cost + row["shadow price"] * (bound - near) * sense
            assert moved.cost == pytest.approx(expected, rel=1e-5, abs=1e-5)


def test_of_two_aims_the_second_decides_a_tie():
    bounds = {"Cr": (16, 20), "Mo": (0, 2), "N": (0, 0.1), "Mn": (1, 5)}
    brief = gk.Brief(bounds, {"pren_16n": (20, None)}, minimise=({"Cr": 1.0, "Mo": 10.0}, "-1*Mn"))
    found = gk.design_grade(brief, confidence=None)
    assert found.cost == pytest.approx(18.4, abs=1e-5)
    assert found.aim["Mn"] == pytest.approx(5, abs=1e-6)


def test_cost_comes_from_the_price_list():
    brief = gk.Brief(
        {"Cr": (16, 20), "Mo": (0, 2), "N": (0, 0.1), "Ni": (0, 2), "C": 0.03},
        {"pren_16n": (20, None)},
    )
    prices = gk.read_prices(DATA / "element_prices.csv")
    found = gk.design_grade(brief, prices, confidence=None)
    full = gk.evaluate(found.aim.rename("aim"), prices.cost).values.iloc[0, 0]
    assert found.cost == pytest.approx(full, rel=1e-12)
    assert found.unit == "crown/t" and "INVENTED" in repr(found)
    capped = brief.but(limits={"alloy_cost": (None, found.cost + 5)}, minimise="nickel")
    assert gk.design_grade(capped, prices, confidence=None).feasible
    with pytest.raises(gk.InputError, match="prices"):
        gk.design_grade(brief)
