"""Limits that are no sums: exact forms where there are any, else the smooth solver, checked."""

import numpy as np
import pandas as pd
import pytest
from design_kit import DATA

import gradekit as gk
from gradekit.core.linear import Ratio, Sum
from gradekit.core.markup import number
from gradekit.design.problem import build
from gradekit.design.quantities import form_of
from gradekit.relations.topics import CATALOGUE

CONDITIONS = dict(
    temperature_C=1100.0, grain_size_um=30.0, grain_size_astm=7.0, delta_ferrite_pct=2.0,
    pN2_atm=1.0, pCO_atm=0.4, pH2_atm=0.01, mode_factor=0.7, twin_spacing_um=20.0, free_N=0.01,
    chloride_M=0.1, ferrite_vol_pct=5.0,
)  # fmt: skip
FIXED = {"C": 0.05, "Si": 0.4, "Mo": 0.2, "P": 0.03, "S": 0.002}
CURVED = {
    "pn2_needed_sieverts": (None, 0.35),
    "ferrite_wrc_1992": (3, 8),
    "n_margin_castable": (0.02, None),
    "yield_nordberg_2004": (300, None),
}


@pytest.mark.parametrize("name", CATALOGUE)
def test_the_form_of_every_relation_is_the_relation(name):
    """Where a form is found it equals the declared formula everywhere; else none is claimed."""
    relation = CATALOGUE[name]
    form = form_of(relation, CONDITIONS)
    rng = np.random.default_rng(0)
    elements = [e for e in relation.elements if e != "Fe"]
    points = rng.uniform(0.02, 3.0, (50, len(elements)))
    space = dict(zip(elements, points.T, strict=True)) | CONDITIONS
    space["Fe"] = 100.0 - points.sum(axis=1)
    with np.errstate(all="ignore"):
        values = np.broadcast_to(relation.value(space), 50)
    at = {e: i for i, e in enumerate(elements)}
    if form is None:
        # No sum and no ratio: the middle of two points does not have the middle value.
        assert relation.form == "function"
        return
    if isinstance(form, Sum):
        row, constant = form.row(at)
        ours = points @ row + constant
    else:
        (above, a), (below, b) = form.above.row(at), form.below.row(at)
        ours = (points @ above + a) / (points @ below + b)
    assert ours == pytest.approx(values, rel=1e-9, abs=1e-9)


def test_which_relations_are_exact():
    found = {n: form_of(r, CONDITIONS) for n, r in CATALOGUE.items()}
    assert all(isinstance(found[n], Sum) for n in ("md30_nohara_1977", "yield_irvine_1969"))
    assert all(
        isinstance(found[n], Ratio)
        for n in ("cr_ni_ratio_hammar", "ferrite_slab_ratio", "sigma_ratio_cast_25_12")
    )
    assert all(found[n] is None for n in CURVED)


def test_slopes_agree_with_derivatives_worked_by_hand():
    brief = gk.Brief(
        {"Cr": 18.0, "Ni": 4.0, "Mn": 7.0, "N": 0.2, "C": 0.05, "Mo": 0.3},
        {"pren_jargelius_1998": (1, None)}, minimise="nickel", stay_in_range=False,
    )  # fmt: skip
    problem = build(brief)
    x = np.array([brief.bounds[e][0] for e in problem.variables])
    values, found = problem.slopes([d.quantity for d in problem.constraints], x)
    # Cr + 3.3 Mo - 1.6 Mn + 36 N + 7 Mo N
    assert values[0] == pytest.approx(18 + 0.99 - 11.2 + 7.2 + 0.42)
    by_hand = {"Cr": 1, "Ni": 0, "Mn": -1.6, "N": 36 + 2.1, "C": 0, "Mo": 3.3 + 1.4}
    assert found[0] == pytest.approx([by_hand[e] for e in problem.variables], abs=1e-7)


@pytest.mark.parametrize("names", [["pn2_needed_sieverts"], list(CURVED)[:2], list(CURVED)])
def test_no_point_of_a_dense_search_is_cheaper(names):
    """Against 200,000 compositions drawn evenly over the bounds, judged on the full relations."""
    bounds = {"Mn": (5, 8), "Cr": (17, 20), "Ni": (2, 5), "N": (0.05, 0.3), "Cu": (0.2, 2.5)}
    limits = {n: CURVED[n] for n in names} | {"ni_balance": (0.5, None)}
    conditions = {"temperature_C": 1500.0, "grain_size_um": 20.0, "delta_ferrite_pct": 2.0}
    brief = gk.Brief(bounds | FIXED, limits, conditions=conditions, minimise="cost")
    prices = gk.read_prices(DATA / "element_prices.csv")
    found = gk.design_grade(brief, prices, confidence=None)
    assert found.feasible
    rng = np.random.default_rng(3)
    low, high = np.array(list(bounds.values())).T
    heats = pd.DataFrame(rng.uniform(low, high, (200_000, len(low))), columns=list(bounds))
    heats = heats.assign(**FIXED)
    result = gk.evaluate(heats, [*limits, prices.cost], **conditions)
    inside = np.ones(len(heats), bool)
    for name, (least, most) in limits.items():
        value = result.values[name].to_numpy()
        inside &= (value >= least if least is not None else True) & (
            value <= most if most is not None else True
        )
    flagged = result.flags[list(limits)].to_numpy() & int(gk.Flag.BELOW_RANGE | gk.Flag.ABOVE_RANGE)
    inside &= (flagged == 0).all(axis=1)
    best = result.values["alloy_cost"][inside].min()
    assert inside.sum() > 50
    assert found.cost <= best + 1e-6
    assert found.cost > 0.9 * best
    # Verified on the full relations, not on what the solver believed.
    aim = gk.evaluate(found.aim.rename("aim"), list(limits), **conditions).values.loc["aim"]
    for name, (least, most) in limits.items():
        size = 1e-4 * max(1.0, abs(aim[name]))
        assert least is None or aim[name] >= least - size
        assert most is None or aim[name] <= most + size


