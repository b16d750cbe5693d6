"""Estimates: supported where measured, honest where not."""

import numpy as np
import pytest

import gradekit as gk
from gradekit.core.flags import Flag
from gradekit.properties.estimate.best import QUANTITIES
from gradekit.properties.estimate.cards import Forest, kind_of_steel, local_scale, model_card
from gradekit.relations.judgements import judged_errors, measured_words

PLAIN = {
    "heat": "plain",
    "C": 0.05,
    "Si": 0.5,
    "Mn": 1.4,
    "Cr": 18.2,
    "Ni": 8.9,
    "Mo": 0.2,
    "N": 0.05,
}
MO = {"heat": "mo", "C": 0.04, "Si": 0.5, "Mn": 1.5, "Cr": 16.9, "Ni": 12.2, "Mo": 2.4, "N": 0.04}
DUPLEX = {
    "heat": "duplex",
    "C": 0.02,
    "Si": 0.4,
    "Mn": 1.4,
    "Cr": 22.3,
    "Ni": 5.7,
    "Mo": 3.1,
    "N": 0.17,
}
FERRITIC = {
    "heat": "ferritic",
    "C": 0.04,
    "Si": 0.4,
    "Mn": 0.5,
    "Cr": 16.4,
    "Ni": 0.2,
    "Mo": 0.05,
    "N": 0.03,
}
MANGANESE = {
    "heat": "mn",
    "C": 0.06,
    "Si": 0.4,
    "Mn": 6.5,
    "Cr": 16.7,
    "Ni": 4.4,
    "Mo": 0.1,
    "N": 0.17,
}
ALL = gk.as_batch([PLAIN, MO, DUPLEX, FERRITIC, MANGANESE])


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_columns_order_and_intervals(quantity):
    found = gk.estimate(ALL, quantity)
    assert list(found.columns) == ["value", "low", "high", "basis", "flag"]
    assert list(found.index) == list(ALL.index)
    known = found["value"].notna()
    assert (found["low"][known] <= found["value"][known]).all()
    assert (found["high"][known] >= found["value"][known]).all()
    assert found["basis"].str.len().min() > 10
    assert found["value"].notna().any()


@pytest.mark.parametrize("quantity", ["proof_strength", "tensile_strength", "elongation"])
def test_families_without_measured_heats_say_so(quantity):
    found = gk.estimate(ALL, quantity, grain_size_um=20, delta_ferrite_pct=[0, 0, 48, 0, 0])
    for heat in ("duplex", "ferritic", "mn"):
        assert Flag(int(found.at[heat, "flag"])) & Flag.NO_SUPPORT
        assert "no measured support" in found.at[heat, "basis"]
    for heat in ("plain", "mo"):
        assert not Flag(int(found.at[heat, "flag"])) & Flag.NO_SUPPORT
        assert "whole series of heats held out" in found.at[heat, "basis"]


def test_published_form_stands_in_with_its_error():
    given = {"grain_size_um": 20, "delta_ferrite_pct": 48}
    found = gk.estimate(DUPLEX, "proof_strength", **given).iloc[0]
    row = gk.evaluate(DUPLEX, "yield_nordberg_2004", **given)
    assert found["value"] == pytest.approx(row.values.iloc[0, 0])
    assert found["high"] - found["value"] == pytest.approx(1.645 * 30, rel=1e-3)


def test_what_a_published_form_needs_and_is_not_told_is_taken_and_said():
    found = gk.estimate(DUPLEX, "proof_strength").iloc[0]
    told = gk.estimate(DUPLEX, "proof_strength", grain_size_um=10).iloc[0]
    assert found["value"] == pytest.approx(told["value"])
    assert found["high"] > told["high"]  # a grain of half to twice that size is allowed for
    assert "10 µm taken (heuristic)" in found["basis"] and "grain" not in told["basis"]
    ferrite = gk.evaluate(DUPLEX, "ferrite_duplex_anchored", temperature_C=1080).values.iloc[0, 0]
    assert f"ferrite {ferrite:.0f} %" in found["basis"]


