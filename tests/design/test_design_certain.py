"""Certainty: guard bands against drawn heats, windows at all their corners, joint confidence."""

from itertools import product

import numpy as np
import pandas as pd
import pytest
from design_kit import DATA, random_brief
from scipy.stats import beta

import gradekit as gk
from gradekit.design.proof import draw_heats, prove, share
from gradekit.design.window import grow_window
from gradekit.relations.topics import CATALOGUE

ROOMY = dict(
    bounds={
        "C": (0.02, 0.08), "Si": (0.2, 1.0), "Mn": (3, 8), "Cr": (16, 20), "Ni": (1, 4.5),
        "Mo": (0.05, 0.6), "N": (0.1, 0.3), "Cu": (0.2, 2.5), "P": 0.03,
    },
    limits={
        "pren_16n": (19, None), "md30_angel_1954": (None, 60), "cr_ni_ratio_hammar": (None, 2.0)
    },
)  # fmt: skip
SD = {"C": 0.004, "Si": 0.04, "Mn": 0.1, "Cr": 0.12, "Ni": 0.08, "Mo": 0.04, "N": 0.006, "Cu": 0.05}


@pytest.fixture(scope="module")
def roomy():
    brief = gk.Brief(**ROOMY, minimise="cost")
    return gk.design_grade(brief, DATA / "element_prices.csv", SD | {"P": 0.002})


def random_covariance(rng, names, middle=1.0):
    root = rng.normal(size=(len(names), len(names))) * 0.4 + np.eye(len(names))
    size = rng.uniform(0.002, 0.02, len(names)) * middle
    square = root @ root.T
    square *= np.outer(size, size) / np.sqrt(np.outer(np.diag(square), np.diag(square)))
    return pd.DataFrame(square, names, names)


@pytest.mark.parametrize("seed", range(10))
def test_a_binding_limit_is_kept_by_just_the_share_asked_for(seed):
    """On random covariances; heats drawn here by another method than the library's."""
    rng = np.random.default_rng(seed)
    brief = random_brief(rng, elements=6, limits=3, tight=4.0)
    middle = np.mean(list(brief.bounds.values()), axis=1)
    square = random_covariance(rng, list(brief.variables), middle)
    confidence = float(rng.uniform(0.8, 0.98))
    found = gk.design_grade(brief, scatter=square, confidence=confidence, relation_error=False,
                            window_sd=0)  # fmt: skip
    assert found.feasible
    heats = rng.multivariate_normal(found.aim, square.to_numpy(), 40_000, method="cholesky")
    frame = pd.DataFrame(heats, columns=square.index)
    for label, row in found.limits.iterrows():
        if row["shadow price"] <= 1e-6:
            continue
        key, sign, _ = label.split()
        relation = None if key in square.index else CATALOGUE[key]
        values = (
            frame[key]
            if relation is None
            else relation.intercept + sum(k * frame.get(e, 0.0) for e, k in relation.terms.items())
        )
        kept = (values <= row["bound"]) if sign == "≤" else (values >= row["bound"])
        allowed = 4.5 * np.sqrt(confidence * (1 - confidence) / len(frame))
        assert kept.mean() == pytest.approx(confidence, abs=allowed), label


def test_every_limit_of_a_design_is_kept_as_often_as_promised(roomy):
    certainty = roomy.certainty
    assert roomy.feasible and len(roomy.proof.heats) == 20_000
    named = certainty.drop(index=["every limit", "inside the window"])
    assert (named["high"] >= 0.95).all()
    assert (named["high with error"] >= 0.95).all()
    assert (certainty["low"] <= certainty["share"]).all()
    assert (certainty["share"] <= certainty["high"]).all()
    assert certainty.loc["every limit", "share"] <= named["share"].min()
    assert f"{100 * certainty.loc['every limit', 'share']:.1f} %" in roomy.headline


def test_the_interval_of_a_share_is_the_exact_one():
    for kept, drawn in ((0, 20), (19, 20), (20, 20), (19_412, 20_000)):
        found, low, high = share(kept, drawn)
        assert found == kept / drawn
        assert low == pytest.approx(beta.ppf(0.025, kept, drawn - kept + 1) if kept else 0)
        assert high == pytest.approx(beta.ppf(0.975, kept + 1, drawn - kept) if kept < drawn else 1)


def test_virtual_heats_have_the_covariance_they_were_drawn_from():
    rng = np.random.default_rng(5)
    square = random_covariance(rng, list("abcd"))
    heats = draw_heats(np.full(4, 5.0), square.to_numpy(), 200_000)
    assert np.cov(heats.T) == pytest.approx(square.to_numpy(), abs=0.02 * square.to_numpy().max())
    assert (draw_heats(np.zeros(4), square.to_numpy(), 1000) >= 0).all()