def test_the_route_says_what_is_proven():
    bounds = {"Mn": (5, 8), "Cr": (17, 20), "Ni": (2, 5), "N": (0.05, 0.3)} | FIXED
    conditions = {"temperature_C": 1500.0}
    prices = gk.read_prices(DATA / "element_prices.csv")

    def route(pressure):
        brief = gk.Brief(
            bounds, {"pn2_needed_sieverts": (None, pressure), "ni_balance": (1, None)},
            conditions=conditions, minimise="cost",
        )  # fmt: skip
        return gk.design_grade(brief, prices, confidence=None)

    easy, hard = route(0.95), route(0.25)
    assert easy.proven and "proven" in easy.route
    assert not hard.proven and "local" in hard.route
    assert hard.solution.floor == pytest.approx(easy.cost, rel=1e-9)
    assert f"costs {number(hard.solution.floor, 5)} crown/t at least" in repr(hard)


def test_guard_bands_of_a_curved_limit_rest_and_hold():
    bounds = {"Mn": (5, 8), "Cr": (17, 20), "Ni": (2, 5), "N": (0.05, 0.3)} | FIXED
    brief = gk.Brief(
        bounds, {"pn2_needed_sieverts": (None, 0.25), "ni_balance": (1, None)},
        conditions={"temperature_C": 1500.0}, minimise="cost",
    )  # fmt: skip
    sd = {"Mn": 0.1, "Cr": 0.12, "Ni": 0.08, "N": 0.006}
    found = gk.design_grade(brief, DATA / "element_prices.csv", sd)
    row = found.limits.loc["pn2_needed_sieverts ≤ 0.25"]
    assert row["slack"] == 0 and row["shadow price"] > 0
    assert row["guard band"] == pytest.approx(1.645 * row["heat scatter"], rel=1e-3)
    kept = found.certainty.loc["pn2_needed_sieverts ≤ 0.25"]
    assert kept["high"] > 0.95 and kept["share"] == pytest.approx(0.955, abs=0.012)


def test_a_shadow_price_of_a_curved_limit_is_what_moving_it_costs():
    bounds = {"Mn": (5, 8), "Cr": (17, 20), "Ni": (2, 5), "N": (0.05, 0.3)} | FIXED

    def solve(pressure):
        brief = gk.Brief(
            bounds, {"pn2_needed_sieverts": (None, pressure), "ni_balance": (1, None)},
            conditions={"temperature_C": 1500.0}, minimise="cost",
        )  # fmt: skip
        return gk.design_grade(brief, DATA / "element_prices.csv", confidence=None)

    price = solve(0.25).limits.loc["pn2_needed_sieverts ≤ 0.25", "shadow price"]
    assert price == pytest.approx((solve(0.248).cost - solve(0.252).cost) / 0.004, rel=2e-3)


def test_an_aim_that_is_no_sum_is_minimised_too():
    brief = gk.Brief(
        {"Mn": (5, 8), "Cr": (17, 20), "Ni": (2, 5), "N": (0.15, 0.3)} | FIXED,
        {"pren_16n": (21, None)}, minimise="pn2_needed_sieverts",
        conditions={"temperature_C": 1500.0},
    )  # fmt: skip
    found = gk.design_grade(brief, confidence=None)
    # Nitrogen is least wanted and chromium and manganese hold it: both at their ends.
    assert found.aim[["N", "Cr", "Mn", "Ni"]].tolist() == pytest.approx([0.15, 20, 8, 2], abs=1e-4)
    value = gk.evaluate(found.aim.rename("a"), "pn2_needed_sieverts", temperature_C=1500.0)
    assert found.cost == pytest.approx(value.values.iloc[0, 0], rel=1e-9)


def test_below_the_floor_of_a_scale_the_formula_still_leads_on():
    """Slab ferrite shows 0 below its scale, where a step changes nothing; the answer is found."""
    bounds = {"Cr": (16, 20), "Ni": (8, 14), "C": 0.05, "N": 0.05, "Si": 0.4, "Mn": 1.5, "Mo": 0.0}
    brief = gk.Brief(bounds, {"ferrite_hull_cass_1994": (4, 6)}, minimise={"Cr": 1.0, "Ni": -0.1})
    found = gk.design_grade(brief, confidence=None)
    assert found.feasible
    assert 4 - 1e-4 <= found.limits["value"].iloc[0] <= 6 + 1e-4
    with pytest.raises(gk.InputError, match="its floor"):
        gk.Brief(bounds, {"ferrite_hull_cass_1994": (None, -1)}, minimise={"Cr": 1.0})
    trivial = gk.Brief(bounds, {"ferrite_slab_ratio": (0, None)}, minimise={"Cr": 1.0})
    assert "ferrite_slab_ratio ≥ 0" not in gk.design_grade(trivial, confidence=None).limits.index


def test_a_relation_with_steps_is_no_constraint():
    bounds = {"Cr": (16, 20), "Ni": (2, 10), "N": (0.05, 0.3)}
    with pytest.raises(gk.InputError, match="nearest ni_eq_espy_smooth"):
        gk.design_grade(gk.Brief(bounds=bounds, limits={"ni_eq_espy_1982": (10, None)}))
    smooth = gk.evaluate([{**FIXED, "Cr": 18, "Ni": 5, "N": n} for n in (0.199, 0.201)],
                         "ni_eq_espy_smooth").values.iloc[:, 0]  # fmt: skip
    assert smooth.iloc[1] > smooth.iloc[0], "more nitrogen is never worth less"
