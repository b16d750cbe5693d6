"""Solidification modes: each limit with its own equivalents, and what the criteria say together."""

import csv
import dataclasses
import inspect
from functools import cache

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.core.formula import Formula
from gradekit.core.sources import REFERENCE, STATUSES, bibliography
from gradekit.diagrams.criteria import MODES, criteria
from gradekit.diagrams.solidification import Solidification
from gradekit.relations.topics import CATALOGUE

# The published switches, typed anew: criterion -> (relation, limits).
PUBLISHED = {
    "schaeffler_switch": ("cr_ni_ratio_schaeffler", [1.48]),
    "schaeffler_bands": ("cr_ni_ratio_schaeffler", [1.25, 1.48, 1.95]),
    "hammar_slow": ("cr_ni_ratio_hammar", [1.43]),
    "hammar_fast": ("cr_ni_ratio_hammar", [1.55]),
    "hammar_bands": ("cr_ni_ratio_hammar", [1.38, 1.50, 2.0]),
}
WELD = {"C": 0.02, "Si": 0.5, "Mn": 1.5, "Ni": 10.0, "N": 0.05, "P": 0.02, "S": 0.005, "Mo": 0.0}


@cache
def chromium(ratio, relation):
    low, high = 1.0, 60.0
    for _ in range(60):
        middle = (low + high) / 2
        if gk.evaluate(WELD | {"Cr": middle}, relation).values.iloc[0, 0] < ratio:
            low = middle
        else:
            high = middle
    return low


def weld(ratio, relation="cr_ni_ratio_schaeffler"):
    """A weld metal whose ratio of equivalents is as asked: only chromium moves."""
    return WELD | {"Cr": chromium(ratio, relation)}


def test_criteria_are_those_published():
    assert {c.name: c.relation for c in criteria()} == {n: r for n, (r, _) in PUBLISHED.items()}
    for criterion in criteria():
        _, limits = PUBLISHED[criterion.name]
        uppers = [b.upper for b in criterion.bands]
        assert uppers == [*limits, np.inf]
        assert [b.lower for b in criterion.bands] == [-np.inf, *limits]
        assert [m for b in criterion.bands for m in b.modes] == list(MODES)


def test_status_of_each_limit_is_kept():
    status = {c.name: [b.status for b in c.bands] for c in criteria()}
    assert status["schaeffler_bands"] == ["memory", "memory", "verified", "memory"]
    assert set(status["schaeffler_switch"]) == set(status["hammar_fast"]) == {"verified"}
    assert set(status["hammar_bands"]) == {"conflicting"}


def test_limits_cannot_meet_other_equivalents():
    """A criterion belongs to one ratio, cannot be changed, and takes no other equivalents."""
    for criterion in criteria():
        with pytest.raises(dataclasses.FrozenInstanceError):
            criterion.relation = "cr_ni_ratio_hammar"
    assert list(inspect.signature(gk.diagrams.solidification).parameters) == ["heats"]
    with pytest.raises(TypeError):
        gk.diagrams.solidification(WELD, equivalents="wrc_1992")
    heat = weld(1.6) | {"N": 0.2, "Cu": 1.0}
    ratios = gk.diagrams.solidification(heat).ratios.iloc[0]
    for criterion in criteria():
        own = gk.evaluate(heat, criterion.relation).values.iloc[0, 0]
        assert ratios[criterion.relation] == own
    assert ratios.nunique() == 2


@pytest.mark.parametrize(
    "ratio, mode", [(1.2, "A"), (1.30, "AF"), (1.47, "AF"), (1.49, "FA"), (1.9, "FA"), (2.0, "F")]
)
def test_schaeffler_modes(ratio, mode):
    modes = gk.diagrams.solidification(weld(ratio)).modes.iloc[0]
    assert modes["schaeffler_bands"] == mode
    assert modes["schaeffler_switch"] == ("A or AF" if ratio <= 1.48 else "FA or F")