def test_the_bias_found_on_austenitic_steel_is_taken_off_there_and_told_elsewhere():
    rich = {**PLAIN, "N": 0.15}
    given = {"grain_size_um": 20}
    found = gk.estimate(rich, "tensile_strength", **given).iloc[0]
    book = gk.evaluate(rich, "uts_nordberg_2004", delta_ferrite_pct=0, **given).values.iloc[0, 0]
    bias = judged_errors()["uts_nordberg_2004"]["bias"]
    assert found["value"] == pytest.approx(book - bias) and "taken off" in found["basis"]
    duplex = gk.estimate(DUPLEX, "tensile_strength", **given).iloc[0]
    assert "reads -44 MPa" in duplex["basis"] and "taken off" not in duplex["basis"]


@pytest.mark.parametrize("quantity", ["proof_strength", "tensile_strength"])
def test_what_nothing_measured_supports_is_never_surer_than_what_it_borders_on(quantity):
    heats = gk.as_batch([{**PLAIN, "N": n, "heat": f"{n}"} for n in (0.12, 0.121)])
    found = gk.estimate(heats, quantity, grain_size_um=40)
    half = found["high"] - found["value"]
    assert half.iloc[1] >= 0.99 * half.iloc[0]


@pytest.mark.parametrize("quantity", [q for q in QUANTITIES if q != "elongation"])
def test_an_interval_is_never_narrower_at_a_higher_level(quantity):
    levels = np.arange(0.50, 0.991, 0.01)
    widths = [
        (e := gk.estimate(ALL, quantity, level=float(p)))["high"].to_numpy() - e["low"].to_numpy()
        for p in levels
    ]
    steps = np.diff(widths, axis=0)
    assert (steps[np.isfinite(steps)] > -1e-9).all()


def test_an_element_that_few_laboratories_report_tells_nothing():
    told = gk.estimate({**PLAIN, "Co": 0.1, "V": 0.05, "Al": 0.01}, "tensile_strength")
    assert told["value"].iloc[0] == gk.estimate(PLAIN, "tensile_strength")["value"].iloc[0]


def test_what_is_not_reported_is_named():
    bare = {k: v for k, v in PLAIN.items() if k not in ("Si", "Mo")}
    found = gk.estimate(bare, "tensile_strength").iloc[0]
    assert "; Si not told, " in found["basis"] and "; Mo not told, 0 taken" in found["basis"]
    full = gk.estimate(PLAIN, "tensile_strength").iloc[0]
    assert abs(found["value"] - full["value"]) < 15


def test_a_grain_size_may_be_told_either_way_once():
    um = gk.estimate(PLAIN, "proof_strength", grain_size_um=20.03)["value"].iloc[0]
    number = gk.estimate(PLAIN, "proof_strength", grain_size_astm=8)["value"].iloc[0]
    assert um == pytest.approx(number, abs=0.1)
    md30 = [
        gk.estimate(PLAIN, "md30", **given)["value"].iloc[0]
        for given in ({"grain_size_um": 20.03}, {"grain_size_astm": 8})
    ]
    assert md30[0] == pytest.approx(md30[1], abs=0.1)
    with pytest.raises(gk.InputError, match="told once"):
        gk.estimate(PLAIN, "proof_strength", grain_size_um=20, grain_size_astm=8)
    with pytest.raises(gk.InputError, match="above 0"):
        gk.estimate(PLAIN, "proof_strength", grain_size_um=-5)


def test_a_condition_that_says_nothing_to_a_quantity_is_refused():
    with pytest.raises(gk.InputError, match="pitting_temperature takes no condition"):
        gk.estimate(PLAIN, "pitting_temperature", temperature_C=600)


def test_conditions_of_other_heats_are_refused():
    import pandas as pd

    with pytest.raises(gk.InputError, match="a Series by heat"):
        gk.estimate(PLAIN, "proof_strength", temperature_C=pd.Series({"another": 300.0}))


def test_a_bound_in_the_analysis_is_flagged():
    found = gk.estimate({**PLAIN, "N": "<0.05"}, "proof_strength")
    assert int(found["flag"].iloc[0]) & Flag.BOUND


def test_temperatures_below_absolute_zero_are_withheld():
    rich = {"C": 0.05, "Si": 0.5, "Mn": 1, "Cr": 25, "Ni": 20, "Mo": 0, "N": 0.02}
    for quantity in ("martensite_start", "md30"):
        found = gk.estimate(rich, quantity).iloc[0]
        assert np.isnan(found["value"]) and "below absolute zero" in found["basis"]


