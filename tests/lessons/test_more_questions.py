"""The second kinds of question, worked out again by the second reading and the limits."""

import re

import pytest
from second_reading import linear
from test_lessons import SEEDS, YEAR, sums

import gradekit as gk
from gradekit.lessons.marking import mark
from gradekit.lessons.sets import TOPICS
from gradekit.relations.topics import CATALOGUE


@pytest.mark.parametrize("topic", ["nickel equivalent", "solidification mode"])
def test_both_kinds_of_question_occur(topic):
    assert len(SEEDS) / 3 < len(sums(topic)) < 2 * len(SEEDS) / 3


def test_the_change_of_one_element():
    at, seen = list(TOPICS).index("nickel equivalent"), set()
    for seed in set(SEEDS) - set(sums("nickel equivalent")):
        exercise = YEAR[seed][at]
        heat, (name,) = exercise.heats["the steel"], exercise.relations
        amount, element = re.search(r"gets ([\d.]+) % more (\w+)", exercise.question).groups()
        richer = heat | {element: heat[element] + float(amount)}
        rise = linear(name, richer) - linear(name, heat)
        assert exercise.answer == pytest.approx(rise)
        assert "its factor" in mark(exercise, amount).words
        assert "equivalent afterwards" in mark(exercise, linear(name, richer)).words
        seen.add((name, element))
        for other in {n for n, _ in seen}:
            theirs = linear(other, richer) - linear(other, heat)
            if abs(theirs - rise) > 1e-9:
                said = mark(exercise, theirs)
                assert not said.right and CATALOGUE[other].title in said.words
    assert len(seen) == 2 + 3 + 3  # Mn or C; Mn, C or N; C, N or Cu


def test_the_mode_of_a_ratio():
    limits = gk.diagrams.solidification_limits()
    limits = limits[limits["criterion"] == "schaeffler_bands"]
    at, seen, told = list(TOPICS).index("solidification mode"), set(), set()

    def mode(upper, lower):
        inside = ~(limits["lower"] >= upper / lower) & ~(limits["upper"] < upper / lower)
        return limits.loc[inside, "modes"].item()

    for seed in set(SEEDS) - set(sums("solidification mode")):
        exercise = YEAR[seed][at]
        heat = exercise.heats["the steel"]
        over, under = (linear(f"{side}_eq_schaeffler_1949", heat) for side in ("cr", "ni"))
        assert exercise.answer == mode(over, under)
        # Who rounds the equivalents to a decimal ends in the same mode.
        assert exercise.answer == mode(round(over, 1), round(under, 1))
        assert mark(exercise, exercise.answer).right
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
