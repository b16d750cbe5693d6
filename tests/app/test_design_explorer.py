"""The explorer of a brief without a browser: its state, its words, its file, its code."""

import json

import numpy as np
import pytest
from design_kit import DATA

import gradekit as gk
from gradekit.app.views import live
from gradekit.core.markup import number

MD30 = "md30_angel_1954 ≤"


@pytest.fixture
def panel():
    brief = gk.Brief(
        {"C": 0.05, "Si": 0.4, "Mn": (1, 8), "Cr": (16, 20), "Ni": (1, 6), "N": (0.05, 0.25)},
        {"pren_16n": (19, None), "md30_angel_1954": (None, 0)},
        minimise="cost",
    )
    return gk.app.brief_explorer(brief, DATA / "element_prices.csv", DATA / "plant.csv")


def test_a_step_gives_what_design_grade_gives(panel):
    panel.limits.enter(MD30, "-40")
    again = gk.design_grade(panel.brief, DATA / "element_prices.csv", DATA / "plant.csv")
    assert panel.brief.limits["md30_angel_1954"] == (None, -40)
    np.testing.assert_allclose(panel.design.aim, again.aim, atol=1e-7)
    page = live(panel.moving(panel.state))
    assert "Met in part: " in page and f"{MD30} −40" in page and "INVENTED" in page


def test_the_cost_is_compared_with_the_brief_as_it_was_given(panel):
    before = panel.design.cost
    panel.limits.enter(MD30, "-60")
    assert panel.design.cost > before
    change = panel.design.cost - before
    assert f"+{number(change, 3)} crown/t against" in live(panel.moving(panel.state))


def test_the_code_gives_the_headline_of_the_panel(panel):
    code = panel.code(panel.state).replace("gk.design_grade(", "found = gk.design_grade(")
    space = {"prices": DATA / "element_prices.csv", "scatter": DATA / "plant.csv"}
    exec(code, space)
    assert panel.spoken(panel.state) == f"✓ {space['found'].headline}."


def test_what_cannot_be_read_or_stated_changes_nothing(panel):
    state = panel.state
    panel.limits.enter(MD30, "cold")
    assert panel.state == state and "a number" in panel.limits.problems[MD30]
    panel.bounds.enter("Ni ≤", "0.5")  # below the lower bound of the brief
    assert panel.state == state and "low not above high" in panel.bounds.problems["Ni ≤"]
    assert panel.status.wrong


def test_a_wish_that_cannot_be_met_is_shown_and_explained(panel):
    panel.limits.enter("pren_16n ≥", "40")
    assert not panel.design.feasible
    page = live(panel.moving(panel.state))
    assert "✕ The brief cannot be met" in page and "least change" in page
    assert "cannot be kept together" in panel._explain()
    panel.limits.enter("pren_16n ≥", "")
    assert panel.design.feasible and "pren_16n" not in panel.brief.limits
    assert panel._explain() == "The brief is met."


def test_the_choices_change_the_problem(panel):
    sure = panel.design.cost
    panel._sure.value = None
    assert panel.design.cost < sure and panel.design.confidence is None
    panel._least.value = "nickel"
    assert panel.design.problem.aim.key == "nickel_content"


def test_the_state_goes_into_a_file_and_comes_back(panel):
    first = panel.state
    panel.limits.enter(MD30, "-20")
    moved = json.loads(json.dumps(panel.encode(panel.state)))
    assert panel.decode(moved, "file") == panel.state
    for key, wrong in (
        ("ends", {"pren_16n ≥": 1}),
        ("ends", {**moved["ends"], MD30: "cold"}),
        ("least", "beauty"),
        ("confidence", 2),
    ):
        with pytest.raises(gk.InputError, match="file"):
            panel.decode(moved | {key: wrong}, "file")
    panel._go(panel.history.undo(), "undone")
    assert panel.state == first and panel.limits.values[MD30] == 0
    assert list(panel.table(panel.state).columns) == ["name", "kind", "min", "aim", "max"]


def test_its_code_gives_the_same_answer(panel):
    panel.limits.enter(MD30, "-20")
    space = {
        "prices": gk.read_prices(DATA / "element_prices.csv"),
        "scatter": gk.heats.read_scatter(DATA / "plant.csv"),
    }
    *lines, last = panel.code(panel.state).split("\ngk.design_grade")
    exec("\n".join(lines), space)
    found = eval(f"gk.design_grade{last}", space)
    np.testing.assert_allclose(found.aim, panel.design.aim, atol=1e-7)


def test_it_reads_without_a_kernel(panel):
    page = panel._repr_html_()
    assert "Met in part: " in page and "Run All Cells" in page and "<img" in page
