"""The library against what every expert knows; what lies outside has its reason beside it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from expert_facts import FACTS, STEELS, TOLD, Fact

import gradekit as gk
from gradekit.families.kinds import kinds_of
from gradekit.heats.batch import as_batch
from gradekit.properties.estimate.best import QUANTITIES
from gradekit.relations.judgements import judged_errors
from gradekit.relations.leading import AC1, AC1_NICKEL, NICKEL_MARTENSITIC, ms_form
from gradekit.relations.topics import CATALOGUE
from gradekit.works.anneal.cooling import nose_time
from gradekit.works.anneal.duplex_phases import duplex_phases
from gradekit.works.anneal.grain_growth import grain_after
from gradekit.works.cast.mould import casting_temperatures
from gradekit.works.cold.martensite import hardened, strain_of
from gradekit.works.hot.flow import flow_of
from gradekit.works.melt.aod import refine
from gradekit.works.melt.carbon import bubble_pressure


def relation(name: str, steel: dict, **given: float) -> float:
    return gk.evaluate(steel, name, **given).values.iloc[0, 0]


def routed(steel: dict, check: str) -> float:
    table = gk.assess_route(steel).set_index("check")
    return table.at[check, "value"]


def kind(steel: dict) -> pd.Series:
    return kinds_of(as_batch(steel))


def shared(steel: dict, element: str) -> float:
    p = duplex_phases(steel, (1080,))
    return float((p.ferrite[element] / p.austenite[element]).iloc[0])


def ended(steel: dict, inert: float, used: float) -> float:
    pressure = bubble_pressure(1.0, inert, used=used)
    return relation("c_eq_hilty_kaveney_ni", steel, temperature_C=1710, pCO_atm=pressure)


def above(steel: dict) -> float:
    onset = relation("tin_onset_inoue_activities", steel)
    return onset - relation("liquidus_aymard_extended", steel)


def leading_ac1(steel: dict) -> float:
    forms = AC1_NICKEL if steel["Ni"] > NICKEL_MARTENSITIC else AC1
    return relation(forms[0], steel)


def need(steel: dict, what: str) -> float:
    return refine(steel | {"C": 0.04, "Si": 0.4}, gk.typical_plant()).blow.needs.at[what, "amount"]


VALUES: dict[str, Callable[[dict], float]] = {
    "first phase": lambda s: float(gk.diagrams.solidification(s).first.iloc[0] == "ferrite"),
    "rise of duplex ferrite": lambda s: float(
        np.diff(duplex_phases(s, (1050, 1150)).table["ferrite"])[0]
    ),
    "equal pitting index": lambda s: duplex_phases(s).equal_C,
    "nitrogen in ferrite": lambda s: float(duplex_phases(s).ferrite["N"].max()),
    "chromium of ferrite over austenite": lambda s: shared(s, "Cr"),
    "nickel of ferrite over austenite": lambda s: shared(s, "Ni"),
    "leading ms": lambda s: relation(ms_form(as_batch(s)).iloc[0], s),
    "leading ac1": leading_ac1,
    "leading liquidus": lambda s: casting_temperatures(s)["liquidus"].iloc[0],
    "martensite as quenched, low": lambda s: gk.family(s)["martensite_low"].iloc[0],
    "ferrite, high": lambda s: gk.family(s)["ferrite_high"].iloc[0],
    "freezing range": lambda s: casting_temperatures(s)["freezing_range"].iloc[0],
    "hydrogen of iron, ppm": lambda s: (
        1e4 * relation("h_solubility_1963", s, temperature_C=1600, pH2_atm=1)
    ),
    "carbon end of 1:9, n 0.2": lambda s: ended(s, 9, 0.2),
    "carbon end of 1:3, n 0.26": lambda s: ended(s, 3, 0.26),
    "lowest nitrogen washed": lambda s: routed(
        s | {"N": 0.02}, "lowest nitrogen that washing reaches"
    ),
    "TiN above liquidus": above,
    "stabilisation margin": lambda s: s["Ti"] / 6 - s["C"] - s["N"],
    "sensitisation nose, s": lambda s: float(nose_time(s["C"])),
    "proof_strength of plate": lambda s: gk.estimate(s, "proof_strength", product="plate")[
        "value"
    ].iloc[0],
    "low end of proof_strength": lambda s: gk.estimate(s, "proof_strength")["low"].iloc[0],
    "hot flow stress": lambda s: float(flow_of(as_batch(s), kind(s))[0].stress(1000, 1)),
    "cold flow stress at 40 %": lambda s: float(hardened(strain_of(40), kind(s).iloc[0])),
    "grain after 1100 °C, 60 s from 12 µm": lambda s: float(grain_after(12, 1100, 60)),
    "ferrosilicon 75, kg/t": lambda s: need(s, "ferrosilicon"),
    "lime, kg/t": lambda s: need(s, "lime"),
    "silica of slag, kg/t": lambda s: need(s, "silica formed"),
}


def value(fact: Fact) -> float:
    steel = STEELS[fact.steel]
    if fact.what.startswith("estimate "):
        return gk.estimate(steel, fact.what.removeprefix("estimate "))["value"].iloc[0]
    if fact.what in VALUES:
        return VALUES[fact.what](steel)
    return relation(fact.what, steel, **fact.given)


@pytest.mark.parametrize("fact", FACTS, ids=lambda f: f"{f.what}-{f.steel}")
def test_the_library_knows_what_every_expert_knows(fact):
    found = value(fact)
    if fact.low is fact.high is None:
        assert np.isnan(found), f"{found:.5g}: {fact.why}"
        return
    inside = (fact.low is None or found >= fact.low) and (fact.high is None or found <= fact.high)
    if fact.miss:
        assert not inside, "no longer a miss: take the reason away"
    else:
        assert inside, f"{found:.5g} is not in {fact.low} to {fact.high}: {fact.why}"


@pytest.fixture(scope="module")
def walked() -> pd.DataFrame:
    named = dict.fromkeys(told.steel for told in TOLD)
    usual = {"P": 0.025, "S": 0.002}
    table = gk.assess_route(pd.DataFrame({name: usual | STEELS[name] for name in named}).T)
    return table.set_index(["heat", "check"])


@pytest.mark.parametrize("told", TOLD, ids=lambda t: f"{t.check}-{t.steel}")
def test_the_route_says_what_a_works_would(told, walked):
    """Verdicts that a metallurgist would laugh at, or miss, each with the reason why."""
    if not told.verdict:
        assert (told.steel, told.check) not in walked.index, told.why
        return
    row = walked.loc[(told.steel, told.check)]
    assert row["verdict"] == told.verdict, f"{told.why}: {row['reason']}"
    assert told.words in row["reason"]


def test_there_are_many_and_each_says_why():
    assert len(FACTS) >= 100
    assert len({(f.what, f.steel) for f in FACTS}) == len(FACTS)
    assert all(f.why for f in FACTS)
    # without a band there must be no value, which is the whole fact
    assert all(f.what.startswith("estimate") for f in FACTS if f.low is f.high is None)
    assert {f.what for f in FACTS} <= {
        *VALUES, *CATALOGUE, *(f"estimate {q}" for q in QUANTITIES),
    }  # fmt: skip


def test_a_reason_that_points_to_a_note_stands_in_that_note():
    for fact in FACTS:
        if "said in its note" in fact.miss:
            assert CATALOGUE[fact.what].note, fact.what


def test_a_mean_of_opposite_errors_is_told_by_family():
    words = CATALOGUE["cct_g48"].error_basis
    assert "bias and scatter by family" in words and "duplex -11.3 ± 1.5 (4)" in words
    own = judged_errors()["cct_g48"]["by_family"]
    heats = sum(f["heats"] for f in own.values())
    mean = sum(f["bias"] * f["heats"] for f in own.values()) / heats
    assert heats == judged_errors()["cct_g48"]["heats"]
    assert mean == pytest.approx(judged_errors()["cct_g48"]["bias"], abs=0.1)