@pytest.mark.parametrize("ratio, slow, fast", [(1.42, "A", "A"), (1.5, "F", "A"), (1.56, "F", "F")])
def test_hammar_switch_depends_on_growth(ratio, slow, fast):
    modes = gk.diagrams.solidification(weld(ratio, "cr_ni_ratio_hammar")).modes.iloc[0]
    words = {"A": "A or AF", "F": "FA or F"}
    assert (modes["hammar_slow"], modes["hammar_fast"]) == (words[slow], words[fast])


def test_at_the_limit_the_lower_mode_holds():
    bands = next(c for c in criteria() if c.name == "schaeffler_switch")
    assert bands.band(1.48).word == "A or AF"
    assert bands.band(np.nextafter(1.48, 2)).word == "FA or F"
    assert bands.band(float("nan")) is None


def test_agreement_and_first_phase_in_words():
    found = gk.diagrams.solidification(
        pd.DataFrame([weld(1.0), weld(1.7), weld(1.52, "cr_ni_ratio_hammar")], index=list("abc"))
    )
    assert found.first.tolist() == ["austenite", "ferrite", "disputed"]
    assert found.agreement["a"].startswith("A fits all")
    assert found.agreement["b"].startswith("FA fits all")
    assert found.agreement["c"].startswith("criteria disagree on the first phase: ")
    assert "A or AF by hammar_fast" in found.agreement["c"]


def test_same_first_phase_but_not_same_mode():
    found = gk.diagrams.solidification(weld(1.97))
    assert found.first.iloc[0] == "ferrite"
    assert "ferrite first by all" in found.agreement.iloc[0]
    assert "F by schaeffler_bands" in found.agreement.iloc[0]


def test_unknown_elements_leave_a_criterion_silent():
    heat = {k: v for k, v in weld(1.7).items() if k != "N"}
    found = gk.diagrams.solidification(heat)
    assert found.modes.iloc[0]["schaeffler_bands"] == "FA"
    assert found.modes.iloc[0]["hammar_bands"] == ""
    assert "N not reported" in found.long().set_index("criterion")["flag"].str.cat(sep="; ")
    nothing = gk.diagrams.solidification({"Mn": 1.0})
    assert nothing.agreement.iloc[0] == "no criterion can be read"
    assert nothing.first.iloc[0] == "not assessed"


def test_the_fields_are_silent_in_every_table_for_steel_of_another_family():
    knife = {"C": 0.5, "Si": 0.4, "Mn": 0.5, "Cr": 14.0, "Ni": 0.2, "Mo": 0.6, "N": 0.03}
    found = gk.diagrams.solidification([knife, weld(1.7)])
    told = found.long()
    assert (told["mode"] == found.modes.to_numpy().ravel()).all()
    fields = told[told["criterion"].str.startswith("fields of")]
    assert found.modes["wrc_1992_fields"].tolist() == ["", "FA"] == fields["mode"].tolist()
    assert "made for steels of another family" in fields["flag"].iloc[0]
    assert "another family" not in fields["flag"].iloc[1]


def test_fields_of_the_diagram_come_with_their_tolerance():
    found = gk.diagrams.solidification(weld(1.7))
    row = found.long().iloc[-1]
    assert row["mode"] == gk.diagram("wrc_1992").locate(weld(1.7))["region"].iloc[0]
    for text in (row["status"], found._repr_html_(), repr(found)):
        assert "Reconstruction" in text and "not for code acceptance" in text and "±3 FN" in text
    two = gk.diagrams.solidification([weld(1.7), weld(1.9)])
    assert "not for code acceptance" in two._repr_html_()


