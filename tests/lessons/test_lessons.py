"""Sets of exercises, and what is said to an answer."""

import json

import numpy as np
import pytest
from drawn_exercises import drawn
from second_reading import linear

import gradekit as gk
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.marking import mark
from gradekit.lessons.sets import TEMPLATES, TOPICS, exercise_set, self_check
from gradekit.relations.topics import CATALOGUE


def test_sets_of_a_year_are_different():
    for topic in TOPICS:
        asked = {json.dumps(exercise_set(s, topic)[0].data(), sort_keys=True) for s in range(60)}
        assert len(asked) >= 55, topic


def test_the_same_seed_gives_the_same_set():
    assert exercise_set(11) == exercise_set(11)
    assert exercise_set(11, ["dilution"])[0] == exercise_set(11)[list(TOPICS).index("dilution")]


def test_feedback_names_the_mistake():
    exercise = drawn("nickel sum")[5]
    heat = exercise.heats["the steel"]
    words = mark(exercise, exercise.answer - 35 * heat["C"]).words
    assert "35·C" in words
    assert "swapped the axes" in mark(exercise, linear("cr_eq_wrc_1992", heat)).words
    assert "weight fractions" in mark(exercise, exercise.answer / 100).words
    assert "number" in mark(exercise, "about ten").words
    assert "sign" in mark(exercise, -exercise.answer).words


def test_a_wrong_field_names_the_slip_that_ends_there():
    chart, seen = gk.diagram("schaeffler_1949"), set()
    for exercise in drawn("field by sums"):
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


def test_a_wrong_mode_names_the_slip_that_ends_there():
    limits = gk.diagrams.solidification_limits()
    limits = limits[limits["criterion"] == "schaeffler_bands"]
    seen, told = set(), set()

    def mode(upper, lower):
        inside = ~(limits["lower"] >= upper / lower) & ~(limits["upper"] < upper / lower)
        return limits.loc[inside, "modes"].item()

    for exercise in drawn("freezing mode"):
        heat = exercise.heats["the steel"]
        over, under = (linear(f"{side}_eq_schaeffler_1949", heat) for side in ("cr", "ni"))
        # Who rounds the equivalents to a decimal ends in the same mode.
        assert exercise.answer == mode(round(over, 1), round(under, 1))
        seen.add(exercise.answer)
        slips = {
            "turned the ratio over": mode(under, over),
            "Hammar-Svensson's": mode(*(linear(f"{s}_eq_hammar_1979", heat) for s in ("cr", "ni"))),
            "DeLong's": mode(*(linear(f"{s}_eq_delong_1973", heat) for s in ("cr", "ni"))),
            "left out 30·C": mode(over, under - 30 * heat["C"]),
            "left out 0.5·Mn": mode(over, under - 0.5 * heat["Mn"]),
        }
        for words, end in slips.items():
            if end != exercise.answer:
                assert words in mark(exercise, end).words
                told.add(words)
        led = {exercise.answer, *(m.value for m in exercise.mistakes)}
        for other in set(exercise.choices) - led:
            assert f"{over / under:.2f}" in mark(exercise, other).words
    assert seen == {"A", "AF", "FA", "F"} and told == set(slips)


def test_points_orders_and_designs_are_read_as_they_are_typed():
    place, order, design = (drawn(n)[3] for n in ("field place", "nickel order", "strain design"))
    x, y = place.answer
    assert mark(place, f"{x:.1f}; {y:.1f}".replace(".", ",")).right
    assert "you swapped the axes" in mark(place, f"{y};{x}").words
    assert "the chromium equivalent is too high" in mark(place, f"{x + 9}; {y}").words
    for given in ("", "18", "18; x", "18 wt%; 9"):
        assert mark(place, given).refused, given
    assert mark(order, ", ".join(order.answer).lower()).right
    assert mark(order, "A > B").refused and mark(order, "A > A > B > C").refused
    assert mark(design, design.shown_answer.replace(".", ",")).right
    assert mark(design, "Cr 18").refused and "Ni may lie from" in mark(
        design, "Cr 18; Ni 30; N 0.1").words  # fmt: skip


def test_an_answer_that_can_be_read_two_ways_is_judged_and_told_how_it_was_read():
    asked = Exercise("How much?", {}, 12.94, "wt%", 0.02)
    for given in ("12,940 wt%", "+12,940"):
        said = mark(asked, given)
        assert said.right and said.words == "Right. Read as 12.94.", given
    assert mark(asked, "1,050").words == "Not yet: too low. Read as 1.05."
    assert mark(asked, "\u22121,050").words.endswith("Read as -1.05.")
    # One way only: these need no word. A point is the decimal sign of the page they stand on.
    for given in ("12.94", "12.940", "17.645", "0,050", "12,9400", "1294,000", "12,940e0",
                  "12,940 ppm", "x"):  # fmt: skip
        assert "Read as" not in mark(asked, given).words, given
    place = drawn("field place")[0]
    assert mark(place, "18,400; 12.3").words.endswith("Read as 18.4; 12.3.")


def test_the_unit_asked_may_be_typed_and_another_is_named():
    exercise = Exercise("How much?", {}, 12.6, "wt%", 0.02)
    for given in ("12.60 wt%", "12.605 %", "12,6 Wt. %", "12.6", "1.26e1 mass %"):
        assert mark(exercise, given).right, given
    for given in ("12.6 °C", "12.6 ppm", "12.6 FN"):
        said = mark(exercise, given)
        assert not said.right and f"asked in wt%, not in {given.split()[1]}" in said.words
    degrees = Exercise("How warm?", {}, -20.0, "°C", 0.2)
    assert mark(degrees, "\u221220 °C").right and mark(degrees, "-20 C").right
    assert "in °C, not in %" in mark(degrees, "-20 %").words
    index = Exercise("Which index?", {}, 24.0, "", 0.2)
    assert mark(index, "24").right and "without a unit" in mark(index, "24 %").words
    assert "number" in mark(index, "24 25").words and "number" in mark(index, "nan").words


def test_answers_follow_the_catalogue(monkeypatch):
    """A changed coefficient changes the answer: nothing is stored."""
    relation = CATALOGUE["pren_16n"]
    draw = TEMPLATES["pitting sum"].draw
    before = draw(np.random.default_rng(3)).answer
    changed = relation.variant("pren_16n", terms=dict(relation.terms) | {"N": 20.0})
    CATALOGUE.add(changed, replace=True)
    try:
        after = draw(np.random.default_rng(3))
        assert after.answer == pytest.approx(before + 4 * after.heats["the steel"]["N"])
    finally:
        CATALOGUE.add(relation, replace=True)


def test_self_checks_go_through_all_templates_of_a_topic():
    for topic, own in TOPICS.items():
        met = [e.template for seed in range(3) for e in self_check(topic, seed=seed)]
        assert set(met) == {t.name for t in own} and len({*met[:3]}) == 3
        assert self_check(topic, seed=2) == self_check(topic, seed=2)
    assert self_check("dilution", seed=0) != self_check("dilution", seed=8)


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
    exercise = Exercise("q", {}, 18.42, "wt%", 0.02)
    assert mark(exercise, given).right
    assert "close, but further off than rounding" in mark(exercise, "18.37").words
