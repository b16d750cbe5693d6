"""Every check knows its families, and a doubt about the family is carried into the verdict."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.relations.steels import families_by_votes
from gradekit.relations.topics import CATALOGUE
from tests.families.test_families import STEELS

# An optimum of a brief that knew only the slab ferrite of 304: by most votes it is duplex.
LEAN = {"C": .056, "Si": .71, "Mn": 7.58, "P": .03, "S": .002, "Cr": 20.3, "Ni": 2.13, "N": .285,
        "Cu": .64}  # fmt: skip


def route(heat, **conditions) -> pd.DataFrame:
    return gk.assess_route(heat, **conditions).set_index("check")


def test_a_steel_that_may_hold_ferrite_is_never_sure_of_475_degrees():
    told = route(LEAN, family="austenitic")
    assert "475 °C on coil cooling" not in told.index
    row = route(LEAN).loc["475 °C on coil cooling"]
    assert row["verdict"] == "caution" and "if austenitic: does not apply" in row["reason"]


def test_the_worse_of_both_answers_stands_and_both_are_said():
    duplex, austenitic = (route(LEAN, family=f) for f in ("duplex", "austenitic"))
    both = route(LEAN)
    check = "sigma dissolved at the hottest strip"
    assert "if austenitic: " in both.at[check, "reason"]
    assert both.at["slab ferrite", "reason"].startswith("if austenitic: ")
    assert set(both.index) == {*duplex.index, *austenitic.index}
    alike = [c for c in both.index if "if austenitic" not in both.at[c, "reason"]]
    for check in alike:
        assert both.at[check, "verdict"] == duplex.at[check, "verdict"]


def test_what_the_user_knows_ends_the_doubt():
    assert not route(LEAN, family="duplex")["reason"].str.contains("if austenitic").any()


@pytest.mark.parametrize("number", ["1.4016", "1.4510", "1.4462", "1.4542", "1.4006"])
def test_what_does_not_apply_is_absent(number):
    checks = set(route(STEELS.loc[[number]]).index)
    assert not checks & {"slab ferrite", "martensite after cold rolling", "M23C6 dissolved"}
    if number == "1.4542":
        assert "475 °C on coil cooling" not in checks


def test_no_verdict_rests_on_a_relation_made_from_another_family():
    """Random steels of every family; and what leaves the range of its relation says so."""
    rng = np.random.default_rng(11)
    heats = gk.as_batch(STEELS * rng.uniform(0.88, 1.12, STEELS.shape))
    kinds, table = families_by_votes(heats), gk.assess_route(heats)
    judged = table[table["verdict"] != "not assessed"]
    wrong, named = [], 0
    for row in judged.itertuples():
        name = row.source.split(" ", 1)[0].rstrip(";,")
        doubted = "; if " in row.reason or row.reason.startswith("if ")
        named += name in CATALOGUE
        if name in CATALOGUE and not doubted and not CATALOGUE[name].holds_for(kinds[row.heat]):
            wrong.append((row.heat, kinds[row.heat], row.check, name))
    assert not wrong
    assert named > 300
    silent, outside = [], 0
    named_by = judged["reason"].str.extract(r"^(?:.*; )?by (\w+)")[0]
    first = judged["source"].str.partition(" ")[0].str.rstrip(";,")
    for name, rows in judged.groupby(named_by.where(named_by.isin([*CATALOGUE]), first)):
        # of several forms the reason counts those outside; without a temperature no reading here
        if name not in CATALOGUE or not set(CATALOGUE[name].conditions) <= {"temperature_C"}:
            continue
        if CATALOGUE[name].conditions:
            continue
        found = gk.evaluate(heats.loc[rows["heat"].unique()], name).flags[name]
        for row in rows.itertuples():
            if found[row.heat] & int(gk.Flag.BELOW_RANGE | gk.Flag.ABOVE_RANGE):
                outside += 1
                told = "range" in row.reason or "; if " in row.reason
                if not told:
                    silent.append((row.heat, row.check, name))
    assert outside > 20 and not silent, silent[:5]
