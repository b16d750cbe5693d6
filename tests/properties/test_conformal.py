"""Intervals are proved by what they must do: cover, in many simulated works, what they promise."""

from __future__ import annotations

import numpy as np
import pytest

from gradekit.core.errors import InputError
from gradekit.properties.conformal import Conformal, held_out_coverage
from gradekit.properties.fit import regression as rg


def heats_of(rng, heats, between):
    """Draw 1 to 5 specimens a heat; `between` is the heat's own share of the variance."""
    sizes = rng.integers(1, 6, heats)
    groups = np.repeat(np.arange(heats), sizes)
    own = rng.standard_normal(heats)[groups] * between**0.5
    return groups, own + rng.standard_t(4, len(groups)) / 2**0.5 * (1 - between) ** 0.5


@pytest.mark.parametrize("between", [0.0, 0.7])
@pytest.mark.parametrize("level", [0.5, 0.8, 0.9])
def test_new_heats_are_covered_as_promised_also_where_specimens_are_alike(between, level):
    rng = np.random.default_rng(3)
    runs, inside, heats = 2000, 0, 24
    for _ in range(runs):
        groups, error = heats_of(rng, heats + 1, between)
        seen = groups < heats
        reach = Conformal.of(np.abs(error[seen]), groups[seen]).at(level)
        inside += abs(error[~seen][0]) <= reach
    noise = 3 * (level * (1 - level) / runs) ** 0.5
    assert level - noise <= inside / runs <= level + 2 / (heats + 1) + noise


def test_a_heat_of_many_specimens_counts_once():
    once = Conformal.of([1, 2, 3, 4, 5, 6, 7, 8, 9, 20], np.arange(10))
    often = Conformal.of([1, 2, 3, 4, 5, 6, 7, 8, 9] + 40 * [20], [*range(9)] + 40 * [9])
    for level in (0.3, 0.5, 0.8):
        assert once.at(level) == often.at(level)


def test_few_heats_cannot_promise_much_and_say_so():
    with pytest.raises(InputError, match=r"at most 0\.800"):
        Conformal.of([1, 2, 3, 4], list("ABCD")).at(0.9)
    with pytest.raises(InputError, match=r"nearest level=0\.9"):
        Conformal.of([1, 2, 3, 4], list("ABCD")).at(90)


def test_higher_levels_reach_further():
    rng = np.random.default_rng(0)
    c = Conformal.of(np.abs(rng.standard_normal(200)), np.arange(200) // 4)
    reaches = [c.at(p) for p in (0.2, 0.5, 0.8, 0.9, 0.95)]
    assert reaches == sorted(reaches)
    assert reaches[0] < reaches[-1]


@pytest.mark.parametrize("between", [0.0, 0.6])
def test_the_whole_chain_covers_at_90_per_cent(between):
    """Fit, hold out, score, widen by leverage, and judge one test of a heat never seen."""
    rng = np.random.default_rng(8)
    runs, inside, heats, law = 250, 0, 30, np.array([300.0, 500.0, 20.0])
    for _ in range(runs):
        groups, error = heats_of(rng, heats + 1, between)
        x = (rng.uniform(0, 1, (heats + 1, 3)) * [0.08, 0.2, 2])[groups]
        y = 200 + x @ law + 10 * error
        old = groups < heats
        held = rg.cross_validate(x[old], y[old], groups[old], "plain")
        fit = rg.solve_ridge(x[old], y[old], groups[old], "plain")
        score = np.abs(held["predicted"] - y[old]) / held["scale"]
        new = x[~old][:1]
        reach = Conformal.of(score, groups[old]).at(0.9) * np.sqrt(1 + fit.leverage(new))
        inside += abs(fit.predict(new)[0] - y[~old][0]) <= reach[0]
    noise = 3 * (0.9 * 0.1 / runs) ** 0.5
    # Fits that saw fewer heats err a little more, so a little more than promised is covered.
    assert 0.9 - noise <= inside / runs <= 0.96 + noise


def test_held_out_coverage_judges_each_heat_by_the_others():
    rng = np.random.default_rng(5)
    groups, error = heats_of(rng, 300, 0.5)
    found = held_out_coverage(np.abs(error), groups, [0.5, 0.9])
    assert found == pytest.approx([0.5, 0.9], abs=0.02)
    assert np.isnan(held_out_coverage([1.0, 2.0, 3.0], [0, 1, 2], [0.9])[0])
