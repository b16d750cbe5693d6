"""A page to print: exercises, with their working for a teacher."""

from __future__ import annotations

import os
from numbers import Integral
from pathlib import Path

import pandas as pd

from gradekit.core.errors import InputError
from gradekit.core.files import write_whole
from gradekit.core.markup import Html, table
from gradekit.core.pages import render
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.sets import exercise_set

__all__ = ["teacher_page"]


def _contents(exercise: Exercise) -> Html:
    """The steels of an exercise as a table, wt%."""
    frame = pd.DataFrame(exercise.heats).T.astype(object)
    frame = frame.map(lambda v: "" if pd.isna(v) else f"{v:g}")
    return table(frame, "Contents, wt%")


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
    made = {seed: exercise_set(seed)} | {seed + n: exercise_set(seed + n) for n in range(1, sets)}
    title = "Phase balance: exercises"
    return write_whole(
        path, render("lessons/exercises.html", title=title, sets=made, contents=_contents)
    )
