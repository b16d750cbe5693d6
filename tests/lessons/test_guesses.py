"""What is said to a guess of the course, and what the answers behind it claim."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from panel_kit import answer, press

import gradekit as gk
from gradekit.core.flags import Flag
from gradekit.lessons import course_answers as answers
from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.chart_answers import course_weld
from gradekit.lessons.guess import is_unit, read_guess
from gradekit.lessons.steels import STEELS
from gradekit.relations.topics import CATALOGUE

ANSWERS = {name: chapter.compute() for name, chapter in CHAPTERS.items()}


@pytest.fixture
def course(tmp_path):
    return gk.course(tmp_path / "work.json")


# --- one relation asked, one answer -----------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "exact", "of_others"),
    [("pitting", 3.3 / 16, (0.11,)), ("nitrogen", 4 / 20, (0.14, 0.34)),
     ("equivalents", 30 * 0.05, (1.1, 1.75))],
)  # fmt: skip
def test_what_others_give_is_told_apart_from_what_is_asked(name, exact, of_others):
    answer = ANSWERS[name]
    assert answer.value == pytest.approx(exact)
    for guess in (exact, round(exact, 1)):
        said = answer.judged(guess)
        assert f"is what the {CATALOGUE[answer.exact].title} gives" in said and "not" not in said
    for guess in of_others:
        said = answer.judged(guess)
        assert "is not what" in said and (f"too {'high' if guess > exact else 'low'}" in said)
        assert "It lies inside the range of" in said
    assert "It lies outside the range" in answer.judged(2 * answer.high)
    assert "exact for the" in answer.headline and answer.spread in answer.headline


def test_the_relation_asked_is_named_by_the_question():
    asked = {name: a.exact for name, a in ANSWERS.items() if a.exact}
    assert asked == {
        "equivalents": "ni_eq_schaeffler_1949", "nitrogen": "ni_eq_wrc_1992",
        "pitting": "pren_16n",
    }  # fmt: skip
    for name, word in (("equivalents", "Schaeffler"), ("nitrogen", "WRC-1992")):
        assert word in CHAPTERS[name].question and word in CATALOGUE[asked[name]].title


def test_an_exact_answer_follows_the_catalogue():
    relation = CATALOGUE["pren_16n"]
    CATALOGUE.add(relation.variant("pren_16n", terms=dict(relation.terms) | {"N": 20.0}),
                  replace=True)  # fmt: skip
    try:
        assert "(0.165 % N)" in answers.pitting_answer().judged(0.11)
    finally:
        CATALOGUE.add(relation, replace=True)


# --- readings outside a chart -----------------------------------------------------------------


def test_a_reading_outside_its_chart_is_possible_and_not_read():
    answer = ANSWERS["fields"]
    wrc = answer.table.loc["WRC-1992 constitution diagram"]
    assert wrc["reading"] > wrc["±"]  # it would count, were it on the chart
    assert wrc["field"] == "outside the chart" and "outside the diagram" in wrc["remark"]
    assert (answer.value, answer.low, answer.high) == (1, 1, 3)
    assert "(WRC-1992 constitution diagram) counts as possible, not as read" in answer.words
    assert "outside the diagram" in answer._repr_html_()


def test_a_dilution_is_kept_only_on_the_chart():
    answer, joint = ANSWERS["dilution"], course_weld()
    placed = pd.DataFrame(joint.placed)
    outside = [bool(Flag(int(f)) & Flag.OUTSIDE_DIAGRAM) for f in placed["flag"]]
    first = 100 * placed.index[outside].min()
    assert answer.low < answer.value < answer.high < first
    assert answer.high == pytest.approx(first - 0.1)  # the step of the line
    assert f"leaves the chart at {answer.high:.1f} % dilution" in answer.words
    assert "up to its border" in answer.spread
    off = [label for label, row in answer.table.iterrows() if row["region"] == "outside the chart"]
    assert off == ["40 %", "50 %", "60 %"]
    assert all("outside the diagram" in answer.table.at[label, "remark"] for label in off)
    assert (answer.table["region"] != "").all()


# --- how it is typed --------------------------------------------------------------------------


@pytest.mark.parametrize("name", CHAPTERS)
def test_the_unit_beside_the_box_may_be_typed(course, name):
    answer, unit = ANSWERS[name], CHAPTERS[name].unit
    assert answer.unit == unit
    box = course.guess(name)
    for text in (f"{answer.value:.3g} {unit}", f"{answer.value:.3g}{unit}".replace(".", ",")):
        if name == "fields" and text[1] != " ":
            continue
        box.enter(text)
        assert not box.status.wrong, box.status.text
        assert course.progress.work.guesses[name] == float(f"{answer.value:.3g}")


@pytest.mark.parametrize(
    ("text", "unit", "guess"),
    [("-10 FN", "FN", -10), ("\u221210 fn", "FN", -10), ("1,5 %", "% Ni", 1.5),
     ("1.5 wt.% Ni", "% Ni", 1.5), ("2 diagrams", "of 3 diagrams", 2),
     ("2 of 3", "of 3 diagrams", 2), ("1 point", "points", 1),
     ("30 per cent", "% dilution", 30), (".2e0", "% N", 0.2),
     # read as the questions read it, and said: 'Your guess 1.5 ...'
     ("1,500", "% Ni", 1.5), ("\u20131.500 FN", "FN", -1.5)],
)  # fmt: skip
def test_a_guess_with_a_unit(text, unit, guess):
    assert read_guess(text, unit, 3 if unit.startswith("of") else 0) == guess


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [("1.5 % Cr", "% Ni", "must be in % Ni · got 1.5 % Cr"), ("20 ppm", "% N", "got 20 ppm"),
     ("4 %", "FN", "must be in FN · got 4 %"), ("about two", "% Ni", "must be a number"),
     ("", "FN", "must be a number"), ("1 2", "FN", "must be a number"),
     ("nan", "FN", "must be a number"), ("1e999", "FN", "must be a number"),
     ("1.00,5", "FN", "must be a number"), ("2 of 4", "of 3 diagrams", "got 2 of 4"),
     ("2.5", "of 3 diagrams", "a whole number from 0 to 3 · got 2.5"),
     ("4", "of 3 diagrams", "a whole number from 0 to 3"),
     ("-1", "of 3 diagrams", "a whole number from 0 to 3")],
)  # fmt: skip
def test_what_is_no_guess_is_refused_in_words(text, unit, words):
    with pytest.raises(gk.InputError) as refused:
        read_guess(text, unit, 3 if unit.startswith("of") else 0)
    assert words in str(refused.value)


def test_a_count_that_cannot_be_is_refused_by_the_box(course):
    box = course.guess("fields")
    for text in ("2.5", "99"):
        box.enter(text)
        assert box.status.wrong and "whole number from 0 to 3" in box.status.text
    assert course.progress.work.guesses == {} and answer(box) == ""
    box.enter("1")
    assert not box.status.wrong and answer(box)


# --- how it is judged -------------------------------------------------------------------------


def test_a_count_is_judged_as_a_count():
    fields = ANSWERS["fields"]
    assert "is what is read" in fields.judged(1)
    assert "is 1 too many" in fields.judged(2) and "inside the range" in fields.judged(2)
    assert "is 1 too few" in fields.judged(0) and "inside" not in fields.judged(0)
    for guess in (0, 1, 2, 99):
        assert "diagrams above" not in fields.judged(guess)


def test_a_guess_of_the_other_sign():
    fall = ANSWERS["one element"]
    assert "the change goes the other way" in fall.judged(4)
    assert "the change goes the other way" not in fall.judged(-4)
    assert "the change goes the other way" in replace(fall, value=4, low=3, high=5).judged(-4)
    either = replace(fall, low=-5.0, high=1.0)  # both signs are possible
    assert "inside the range" in either.judged(0.5)
    assert "not below zero" in ANSWERS["nitrogen"].judged(-0.2)


@pytest.mark.parametrize(
    ("name", "guess", "words"),
    [
        ("dilution", 0.3, "30 lies inside the range"),
        ("martensite", 0.2, "20 lies inside the band"),
        ("nitrogen", 0.002, "0.2 is what"),
    ],
)
def test_a_fraction_typed_for_per_cent(name, guess, words):
    said = ANSWERS[name].judged(guess)
    assert "looks like a fraction: the answer is asked in %" in said and words in said
    assert "fraction" not in ANSWERS[name].judged(100 * guess)


def test_a_small_number_is_not_always_a_fraction():
    assert "fraction" not in ANSWERS["solidification"].judged(0.3)
    assert "fraction" not in ANSWERS["one element"].judged(-0.04)


def test_the_answer_is_said_once_when_shown_without_a_guess(course):
    box = course.guess("nitrogen")
    press(box, "Show without a guess")
    assert "Computed: 0.2 % N" in answer(box)
    assert "Shown without a guess" in box.status.text and "Computed:" not in box.status.text


# --- texts and their tables -------------------------------------------------------------------


def test_the_weaker_phase_is_told_from_the_rows():
    gap = ANSWERS["duplex"].table["gap"]
    assert (gap > 0).all()
    assert f"In all {len(gap)} rows that is the austenite" in ANSWERS["duplex"].words
    assert "from 1.1 to 7.3 points" in ANSWERS["duplex"].words
    assert "that is the ferrite" in answers.weaker_phase(-gap)
    mixed = answers.weaker_phase(gap * [1, 1, 1, 1, 1, -1])
    assert "the ferrite in 1 of 6 rows" in mixed and "In all" not in mixed


def test_a_change_is_not_given_the_error_of_a_level():
    answer = ANSWERS["one element"]
    assert (answer.low, answer.high) == (answer.table["change"].min(), answer.table["change"].max())
    assert "no figure for the error of a difference" in answer.headline
    steel = STEELS["weld metal"]
    level = float(gk.evaluate(steel, "ferrite_wrc_1992").standard_error.iloc[0, 0])
    assert f"A level is good to ± {level:g} FN" in answer.words
    assert f"± {level * np.sqrt(2):.2g} FN" in answer.words


@pytest.mark.parametrize(("typed", "right"), [("%", True), ("per cent", True), ("wt. %", False)])
def test_per_cent_of_ferrite_or_dilution_is_not_by_weight(typed, right):
    assert is_unit(typed, "%") is right
