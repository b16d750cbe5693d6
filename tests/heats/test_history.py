"""History of a works: what was put into drawn heats is seen again, and little else."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.heats.history import dates_of

OTHER = Path(__file__).resolve().parents[1] / "other_works" / "heats.csv"
MEAN = {"C": 0.03, "Cr": 18.1, "Ni": 8.1, "N": 0.05}
SD = np.array([0.004, 0.12, 0.08, 0.006])


def drawn(count, seed, correlation=0.0):
    rng = np.random.default_rng(seed)
    matrix = np.eye(4) * (1 - correlation) + correlation
    values = rng.multivariate_normal(list(MEAN.values()), matrix * np.outer(SD, SD), count)
    return pd.DataFrame(values, columns=list(MEAN)).abs()


@pytest.mark.parametrize("count", [12, 25, 120])
def test_batches_without_an_odd_heat_are_seldom_named(count):
    named = [gk.heats.stand_apart(drawn(count, seed))["apart"].any() for seed in range(60)]
    assert np.mean(named) < 0.2


@pytest.mark.parametrize("count", [12, 120])
def test_a_heat_far_off_in_one_element_is_named_with_it(count):
    heats = drawn(count, 1)
    heats.loc[3, "Ni"] += 1.5
    found = gk.heats.stand_apart(heats)
    assert found["apart"].iloc[3]
    assert found["elements"].iloc[3].split(", ")[0] == "Ni"
    assert found["limit"].gt(0).all()


def test_many_heats_show_an_odd_combination_that_no_single_element_shows():
    heats = drawn(200, 2, correlation=0.95)
    heats.loc[0, "Cr"], heats.loc[0, "Ni"] = 18.1 + 2 * SD[1], 8.1 - 2 * SD[2]
    found = gk.heats.stand_apart(heats).iloc[0]
    assert found["method"] == "covariance"
    assert found["apart"] and found["words"].startswith("an odd combination")


def test_a_fifth_of_odd_heats_does_not_hide_itself():
    heats = drawn(100, 3)
    heats.loc[:19, "Cr"] += 2.0
    assert gk.heats.stand_apart(heats)["apart"].iloc[:20].all()


def test_few_heats_and_bounds_are_not_judged():
    few = gk.heats.stand_apart(drawn(5, 1))
    assert not few["apart"].any() and few["distance"].isna().all()
    assert few["words"].str.contains("5 heats").all()
    bound = drawn(12, 1).assign(Nb=["<0.005"] * 11 + ["<0.9"])
    assert "Nb" not in "".join(gk.heats.stand_apart(bound)["elements"])


def test_a_level_that_moves_is_seen_in_the_order_of_dates_and_only_there():
    heats = drawn(30, 5)
    heats.loc[15:, "Ni"] += 0.4
    days = pd.date_range("2026-01-01", periods=30, freq="5D")
    found = gk.heats.drift(heats, dates=days).set_index("element")
    assert found.loc["Ni", "run"] >= 14 and "in a row" in found.loc["Ni", "words"]
    assert found.loc["Ni", "sd"] > 1.5 * found.loc["Ni", "sd_next"]
    assert found.loc["Cr", "words"] == ""
    mixed = np.random.default_rng(0).permutation(30)
    again = gk.heats.drift(heats.iloc[mixed], dates=days[mixed]).set_index("element")
    for column in ("run", "mean", "sd_next"):
        assert again[column].to_list() == pytest.approx(found[column].to_list())


def test_the_moving_range_gives_back_the_standard_deviation_that_was_drawn():
    days = pd.date_range("2020-01-01", periods=1500)
    found = gk.heats.drift(drawn(1500, 6), dates=days).set_index("element")
    assert found["sd_next"].to_numpy() == pytest.approx(SD, rel=0.06)


def test_dates_are_found_in_german_and_left_alone_where_they_read_two_ways():
    heats = gk.read_heats(OTHER)
    assert dates_of(heats).notna().all()
    strokes = gk.as_batch([{"heat": "A", "date": "03/04/2026", "Cr": 18.0}])
    assert dates_of(strokes).isna().all()
    assert gk.heats.drift(strokes).empty


@pytest.mark.parametrize(
    ("head", "cells", "second"),
    [
        ("Datum", ["03-02-2026", "14-02-2026"], "2026-02-14"),
        ("Date", ["02/03/2026", "02/14/2026"], "2026-02-14"),
        ("Date", ["14/02/2026", "02/14/2026"], None),
        ("Päivä", ["3.2.2026", "2026/02/14"], "2026-02-14"),
        ("Datum analyse", ["46056", "46067"], "2026-02-14"),
        ("tarih", ["20260203", "20260214"], "2026-02-14"),
        ("order", ["46056", "46067"], None),
    ],
)
def test_dates_by_their_column(head, cells, second):
    heats = [{"heat": f"A{i}", head: cell, "Cr": 18.0} for i, cell in enumerate(cells)]
    dates = dates_of(heats)
    found = dates["A1"]
    assert str(found.date()) == second if second else found is pd.NaT
    assert dates.name == (head if second else None)


def test_what_was_put_into_the_other_works_is_seen_again():
    heats = gk.read_heats(OTHER)
    found = gk.heats.stand_apart(heats)
    assert found.loc[found["apart"], ["practice", "elements"]].values.tolist() == [["BF17T", "Cu"]]
    moved = gk.heats.drift(heats)
    runs = moved[moved["run"] >= 9]
    assert ("BF22", "Ni") in set(zip(runs["practice"], runs["element"], strict=True))


def test_groups_and_dates_that_do_not_fit_are_refused():
    with pytest.raises(gk.InputError, match="dates"):
        gk.heats.drift(drawn(10, 1), dates=["2026-01-01"])
    with pytest.raises(gk.InputError, match="groups"):
        gk.heats.stand_apart(drawn(10, 1), groups=["a"])


def test_a_jump_from_heat_to_heat_is_a_sign_of_drift_in_words_of_the_control_chart():
    chromium = [18.0, 18.1] * 8
    chromium[7] = 18.9
    days = pd.date_range("2026-01-05", periods=16, freq="7D")
    moved = gk.heats.drift({"Cr": chromium}, dates=days)
    assert moved["words"].item() == "Cr: outside the control limits: 7"
    assert moved["beyond"].item() == "7"
