"""Briefs that cannot be met: the clash is smallest, the way out is the least, the words say so."""

import re

import numpy as np
import pytest
from design_kit import DATA, WORKS, random_brief, second_opinion

import gradekit as gk
from gradekit.design.certainty import most_certain
from gradekit.relations.topics import CATALOGUE


def by_label(brief, label):
    """The (key, sense) of a demand in the second formulation."""
    key, sign, _ = label.split()
    return key, 1 if sign == "≤" else -1


def everyone(brief):
    found = [(k, s) for k, v in brief.limits.items() for s in (-1, 1) if v[s > 0] is not None]
    return found + [(e, s) for e in brief.bounds for s in (-1, 1)]


@pytest.mark.parametrize("seed", range(25))
def test_the_clash_is_irreducible(seed):
    """Its members cannot be kept together; without any one of them the others can."""
    rng = np.random.default_rng(seed)
    brief = random_brief(rng, elements=7, limits=8, tight=-1.0)
    found = gk.design_grade(brief, confidence=None)
    assert found.feasible == (second_opinion(brief) is not None)
    if found.feasible:
        return
    members = [by_label(brief, label) for label in found.conflict.members.index]
    others = tuple(d for d in everyone(brief) if d not in members)
    assert found.conflict.proven
    assert second_opinion(brief, skip=others) is None
    for member in members:
        assert second_opinion(brief, skip=(*others, member)) is not None, member


@pytest.mark.parametrize("seed", range(25))
def test_the_way_out_frees_the_brief_and_a_little_less_does_not(seed):
    rng = np.random.default_rng(seed)
    brief = random_brief(rng, elements=7, limits=8, tight=-1.0)
    found = gk.design_grade(brief, confidence=None)
    if found.feasible:
        return

    def moved(label, to):
        key, sense = by_label(brief, label)
        if key in brief.limits:
            span = (to, brief.limits[key][1]) if sense < 0 else (brief.limits[key][0], to)
            return {"limits": {key: span}}
        span = (max(to, 0.0), brief.bounds[key][1]) if sense < 0 else (brief.bounds[key][0], to)
        return {"bounds": {key: span}}

    for label, row in found.conflict.members.iterrows():
        to, bound = row["frees at"], row["bound"]
        if not np.isfinite(to) or (to < 0 and label.split()[0] in brief.bounds):
            continue
        step = to - bound
        assert second_opinion(brief.but(**moved(label, to + 1e-4 * step))) is not None
        assert second_opinion(brief.but(**moved(label, bound + 0.99 * step))) is None
    freed = brief
    for label, row in found.conflict.relaxation.iterrows():
        freed = freed.but(**moved(label, row["to"] + 1e-4 * (row["to"] - row["from"])))
    assert second_opinion(freed) is not None


@pytest.mark.parametrize("short", [1e-2, 1e-3, 1e-5, 1e-6, 3e-7, 1.2e-7])
def test_no_move_reads_as_nothing_and_the_bound_as_it_is_read_frees_the_brief(short):
    """A brief that is nearly met was told to move a limit 'by 0 wt% to' where it was."""
    most, key = 18 + 3.3 * 0.5 + 16 * 0.1, "pren_16n"
    brief = gk.Brief(
        {"Cr": (16, 18), "Mo": (0, 0.5), "N": (0, 0.1)}, {key: (most + short, None)},
        minimise={"Cr": 1.0},
    )  # fmt: skip
    found = gk.design_grade(brief, confidence=None)
    assert not found.feasible
    said = f"{found.why_not.words} {found.way_out} {found.headline}"
    moves = re.findall(r"'([^']*?) at (?:least|most) [^']*' moved by (\S+)(?: wt%)? to (\S+)", said)
    moves = [(name, float(step), float(to.strip(".;"))) for name, step, to in moves]
    assert moves and all(step > 0 for _, step, _ in moves)
    for name, _, to in moves:
        at = {"limits": {key: (to, None)}} if "PREN" in name else {"bounds": {name: (0, to)}}
        if name == "Cr":
            at = {"bounds": {"Cr": (16, to)}}
        assert gk.design_grade(brief.but(**at), confidence=None).feasible, (name, to)
    page = found._repr_html_()  # the tables say it as the words do
    (least,) = {to for name, _, to in moves if "PREN" in name}
    assert f">{least:g}</td>" in page and "e-0" not in page


