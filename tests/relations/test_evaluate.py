"""Values with flags: what an unknown means, what a range means, what a batch is."""

import importlib.util
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import gradekit as gk
from gradekit.core.elements import is_element
from gradekit.core.flags import Flag
from gradekit.relations.declaration import Linear
from gradekit.relations.explain import take_apart
from gradekit.relations.judgements import measured_error
from gradekit.relations.plan import CHUNK
from gradekit.relations.topics import CATALOGUE

HEAT = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "Mo": 0.3, "Cu": 0.4, "N": 0.05}
CONDITIONS = dict(
    temperature_C=1600, grain_size_um=30, grain_size_astm=7, delta_ferrite_pct=2, pN2_atm=1,
    pCO_atm=0.4, pH2_atm=0.01, mode_factor=0.7, twin_spacing_um=20, free_N=0.01, chloride_M=0.1,
    ferrite_vol_pct=5,
)  # fmt: skip
ELEMENTS = "C N Si Mn P S Cr Ni Mo Cu Nb Ti V W Al Co Ta B".split()
contents = st.fixed_dictionaries(
    {e: st.floats(0.001, 1.0) for e in ELEMENTS}
    | {"Cr": st.floats(10, 28), "Ni": st.floats(0.1, 25)}
)


def flags_of(heat, name, **conditions):
    return Flag(int(gk.evaluate(heat, name, **conditions).flags.iloc[0, 0]))


def test_shapes_and_index():
    batch = gk.as_batch([{"heat": "a", **HEAT}, {"heat": "b", **HEAT}])
    result = gk.evaluate(batch, ["pren_16n", "md30_angel_1954"])
    for frame in (result.values, result.flags, result.standard_error):
        assert list(frame.index) == ["a", "b"]
        assert list(frame.columns) == ["pren_16n", "md30_angel_1954"]


def test_essential_element_missing_gives_no_value():
    heat = {k: v for k, v in HEAT.items() if k != "N"}
    result = gk.evaluate(heat, "pren_16n")
    assert np.isnan(result.values.iloc[0, 0])
    assert "N not reported" in result.words("heat 1", "pren_16n")


def test_other_absent_elements_count_as_zero_and_are_named():
    result = gk.evaluate({"Cr": 18, "N": 0.05}, "pren_16n")
    assert result.values.iloc[0, 0] == pytest.approx(18.8)
    assert "assumed zero: Mo" in result.words("heat 1", "pren_16n")


def test_unknown_stays_alone_in_its_row():
    batch = pd.DataFrame([HEAT, {**HEAT, "N": np.nan}, HEAT], index=list("abc"))
    result = gk.evaluate(batch, **CONDITIONS)
    alone = gk.evaluate(batch.loc[["a"]], **CONDITIONS)
    for heat in "ac":
        pd.testing.assert_series_equal(
            result.values.loc[heat], alone.values.loc["a"], check_names=False
        )
        assert (result.flags.loc[heat] == alone.flags.loc["a"]).all()
    assert np.isnan(result.values.loc["b", "ni_eq_wrc_1992"])
    assert np.isfinite(result.values.loc["b", "cr_eq_wrc_1992"])


def test_range_flags_and_their_words():
    assert flags_of({**HEAT, "Cr": 19.5}, "ms_eichelman_1953") & Flag.ABOVE_RANGE
    assert flags_of({**HEAT, "Ni": 4.0}, "ms_eichelman_1953") & Flag.BELOW_RANGE
    result = gk.evaluate({**HEAT, "C": 0.1, "N": 0.12}, "ms_eichelman_1953")
    assert "C + N 0.22 is above the range up to 0.15" in result.words("heat 1", "ms_eichelman_1953")
    assert flags_of({**HEAT, "Cr": 18.0}, "ms_eichelman_1953") == Flag.OK


def test_fitted_relation_says_outside_its_data():
    assert flags_of({**HEAT, "Cr": 25.0}, "cpt_brigham_refit") & Flag.OUTSIDE_DATA


def test_missing_condition_gives_no_value_and_says_which():
    result = gk.evaluate(HEAT, "md30_nohara_1977")
    assert np.isnan(result.values.iloc[0, 0])
    assert "grain_size_astm not given" in result.words("heat 1", "md30_nohara_1977")


def test_condition_by_heat_and_by_series():
    batch = gk.as_batch([{"heat": "a", **HEAT}, {"heat": "b", **HEAT}])
    by_list = gk.evaluate(batch, "md30_nohara_1977", grain_size_astm=[8, 9]).values
    by_series = gk.evaluate(
        batch, "md30_nohara_1977", grain_size_astm=pd.Series({"b": 9, "a": 8})
    ).values
    pd.testing.assert_frame_equal(by_list, by_series)
    assert by_list.iloc[0, 0] - by_list.iloc[1, 0] == pytest.approx(1.42)
    hole = gk.evaluate(batch, "md30_nohara_1977", grain_size_astm=pd.Series({"a": 8}))
    assert Flag(int(hole.flags.loc["b"].iloc[0])) & Flag.CONDITION_MISSING


