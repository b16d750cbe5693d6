"""Exercises and the slips in them: no wrong idea is marked right, and each is named."""

from collections import Counter

import pytest
from drawn_exercises import drawn
from second_reading import LINEAR, linear

from gradekit.lessons.drawing_lots import STEELS_OF_FIELD
from gradekit.lessons.exercise import Exercise, Mistake
from gradekit.lessons.marking import mark
from gradekit.lessons.sets import TEMPLATES
from gradekit.relations.topics import CATALOGUE

ASK_A_RELATION = ("compute", "estimate", "rank", "change", "reason", "mistake")
SUMS = ("chromium sum", "nickel sum", "factor sum", "strain sum", "pitting sum")


def test_no_wrong_idea_of_dilution_is_right():
    for seed, exercise in enumerate(drawn("dilution content")):
        share = float(exercise.question.split("has ")[1].split(" %")[0]) / 100
        element = exercise.question.split("its ")[1].split(" ")[0]
        parent, wire = exercise.heats["parent"][element], exercise.heats["wire"][element]
        wrong = {
            "the wire alone": wire,
            "the parent alone": parent,
            "plain mean": (parent + wire) / 2,
            "swapped the parts": parent * (1 - share) + wire * share,
        }
        for words, content in wrong.items():
            assert abs(content - exercise.answer) > 2 * exercise.tolerance, (seed, words)
            said = mark(exercise, f"{content:.6f}")
            assert not said.right and words in said.words, (seed, words)


def test_the_ratio_of_another_author_is_always_named():
    for seed, exercise in enumerate(drawn("freezing ratio")):
        heat = exercise.heats["the steel"]
        other = linear("cr_eq_schaeffler_1949", heat) / linear("ni_eq_schaeffler_1949", heat)
        said = mark(exercise, other)
        assert not said.right and "Schaeffler's equivalents" in said.words, seed


@pytest.mark.parametrize("name", ["factor sum", "strain sum"])
def test_a_sign_that_was_lost_is_named(name):
    seen = set()
    for seed, exercise in enumerate(drawn(name)):
        heat = exercise.heats["the steel"]
        for term, coefficient in LINEAR[exercise.relations[0]]["terms"].items():
            part = coefficient * heat.get(term, 0)
            wrong = exercise.answer - 2 * part
            if coefficient < 0 and abs(2 * part) > 3 * exercise.tolerance:
                words = f"you added {-coefficient:g}·{term}; its sign is minus"
                assert words in mark(exercise, wrong).words, (seed, term)
                seen.add(term)
    assert seen >= {"Ni", "Mn", "C", "N"}


@pytest.mark.parametrize(
    ("template", "name"),
    [("nickel sum", "ni_eq_delong_1973"), ("nickel sum", "ni_eq_schaeffler_1949"),
     ("chromium sum", "cr_eq_wrc_1992"), ("pitting sum", "pren_30n"),
     ("strain sum", "md30_gladman_1974")],
)  # fmt: skip
def test_another_relation_is_named_by_its_title(template, name):
    told = 0
    for seed, exercise in enumerate(drawn(template)):
        value = linear(name, exercise.heats["the steel"])
        if abs(value - exercise.answer) > 2.5 * exercise.tolerance:
            assert CATALOGUE[name].title in mark(exercise, value).words, seed
            told += 1
    assert told > 70


def test_slips_that_end_together_are_all_named():
    """Of the forms with nitrogen, WRC-1988 leaves out just the copper of WRC-1992."""
    together = 0
    for seed, exercise in enumerate(drawn("nickel sum")):
        without = exercise.answer - 0.25 * exercise.heats["the steel"]["Cu"]
        if exercise.answer - without > 2.5 * exercise.tolerance:
            words = mark(exercise, without).words
            assert "0.25·Cu, or that is another relation, WRC-1988" in words, seed
            together += 1
    assert together > 70
    near = Exercise("q", {}, 5.0, "", 0.02, mistakes=(Mistake(6, "a"), Mistake(6.015, "b")))
    assert mark(near, "6").words == "Not yet: a, or b."
    assert mark(near, "6.012").words == "Not yet: b, or a."
    assert mark(near, "6.03").words == "Not yet: b."


def test_a_hint_on_rounding_only_where_it_was_rounded():
    exercise = Exercise("q", {}, 18.46, "wt%", 0.02)
    for given in ("18.5", "18,5 wt%", "1.85e1", 18.5):
        assert "carry 2 decimals" in mark(exercise, given).words, given
    for given in ("18.50", "18.42", "18,415", "1.842e1"):
        words = mark(exercise, given).words
        assert "a small term or a slip" in words and "decimal" not in words, given
    coarse = Exercise("q", {}, -20.3, "°C", 0.2)
    assert "carry 1 decimal." in mark(coarse, "-21").words
    assert coarse.asked == "°C, to 1 decimal" and exercise.asked == "wt%, to 2 decimals"


def test_each_field_is_as_likely_as_another():
    made = Counter(exercise.answer for exercise in drawn("field by sums"))
    assert set(made) == set(STEELS_OF_FIELD)
    share = made.total() / len(STEELS_OF_FIELD)
    assert all(share / 2 < count < 2 * share for count in made.values())


def test_what_cannot_be_read_is_refused_and_not_wrong():
    number, word = drawn("dilution content")[2], drawn("field by sums")[2]
    for exercise, given in ((number, "ten"), (number, "12 ppm"), (word, "B")):
        said = mark(exercise, given)
        assert said.refused and not said.right, given
    assert not mark(number, "1").refused and not mark(number, number.answer).refused
    assert not mark(word, next(c for c in word.choices if c != word.answer)).refused


@pytest.mark.parametrize("name", SUMS)
def test_a_term_that_was_forgotten_is_never_right(name):
    for seed, exercise in enumerate(drawn(name)):
        heat, terms = exercise.heats["the steel"], LINEAR[exercise.relations[0]]["terms"]
        for term, coefficient in terms.items():
            if term in heat:
                said = mark(exercise, exercise.answer - coefficient * heat[term])
                assert not said.right and "you left out the term" in said.words, (seed, term)


def test_a_misread_line_is_told_on_which_side_of_it_the_point_lies():
    for exercise in drawn("field reading")[:20]:
        for m in exercise.mistakes:
            if "that is the line" in m.words:
                more = "more" in m.words
                assert (exercise.answer > m.value) == more and ("less" in m.words) != more


def test_no_question_says_a_name_twice_and_estimates_name_what_was_done():
    for name in ("field change", "field order"):
        question = drawn(name)[0].question
        assert "ferrite number from the WRC-1992" in question and question.count("errite") == 1
    # the ferrite of a duplex steel stands beside the name of its method
    for name in (n for n, t in TEMPLATES.items()
                 if t.kind in ASK_A_RELATION and t.topic != "duplex partition"):  # fmt: skip
        for e in (e for e in drawn(name)[:20] if len(e.relations) == 1):
            quantity = CATALOGUE[e.relations[0]].quantity.lower()
            assert e.question.lower().count(quantity) <= 1, e.question
            assert ", Angel 413" not in e.question
    words = " ".join(m.words for e in drawn("factor estimate")[:20] for m in e.mistakes)
    assert "you left out Si, which is not small here with its factor 6" in words
    assert "you took Ti without its factor 8" in words
