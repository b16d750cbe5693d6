"""A year of exercise sets: solvable, unambiguous, different, and right by a second reading."""

import json

import numpy as np
import pytest
from second_reading import LINEAR, linear

import gradekit as gk
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.marking import mark
from gradekit.lessons.sets import TOPICS, exercise_set, self_check
from gradekit.relations.topics import CATALOGUE

SEEDS = range(365)
YEAR = {seed: exercise_set(seed) for seed in SEEDS}


@pytest.mark.parametrize("topic", TOPICS)
def test_a_year_is_solvable_and_unambiguous(topic):
    at = list(TOPICS).index(topic)
    for seed in SEEDS:
        exercise = YEAR[seed][at]
        assert mark(exercise, exercise.answer).right
        assert mark(exercise, exercise.shown_answer.split()[0]).right
        for mistake in exercise.mistakes:
            said = mark(exercise, mistake.value)
            assert not said.right and mistake.words in said.words
        values = [m.value for m in exercise.mistakes]
        if exercise.form == "number":
            assert len(set(values)) == len(values)
            gaps = np.abs(np.array(values) - exercise.answer)
            assert (gaps > 2 * exercise.tolerance).all()
            assert mark(exercise, f"{exercise.answer:.{exercise.decimals}f}").right
        else:
            assert exercise.answer in exercise.choices


def test_a_year_of_sets_is_different():
    for topic in range(len(TOPICS)):
        questions = {json.dumps(YEAR[s][topic].heats, sort_keys=True) for s in SEEDS}
        assert len(questions) == len(SEEDS)


def test_the_same_seed_gives_the_same_set():
    assert exercise_set(11) == exercise_set(11)
    assert exercise_set(11, ["dilution"])[0] == exercise_set(11)[list(TOPICS).index("dilution")]


SUMS = (
    "chromium equivalent",
    "nickel equivalent",
    "ferrite factor",
    "strain-induced martensite",
    "pitting index",
)


def sums(topic):
    """Of a year, the questions that ask for the value itself."""
    made = ((seed, YEAR[seed][list(TOPICS).index(topic)]) for seed in SEEDS)
    return {seed: e for seed, e in made if e.form == "number" and "By how much" not in e.question}


@pytest.mark.parametrize("topic", SUMS)
def test_sums_by_the_second_reading(topic):
    for exercise in sums(topic).values():
        (name,) = exercise.relations
        expected = linear(name, exercise.heats["the steel"])
        assert exercise.answer == pytest.approx(expected, abs=1e-9)


def test_other_topics_by_hand():
    for seed in SEEDS:
        by_topic = {e.topic: e for e in YEAR[seed]}
        trade = by_topic["nitrogen for nickel"]
        taken = float(trade.question.split(" %")[0])
        terms = LINEAR["ni_eq_wrc_1992"]["terms"]
        assert trade.answer == pytest.approx(taken * terms["Ni"] / terms["N"])
        mix = by_topic["dilution"]
        share = float(mix.question.split("has ")[1].split(" %")[0]) / 100
        element = mix.question.split("its ")[1].split(" ")[0]
        parent, wire = mix.heats["parent"][element], mix.heats["wire"][element]
        assert mix.answer == pytest.approx(wire + share * (parent - wire))
    for mode in sums("solidification mode").values():
        heat = mode.heats["the steel"]
        ratio = linear("cr_eq_hammar_1979", heat) / linear("ni_eq_hammar_1979", heat)
        assert mode.answer == pytest.approx(ratio)


def test_phases_of_a_duplex_steel_conserve_mass():
    at = list(TOPICS).index("duplex partition")
    for seed in SEEDS:
        exercise = YEAR[seed][at]
        share = float(exercise.question.split("holds ")[1].split(" %")[0]) / 100
        ratio, element = (
            exercise.question.split("holds ")[2].split(" as the")[0].split(" times as much ")
        )
        content = exercise.heats["the steel"][element]
        austenite = exercise.answer
        assert share * float(ratio) * austenite + (1 - share) * austenite == pytest.approx(content)


def test_answers_are_those_of_the_library():
    for exercise in exercise_set(21):
        asks_the_value = exercise.form == "number" and "By how much" not in exercise.question
        single = len(exercise.relations) == 1 and exercise.topic != "nitrogen for nickel"
        if asks_the_value and single:
            value = gk.evaluate(exercise.heats["the steel"], exercise.relations[0]).values
            assert exercise.answer == pytest.approx(float(value.iloc[0, 0]), abs=1e-9)
        if exercise.topic == "dilution":
            share = float(exercise.question.split("has ")[1].split(" %")[0]) / 100
            element = exercise.question.split("its ")[1].split(" ")[0]
            parent, wire = exercise.heats["parent"], exercise.heats["wire"]
            metal = gk.diagrams.weld(parent, parent, wire, steps=2).at(share)
            assert exercise.answer == pytest.approx(float(metal[element].iloc[0]))


def test_the_field_of_a_diagram_with_another_geometry_library():
    from shapely.geometry import Point, Polygon

    chart = gk.diagram("schaeffler_1949")
    at = list(TOPICS).index("field of a diagram")
    fields = [(r.label, Polygon(r.polygon)) for r in chart.regions]
    seen = set()
    for seed in SEEDS:
        exercise = YEAR[seed][at]
        heat = exercise.heats["the steel"]
        point = Point(*(linear(name, heat) for name in chart.axes))
        assert [label for label, shape in fields if shape.contains(point)] == [exercise.answer]
        seen.add(exercise.answer)
    assert seen == {r.label for r in chart.regions}


