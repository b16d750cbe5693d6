"""Published relations corrected by a works' own tests: simulated works whose truth is known."""

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.properties.calibrate.posterior import posterior
from gradekit.properties.calibrate.stack import stacking_weights

RANGES = {
    "C": (0.02, 0.08), "Si": (0.3, 0.7), "Mn": (1, 7), "Cr": (17, 19), "Ni": (4, 9),
    "N": (0.03, 0.15), "Mo": (0.05, 0.4), "Cu": (0.1, 2), "Nb": (0, 0.02),
}  # fmt: skip


def works(seed: int, heats: int, each: int) -> tuple[pd.DataFrame, np.random.Generator]:
    rng = np.random.default_rng(seed)
    columns = {e: np.repeat(rng.uniform(*ends, heats), each) for e, ends in RANGES.items()}
    names = [f"H{k // each}" for k in range(heats * each)]
    return pd.DataFrame({"heat": names, **columns}), rng


def published(table: pd.DataFrame, name: str, **conditions) -> np.ndarray:
    batch = table[list(RANGES)]
    return gk.evaluate(batch, name, **conditions).values[name].to_numpy()


def measured(seed=1, heats=12, each=2, bias=-12.0, name="md30_nohara_1977") -> pd.DataFrame:
    table, rng = works(seed, heats, each)
    heat = np.repeat(rng.normal(0, 5, heats), each)
    base = published(table, name, **({"grain_size_astm": 8} if "nohara" in name else {}))
    table["Md30_C"] = base + bias + heat + rng.normal(0, 3, len(table))
    return table


def test_a_planted_bias_is_recovered_and_said():
    own = gk.calibrate("md30_nohara_1977", measured(), "Md30_C", groups="heat", grain_size_astm=8)
    value, low, high = own.offset[["value", "low", "high"]]
    assert low < -12 < high < 0 and low < value < high
    assert "reads" in own.sentence and "high" in own.sentence and "12 heats" in own.sentence
    assert own.errors.loc["corrected", "RMSE"] < own.errors.loc["published", "RMSE"]
    assert own.errors.loc["published", "bias"] == pytest.approx(12, abs=5)
    assert abs(own.errors.loc["corrected", "bias"]) < 2


@pytest.mark.parametrize(
    ("heats", "each", "between", "within", "bias"),
    [(10, 2, 8, 5, None), (6, 1, 4, 6, None), (25, 2, 12, 4, None), (10, 2, 8, 5, 12.0)],
)
def test_nine_intervals_in_ten_hold_the_truth_of_simulated_works(
    heats, each, between, within, bias
):
    rng = np.random.default_rng([heats, each])
    size, rounds = 18.0, 400
    labels = np.repeat(np.arange(heats), each)
    inside = 0
    for _ in range(rounds):
        truth = rng.normal(0, size) if bias is None else bias
        tests = truth + rng.normal(0, between, heats)[labels] + rng.normal(0, within, labels.size)
        after = posterior(np.ones((labels.size, 1)), tests, labels, np.array([size]), size)
        _, low, high = after.interval(np.ones(1), 0.9)
        inside += low < truth < high
    assert 0.86 <= inside / rounds <= 0.945


def test_an_interval_for_one_test_of_a_new_heat_covers_too():
    rng = np.random.default_rng(5)
    inside, rounds = 0, 300
    labels = np.repeat(np.arange(10), 2)
    for _ in range(rounds):
        truth = rng.normal(0, 18)
        tests = truth + rng.normal(0, 8, 10)[labels] + rng.normal(0, 5, 20)
        after = posterior(np.ones((20, 1)), tests, labels, np.array([18.0]), 18.0)
        _, low, high = after.interval(np.ones(1), 0.9, one_test=True)
        inside += low < truth + rng.normal(0, 8) + rng.normal(0, 5) < high
    assert 0.86 <= inside / rounds <= 0.95


def test_few_tests_move_it_little_and_many_move_it_all_the_way():
    full = [
        gk.calibrate(
            "md30_nohara_1977", measured(3, heats, 1, 30.0), "Md30_C", groups="heat",
            grain_size_astm=8,
        ).offset["value"]
        for heats in (1, 40)
    ]  # fmt: skip
    assert abs(full[0]) < 30 and full[1] == pytest.approx(30, abs=3)


def test_many_tests_of_one_heat_do_not_outvote_the_others():
    table = measured(2, 8, 1)
    again = pd.concat([table, *[table.iloc[[0]]] * 30], ignore_index=True)
    names = ("md30_nohara_1977", "Md30_C")
    one, many = (
        gk.calibrate(names[0], t, names[1], groups="heat", grain_size_astm=8).offset
        for t in (table, again)
    )
    alone = table["Md30_C"].iloc[0] - published(table, names[0], grain_size_astm=8)[0]
    assert abs(many["value"] - one["value"]) < abs(alone - one["value"])
    assert many["high"] - many["low"] > 0.4 * (one["high"] - one["low"])


def test_the_result_is_a_relation_like_any_other():
    own = gk.calibrate(
        "md30_nohara_1977", measured(), "Md30_C", groups="heat", slope=True, terms=["Ni"],
        grain_size_astm=8, name="md30_of_ours",
    )  # fmt: skip
    check = own.check
    result = gk.evaluate(check.composition, own, **check.conditions)
    assert result.values.iat[0, 0] == pytest.approx(check.value, abs=check.allowed)
    table = gk.explain(check.composition, own, **check.conditions)
    assert table["contribution"].sum() == pytest.approx(check.value, abs=1e-6)
    after = check.composition | {"Ni": check.composition["Ni"] + 0.5}
    parts = gk.why(check.composition, after, own, **check.conditions)
    assert parts.index.tolist() == ["Ni"]
    assert set(own.covariance) == {"offset", "slope", "Ni"}
    outside = gk.evaluate(check.composition | {"Ni": 15.0}, own, **check.conditions)
    assert outside.flags.iat[0, 0] & gk.Flag.OUTSIDE_DATA