def test_wider_at_a_higher_level_and_outside_the_data():
    narrow, wide = (gk.estimate(PLAIN, "proof_strength", level=q) for q in (0.5, 0.95))
    assert wide["high"].iloc[0] > narrow["high"].iloc[0]
    odd = gk.estimate({**PLAIN, "Si": 1.3}, "proof_strength")
    normal = gk.estimate(PLAIN, "proof_strength")
    assert Flag(int(odd["flag"].iloc[0])) & Flag.OUTSIDE_DATA
    assert (odd.high - odd.low).iloc[0] > (normal.high - normal.low).iloc[0]
    # so far that nothing is known: no number whose interval begins at 0 MPa
    far = gk.estimate({**PLAIN, "Si": 3.9}, "proof_strength").iloc[0]
    assert np.isnan(far["value"]) and "not known: so far" in far["basis"]
    assert "standards ask" in far["basis"]


def test_strength_falls_with_temperature():
    heats = gk.as_batch([{**PLAIN, "heat": f"t{t}"} for t in (20, 200, 400, 600, 800)])
    values = gk.estimate(heats, "tensile_strength", temperature_C=[20, 200, 400, 600, 800])["value"]
    assert (np.diff(values) < 0).all()


def test_missing_essential_gives_no_value():
    heat = {k: v for k, v in PLAIN.items() if k != "Ni"}
    found = gk.estimate(heat, "proof_strength")
    assert np.isnan(found["value"].iloc[0])
    assert "not reported" in found.words("plain")


def test_one_row_is_the_same_alone():
    together = gk.estimate(ALL, "tensile_strength")
    alone = gk.estimate(ALL.loc[["mo"]], "tensile_strength")
    assert alone["value"].iloc[0] == together.at["mo", "value"]


@pytest.mark.parametrize(
    "call, words",
    [
        (lambda: gk.estimate(PLAIN, "proof_strenght"), "nearest proof_strength"),
        (lambda: gk.estimate(PLAIN, "hardness", level=1.2), "level"),
        (lambda: gk.estimate(PLAIN, "hardness", temperature=20), "temperature_C"),
        (lambda: gk.estimate(PLAIN, "proof_strength", temperature_C="warm"), "number"),
    ],
)
def test_wrong_calls(call, words):
    with pytest.raises(gk.InputError, match=words):
        call()


CARDS = [
    quantity + suffix
    for quantity in ("proof_strength", "tensile_strength", "elongation")
    for suffix in ("", "_by_composition")
]


@pytest.mark.parametrize("name", CARDS)
def test_cards_say_what_they_rest_on(name):
    data = model_card(name).data
    for key in ("source", "command", "date", "heats", "rows", "range", "held_out", "quantiles"):
        assert data[key]
    page = model_card(name)._repr_html_()
    for words in ("Errors on heats held out", "plain sum", "inside the 90 % interval", "with Mo"):
        assert words in page


@pytest.mark.parametrize("name", CARDS)
def test_nine_tenths_of_the_held_out_tests_lie_inside(name):
    """Overall, in each band of temperature, and in each kind of steel."""
    coverage = model_card(name).data["held_out"]["coverage_90"]
    assert 0.88 <= coverage["all"] <= 0.92
    for share, heats in zip(coverage["bands"], coverage["heats_by_band"], strict=True):
        assert 0.86 <= share <= 0.94 and heats > 100
    for kind, share in coverage["kinds"].items():
        # so few heats are not told from others that err more: safe, not narrow
        few = coverage["heats"][kind] < 20
        assert 0.85 <= share <= (0.99 if few else 0.94)
    assert sum(coverage["heats"].values()) == model_card(name).data["heats"]


def test_the_size_of_error_runs_straight_between_the_temperatures_and_level_beyond_them():
    scale = {"at_C": [20, 100, 300], "sizes": [40, 20, 30], "kinds": {"plain": 0.5, "with Mo": 2}}
    at = np.array([-50.0, 20.0, 40.0, 100.0, 250.0, 300.0, 900.0])
    plain = local_scale(scale, at, np.full(7, "plain"))
    np.testing.assert_allclose(plain, [20, 20, 17.5, 10, 13.75, 15, 15])
    unknown = local_scale(scale, at, np.full(7, "with W"))
    np.testing.assert_allclose(unknown, 4 * plain)  # as the widest kind


