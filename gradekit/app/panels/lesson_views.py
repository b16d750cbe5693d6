"""What a lesson shows, as strings: questions, answers, what stands without a kernel, the sheet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import pandas as pd

from gradekit.app.panels.lesson_state import Try, Work
from gradekit.core.markup import escape, table
from gradekit.lessons.answer import Answer
from gradekit.lessons.chapters import CHAPTERS, Chapter
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.pages import document
from gradekit.lessons.sets import self_check

__all__ = ["guess_still", "items", "items_still", "overview", "question", "sheet", "working"]

# In one set of a chapter.
QUESTIONS = 3
REVIVE = "Run the notebook to answer here: Run ▸ Run All Cells."


def items(chapter: Chapter, seed: int) -> list[Exercise]:
    """Return the three questions of a chapter."""
    return self_check(chapter.topic, QUESTIONS, seed)


def question(number: int, exercise: Exercise) -> str:
    """Return a question with its steels, contents in wt% on a line each."""
    heats = "".join(
        f"<br><b>{escape(name)}</b>, wt%: "
        + ", ".join(f"{escape(e)}&nbsp;{x:g}" for e, x in heat.items())
        for name, heat in exercise.heats.items()
    )
    return f'<div class="gk"><p><b>{number}.</b> {escape(exercise.question)}{heats}</p></div>'


def working(exercise: Exercise) -> str:
    """Return the way to the answer, and what it rests on."""
    steps = "".join(f"<li>{escape(s)}</li>" for s in exercise.solution)
    return (
        f'<div class="gk"><p><b>{escape(exercise.shown_answer)}</b></p><ol>{steps}</ol>'
        f'<p class="s">{escape(exercise.evidence)}</p></div>'
    )


def guess_still(chapter: Chapter, answer: Answer) -> str:
    """Return a question as a page without a kernel shows it: the answer is folded away."""
    return _plain(
        "Your guess first",
        f"<p>{escape(chapter.question)}</p><details><summary>Guess first, in {escape(chapter.unit)}"
        f"; then open the computed answer</summary>{answer.body()}</details>",
    )


def items_still(exercises: Iterable[Exercise]) -> str:
    """Return questions with folded working, as a page without a kernel shows them."""
    parts = [
        f"{question(n, e)}<details><summary>{escape(f'Answer {n}, {e.asked}'.removesuffix(', '))}"
        f"</summary>{working(e)}</details>"
        for n, e in enumerate(exercises, start=1)
    ]
    return _plain("Check yourself", *parts)


def _plain(lead: str, *parts: str) -> str:
    # Without a style of its own: a notebook has dozens of these, and one style serves them all.
    return (
        f'<div class="gk"><p class="lead">{lead}</p>{"".join(parts)}<p class="s">{REVIVE}</p></div>'
    )


def overview(work: Work, answers: dict[str, Answer]) -> str:
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


def sheet(work: Work, answers: dict[str, Answer], name: str = "") -> str:
    """Return the page to hand in: every guess, every answer given and what was said to it."""
    who = name or work.name
    parts = [f"<p>Name: {escape(who)}</p>" if who else '<p>Name:</p><div class="blank"></div>']
    parts.append(f'<div class="gk">{overview(work, answers)}</div>')
    for chapter in CHAPTERS.values():
        parts.append(_chapter(chapter, work, answers[chapter.name]))
    parts.append(
        "<p><small>All steels are invented. The diagrams are reconstructions and not for code "
        "acceptance.</small></p>"
    )
    return document("Phase balance: my answers", *parts)


def _chapter(chapter: Chapter, work: Work, answer: Answer) -> str:
    parts = [f"<section><h2>{escape(chapter.name.capitalize())}</h2>",
             f"<p>{escape(chapter.question)}</p>"]  # fmt: skip
    guess = work.guesses.get(chapter.name)
    said = "No guess yet." if guess is None else answer.beside(guess)
    parts.append(f"<p>{escape(said)}</p>")
    tries = [t for t in work.tries if t.chapter == chapter.name]
    for seed in work.sets(chapter.name):
        for item, exercise in enumerate(items(chapter, seed), start=1):
            own = [t for t in tries if (t.seed, t.item) == (seed, item)]
            opened = (chapter.name, seed, item) in work.opened
            if own or opened:
                parts.append(question(item, exercise) + _tries(own, opened))
    return f"{''.join(parts)}</section>"


def _tries(tries: Sequence[Try], opened: bool) -> str:
    lines, shown = [], False
    for t in tries:
        if t.after_working and not shown:
            lines.append("<li>The working was shown before the next answer.</li>")
            shown = True
        lines.append(f"<li>{'✓' if t.right else '✕'} {escape(t.given)}: {escape(t.said)}</li>")
    if opened and not shown:
        lines.append(f"<li>The working was shown{' after that' if tries else ', no answer'}.</li>")
    first = next((n for n, t in enumerate(tries, start=1) if t.right), 0)
    solved = f"Solved at answer {first}." if first else "Not solved."
    return f"<ul>{''.join(lines)}</ul><p>{solved}</p>"