def test_published_error_lowers_the_share_only_where_it_is_known():
    bounds = {"Cr": (16, 20), "Ni": (4, 12), "C": 0.05, "N": 0.05, "Mn": 1.5, "Si": 0.5}
    brief = gk.Brief(
        bounds, {"md30_nohara_1977": (None, 0), "pren_16n": (17, None)}, minimise="nickel",
        conditions={"grain_size_astm": 8},
    )  # fmt: skip
    found = gk.design_grade(brief, scatter={"Cr": 0.12, "Ni": 0.08}, relation_error=False)
    known = found.certainty.loc["md30_nohara_1977 ≤ 0"]
    assert known["share"] == pytest.approx(0.95, abs=0.02)  # rounding the aim adds a little
    # The guard band of 1.645 x 2.85 °C is about a quarter of the published error of 18 °C.
    assert known["share with error"] == pytest.approx(0.60, abs=0.03)
    unknown = found.certainty.loc["pren_16n ≥ 17"]
    assert unknown["share"] == unknown["share with error"]


def test_all_limits_together_reach_the_confidence(roomy):
    brief = gk.Brief(**ROOMY, minimise="cost")
    one = roomy.certainty.loc["every limit", "share"]
    assert one < 0.93
    together = gk.design_grade(brief, DATA / "element_prices.csv", SD | {"P": 0.002}, together=True)
    sure = prove(together.problem, together.aim.to_numpy(), 50_000, seed=9).all()[0]
    assert sure == pytest.approx(0.95, abs=0.006)
    assert together.cost > roomy.cost


def test_a_ratio_with_a_published_error_is_guarded_where_it_is():
    """The error is in units of the ratio: its band moves with the sum below, and comes to rest."""
    bounds = {
        "C": 0.03,
        "N": 0.05,
        "Si": 0.5,
        "Mn": (1, 2),
        "Mo": 0.2,
        "Cr": (17.5, 19),
        "Ni": (8, 13),
    }
    brief = gk.Brief(bounds, {"ferrite_slab_ratio": (None, 14)}, minimise="nickel")
    sd = {"Cr": 0.12, "Ni": 0.08, "Mn": 0.1}
    found = gk.design_grade(brief, scatter=sd)
    row = found.limits.loc["ferrite_slab_ratio ≤ 14"]
    assert row["slack"] == 0 and row["relation error"] == 5.9
    assert row["guard band"] == pytest.approx(1.6449 * np.hypot(row["heat scatter"], 5.9), rel=1e-4)
    assert row["value"] + row["guard band"] == pytest.approx(14, abs=1e-6)
    kept = found.certainty.loc["ferrite_slab_ratio ≤ 14", "share with error"]
    assert kept == pytest.approx(0.95, abs=0.01)
    assert not found.proven and "iteration" in found.route
    tight = gk.design_grade(brief.but(limits={"ferrite_slab_ratio": (8, 14)}), scatter=sd)
    assert not tight.feasible and len(tight.conflict.members) == 2
    assert not tight.conflict.proven


# --- the window ---------------------------------------------------------------------------------


def at_corners(design):
    window = design.window
    wide = window[window["max"] > window["min"]]
    corners = np.tile(window["aim"].to_numpy(), (2 ** len(wide), 1))
    at = [list(window.index).index(e) for e in wide.index]
    corners[:, at] = list(product(*wide[["min", "max"]].to_numpy()))
    return pd.DataFrame(corners, columns=window.index)


def test_every_corner_of_a_window_keeps_every_limit(roomy):
    corners = at_corners(roomy)
    assert len(corners) == 2**8  # phosphorus is fixed, and nothing limits it from above
    assert np.isnan(roomy.window.loc["P", "max"])
    values = gk.evaluate(corners, list(roomy.brief.limits)).values
    for key, (low, high) in roomy.brief.limits.items():
        if low is not None:
            assert (values[key] >= low - 1e-9).all()
        if high is not None:
            assert (values[key] <= high + 1e-9).all()
    for element, span in roomy.brief.bounds.items():
        if element != "P":
            low, high = span
            assert corners[element].between(low - 1e-12, high + 1e-12).all()


@pytest.mark.parametrize("seed", range(8))
def test_windows_of_random_briefs_hold_at_all_corners(seed):
    rng = np.random.default_rng(40 + seed)
    brief = random_brief(rng, elements=5, limits=3, tight=4.0)
    sd = {e: 0.01 * m[1] for e, m in brief.bounds.items()}
    found = gk.design_grade(brief, scatter=sd, relation_error=False)
    assert found.feasible
    corners = at_corners(found)
    values = gk.evaluate(corners, list(brief.limits)).values
    for key, (low, high) in brief.limits.items():
        size = 1e-9 * max(1.0, values[key].abs().max())
        assert low is None or (values[key] >= low - size).all()
        assert high is None or (values[key] <= high + size).all()