def test_impurities_against_the_limit_for_austenite_first():
    heats = [weld(1.3), weld(1.3) | {"P": 0.008, "S": 0.002}, weld(1.7), weld(1.3)]
    heats[3] = {k: v for k, v in heats[3].items() if k != "S"}
    table = gk.diagrams.solidification(heats).impurities
    assert table["P + S"].round(3).tolist()[:3] == [0.025, 0.010, 0.025]
    assert table["limit"].tolist()[:2] == [0.015, 0.015]
    assert np.isnan(table["limit"].iloc[2])
    assert [v.split(":")[0] for v in table["verdict"]] == ["caution", "ok", "ok", "not assessed"]
    assert set(table["status"]) == {"memory"}


def test_every_limit_of_the_table():
    limits = gk.diagrams.solidification_limits()
    assert limits.index.is_unique
    assert set(limits["status"]) <= set(STATUSES)
    assert {f"s{k}" for k in range(1, 24)} <= set(limits.index)
    for row in limits.itertuples():
        stated = row.equivalents not in ("not stated", "authors' own", "as measured")
        assert bool(row.relation) is stated, row.Index
        if row.relation:
            known = {n: r.formula for n, r in CATALOGUE.items()}
            heat = WELD | {"Cr": 18.0, "Fe": 70.0}
            formula = Formula(row.relation, known)
            value = formula.on({n: heat.get(n, 0.0) for n in formula.names})
            assert np.isfinite(value), row.Index
    assert limits.loc["s15", "given"] == "cr_ni_ratio_schaeffler < 1.5"
    assert (limits.loc["s23", "lower":"upper"].tolist())[1] == 0


def test_keys_of_the_table_are_in_the_bibliography():
    with open(REFERENCE / "solidification_limits.csv", encoding="utf-8", newline="") as file:
        keys = {row["source"] for row in csv.DictReader(file)}
    looks_like_keys = {k for k in keys if k.replace("_", "").isalnum() and "_" in k}
    assert looks_like_keys <= set(bibliography())


def test_bn2_limit_is_not_written_twice():
    """The margin holds the 7.70 already, so its limit is nothing."""
    assert gk.diagrams.solidification_limits().loc["s23", "relation"] == "bn2_margin"
    creq, nieq, margin = gk.evaluate(
        weld(1.7), ["cr_eq_bn2", "ni_eq_bn2", "bn2_margin"]
    ).values.iloc[0]
    assert margin == pytest.approx(creq - 0.91 * nieq - 7.70)


def test_result_survives_many_heats():
    rng = np.random.default_rng(3)
    heats = pd.DataFrame({e: rng.uniform(0.9, 1.1, 500) * v for e, v in weld(1.6).items()})
    found = gk.diagrams.solidification(heats)
    assert isinstance(found, Solidification)
    assert set(found.modes["schaeffler_bands"]) <= set(MODES)
    one = gk.diagrams.solidification(heats.iloc[[7]])
    assert one.modes.iloc[0].tolist() == found.modes.iloc[7].tolist()


def test_each_set_of_four_bands_stands_with_its_own_equivalents():
    """1.38, 1.50 and 2.0 belong to Hammar-Svensson, 1.25, 1.48 and 1.95 to Schaeffler."""
    table = gk.diagrams.solidification_limits()
    for criterion, relation, title, ends in (
        ("hammar_bands", "cr_ni_ratio_hammar", "Hammar-Svensson ratio", [1.38, 1.50, 2.0]),
        ("schaeffler_bands", "cr_ni_ratio_schaeffler", "Schaeffler ratio", [1.25, 1.48, 1.95]),
    ):
        own = table[table["criterion"] == criterion]
        assert own["modes"].tolist() == ["A", "AF", "FA", "F"]
        assert own["upper"].dropna().tolist() == ends == own["lower"].dropna().tolist()
        assert set(own["relation"]) == {relation}
        heat = {"C": 0.05, "Si": 0.4, "Mn": 1.3, "Cr": 18.2, "Ni": 8.1, "Mo": 0.2, "N": 0.05}
        titles = gk.diagrams.solidification(heat).titles
        assert titles[criterion].startswith(title) and "four modes" in titles[criterion]