@pytest.mark.parametrize(
    "conditions, words",
    [
        ({"grain_size": 8}, "grain_size_"),
        ({"grain_size_astm": "fine"}, "a number"),
        ({"grain_size_astm": [1, 2, 3]}, "one value"),
    ],
)
def test_wrong_conditions_are_refused(conditions, words):
    with pytest.raises(gk.InputError, match=words):
        gk.evaluate(HEAT, "md30_nohara_1977", **conditions)


def test_ferrite_ends_at_zero_and_says_so():
    result = gk.evaluate({**HEAT, "Ni": 20.0}, "ferrite_seferian_1959")
    assert result.values.iloc[0, 0] == 0
    assert "shown as 0 %" in result.words("heat 1", "ferrite_seferian_1959")


def test_a_formula_without_a_value_here():
    result = gk.evaluate({**HEAT, "Ti": 0.0}, "tin_onset_inoue_1998")
    assert np.isnan(result.values.iloc[0, 0])
    assert "not defined" in result.words("heat 1", "tin_onset_inoue_1998")


def test_bound_is_used_at_its_upper_end_and_flagged():
    result = gk.evaluate({**HEAT, "Nb": "<0.02"}, "md30_nohara_1977", grain_size_astm=8)
    with_bound = gk.evaluate({**HEAT, "Nb": 0.02}, "md30_nohara_1977", grain_size_astm=8)
    assert result.values.iloc[0, 0] == with_bound.values.iloc[0, 0]
    assert "Nb <0.02" in result.words("heat 1", "md30_nohara_1977")


def test_spread_shows_every_form_of_a_quantity():
    result = gk.spread(HEAT, "Md30", grain_size_astm=8)
    row = result.spread.iloc[0]
    assert row["relations of all"] == 4
    assert row["low of all"] == result.values.iloc[0].min()
    assert row["high of all"] == result.values.iloc[0].max()
    inside = result.values.iloc[0][result.holds.iloc[0]]
    assert row["low"] == inside.min() and row["relations"] == len(inside)


def test_rivals_that_hold_come_first_and_they_alone_count():
    ferritic = {"C": 0.015, "Cr": 16.8, "Ni": 0.2, "Mn": 0.4, "Si": 0.4, "N": 0.012, "Ti": 0.4}
    result = gk.spread(ferritic, "pitting resistance equivalent")
    holds = result.holds.iloc[0]
    assert holds.tolist() == sorted(holds, reverse=True) and holds["pre_ferritic"]
    assert result.spread["relations"].iloc[0] == holds.sum() < result.values.shape[1]
    words = result.words("heat 1", "pren_16n")
    assert "made for austenitic and duplex steels; this one is stabilised ferritic" in words


def test_standard_errors():
    result = gk.evaluate(HEAT, ["cpt_g48", "n_solubility_recommended", "pren_16n"], **CONDITIONS)
    error = result.standard_error.iloc[0]
    assert error["cpt_g48"] == measured_error("cpt_g48") == 8.41
    assert error["n_solubility_recommended"] == pytest.approx(
        0.08 * result.values.iloc[0]["n_solubility_recommended"]
    )
    assert np.isnan(error["pren_16n"])


@settings(max_examples=25, deadline=None)
@given(st.lists(contents, min_size=2, max_size=4))
def test_batch_equals_single_in_any_order(heats):
    batch = pd.DataFrame(heats, index=[f"h{i}" for i in range(len(heats))])
    whole = gk.evaluate(batch, **CONDITIONS)
    turned = gk.evaluate(batch.iloc[::-1, ::-1], **CONDITIONS)
    pd.testing.assert_frame_equal(turned.values.loc[batch.index], whole.values, rtol=1e-10)
    assert (turned.flags.loc[batch.index] == whole.flags).all(axis=None)
    one = gk.evaluate(batch.iloc[[0]], **CONDITIONS)
    pd.testing.assert_frame_equal(one.values, whole.values.iloc[[0]], rtol=1e-10)


@settings(max_examples=25, deadline=None)
@given(contents, contents, st.floats(0, 1))
def test_linear_relations_are_linear(one, two, share):
    names = [n for n, r in CATALOGUE.items() if isinstance(r, Linear) and r.floor is None]
    mixed = {e: share * one[e] + (1 - share) * two[e] for e in one}
    values = gk.evaluate(pd.DataFrame([one, two, mixed]), names).values.to_numpy()
    expected = share * values[0] + (1 - share) * values[1]
    np.testing.assert_allclose(values[2], expected, rtol=1e-9, atol=1e-7)