def test_feedback_names_the_mistake():
    exercise = exercise_set(5, ["nickel equivalent"])[0]
    heat = exercise.heats["the steel"]
    words = mark(exercise, exercise.answer - 35 * heat["C"]).words
    assert "35·C" in words
    assert "swapped the axes" in mark(exercise, linear("cr_eq_wrc_1992", heat)).words
    assert "weight fractions" in mark(exercise, exercise.answer / 100).words
    assert "number" in mark(exercise, "about ten").words
    assert "sign" in mark(exercise, -exercise.answer).words


def test_a_wrong_field_names_the_slip_that_ends_there():
    at = list(TOPICS).index("field of a diagram")
    chart, seen = gk.diagram("schaeffler_1949"), set()
    for seed in SEEDS:
        exercise = YEAR[seed][at]
        heat = exercise.heats["the steel"]
        x, y = (linear(name, heat) for name in chart.axes)
        slips = {
            "swapped the axes": (y, x),
            "left out 30·C": (x, y - 30 * heat["C"]),
            "left out 1.5·Si": (x - 1.5 * heat["Si"], y),
            "left out 0.5·Mn": (x, y - 0.5 * heat["Mn"]),
            "counted nitrogen": (x, y + 30 * heat["N"]),
        }
        for words, point in slips.items():
            end = str(chart.locate_xy(*point)["region"].iloc[0])
            if end not in ("", exercise.answer):
                assert words in mark(exercise, end).words
                seen.add(words)
        led = {m.value for m in exercise.mistakes}
        other = next(c for c in exercise.choices if c != exercise.answer and c not in led)
        assert f"({x:.1f}, {y:.1f})" in mark(exercise, other).words
    assert len(seen) == len(slips)


def test_the_unit_asked_may_be_typed_and_another_is_named():
    exercise = Exercise("t", "How much?", {}, 12.6, "wt%", 0.02)
    for given in ("12.60 wt%", "12.605 %", "12,6 Wt. %", "12.6", "1.26e1 mass %"):
        assert mark(exercise, given).right, given
    for given in ("12.6 °C", "12.6 ppm", "12.6 FN"):
        said = mark(exercise, given)
        assert not said.right and f"asked in wt%, not in {given.split()[1]}" in said.words
    degrees = Exercise("t", "How warm?", {}, -20.0, "°C", 0.2)
    assert mark(degrees, "\u221220 °C").right and mark(degrees, "-20 C").right
    assert "in °C, not in %" in mark(degrees, "-20 %").words
    index = Exercise("t", "Which index?", {}, 24.0, "", 0.2)
    assert mark(index, "24").right and "without a unit" in mark(index, "24 %").words
    assert "number" in mark(index, "24 25").words and "number" in mark(index, "nan").words


def test_answers_follow_the_catalogue(monkeypatch):
    """A changed coefficient changes the answer: nothing is stored."""
    relation = CATALOGUE["pren_16n"]
    before = exercise_set(3, ["pitting index"])[0].answer
    changed = relation.variant("pren_16n", terms=dict(relation.terms) | {"N": 20.0})
    CATALOGUE.add(changed, replace=True)
    try:
        after = exercise_set(3, ["pitting index"])[0]
        assert after.answer == pytest.approx(before + 4 * after.heats["the steel"]["N"])
    finally:
        CATALOGUE.add(relation, replace=True)


def test_self_check_gives_three():
    three = self_check("dilution", seed=4)
    assert len({json.dumps(e.heats) for e in three}) == 3
    assert all(isinstance(e, Exercise) for e in three)


@pytest.mark.parametrize("seed", [-1, 1.5, "x", True])
def test_bad_seed(seed):
    with pytest.raises(gk.InputError, match="seed"):
        exercise_set(seed)


@pytest.mark.parametrize("topics", [3, ["no such"], "diluton", [["dilution"]]])
def test_bad_topics(topics):
    with pytest.raises(gk.InputError, match="topic"):
        exercise_set(1, topics)
    assert exercise_set(1, "dilution") == exercise_set(1, ["dilution"])


@pytest.mark.parametrize(
    ("change", "words"),
    [({"sets": 2.5}, "sets"), ({"sets": 0}, "at least 1"), ({"sets": True}, "sets"),
     ({"seed": "7"}, "seed"), ({"path": None}, "path of a file")],
)  # fmt: skip
def test_a_page_that_cannot_be_made_is_refused_in_words(tmp_path, change, words):
    with pytest.raises(gk.InputError, match=words):
        gk.lessons.teacher_page(**{"seed": 7, "path": tmp_path / "page.html"} | change)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("given", ["18.42", "18,42", "18.42 wt%", "18,42wt%", "18.42 %"])
def test_an_answer_may_carry_its_unit(given):
    exercise = Exercise("t", "q", {}, 18.42, "wt%", 0.02)
    assert mark(exercise, given).right
    assert "close, yet not by rounding" in mark(exercise, "18.37").words
