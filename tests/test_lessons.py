"""A year of exercise sets: solvable, unambiguous, different, and right by a second reading."""

import json

import numpy as np
import pytest
from second_reading import LINEAR, linear

import gradekit as gk
from gradekit.lessons.exercise import Exercise, Mistake, mark
from gradekit.lessons.sets import TOPICS, exercise_set, self_check
from gradekit.relations import CATALOGUE

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
        if not exercise.in_words:
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


@pytest.mark.parametrize("topic", SUMS)
def test_sums_by_the_second_reading(topic):
    at = list(TOPICS).index(topic)
    for seed in SEEDS:
        exercise = YEAR[seed][at]
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
        mode = by_topic["solidification mode"]
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
        if len(exercise.relations) == 1 and exercise.topic != "nitrogen for nickel":
            value = gk.evaluate(exercise.heats["the steel"], exercise.relations[0]).values
            assert exercise.answer == pytest.approx(float(value.iloc[0, 0]), abs=1e-9)
        if exercise.topic == "dilution":
            share = float(exercise.question.split("has ")[1].split(" %")[0]) / 100
            element = exercise.question.split("its ")[1].split(" ")[0]
            parent, wire = exercise.heats["parent"], exercise.heats["wire"]
            metal = gk.weld(parent, parent, wire, steps=2).at(share)
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
        gk.teacher_page(**{"seed": 7, "path": tmp_path / "page.html"} | change)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("given", ["18.42", "18,42", "18.42 wt%", "18,42wt%", "18.42 %"])
def test_an_answer_may_carry_its_unit(given):
    exercise = Exercise("t", "q", {}, 18.42, "wt%", 0.02)
    assert mark(exercise, given).right
    assert "close, yet not by rounding" in mark(exercise, "18.37").words


# --- no wrong idea is marked right, and each is named -----------------------------------------

LONG = range(300, 900)


def test_no_wrong_idea_of_dilution_is_right():
    for seed in [*SEEDS, *LONG, *(1000 * s + n for s in range(40) for n in range(3))]:
        (exercise,) = exercise_set(seed, ["dilution"])
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
    for seed in [*SEEDS, *LONG]:
        (exercise,) = exercise_set(seed, ["solidification mode"])
        heat = exercise.heats["the steel"]
        other = linear("cr_eq_schaeffler_1949", heat) / linear("ni_eq_schaeffler_1949", heat)
        said = mark(exercise, other)
        assert not said.right and "Schaeffler's equivalents" in said.words, seed


@pytest.mark.parametrize("topic", ["ferrite factor", "strain-induced martensite"])
def test_a_sign_that_was_lost_is_named(topic):
    at, seen = list(TOPICS).index(topic), set()
    for seed in SEEDS:
        exercise = YEAR[seed][at]
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
    ("topic", "name"),
    [("nickel equivalent", "ni_eq_delong_1973"), ("nickel equivalent", "ni_eq_schaeffler_1949"),
     ("chromium equivalent", "cr_eq_wrc_1992"), ("pitting index", "pren_30n"),
     ("strain-induced martensite", "md30_gladman_1974")],
)  # fmt: skip
def test_another_relation_is_named_by_its_title(topic, name):
    at, told = list(TOPICS).index(topic), 0
    for seed in SEEDS:
        exercise = YEAR[seed][at]
        value = linear(name, exercise.heats["the steel"])
        if abs(value - exercise.answer) > 2.5 * exercise.tolerance:
            assert CATALOGUE[name].title in mark(exercise, value).words, seed
            told += 1
    assert told > 200


def test_slips_that_end_together_are_all_named():
    """Of the forms with nitrogen, WRC-1988 leaves out just the copper of WRC-1992."""
    at, together = list(TOPICS).index("nickel equivalent"), 0
    for seed in SEEDS:
        exercise = YEAR[seed][at]
        without = exercise.answer - 0.25 * exercise.heats["the steel"]["Cu"]
        if exercise.answer - without > 2.5 * exercise.tolerance:
            words = mark(exercise, without).words
            assert "0.25·Cu, or that is another relation, WRC-1988" in words, seed
            together += 1
    assert together > 200
    near = Exercise("t", "q", {}, 5.0, "", 0.02, mistakes=(Mistake(6, "a"), Mistake(6.015, "b")))
    assert mark(near, "6").words == "Not yet: a, or b."
    assert mark(near, "6.012").words == "Not yet: b, or a."
    assert mark(near, "6.03").words == "Not yet: b."


def test_a_hint_on_rounding_only_where_it_was_rounded():
    exercise = Exercise("t", "q", {}, 18.46, "wt%", 0.02)
    for given in ("18.5", "18,5 wt%", "1.85e1", 18.5):
        assert "carry 2 decimals" in mark(exercise, given).words, given
    for given in ("18.50", "18.42", "18,415", "1.842e1"):
        words = mark(exercise, given).words
        assert "a small term or a factor" in words and "decimal" not in words, given
    coarse = Exercise("t", "q", {}, -20.3, "°C", 0.2)
    assert "carry 1 decimal." in mark(coarse, "-21").words
    assert coarse.asked == "°C, to 1 decimal" and exercise.asked == "wt%, to 2 decimals"


def test_each_field_is_as_likely_as_another():
    (at, made) = list(TOPICS).index("field of a diagram"), {}
    for seed in SEEDS:
        answer = YEAR[seed][at].answer
        made[answer] = made.get(answer, 0) + 1
    share = len(SEEDS) / len(gk.diagram("schaeffler_1949").regions)
    assert all(share / 2 < count < 2 * share for count in made.values())


def test_no_steel_lies_beside_a_line_of_the_diagram():
    from shapely.geometry import Point, Polygon

    chart = gk.diagram("schaeffler_1949")
    at = list(TOPICS).index("field of a diagram")
    fields = {r.label: Polygon(r.polygon) for r in chart.regions}
    for seed in SEEDS:
        exercise = YEAR[seed][at]
        point = Point(*(linear(name, exercise.heats["the steel"]) for name in chart.axes))
        assert fields[exercise.answer].exterior.distance(point) > 0.15, seed


def test_what_cannot_be_read_is_refused_and_not_wrong():
    number, word = exercise_set(2, ["dilution", "field of a diagram"])
    for exercise, given in ((number, "ten"), (number, "12 ppm"), (word, "B")):
        said = mark(exercise, given)
        assert said.refused and not said.right, given
    assert not mark(number, "1").refused and not mark(number, number.answer).refused
    assert not mark(word, next(c for c in word.choices if c != word.answer)).refused


@pytest.mark.parametrize("topic", SUMS)
def test_a_term_that_was_forgotten_is_never_right(topic):
    at = list(TOPICS).index(topic)
    for seed in SEEDS:
        exercise = YEAR[seed][at]
        heat, terms = exercise.heats["the steel"], LINEAR[exercise.relations[0]]["terms"]
        for term, coefficient in terms.items():
            if term in heat:
                said = mark(exercise, exercise.answer - coefficient * heat[term])
                assert not said.right and "you left out the term" in said.words, (seed, term)
