"""What a lesson shows, as strings: questions, answers, what stands without a kernel, the sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import pandas as pd

from gradekit.app.panels.lesson_state import Try, Work
from gradekit.core.markup import Html, Part, details, flow, items, small, table, tag
from gradekit.core.pages import render
from gradekit.lessons.answer import Answer
from gradekit.lessons.chapters import CHAPTERS, Chapter
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.sets import self_check

__all__ = [
    "guess_still",
    "overview",
    "question",
    "questions",
    "questions_still",
    "sheet",
    "working",
]

# In one set of a chapter.
QUESTIONS = 3
_BREAK = Html("<br>")
REVIVE = "Run the notebook to answer here: Run ▸ Run All Cells."


def questions(chapter: Chapter, seed: int) -> list[Exercise]:
    """Return the three questions of a chapter."""
    return self_check(chapter.topic, QUESTIONS, seed)


def question(number: int, exercise: Exercise) -> Html:
    """Return a question with its steels, contents in wt% on a line each."""
    heats = [
        part
        for name, heat in exercise.heats.items()
        for part in (_BREAK, tag("b", name), _contents(heat))
    ]
    return tag(
        "div", tag("p", tag("b", f"{number}."), f" {exercise.question}", *heats), class_="gk"
    )


def _contents(heat: Mapping[str, float]) -> str:
    return ", wt%: " + ", ".join(f"{element}\u00a0{x:g}" for element, x in heat.items())


def working(exercise: Exercise) -> Html:
    """Return the way to the answer, and what it rests on."""
    answer = tag("p", tag("b", exercise.shown_answer))
    steps = items(exercise.solution, "ol")
    return tag("div", answer, steps, small(exercise.evidence), class_="gk")


def guess_still(chapter: Chapter, answer: Answer, told: str = "") -> Html:
    """Return a question as a page without a kernel shows it.

    The answer is folded away, unless there was a guess: `told` is what was said to it.
    """
    if told:
        return _plain("Your guess first", chapter.question, told, answer.body())
    summary = f"Guess first, in {chapter.unit}; then open the computed answer"
    return _plain("Your guess first", chapter.question, details(summary, answer.body()))


def questions_still(exercises: Iterable[Exercise], told: Iterable[str]) -> Html:
    """Return questions with folded working, as a page without a kernel shows them."""
    parts: list[Part] = []
    for n, (exercise, words) in enumerate(zip(exercises, told, strict=True), start=1):
        summary = f"Answer {n}, {exercise.asked}".removesuffix(", ")
        parts += [question(n, exercise), words, details(summary, working(exercise))]
    return _plain("Check yourself", *[part for part in parts if part != ""])


def _plain(lead: str, *parts: Part) -> Html:
    # Without a style of its own: a notebook has dozens of these, and one style serves them all.
    return tag("div", tag("p", lead, class_="lead"), flow(parts), small(REVIVE), class_="gk")


def overview(work: Work, answers: dict[str, Answer]) -> Html:
    """Return a table of the chapters: guess, answer, questions solved."""
    frame = pd.DataFrame(
        {
            "your guess": [
                f"{work.guesses[n]:g}" if n in work.guesses else "not yet" for n in CHAPTERS
            ],
            "computed": [answers[n].headline if n in work.guesses else "guess first"
                         for n in CHAPTERS],
            "self-check": [f"{work.solved(n)} of {QUESTIONS * len(work.sets(n))} right"
                           for n in CHAPTERS],
        },
        index=pd.Index(CHAPTERS, name="chapter"),
    )  # fmt: skip
    return table(frame, "The course so far", wide=["computed"])


def sheet(work: Work, answers: dict[str, Answer], name: str = "") -> Html:
    """Return the page to hand in: every guess, every answer given and the reply to it."""
    return render(
        "app/panels/answers.html", title="Phase balance: my answers", name=name or work.name,
        overview=overview(work, answers),
        chapters=[_chapter(chapter, work, answers[chapter.name]) for chapter in CHAPTERS.values()],
    )  # fmt: skip


def _chapter(chapter: Chapter, work: Work, answer: Answer) -> dict:
    """What the page says of one chapter."""
    guess = work.guesses.get(chapter.name)
    told = []
    for seed in work.sets(chapter.name):
        for item, exercise in enumerate(questions(chapter, seed), start=1):
            at = (chapter.name, seed, item)
            own = [t for t in work.tries if (t.chapter, t.seed, t.item) == at]
            if own or at in work.opened:
                told.append(
                    {"question": question(item, exercise), **_tries(own, at in work.opened)}
                )
    return {
        "name": chapter.name,
        "question": chapter.question,
        "guess": "No guess yet." if guess is None else answer.beside(guess),
        "answered": told,
    }


def _tries(tries: Sequence[Try], opened: bool) -> dict:
    lines, shown = [], False
    for t in tries:
        if t.after_working and not shown:
            lines.append("The working was shown before the next answer.")
            shown = True
        lines.append(f"{'✓' if t.right else '✕'} {t.given}: {t.said}")
    if opened and not shown:
        lines.append(f"The working was shown{' after that' if tries else ', no answer'}.")
    first = next((n for n, t in enumerate(tries, start=1) if t.right), 0)
    return {"lines": lines, "solved": f"Solved at answer {first}." if first else "Not solved."}