def test_a_curved_limit_holds_at_all_corners_too():
    brief = gk.Brief(
        {"C": 0.05, "Si": 0.4, "Mn": (5, 8), "Cr": (17, 20), "Ni": (2, 4.5), "Mo": 0.2,
         "N": (0.1, 0.3), "Cu": 0.5},
        {"pn2_needed_sieverts": (None, 0.22), "ni_balance": (0.5, None)},
        conditions={"temperature_C": 1500.0}, minimise="cost",
    )  # fmt: skip
    found = gk.design_grade(brief, DATA / "element_prices.csv", SD)
    assert found.feasible and found.limits.loc["pn2_needed_sieverts ≤ 0.22", "shadow price"] > 1
    values = gk.evaluate(at_corners(found), list(brief.limits), temperature_C=1500.0).values
    assert (values["pn2_needed_sieverts"] <= 0.22).all()
    assert (values["ni_balance"] >= 0.5).all()


def test_the_window_is_written_in_melt_shop_decimals_and_holds_its_aim(roomy):
    decimals = {"C": 3, "Si": 2, "Mn": 2, "Cr": 2, "Ni": 2, "Mo": 2, "N": 3, "Cu": 2}
    for element, places in decimals.items():
        row = roomy.window.loc[element]
        assert row["min"] <= row["aim"] <= row["max"]
        for value in row:
            assert value == round(value, places)
    # The written aim still keeps the guard bands: rounding was paid for beforehand.
    problem = roomy.problem
    rows = problem.rows @ roomy.window["aim"].to_numpy()
    assert (rows <= problem.ends - problem.guards(roomy.window["aim"].to_numpy()) + 1e-9).all()
    assert roomy.sheet.loc["Cr", "aim"] == f"{roomy.window.loc['Cr', 'aim']:.2f}"


def test_no_side_of_the_window_can_grow_without_another_giving_way():
    rng = np.random.default_rng(2)
    rows, room = rng.normal(size=(6, 4)), rng.uniform(0.5, 2, 6)
    weights = rng.uniform(0.5, 2, 4)
    down, up = grow_window(rows, room, weights, np.full(4, np.inf))
    use = np.maximum(rows, 0) @ up + np.maximum(-rows, 0) @ down
    assert (use <= room + 1e-9).all()
    for k in range(4):
        assert (rows[use > room - 1e-9, k] > 0).any()  # each side up is held by a full limit
        assert (rows[use > room - 1e-9, k] < 0).any()
    # The first limit to fill decides the common width, as a linear programme says too.
    from scipy.optimize import linprog

    spend = np.hstack([np.maximum(-rows, 0), np.maximum(rows, 0)])
    speed = np.hstack([weights, weights])
    best = linprog([-1.0], A_ub=(spend @ speed)[:, None], b_ub=room).x[0]
    assert min((down / weights).min(), (up / weights).min()) == pytest.approx(best)


def test_a_wider_window_is_had_for_money(roomy):
    brief = gk.Brief(**ROOMY, minimise="cost")
    wider = gk.design_grade(brief, DATA / "element_prices.csv", SD | {"P": 0.002}, window_sd=1.5)
    assert wider.cost > roomy.cost
    free = wider.window.drop(index="P")
    sd = pd.Series(SD)[free.index]
    unit = pd.Series({e: 0.001 if e in ("C", "N") else 0.01 for e in free.index})
    assert (free["aim"] - free["min"] >= 1.5 * sd - unit).all()
    assert (free["max"] - free["aim"] >= 1.5 * sd - unit).all()
    inside = [d.certainty.loc["inside the window", "share"] for d in (roomy, wider)]
    assert inside[1] > 2 * inside[0]
    assert roomy.room > 1.5


def test_what_one_analysis_may_hide_is_kept_back_from_the_window():
    brief = gk.Brief({"Cr": (16, 20), "P": (0.0, 0.04)}, minimise={"Cr": 1.0})
    sd = {"Cr": 0.1, "P": 0.002}
    plain = gk.design_grade(brief, scatter=sd)
    careful = gk.design_grade(brief, scatter=sd, analysis={"P": 0.001})
    assert plain.window.loc["P", "max"] == 0.04
    assert careful.window.loc["P", "max"] == 0.038  # 1.645 x 0.001, rounded inward


def test_without_scatter_nothing_is_promised():
    brief = gk.Brief(**ROOMY, minimise="nickel")
    found = gk.design_grade(brief, scatter={})
    assert found.certainty.empty and found.proof is None
    assert "on average only" in found.headline and "not known" in found.headline
