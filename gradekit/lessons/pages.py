"""Pages to print: exercises with their working for a teacher, and a pupil's own answers."""

from __future__ import annotations

import os
from collections.abc import Iterable
from numbers import Integral
from pathlib import Path

import pandas as pd

from gradekit.core.errors import InputError
from gradekit.core.files import write_whole
from gradekit.core.markup import STYLE, escape, table
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.sets import exercise_set

__all__ = ["document", "heats_table", "teacher_page"]

_PRINT = """<style>
body{font:14px/1.5 system-ui,sans-serif;max-width:52em;margin:2em auto;padding:0 1em}
h1{font-size:1.5em}h2{font-size:1.1em;margin:1.4em 0 .2em}
.blank{border-bottom:1px solid #888;height:1.8em;max-width:22em}
section{break-inside:avoid}
.new{break-before:page}
</style>"""


def document(title: str, *parts: str) -> str:
    """Return a whole HTML page that needs nothing from elsewhere."""
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}'
        f"</title>{STYLE}{_PRINT}</head><body><h1>{escape(title)}</h1>{''.join(parts)}</body></html>"
    )


def heats_table(exercise: Exercise) -> str:
    """Return the steels of an exercise as a table, wt%."""
    frame = pd.DataFrame(exercise.heats).T.astype(object)
    frame = frame.map(lambda v: "" if pd.isna(v) else f"{v:g}")
    return f'<div class="gk">{table(frame, "Contents, wt%")}</div>'


def teacher_page(seed: int, path: str | os.PathLike, sets: int = 1) -> Path:
    """Write fresh exercises with room for answers, and on pages of their own the solutions.

    Parameters
    ----------
    seed : int
        Of the first set; the same seed gives the same page.
    path : path of the HTML file, to be printed from a browser
    sets : int
        How many sets, of seeds that follow each other: one a pupil, say.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        A seed or a number of sets that is no whole number, or a folder that is not there.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> page = teacher_page(7, pathlib.Path(tempfile.mkdtemp()) / "page.html")
    >>> "Solutions" in page.read_text("utf-8")
    True
    """
    if not isinstance(sets, Integral) or isinstance(sets, bool) or sets < 1:
        raise InputError("sets", "a whole number of at least 1", sets)
    first = exercise_set(seed)
    made = {seed: first} | {seed + n: exercise_set(seed + n) for n in range(1, sets)}
    papers = [_paper(s, exercises) for s, exercises in made.items()]
    keys = [_key(s, exercises) for s, exercises in made.items()]
    note = (
        "<p>All steels are invented. Answers and working are computed from the catalogue; the "
        "diagrams are reconstructions and not for code acceptance.</p>"
    )
    return write_whole(path, document("Phase balance: exercises", note, *papers, *keys))


def _paper(seed: int, exercises: Iterable[Exercise]) -> str:
    parts = [f'<h1 class="new">Set {seed}</h1><p>Name:</p><div class="blank"></div>']
    for number, e in enumerate(exercises, start=1):
        choices = f"<p>One of {escape(', '.join(e.choices))}.</p>" if e.in_words else ""
        asked = f", {escape(e.asked)}" if e.asked else ""
        parts.append(
            f"<section><h2>{number}. {escape(e.topic.capitalize())}</h2><p>{escape(e.question)}</p>"
            f'{heats_table(e)}{choices}<p>Answer{asked}:</p><div class="blank"></div></section>'
        )
    return "".join(parts)


def _key(seed: int, exercises: Iterable[Exercise]) -> str:
    parts = [f'<h1 class="new">Solutions of set {seed}</h1>']
    for number, e in enumerate(exercises, start=1):
        steps = "".join(f"<li>{escape(step)}</li>" for step in e.solution)
        off = "" if e.in_words else f" (± {e.tolerance:g} is rounding)"
        slips = "".join(f"<li>{_brief(m.value)}: {escape(m.words)}</li>" for m in e.mistakes)
        slips = f"<p>Wrong answers that say why:</p><ul>{slips}</ul>" if slips else ""
        parts.append(
            f"<section><h2>{number}. {escape(e.topic.capitalize())}: {escape(e.shown_answer)}{off}"
            f"</h2><ol>{steps}</ol>{slips}<p><small>{escape(e.evidence)}</small></p></section>"
        )
    return "".join(parts)


def _brief(value: float | str) -> str:
    return escape(value) if isinstance(value, str) else f"{value:.4g}"
