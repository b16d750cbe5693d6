"""A page judges answers and guesses as the library does, word for word, under Node."""

import json
import random
import shutil
import subprocess

import pytest

from gradekit.app.pages.course_page import guess_data
from gradekit.app.pages.model import text_of
from gradekit.core.errors import InputError
from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.guess import read_guess
from gradekit.lessons.marking import mark
from gradekit.lessons.sets import exercise_set

pytestmark = pytest.mark.skipif(shutil.which("node") is None, reason="Node is not installed")


def node(script: str, data: object) -> list:
    parts = [text_of("format.js"), text_of("marking.js"), f"const data={json.dumps(data)};"]
    text = "\n".join([*parts, f"process.stdout.write(JSON.stringify({script}));"])
    run = subprocess.run(["node", "-"], input=text, capture_output=True, text=True, timeout=120)
    assert run.returncode == 0, run.stderr[-2000:]
    return json.loads(run.stdout)


def answers(exercise, draw: random.Random) -> list[str]:
    """What people may answer: right, each usual mistake, near misses, and what is no answer."""
    given = ["", "plenty", "20 ppm", "18,4", "-3", "1.2.3", exercise.shown_answer]
    given += [
        "1/2",
        "12; 14",
        "0.5 of 3",
        "1,050",
        "12.940 wt%",
        "\u22121,050e0",
        "1,050 kg",
        "18,400; 12.3",
    ]
    if exercise.form == "number":
        answer, step = float(exercise.answer), exercise.tolerance
        numbers = [
            answer,
            -answer,
            answer * 1.4,
            answer / 3,
            answer + 0.9 * step,
            answer + 3 * step,
        ]
        numbers += [float(m.value) for m in exercise.mistakes]
        given += [f"{x:.{d}f}" for x in numbers for d in (0, 1, 3)]
        given += [f"{answer:.4f} {unit}".replace(".", ",") for unit in (exercise.unit, "wt%", "kg")]
        given += [f"{answer:.3e}"]
    elif exercise.form == "choice":
        given += [*exercise.choices, exercise.choices[0].upper().replace(" ", "")]
    elif exercise.form == "order":
        for _ in range(4):
            names = draw.sample(exercise.choices, len(exercise.choices))
            given += [" > ".join(names), ",".join(names).lower(), ";".join(names)]
        given += [" > ".join(m.value) for m in exercise.mistakes]
    elif exercise.form == "point":
        places = [exercise.answer, *(m.value for m in exercise.mistakes)]
        given += [f"{x + d:.2f}; {y - d:.2f}" for x, y in places for d in (0, 0.4, 3)]
        given += ["18; ten", "18"]
    else:
        for share in (-0.1, 0.0, 0.3, 0.5, 0.8, 1.0):
            given.append("; ".join(f"{s.element} {s.low + share * (s.high - s.low):.3f}"
                                   for s in exercise.sliders))  # fmt: skip
    return given


def test_every_answer_is_judged_alike():
    draw = random.Random(4)
    asked = [
        (exercise, given)
        for seed in range(60)
        for exercise in exercise_set(seed)
        for given in answers(exercise, draw)
    ]
    page = node(
        "data.asked.map(([k,given])=>{const j=markAnswer(data.exercises[k],given);"
        "return [j.right,j.words,j.refused];})",
        {
            "exercises": [e.data() for e in dict.fromkeys(map(_Same, asked))],
            "asked": [[k, given] for k, given in _numbered(asked)],
        },
    )
    forms = set()
    for (exercise, given), judged in zip(asked, page, strict=True):
        ours = mark(exercise, given)
        assert judged == [ours.right, ours.words, ours.refused], (exercise.template, given)
        forms.add((exercise.form, ours.right))
    assert {form for form, _ in forms} >= {"number", "choice"}
    assert all((form, True) in forms for form, _ in forms if form != "design")


class _Same:
    """An exercise by its identity, for a dict."""

    def __init__(self, asked):
        self.exercise = asked[0]

    def __hash__(self):
        return id(self.exercise)

    def __eq__(self, other):
        return self.exercise is other.exercise

    def data(self):
        return self.exercise.data()


def _numbered(asked):
    places: dict[int, int] = {}
    for exercise, given in asked:
        yield places.setdefault(id(exercise), len(places)), given


def test_every_guess_is_read_and_judged_alike():
    data, texts, ours = {}, [], []
    for name, one in CHAPTERS.items():
        answer = one.compute()
        data[name] = guess_data(answer)
        reach = abs(answer.high - answer.low) or abs(answer.value)
        numbers = [answer.value, answer.low, answer.high, -answer.value, 0.0, 0.3,
                   answer.value / 100, answer.high + 0.3 * reach, answer.low - reach,
                   2.0, 1234.5]  # fmt: skip
        said = [f"{x:.3g}" for x in numbers] + [f"{answer.value:.2f} {one.unit}".replace(".", ",")]
        for text in [*said, "plenty", "2 of 3", "2 ppm", "1,700", "", "3 %", "−5", "1e400"]:
            texts.append([name, text])
            try:
                ours.append(answer.judged(read_guess(text, one.unit, answer.of)))
            except InputError as error:
                ours.append([error.must_be])
    page = node(
        "data.texts.map(([n,t])=>{const a=data.answers[n],g=readGuess(t,a.unit,a.of);"
        "return 'wrong' in g ? [g.wrong] : judgeGuess(a,g.value);})",
        {"answers": data, "texts": texts},
    )
    for text, theirs, mine in zip(texts, page, ours, strict=True):
        assert theirs == mine, text