@pytest.mark.parametrize("name", CARDS)
def test_the_size_of_error_jumps_at_no_temperature(name):
    scale = model_card(name).data["scale"]
    steepest = np.max(np.abs(np.diff(scale["sizes"]) / np.diff(scale["at_C"])))
    at = np.arange(0.0, 1100.0, 0.5)
    for kind, factor in scale["kinds"].items():
        here, beside = (local_scale(scale, at + d, np.full(len(at), kind)) for d in (0.0, 0.01))
        assert 0 < np.abs(beside - here).max() <= 0.01 * steepest * factor * 1.001


@pytest.mark.parametrize("told", [{}, {"solution_temperature_C": 1080}])
@pytest.mark.parametrize("quantity", ["proof_strength", "tensile_strength", "elongation"])
def test_the_width_of_an_interval_jumps_at_no_temperature(quantity, told):
    """The trees may step in the value; the interval about it widens little by little."""
    at = np.sort([t + d for t in np.arange(10.0, 1010.0, 10.0) for d in (0.0, 0.001)])
    heats = gk.as_batch([{**MO, "heat": f"t{k}"} for k in range(len(at))])
    found = gk.estimate(heats, quantity, temperature_C=at, grain_size_um=40, **told)
    half = (found["high"] - found["value"]).to_numpy()
    assert half.min() > 1
    assert np.ptp(half) > 0.2 * half.min()  # it does change
    assert np.abs(half[1::2] - half[::2]).max() < 0.001


def test_the_models_beat_the_mean_and_a_plain_sum():
    room = model_card("proof_strength").data["held_out"]
    assert room["mae_room"] < 0.95 * room["mean_only_mae_room"]  # of laboratories never seen
    for name in CARDS:
        data = model_card(name).data
        assert data["held_out"]["mae"] < data["plain_sum"]["held_out"]["mae"]


def test_a_plain_sum_comes_with_its_covariance():
    data = model_card("proof_strength").data["plain_sum"]
    covariance = np.array(data["covariance"])
    assert covariance.shape == (len(data["terms"]) + 1,) * 2
    np.testing.assert_allclose(covariance, covariance.T, rtol=1e-6)
    assert np.linalg.eigvalsh(covariance / np.sqrt(np.outer(*[covariance.diagonal()] * 2)))[0] > 0


def test_trees_by_hand():
    # one stump: feature 0 below 5 gives 1, else 3; and a leaf alone
    names = ("feature", "threshold", "right", "value")
    stump = ([0, -1, -1], [5.0, 0, 0], [2, 0, 0], [0.0, 1.0, 3.0])
    leaf = ([-1], [0.0], [0], [2.0])
    forest = Forest.of([dict(zip(names, tree, strict=True)) for tree in (stump, leaf)])
    np.testing.assert_allclose(forest.mean(np.array([[4.0], [6.0]])), [1.5, 2.5])
    assert len(forest.mean(np.empty((0, 1)))) == 0


def test_kinds():
    assert kind_of_steel(ALL).tolist()[:2] == ["plain", "with Mo"]


def test_judged_relations_name_catalogue_relations():
    assert set(judged_errors()) <= set(gk.catalogue().index)
    for found in judged_errors().values():
        assert found["heats"] >= 8 and found["rmse"] >= abs(found["bias"]) * 0.99


def test_the_catalogue_says_what_was_measured_here():
    table = gk.catalogue(["cpt_g48", "pren_16n"])
    assert table.loc["cpt_g48", "measured_here"] == measured_words("cpt_g48")
    assert "35 heats" in measured_words("cpt_g48")
    assert table.loc["pren_16n", "measured_here"] == ""


@pytest.mark.parametrize("quantity", ["proof_strength", "tensile_strength", "elongation"])
def test_an_untold_annealing_has_a_card_of_its_own(quantity):
    data = model_card(f"{quantity}_by_composition").data
    assert "solution_temperature_C" not in data["features"]
    assert 0.86 <= data["held_out"]["coverage_90"]["all"] <= 0.94
    both = gk.as_batch([PLAIN, {**PLAIN, "heat": "told"}])
    found = gk.estimate(both, quantity, solution_temperature_C=[np.nan, 1075])
    assert found["basis"].str.contains("solution temperature not told").tolist() == [True, False]
    alone = gk.estimate(PLAIN, quantity)
    assert alone["value"].iloc[0] == found["value"].iloc[0]


