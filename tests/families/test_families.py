"""Which steel a composition is: a table of grades, steels that lie between, and what is known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import gradekit as gk
from gradekit.relations.evaluate import evaluate
from gradekit.relations.groups import DUPLEX, FAMILIES, FERRITIC
from gradekit.relations.steels import VOTES, families_by_votes

# Analyses that a works would melt to each grade, inside the limits of the standards: our own.
TABLE = pd.read_csv(Path(__file__).parent / "steels.csv", index_col="grade", keep_default_na=False)
EXPECTED = TABLE[["family", "structure", "sub"]]
STEELS = gk.as_batch(TABLE.drop(columns=EXPECTED.columns).replace("", "0").astype(float))
FOUND = gk.family(STEELS)
BETWEEN = {
    # an optimum of a brief that was held to the ferrite of 304 slabs alone
    "lean": ({"C": .056, "Si": .71, "Mn": 7.58, "Cr": 20.3, "Ni": 2.13, "N": .285, "Cu": .64},
             "duplex", "austenitic"),
    "17Cr-7Ni": ({"C": .07, "Si": .4, "Mn": .6, "Cr": 16.9, "Ni": 7.2, "N": .02}, "austenitic",
                 "nickel martensitic"),
    "13Cr, .06C": ({"C": .06, "Si": .4, "Mn": .5, "Cr": 12.3, "Ni": .3, "N": .03}, "ferritic",
                   "ferritic-martensitic"),
    "16Cr, .14C": ({"C": .14, "Si": .5, "Mn": .9, "Cr": 16.2, "Mo": .25, "Ni": .3, "N": .03},
                   "martensitic", "ferritic"),
    "16Cr-5Ni-Cu": ({"C": .03, "Si": .3, "Mn": .8, "Cr": 15.8, "Ni": 4.9, "Cu": 1.5, "N": .03},
                    "nickel martensitic", "precipitation-hardening"),
    "10.5Cr": ({"C": .02, "Si": .4, "Mn": .5, "Cr": 10.55, "Ni": .2, "N": .012}, None,
               "not stainless"),
}  # fmt: skip


def test_at_least_nineteen_of_twenty_grades_are_named_right():
    right = FOUND["family"] == EXPECTED["family"]
    assert right.mean() >= 0.95, FOUND[~right]
    assert set(FAMILIES) - set(EXPECTED["family"]) == {"nickel alloy"}
    certain = EXPECTED["family"].isin(
        [*DUPLEX, *FERRITIC, "ferritic-martensitic", "precipitation-hardening"]
    )
    assert right[certain].all()


@pytest.mark.parametrize("column", ["structure", "sub"])
def test_structure_and_kind_are_named_right(column):
    assert (FOUND[column] == EXPECTED[column]).mean() >= 0.95


def test_the_analyses_lie_inside_the_limits_of_their_grades():
    known = set(gk.grades()["grade"]) | {u for w in gk.grades()["uns"] for u in str(w).split(", ")}
    outside = []
    for name in STEELS.index.intersection(list(known)):
        heat = STEELS.loc[[name]].loc[:, (STEELS.loc[name] > 0).to_numpy()]
        rows = gk.check_grade(heat, name)
        kept = (rows["verdict"] != "stop").groupby(rows["standard"]).all()
        outside += [] if kept.any() else [name]
    assert not outside
    assert len(STEELS.index.intersection(list(known))) > 80


@pytest.mark.parametrize("name", BETWEEN)
def test_a_steel_between_two_families_says_which_and_what_decides(name):
    heat, family, rival = BETWEEN[name]
    row = gk.family(heat).iloc[0]
    assert family is None or row["family"] == family
    assert row["doubt"].startswith(f"{rival}: ") and "decides" in row["doubt"]


def test_ordinary_steels_are_not_doubted():
    assert (FOUND["doubt"] != "").mean() < 0.05


def test_bands_hold_together():
    ends = FOUND[["ferrite_low", "ferrite_high", "martensite_low", "martensite_high"]]
    known = ends.notna().all(axis=1)
    assert known.sum() >= len(FOUND) - 2
    ends = ends[known]
    assert ((ends >= 0) & (ends <= 100)).all().all()
    assert (ends["ferrite_low"] <= ends["ferrite_high"]).all()
    assert (ends["martensite_low"] <= ends["martensite_high"]).all()
    duplex = ends[FOUND["family"][known] == "duplex"]
    assert (duplex["ferrite_low"] < 60).all() and (duplex["ferrite_high"] > 45).all()
    austenitic = ends[FOUND["family"][known] == "austenitic"]
    assert (austenitic["ferrite_high"] <= 15).all()


def test_what_is_known_wins_and_is_said():
    steel = {"C": 0.05, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
    row = gk.family(steel, family="duplex").iloc[0]
    assert row["family"] == "duplex"
    assert "told" in row["reason"] and row["doubt"] == "austenitic: by composition"
    graded = gk.family(steel, grade="1.4542").iloc[0]
    assert graded["family"] == "precipitation-hardening" and "1.4542" in graded["reason"]
    two = gk.as_batch({"A": steel, "B": steel})
    assert gk.family(two, family={"B": "ferritic"})["family"].tolist() == ["austenitic", "ferritic"]
    with pytest.raises(gk.InputError, match="one of them"):
        gk.family(steel, family="duplex", grade="1.4301")


def test_what_is_known_decides_which_relations_hold():
    steel = {"C": 0.05, "Cr": 18.2, "Ni": 8.1, "N": 0.05, "Mn": 1.4, "Si": 0.4}
    assert not gk.evaluate(steel, "pren_16n").flags.iloc[0, 0] & gk.Flag.OTHER_FAMILY
    told = gk.evaluate(steel, "pren_16n", family="ferritic")
    assert told.flags.iloc[0, 0] & gk.Flag.OTHER_FAMILY
    assert "this one is ferritic" in told.words("heat 1", "pren_16n")
    assert gk.estimate(steel, "proof_strength", family="martensitic")["value"].isna().all()
    with pytest.raises(gk.InputError, match="family"):
        gk.evaluate(steel, "pren_16n", family="stainless")


@pytest.mark.parametrize("word", sorted(set(gk.grades()["family"])))
def test_every_family_of_the_table_of_grades_has_its_name(word):
    grades = gk.grades()
    number = grades.loc[grades["family"] == word, "grade"].iloc[0]
    assert gk.grade(number).steel in FAMILIES


def test_without_chromium_there_is_no_family_and_without_nitrogen_a_doubt():
    assert gk.family({"C": 0.05, "Ni": 8.1}).iloc[0]["family"] == ""
    row = gk.family({"C": 0.02, "Mn": 1.4, "Cr": 22.3, "Ni": 5.6, "Mo": 3.1}).iloc[0]
    assert row["family"] == "duplex" and "nitrogen is not reported" in row["doubt"]


CONTENTS = {"C": .2, "Si": 3, "Mn": 12, "Cr": 30, "Ni": 35, "Mo": 7, "N": .5, "Cu": 4, "Nb": 1,
            "Ti": 2, "Al": 2}  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(st.floats(0, 1), min_size=11, max_size=11), min_size=2, max_size=30))
def test_any_batch_is_named_heat_by_heat_as_alone(shares):
    heats = gk.as_batch(pd.DataFrame(np.array(shares) * [*CONTENTS.values()], columns=[*CONTENTS]))
    together = families_by_votes(heats)
    assert set(together) <= {*FAMILIES}
    last = heats.iloc[[-1]]
    assert families_by_votes(last).iloc[0] == together.iloc[-1]


def test_a_large_batch_is_named_as_a_small_one():
    many = pd.concat([STEELS] * 160, ignore_index=True)
    assert families_by_votes(many).tolist() == families_by_votes(STEELS).tolist() * 160


@pytest.mark.parametrize("name", VOTES.values())
def test_every_vote_is_a_column_with_the_value_of_its_relation(name):
    value = evaluate(STEELS, name, temperature_C=1050).values[name]
    assert FOUND[name].to_numpy() == pytest.approx(value.to_numpy())