def test_tests_are_read_as_for_a_fit():
    """Strengths in ksi are refused, means are no tests, and conditions of means are not read."""
    table, _ = works(7, 12, 2)
    given = {"grain_size_um": 40.0, "delta_ferrite_pct": 0.0}
    table["proof_strength_MPa"] = published(table, "yield_nordberg_2004", **given) + 9
    table["grain_size_um"], table["delta_ferrite_pct"] = 40.0, 0.0
    mean = dict.fromkeys(table, 1.0) | {"heat": "mean", "grain_size_um": "of all"}
    own = gk.calibrate(
        "yield_nordberg_2004", pd.concat([table, pd.DataFrame([mean])], ignore_index=True),
        "proof_strength_MPa", groups="heat",
    )  # fmt: skip
    assert len(own.tests) == 24 and own.offset["value"] == pytest.approx(9, abs=1)
    assert any("left out: a mean or limit" in note for note in own.notes)
    ksi = table.assign(proof_strength_MPa=table["proof_strength_MPa"] / 6.895)
    with pytest.raises(gk.InputError, match="as in ksi"):
        gk.calibrate("yield_nordberg_2004", ksi, "proof_strength_MPa", groups="heat")


def test_a_corrected_sum_stays_a_sum_that_the_designer_can_use():
    table = measured(4, 15, 2, 20.0, "md30_angel_1954")
    own = gk.calibrate("md30_angel_1954", table, "Md30_C", groups="heat", terms=["N"])
    assert own.form == "linear" and own.plain
    base = published(table, "md30_angel_1954")
    values = gk.evaluate(table[list(RANGES)], own).values.iloc[:, 0].to_numpy()
    expected = base + own.offset["value"]
    expected += own.coefficients.at["N", "value"] * (table["N"] - own.centre["N"]).to_numpy()
    np.testing.assert_allclose(values, expected, atol=1e-9)


def test_of_several_forms_the_one_that_made_the_tests_gets_the_weight():
    table = measured(6, 14, 2, 8.0, "md30_sjoberg_1973")
    stack = gk.calibrate("Md30", table, "Md30_C", groups="heat", grain_size_astm=8)
    weights = stack.weights["weight"]
    assert weights.sum() == pytest.approx(1) and weights.idxmax() == "md30_sjoberg_1973"
    assert weights["md30_sjoberg_1973"] > 0.7
    assert (stack.weights["low"] <= weights + 1e-9).all()
    assert (stack.weights["high"] >= weights - 1e-9).all()
    result = gk.evaluate(stack.check.composition, stack, **stack.check.conditions)
    assert result.values.iat[0, 0] == pytest.approx(stack.check.value, abs=1e-5)
    assert stack.errors.loc["together", "RMSE"] < 12


def test_a_form_without_a_value_has_no_vote_and_says_why():
    stack = gk.calibrate("Md30", measured(7, 10, 1), "Md30_C", groups="heat")
    assert stack.weights.loc["md30_nohara_1977", "weight"] == 0
    assert "grain_size_astm" in stack.weights.loc["md30_nohara_1977", "remark"]


def test_two_forms_that_are_right_half_of_the_time_share_the_weight():
    densities = np.log([[0.9, 0.1], [0.1, 0.9]] * 5)
    assert stacking_weights(densities).mean(axis=0) == pytest.approx([0.5, 0.5], abs=0.03)


def test_three_heats_seldom_rule_a_published_form_out():
    sure = np.log([[1.0, 1e-9, 1e-9, 1e-9]])
    few, many = (stacking_weights(np.repeat(sure, n, axis=0)) for n in (3, 60))
    # Three heats of four: a beta distribution of 3.25 and 0.75.
    assert few.mean(axis=0)[0] == pytest.approx(3.25 / 4, abs=0.02)
    assert np.quantile(few[:, 0], 0.05) == pytest.approx(0.452, abs=0.03)
    assert np.quantile(many[:, 0], 0.05) > 0.95


def test_of_a_diagram_the_tolerance_is_the_prior():
    table, rng = works(8, 10, 1)
    table["Ni"] = table["Ni"] + 1.5
    table["FN"] = published(table, "ferrite_wrc_1992") + 2 + rng.normal(0, 1, len(table))
    own = gk.calibrate("ferrite_wrc_1992", table, "FN", groups="heat")
    errors = gk.evaluate(table[list(RANGES)], "ferrite_wrc_1992").standard_error
    assert own.prior[0] == pytest.approx(float(errors.iloc[:, 0].median()), rel=0.5)
    assert own.offset["low"] < 2 < own.offset["high"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"target": "Md30_K"}, "in °C"),
        ({"groups": None}, "groups"),
        ({"terms": ["Ti"]}, "inputs that vary"),
        ({"relation": "md31"}, "a name of gk.catalogue"),
        ({"grain_size_astm": [8.0, 7.0]}, "one for each"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_words(change, words):
    table = measured().rename(columns={"Md30_C": change.get("target", "Md30_C")})
    asked = {"relation": "md30_nohara_1977", "target": "Md30_C", "groups": "heat"}
    asked |= {"grain_size_astm": 8} | change
    with pytest.raises(gk.InputError, match=words):
        gk.calibrate(asked.pop("relation"), table, asked.pop("target"), **asked)
