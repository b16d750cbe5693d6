"""What a lesson shows, as strings: questions, answers, what stands without a kernel, the sheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache

import pandas as pd

from gradekit.app.panels.lesson_state import KIND, Try, Work
from gradekit.app.state import to_json
from gradekit.core.markup import (
    Html,
    Part,
    details,
    flow,
    items,
    number,
    picture,
    small,
    table,
    tag,
)
from gradekit.core.pages import render
from gradekit.diagrams.constitution import diagram
from gradekit.lessons.answer import Answer
from gradekit.lessons.chapters import CHAPTERS, Chapter
from gradekit.lessons.charted import chart_picture
from gradekit.lessons.exercise import KINDS, Exercise
from gradekit.lessons.prompts import PROMPTS
from gradekit.lessons.sets import self_check

# In one set of a chapter.
QUESTIONS = 3
_BREAK = Html("<br>")
RUN_TO_ANSWER = "Run the notebook to answer here: Run ▸ Run All Cells."


@cache
def answer(name: str) -> Answer:
    """Return the computed answer of a chapter."""
    return CHAPTERS[name].compute()


def questions(chapter: Chapter, seed: int) -> list[Exercise]:
    """Return the three questions of a chapter."""
    return self_check(chapter.topic, QUESTIONS, seed)


def asked(
    work: Work, chapter: str, seeds: Iterable[int]
) -> Iterator[tuple[int, int, Exercise, list[Try]]]:
    """Yield the questions of sets: seed, number, question, and what was answered to it."""
    for seed in seeds:
        for item, exercise in enumerate(questions(CHAPTERS[chapter], seed), start=1):
            yield seed, item, exercise, work.answers(chapter, seed, item, exercise.template)


def question(number: int, exercise: Exercise, working: bool = False, drawn: bool = True) -> Html:
    """Return a question with its steels, contents in wt% on a line each, and its diagram.

    Where it is not `drawn`, because a notebook would grow too large, its points stand in words.
    """
    heats = [
        part
        for name, heat in exercise.heats.items()
        for part in (_BREAK, tag("b", name), _contents(heat))
    ]
    lead = (
        [tag("b", f"{number}. "), f"{KINDS[exercise.kind]}. ".replace("?. ", "? ")]
        if number
        else []
    )
    parts: list[Part] = [tag("p", *lead, exercise.question, *heats)]
    if exercise.lines:
        parts.append(items(exercise.lines))
    if exercise.picture is not None:
        shown = picture(chart_picture(exercise, working)) if drawn else small(_in_words(exercise))
        parts.append(shown)
    if exercise.form in ("choice", "order"):
        parts.append(items(exercise.choices))
    if exercise.form == "design":
        parts.append(items(_targets(exercise)))
    return tag("div", *parts, class_="gk")


def _in_words(exercise: Exercise) -> str:
    """Say on which diagram a question is asked, and where its points lie."""
    assert exercise.picture is not None
    points = ", ".join(f"{words} at {x:.1f}; {y:.1f}" for words, x, y in exercise.picture.points)
    title = diagram(exercise.picture.diagram).title
    return f"On the {title}, which is drawn here while the notebook runs{points and f': {points}'}."


def _targets(exercise: Exercise) -> list[str]:
    """Return the targets of a design, a line each, with what they are made of."""
    lines = []
    for t in exercise.targets:
        made = " ".join(f"{k:+g}·{e}" for e, k in t.terms.items() if k)
        ends = [f"{word} {limit:g}" for word, limit in (("at least", t.low), ("at most", t.high))
                if limit is not None]  # fmt: skip
        lines.append(f"{t.words}: {t.constant:.4g} {made}, {' and '.join(ends)} {t.unit}".strip())
    return lines


def _contents(heat: Mapping[str, float]) -> str:
    return ", wt%: " + ", ".join(f"{element}\u00a0{x:g}" for element, x in heat.items())


def working(exercise: Exercise) -> Html:
    """Return the way to the answer, and what it rests on."""
    answer = tag("p", tag("b", exercise.shown_answer))
    steps = items(exercise.solution, "ol")
    return tag("div", answer, steps, small(exercise.evidence), class_="gk")


def guess_still(chapter: Chapter, told: str = "") -> Html:
    """Return a question as a page without a kernel shows it.

    The answer is folded away, unless there was a guess: `told` is what was said to it.
    """
    body = answer(chapter.name).body()
    if told:
        return _plain("Your guess first", chapter.question, told, body)
    summary = f"Guess first ({chapter.unit}); then open the computed answer"
    return _plain("Your guess first", chapter.question, details(summary, body))


def shut(chapter: str, title: str, inside: str) -> Html:
    """Return what would give the answer of a chapter away, behind a line that opens it."""
    summary = tag("summary", f"Guess first; then open: {title}")
    return tag("details", summary, Html(inside), class_="gk", data_after=chapter)


def questions_still(exercises: Sequence[Exercise], told: Iterable[str], lead: str) -> Html:
    """Return questions with folded working, as a page without a kernel shows them."""
    parts: list[Part] = []
    first = 1 if len(exercises) > 1 else 0
    for n, (exercise, words) in enumerate(zip(exercises, told, strict=True), start=first):
        summary = f"Answer {n or ''}, {exercise.asked}".replace(" ,", ",").removesuffix(", ")
        parts += [question(n, exercise, drawn=False), words, details(summary, working(exercise))]
    return _plain(lead, *[part for part in parts if part != ""])


def _plain(lead: str, *parts: Part) -> Html:
    # Without a style of its own: a notebook has dozens of these, and one style serves them all.
    return tag("div", tag("p", lead, class_="lead"), flow(parts), small(RUN_TO_ANSWER), class_="gk")


def next_step(work: Work) -> str:
    """Say what comes next: the first chapter that lacks its guess or has an open question.

    Examples
    --------
    >>> next_step(Work().guessed("equivalents", 1.5))
    'Next: chapter 1, equivalents: 3 questions to check yourself.'
    >>> next_step(Work())
    'Next: chapter 1, equivalents: your guess.'
    """
    for n, name in enumerate(CHAPTERS, start=1):
        place = f"Next: chapter {n}, {name}"
        if name not in work.guesses:
            return f"{place}: your guess."
        open_ = QUESTIONS - min(QUESTIONS, work.solved(name))
        if open_:
            word = "question" if open_ == 1 else "questions"
            return f"{place}: {open_} {word} to check yourself."
    return "All chapters are done. Other questions stand behind the button of each chapter."


def overview(work: Work, chapters: Iterable[str] = CHAPTERS) -> Html:
    """Return a table of the chapters: guess, answer, questions solved."""
    names = list(chapters)
    frame = pd.DataFrame(
        {
            "your guess": [
                number(work.guesses[n], 6) if n in work.guesses else "not yet" for n in names
            ],
            "computed": [answer(n).headline if n in work.guesses else "guess first"
                         for n in names],
            "self-check": [f"{work.solved(n)} of {QUESTIONS * len(work.sets(n))} right"
                           for n in names],
        },
        index=pd.Index(names, name="chapter"),
    )  # fmt: skip
    return table(frame, "The course so far", wide=["computed"])


def so_far(work: Work) -> Html:
    """Return the table of the chapters that were begun; the others in a line."""
    begun = [n for n in CHAPTERS if n in work.guesses or any(t.chapter == n for t in work.tries)]
    left = [n for n in CHAPTERS if n not in begun]
    several = f"{len(left)} chapters" if len(left) > 1 else "1 chapter"
    rest = details(f"{several} not begun yet", items(left, "ol")) if left else Html()
    return Html(overview(work, begun) + rest)


def answers_page(work: Work, name: str = "") -> Html:
    """Return the page to hand in: every guess, every answer given and the reply to it."""
    return render(
        "app/panels/answers.html", title="Phase balance: my answers", name=name or work.name,
        overview=overview(work), work=to_json(KIND, work.data()),
        chapters=[_chapter(chapter, work) for chapter in CHAPTERS.values()],
    )  # fmt: skip


def _chapter(chapter: Chapter, work: Work) -> dict:
    """What the page says of one chapter."""
    guess = work.guesses.get(chapter.name)
    told = []
    for seed, item, exercise, own in asked(work, chapter.name, work.sets(chapter.name)):
        opened = (chapter.name, seed, item) in work.opened
        if own or opened:
            told.append({"question": question(item, exercise), **_tries(own, opened)})
    for one in PROMPTS.values():
        own = work.answers(one.chapter, 0, 0, one.name)
        if own and one.chapter == chapter.name:
            told.append({"question": question(0, one.exercise()), **_tries(own, False)})
    return {
        "name": chapter.name,
        "question": chapter.question,
        "guess": "No guess yet." if guess is None else answer(chapter.name).beside(guess),
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