@settings(max_examples=25, deadline=None)
@given(contents, st.floats(0, 3))
def test_wider_range_never_adds_a_flag(heat, more):
    for name in ("ms_eichelman_1953", "cpt_brigham_refit", "fn_delong_linear"):
        narrow = CATALOGUE[name]
        wide = narrow.variant(
            "wider", ranges={k: (lo - more, hi + more if hi else hi) if lo is not None else (lo, hi)
                             for k, (lo, hi) in narrow.ranges.items()},
        )  # fmt: skip
        was, now = flags_of(heat, narrow), flags_of(heat, wide)
        assert now & was == now


def test_chunks_do_not_show():
    rng = np.random.default_rng(1)
    n = CHUNK + 7
    batch = pd.DataFrame(
        np.column_stack([rng.uniform(17, 19, n), rng.uniform(8, 10, n), rng.uniform(0.02, 0.1, n)]),
        columns=["Cr", "Ni", "N"],
    )
    batch.iloc[CHUNK + 3, 2] = np.nan
    result = gk.evaluate(batch, "pren_16n")
    expected = batch["Cr"] + 16 * batch["N"]
    np.testing.assert_allclose(result.values["pren_16n"], expected)
    assert result.flags["pren_16n"].nunique() == 2


@pytest.mark.parametrize("name", list(CATALOGUE))
def test_explanation_sums_to_the_value(name):
    relation = CATALOGUE[name]
    table = gk.explain(relation.check.composition, name, **relation.check.conditions)
    assert table["contribution"].sum() == pytest.approx(table.attrs["value"], rel=1e-9, abs=1e-9)
    assert set(table["kind"]) <= {"term", "reference", "share", "clamp"}


def test_explanation_of_no_value_says_why():
    assert "grain_size_astm" in gk.explain(HEAT, "md30_nohara_1977")["kind"].iloc[0]


def test_users_relation_behaves_like_a_published_one():
    mine = CATALOGUE.add(gk.relations.Linear(
        name="house_index", title="House index", quantity="house index", unit="1",
        status="heuristic", source=("deighton_1970",), terms={"N^0.5": 2.0, "Cr*Mo": 1.0},
        intercept=1.0, check=gk.relations.Check({"N": 0.04, "Cr": 10.0, "Mo": 0.5}, 6.4),
    ))  # fmt: skip
    try:
        assert gk.evaluate(mine.check.composition, "house_index").values.iloc[
            0, 0
        ] == pytest.approx(6.4)
        assert gk.explain(mine.check.composition, "house_index").loc["Cr*Mo", "contribution"] == 5.0
        assert gk.catalogue("house_index").loc["house_index", "formula"] == "1 + 2*N**0.5 + Cr*Mo"
    finally:
        CATALOGUE.remove("house_index")


def test_rich_view_is_inert():
    html = gk.evaluate({"heat": "<b>=cmd", **HEAT}, "pren_16n")._repr_html_()
    assert (
        "<b>" not in html and "&lt;b&gt;" in html and "<caption>" in html and 'scope="col"' in html
    )


def test_columns_and_what_was_given():
    batch = pd.DataFrame({"Cr": [18.0, np.nan], "C": [0.05, 0.04], "N": [0.05, 0.1]}, ["a", "b"])
    result = gk.evaluate(
        batch, ["pren_16n", "md30_nohara_1977"], grain_size_astm=[7, 8], temperature_C=20
    )
    for name in result.names:
        values, flags = result.column(name)
        np.testing.assert_array_equal(values, result.values[name])
        np.testing.assert_array_equal(flags, result.flags[name])
    given = result.given("b")
    assert given["Cr"] == given["Mo"] == 0.0  # not reported, and without a column
    assert given["Fe"] == pytest.approx(100 - 0.14)
    assert (given["grain_size_astm"], given["temperature_C"]) == (8, 20)
    given["N"] = 9.0  # a copy of one's own
    assert result.given("b")["N"] == 0.1
    with pytest.raises(gk.InputError, match="one of this result"):
        result.column("pren_30n")
    with pytest.raises(gk.InputError, match="one of this result"):
        result.given("c")


def test_values_taken_apart_together_are_those_explained_alone():
    names = list(CATALOGUE)
    batch = pd.DataFrame([{e: 0.0 for e in ("C", "N")} | HEAT, {**HEAT, "Ni": 9.0}], ["a", "b"])
    conditions = {"grain_size_astm": [7, 8], "temperature_C": 20.0}
    taken = take_apart(gk.evaluate(batch, names, **conditions), "b")
    alone = {"grain_size_astm": 8, "temperature_C": 20.0}
    for name, found in zip(names, taken, strict=True):
        table = gk.explain(batch.loc[["b"]], name, **alone)
        assert found.value == pytest.approx(table.attrs["value"], nan_ok=True)
        assert [part.term for part in found.parts] == list(table.index)
        parts = [part.contribution for part in found.parts]
        np.testing.assert_allclose(parts, table["contribution"], atol=1e-9)