def test_a_clash_in_words():
    brief = gk.Brief(
        {"Cr": (16, 18), "Mo": (0, 0.5), "N": (0, 0.1)}, {"pren_16n": (25, None)},
        minimise={"Cr": 1.0},
    )  # fmt: skip
    found = gk.design_grade(brief, confidence=None)
    assert not found.feasible and found.proven
    assert found.headline.startswith("The brief cannot be met.")
    conflict = found.conflict
    assert set(conflict.members.index) == {"pren_16n ≥ 25", "Cr ≤ 18", "Mo ≤ 0.5", "N ≤ 0.1"}
    most = 18 + 3.3 * 0.5 + 16 * 0.1
    assert conflict.members.loc["pren_16n ≥ 25", "frees at"] == pytest.approx(most)
    assert conflict.members.loc["Cr ≤ 18", "frees at"] == pytest.approx(18 + 25 - most)
    assert f"to {most:.4g}" in conflict.words
    assert found.aim.isna().all() and np.isnan(found.cost)
    assert "25" in found._repr_html_()
    with pytest.raises(gk.InputError, match="can be met"):
        found.alternatives()
    with pytest.raises(gk.InputError, match="can be met"):
        found.front({"Cr": 1.0})


def test_where_only_the_certainty_is_out_of_reach_it_says_how_much_can_be_had():
    brief = gk.Brief(
        {"Cr": (17.9, 18.1), "N": (0.0, 0.05)}, {"pren_16n": (None, 18.5)}, minimise={"Cr": 1.0}
    )
    found = gk.design_grade(brief, scatter={"Cr": 0.1, "N": 0.005})
    assert not found.feasible
    # The middle of the chromium bounds is one standard deviation from either end.
    assert "84.1 %" in found.conflict.words
    assert gk.design_grade(brief, scatter={"Cr": 0.1, "N": 0.005}, confidence=0.84).feasible
    assert not gk.design_grade(brief, scatter={"Cr": 0.1, "N": 0.005}, confidence=0.85).feasible


@pytest.mark.parametrize("width", [2.0, 4.0, 7.0])
def test_the_certainty_that_can_be_had_of_curved_limits_is_the_last_that_is_met(width):
    brief = gk.Brief(**(WORKS | {"limits": WORKS["limits"] | {"ferrite_wrc_1992": (1, 1 + width)}}))
    plant = DATA / "element_prices.csv", DATA / "plant.csv"
    found = gk.design_grade(brief, *plant, window_sd=0)
    assert not found.feasible
    most = most_certain(found.problem)
    assert 0.5 < most < 0.95 and f"{100 * most:.1f} % a limit" in found.conflict.words
    assert gk.design_grade(brief, *plant, window_sd=0, confidence=most - 0.002).feasible
    assert not gk.design_grade(brief, *plant, window_sd=0, confidence=most + 0.002).feasible


def test_it_is_told_whose_error_eats_the_room_between_two_limits():
    # Both readings at once, whatever their ranges: only WRC-1992 claims to hold at 5 Mn and more.
    brief = gk.Brief(WORKS["bounds"], {"ferrite_wrc_1992": (1, 16)}, within="1.4376",
                     robust_over="spread", stay_in_range=False, family="")  # fmt: skip
    plant = DATA / "element_prices.csv", DATA / "plant.csv"
    found = gk.design_grade(brief, *plant, window_sd=0)
    members = found.conflict.members
    assert sorted(label.split(" ", 1)[1] for label in members.index) == ["≤ 16", "≥ 1"]
    # a relation that the brief does not name says why it is asked, and which are not
    assert set(members["origin"]) == {"the brief, asked of every relation for ferrite number"}
    assert any(line.startswith("fn_from_vol_pct_2003 is not asked") for line in found.flags)
    assert "fn_from_vol_pct_2003 is not asked" in found._repr_html_()
    assert gk.design_grade(brief, *plant, relation_error=False, window_sd=0).feasible
    brief = gk.Brief(brief.bounds, {"fn_delong_linear": (1, 16)}, within="1.4376", family="",
                     stay_in_range=False)  # fmt: skip
    conflict = gk.design_grade(brief, *plant, window_sd=0).conflict
    members, words = conflict.members, conflict.words
    assert list(members.index) == ["fn_delong_linear ≥ 1", "fn_delong_linear ≤ 16"]
    needed = members["guard band"].sum()
    error = 1.6449 * 2 * CATALOGUE["fn_delong_linear"].error
    assert needed > 16 - 1 and f"{needed:.3g} FN apart" in words
    assert f"{error:.3g} FN in all for its published error alone" in words
    assert "relation_error=False" in words
    assert gk.design_grade(brief, *plant, relation_error=False, window_sd=0).feasible
    alone = gk.Brief(brief.bounds, {"fn_delong_linear": (1, 1 + needed + 0.1)}, within="1.4376",
                     stay_in_range=False, family="")  # fmt: skip
    assert gk.design_grade(alone, *plant, window_sd=0).feasible
    close = alone.but(limits={"fn_delong_linear": (1, 1 + needed - 0.1)})
    assert not gk.design_grade(close, *plant, window_sd=0).feasible