def test_one_hot_heat_does_not_silence_a_cold_one():
    two = gk.as_batch([DUPLEX, {**DUPLEX, "heat": "hot"}])
    found = gk.estimate(
        two, "proof_strength", temperature_C=[20, 300], grain_size_um=20, delta_ferrite_pct=48
    )
    assert found["value"].notna().tolist() == [True, False]


def test_an_unknown_test_temperature_gives_no_value():
    found = gk.estimate(PLAIN, "proof_strength", temperature_C=np.nan)
    assert np.isnan(found["value"].iloc[0]) and int(found["flag"].iloc[0]) & Flag.CONDITION_MISSING


@pytest.mark.parametrize(
    ("quantity", "relation"),
    [
        ("proof_strength", "yield_nordberg_2004"),
        ("tensile_strength", "uts_nordberg_2004"),
    ],
)
def test_nitrogen_and_grain_size_move_an_estimate_as_the_published_relation(quantity, relation):
    """At room temperature by just as much, and the basis names the relation with its mark."""
    heats = gk.as_batch([{**PLAIN, "N": n, "heat": f"{n}"} for n in (0.03, 0.07)])
    for size in (20.0, 80.0):
        given = {"solution_temperature_C": 1075, "grain_size_um": size}
        found = gk.estimate(heats, quantity, **given)["value"]
        book = gk.evaluate(heats, relation, grain_size_um=size, delta_ferrite_pct=0).values[
            relation
        ]
        assert found.diff().iloc[1] == pytest.approx(book.diff().iloc[1], abs=1e-6)
    fine, coarse = (
        gk.estimate(heats, quantity, grain_size_um=size)["value"].to_numpy() for size in (20, 80)
    )
    fine_book, coarse_book = (
        gk.evaluate(heats, relation, grain_size_um=size, delta_ferrite_pct=0).values[relation]
        for size in (20, 80)
    )
    np.testing.assert_allclose(fine - coarse, fine_book - coarse_book, atol=1e-6)
    basis = gk.estimate(heats, quantity, grain_size_um=20)["basis"].iloc[0]
    assert f"effect of nitrogen by {relation} (memory)" in basis
    assert "grain size not told" in gk.estimate(heats, quantity)["basis"].iloc[0]


def test_the_effect_of_nitrogen_is_gone_where_the_heats_show_none():
    heats = gk.as_batch([{**PLAIN, "N": n, "heat": f"{n}"} for n in (0.03, 0.07)])
    steps = [
        gk.estimate(heats, "proof_strength", temperature_C=t)["value"].diff().iloc[1]
        for t in (20, 160, 300, 600)
    ]
    assert steps[0] > steps[1] > 0
    assert steps[2:] == [0.0, 0.0]


def test_the_heats_bear_the_published_effect_of_grain_size_out():
    """Within two standard errors of all of it, in every band of temperature."""
    for band in model_card("proof_strength").data["shift"]["found"]:
        found = band["grain_size_um"]
        assert abs(found["share"] - 1.0) < 2 * found["standard_error"]
        assert found["share"] > 2 * found["standard_error"]


def test_an_input_outside_the_measured_range_is_named():
    found = gk.estimate({**PLAIN, "Si": 3.9}, "proof_strength")
    assert "; Si 3.9, measured " in found["basis"].iloc[0]


def test_an_unknown_card_names_the_nearest():
    with pytest.raises(gk.InputError, match="nearest proof_strength"):
        gk.properties.model_card("proof_strenght")
    with pytest.raises(gk.InputError, match="model card"):
        gk.properties.model_card("judged_relations")


def test_hardness_is_unsurer_than_the_strength_it_is_made_from_and_never_hot():
    heats = gk.as_batch([PLAIN])
    strength = gk.estimate(heats, "tensile_strength").iloc[0]
    found = gk.estimate(heats, "hardness").iloc[0]
    assert found["value"] == pytest.approx(strength["value"] / 3.5)
    assert (found["high"] - found["value"]) * 3.5 > strength["high"] - strength["value"]
    hot = gk.estimate(heats, "hardness", temperature_C=600).iloc[0]
    assert np.isnan(hot["value"]) and "hot hardness" in hot["basis"]