def test_range_flags_against_a_plain_loop():
    """Ends are inside, an unknown is nowhere, a content without a column counts as none."""
    names = [r.name for r in CATALOGUE.values() if any(is_element(k) for k in r.ranges)]
    rng = np.random.default_rng(5)
    ends = {e: [x for r in CATALOGUE.values() for x in r.ranges.get(e, ()) if x is not None]
            for e in ("C", "Si", "Mn", "Cr", "Ni", "Mo", "N")}  # fmt: skip
    batch = pd.DataFrame({e: rng.choice([0.0, *found], 60) for e, found in ends.items()})
    batch[rng.random(batch.shape) < 0.1] = np.nan
    flags = gk.evaluate(batch, names).flags
    low, high = int(gk.Flag.BELOW_RANGE), int(gk.Flag.ABOVE_RANGE)
    for name in names:
        known = {k: v for k, v in CATALOGUE[name].ranges.items() if is_element(k)}
        if len(known) < len(CATALOGUE[name].ranges):
            continue  # a range of something computed has a test of its own
        for row, bits in zip(batch.to_dict("records"), flags[name], strict=True):
            amounts = {e: row.get(e, 0.0) for e in known}
            below = any(a is not None and amounts[e] < a for e, (a, _) in known.items())
            above = any(b is not None and amounts[e] > b for e, (_, b) in known.items())
            assert (bool(bits & low), bool(bits & high)) == (below, above), (name, row)


def test_a_range_of_a_condition_that_was_not_given_is_not_spoken_of():
    mine = CATALOGUE.linear(
        "house_heat", "House heat", "Cr", quantity="house heat, 1", status="heuristic",
        source=("deighton_1970",), check=gk.relations.Check({"Cr": 18.0}, 18.0),
        ranges={"Cr + temperature_C": (200, None), "Cr": (None, 17)},
    )  # fmt: skip
    try:
        words = gk.evaluate({"Cr": 18.0}, mine).words("heat 1", mine.name)
        assert words == "Cr 18 is above the range up to 17"
        words = gk.evaluate({"Cr": 18.0}, mine, temperature_C=100).words("heat 1", mine.name)
        assert "Cr + temperature_C 118 is below the range from 200" in words
    finally:
        CATALOGUE.remove("house_heat")


def test_the_sentence_of_one_heat_counts_as_values_only_what_has_one():
    names = ["pren_16n", "ms_eichelman_1953", "md30_nohara_1977"]
    lean = {"C": 0.05, "Si": 0.4, "Mn": 8.0, "Cr": 17.0, "Ni": 4.2, "N": 0.17}
    html = gk.evaluate(lean, names)._repr_html_()
    assert "2 values of heat 1, 1 with a reservation; no value from 1 of 3" in html
    assert "heat 1: no value" in gk.evaluate(lean, "md30_nohara_1977")._repr_html_()


def test_the_catalogue_agrees_with_formulas_on_pandas_columns():
    # The rival of the benchmark: each formula as a reader would write it on columns.
    path = Path(__file__).parents[1] / "bench" / "catalogue_speed.py"
    spec = importlib.util.spec_from_file_location("catalogue_speed", path)
    rival = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(rival)
    heats = rival.invented_heats(200)
    result = gk.evaluate(heats, **rival.CONDITIONS)
    with np.errstate(all="ignore"):
        theirs = rival.plain_pandas(heats)
    moved = (result.flags & int(gk.Flag.CLAMPED | gk.Flag.UNDEFINED)) != 0
    assert moved.to_numpy().mean() < 0.1
    np.testing.assert_allclose(
        result.values.mask(moved), theirs.mask(moved), rtol=1e-9, atol=1e-9, equal_nan=True
    )


@pytest.mark.parametrize("apart", [False, True], ids=["alike", "one unlike"])
def test_a_range_is_flagged_alike_for_one_heat_and_for_many(apart):
    """A content that is beyond an end for every heat is flagged at once, others heat by heat."""
    one = {"C": 0.05, "Si": 0.4, "Mn": 25.0, "Cr": 31.0, "Ni": 2.0, "Mo": 7.0, "N": 0.9}
    unlike = {"C": 0.05, "Si": 0.4, "Mn": 1.0, "Cr": 18.0, "Ni": 9.0, "Mo": np.nan, "N": 0.05}
    heats = pd.DataFrame([one, one, unlike] if apart else [one, one, one])
    together = gk.evaluate(heats, temperature_C=20.0).flags
    for at in heats.index:
        alone = gk.evaluate(heats.loc[[at]], temperature_C=20.0).flags
        pd.testing.assert_frame_equal(together.loc[[at]], alone)