def test_errors_are_not_blamed_where_none_are_counted_or_more_is_amiss():
    clash = gk.Brief({"Cr": (16, 18), "N": 0.05}, {"pren_16n": (25, None)}, minimise={"Cr": 1.0})
    assert "relation_error" not in gk.design_grade(clash, scatter={"Cr": 0.1}).conflict.words
    narrow = gk.Brief({"Cr": (16, 19), "N": 0.05}, {"pren_16n": (18.0, 18.1)}, minimise={"Cr": 1.0})
    words = gk.design_grade(narrow, scatter={"Cr": 0.1}).conflict.words
    assert "guard bands leave nothing" in words and "published error" not in words
    assert "relation_error" not in words


def test_a_ratio_in_a_clash_frees_where_it_says():
    bounds = {"Cr": (17, 19), "Ni": (2, 4), "C": 0.05, "Si": 0.5, "Mn": (1, 3), "N": 0.05}
    name = "cr_ni_ratio_hammar"
    brief = gk.Brief(bounds, {name: (None, 1.2)}, minimise={"Ni": 1.0})
    found = gk.design_grade(brief, confidence=None)
    to = found.conflict.members.loc[f"{name} ≤ 1.2", "frees at"]
    assert gk.design_grade(brief.but(limits={name: (None, to + 1e-6)}), confidence=None).feasible
    assert not gk.design_grade(
        brief.but(limits={name: (None, to - 1e-4)}), confidence=None
    ).feasible


def test_a_clash_of_curved_limits_is_found_and_not_called_proven():
    brief = gk.Brief(
        {"C": 0.05, "Si": 0.4, "Mn": (5, 8), "Cr": (17, 18), "Ni": (2, 4.5), "N": (0.3, 0.4)},
        {"pn2_needed_sieverts": (None, 0.5), "pren_16n": (20, None)},
        conditions={"temperature_C": 1500.0}, minimise="nickel",
    )  # fmt: skip
    found = gk.design_grade(brief, scatter={"N": 0.006})
    assert not found.feasible and not found.proven and not found.conflict.proven
    members = found.conflict.members
    assert "pn2_needed_sieverts ≤ 0.5" in members.index and "pren_16n ≥ 20" not in members.index
    to = members.loc["pn2_needed_sieverts ≤ 0.5", "frees at"]
    freed = brief.but(limits={"pn2_needed_sieverts": (None, 1.02 * to)})
    assert gk.design_grade(freed, scatter={"N": 0.006}).feasible


def test_a_range_that_cannot_be_reached_is_named_as_such():
    brief = gk.Brief(
        {"Cr": (16, 17), "Mo": (0, 1), "Mn": 1.0, "Ni": (8, 9), "C": 0.03, "N": (0, 0.1)},
        {"pren_jargelius_1998": (10, None)}, minimise="nickel",
    )  # fmt: skip
    found = gk.design_grade(brief, confidence=None)
    assert any("range of pren_jargelius_1998" in o for o in found.conflict.members["origin"])
    free = gk.design_grade(
        gk.Brief(brief.bounds, brief.limits, minimise="nickel", stay_in_range=False),
        confidence=None,
    )
    assert free.feasible
    assert any("below the range" in f or "Cr 16" in f or "range" in f for f in free.flags)


def test_every_clash_of_the_works_brief_reads_without_a_kernel():
    brief = gk.Brief(
        {"Ni": (0, 2.5), "Mo": (0.05, 0.2), "C": (0.02, 0.05)},
        {"pren_16n": (24, None), "alloy_cost": (None, 1000)}, within="1.4376",
    )  # fmt: skip
    found = gk.design_grade(brief, DATA / "element_prices.csv", DATA / "plant.csv")
    page = found._repr_html_()
    assert not found.feasible and "smallest set that clashes" in page
    assert "<script" not in page and "INVENTED" in page


def test_it_is_told_when_the_window_and_not_the_certainty_is_out_of_reach():
    """Where 95 % could be had of each limit, that the most to be had is 95 % would be no help."""
    brief = gk.Brief({"Cr": (16, 16.5)}, minimise={"Cr": 1.0})
    found = gk.design_grade(brief, scatter={"Cr": 0.1}, window_sd=3)
    assert not found.feasible and "most that can be had" not in found.why_not.words
    assert "it is the window that does not fit, 3 times" in found.why_not.words
    assert gk.design_grade(brief, scatter={"Cr": 0.1}, window_sd=1).feasible
    narrow = gk.design_grade(brief.but(bounds={"Cr": (16, 16.2)}), scatter={"Cr": 0.1})
    assert "the most that can be had is 84.1 % a limit" in narrow.why_not.words
    for design in (found, narrow):
        assert design.why_not.words in repr(design) and "cannot be met" in design._repr_html_()
