"""Trial heats: those that leave least doubt, what they cost, what each would decide."""

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.design.trials import next_trials
from gradekit.works.walk import assess_route

BOUNDS = {
    "C": (0.02, 0.08), "Si": (0.3, 0.7), "Mn": (5, 9), "Cr": (16, 18.5), "Ni": (1, 5.5),
    "N": (0.05, 0.25), "Cu": (0, 2.5), "Mo": (0, 0.5), "Nb": 0.0,
}  # fmt: skip
LIMITS = {"md30_nohara_1977": (None, 0), "pren_16n": (18.5, None), "ferrite_wrc_1992": (None, 12)}


def brief(**changes) -> gk.Brief:
    asked = {
        "limits": LIMITS, "conditions": {"grain_size_astm": 8}, "family": "austenitic",
        "stay_in_range": False, "minimise": {"Ni": 16.0, "Cr": 2.0, "Mn": 1.5, "Cu": 8.0},
    }  # fmt: skip
    return gk.Brief(BOUNDS, **(asked | changes))


@pytest.fixture(scope="module")
def trials():
    return next_trials(brief(), n=3, seed=2)


def test_trials_take_doubt_step_by_step_and_make_the_aim_cheaper(trials):
    left = trials.table["doubt left"]
    assert left.is_monotonic_decreasing and len(left) == 3
    assert (trials.errors["after"] < trials.errors["now"]).all()
    assert trials.errors.loc["md30_nohara_1977", "now"] == pytest.approx(18.0)
    assert trials.saving > 0 and trials.after.cost < trials.now.cost
    # what a trial scatters by is never measured away
    assert trials.errors.loc["md30_nohara_1977", "after"] > 18 * np.sqrt(0.3)


def test_more_trials_never_leave_more_doubt(trials):
    one = next_trials(brief(), n=1, seed=2)
    assert one.table["doubt left"].iloc[-1] >= trials.table["doubt left"].iloc[-1]
    pd.testing.assert_frame_equal(one.table.drop(columns="doubt left"),
                                  trials.table.iloc[:1].drop(columns="doubt left"))  # fmt: skip


def test_each_step_is_the_best_of_the_candidates():
    from gradekit.design import trials as module

    seen = {}
    original = module.choose

    def watch(beliefs, rows, futures, z, *rest):
        seen.update(beliefs=beliefs, rows=rows, futures=futures, z=z)
        seen["chosen"] = original(beliefs, rows, futures, z, *rest)
        return seen["chosen"]

    module.choose = watch
    try:
        next_trials(brief(), n=1, seed=2)
    finally:
        module.choose = original
    doubts = [seen["beliefs"].after(row).guard(seen["futures"], seen["z"]) for row in seen["rows"]]
    assert doubts[seen["chosen"][0]] == pytest.approx(min(doubts))
    assert max(doubts) > min(doubts) * 1.01  # it matters which one is melted


def test_trials_are_heats_that_the_works_can_make_near_its_aim(trials):
    heats = trials.table[list(trials.now.aim.index)]
    route = assess_route(heats)
    assert not (route["verdict"] == "stop").any()
    for element, (low, high) in brief().box.items():
        assert heats[element].between(low - 1e-9, high + 1e-9).all(), element


def test_a_low_outcome_lets_the_dear_element_fall_and_the_sentences_say_so(trials):
    low = trials.outcomes.iloc[0::2]
    high = trials.outcomes.iloc[1::2]
    assert (low["outcome"].to_numpy() < high["outcome"].to_numpy()).all()
    assert (low["objective"].to_numpy() < high["objective"].to_numpy()).all()
    assert all("Md30 of trial" in text and "°C" in text for text in trials.decides)
    assert "confirm the relations" in trials.sentence


def test_what_was_measured_already_counts(trials):
    rng = np.random.default_rng(3)
    tests = pd.DataFrame(
        {e: rng.uniform(*ends, 8) for e, ends in BOUNDS.items() if isinstance(ends, tuple)}
    ).assign(Nb=0.0, heat=[f"H{k}" for k in range(8)])
    base = gk.evaluate(tests.drop(columns="heat"), "md30_nohara_1977", grain_size_astm=8)
    tests["Md30_C"] = base.values.iloc[:, 0].to_numpy() + 15 + rng.normal(0, 4, 8)
    known = next_trials(
        brief(), tests, n=1, targets={"md30_nohara_1977": "Md30_C"}, groups="heat", seed=2
    )
    assert known.errors.loc["md30_nohara_1977", "now"] < 8
    assert any("low" in note for note in known.notes)  # it reads 15 °C low
    gain = known.errors["now"] - known.errors["after"]
    first = trials.errors["now"] - trials.errors["after"]
    assert gain["md30_nohara_1977"] < first["md30_nohara_1977"]


def test_a_budget_is_kept_and_melting_is_set_against_the_saving():
    prices = gk.read_prices("data/element_prices.csv")
    priced = brief(minimise="cost")
    three = next_trials(priced, n=3, prices=prices, seed=2)
    assert "pays back after" in three.sentence
    costs = three.table["melting cost"]
    within = next_trials(priced, n=3, prices=prices, budget=float(costs.iloc[:2].sum()), seed=2)
    assert within.table["melting cost"].sum() <= costs.iloc[:2].sum() + 1e-6
    assert 1 <= len(within.table) < 3
    with pytest.raises(gk.InputError, match="one heat"):
        next_trials(priced, n=1, prices=prices, budget=1.0)


def test_for_a_regression_the_heats_lie_apart():
    apart = next_trials(brief(), n=4, terms=["Ni", "N"], seed=2).table
    near = next_trials(brief(), n=4, seed=2).table
    assert apart["Ni"].std() > near["Ni"].std() and apart["N"].std() > near["N"].std()


@pytest.mark.parametrize(
    ("change", "options", "words"),
    [
        ({"limits": {"pren_16n": (18, None)}}, {}, "known error binds"),
        ({"limits": {"pren_16n": (60, None)}}, {}, "without guard bands"),
        ({}, {"n": 0}, "1 or more"),
        ({}, {"tests": pd.DataFrame({"Cr": [1.0]})}, "given with tests"),
        ({}, {"budget": 5.0}, "given with a budget"),
        ({}, {"terms": ["Nb"]}, "different among the heats"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_words(change, options, words):
    with pytest.raises(gk.InputError, match=words):
        next_trials(brief(**change), **options)
