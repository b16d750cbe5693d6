"""Pages to print: exercises for a class, their solutions in a file of its own, a lesson plan."""

from __future__ import annotations

import os
from numbers import Integral
from pathlib import Path

import pandas as pd

from gradekit.core.errors import InputError
from gradekit.core.files import as_path, write_whole
from gradekit.core.markup import Html, picture, table
from gradekit.core.pages import render
from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.charted import chart_picture
from gradekit.lessons.exercise import KINDS, Exercise
from gradekit.lessons.sets import drawn, exercise_set

#: Marks for a right answer, by kind.
MARKS = {"compute": 3, "rank": 3, "place": 3, "change": 2, "reason": 2, "mistake": 2, "chart": 2,
         "read": 2, "estimate": 1, "design": 3}  # fmt: skip
# As many diagrams leave a set on two pages.
_CHARTS = 2
_TITLE = "Phase balance: exercises"


def paper_set(seed: int) -> list[Exercise]:
    """Return one exercise a topic that a pencil can answer, with two diagrams at most.

    Parameters
    ----------
    seed : int
        Not negative; the same seed gives the same set.

    Raises
    ------
    InputError
        A seed that is no whole number.

    Examples
    --------
    >>> made = paper_set(7)
    >>> len(made), all(e.on_paper for e in made)
    (10, True)
    """
    made: list[Exercise] = []
    for exercise in exercise_set(seed):
        turn = 0
        while not exercise.on_paper or _shown(exercise) > _CHARTS - sum(map(_shown, made)):
            turn += 1
            exercise = drawn(exercise.topic, int(seed), turn)
        made.append(exercise)
    return made


def _shown(exercise: Exercise) -> bool:
    """Tell whether a diagram stands with the question; that of the working does not count."""
    return _chart(exercise) != ""


def _chart(exercise: Exercise, working: bool = False) -> Html | str:
    asked = exercise.picture is not None and (exercise.picture.points or exercise.form == "point")
    if exercise.picture is None or not (asked or working):
        return ""
    return picture(chart_picture(exercise, working))


def _contents(exercise: Exercise) -> Html:
    """The steels of an exercise as a table, wt%."""
    frame = pd.DataFrame(exercise.heats).T.astype(object)
    frame = frame.map(lambda v: "" if pd.isna(v) else f"{v:g}")
    return table(frame, "Contents, wt%")


def teacher_page(seed: int, path: str | os.PathLike, sets: int = 1) -> Path:
    """Write fresh exercises to print, and their solutions into a file of their own.

    Parameters
    ----------
    seed : int
        Of the first set; the same seed gives the same pages.
    path : path of the HTML file, to be printed from a browser
        The solutions lie beside it: `page.html`, `page-solutions.html`.
    sets : int
        How many sets, of seeds that follow each other: one a pupil, say. Each begins on a page of
        its own with boxes for name, date and marks.

    Returns
    -------
    Path
        Of the exercises.

    Raises
    ------
    InputError
        A seed or a number of sets that is no whole number, or a folder that is not there.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> page = teacher_page(7, pathlib.Path(tempfile.mkdtemp()) / "page.html")
    >>> "Working" in page.read_text("utf-8")
    False
    >>> "Working" in page.with_name("page-solutions.html").read_text("utf-8")
    True
    """
    if not isinstance(sets, Integral) or isinstance(sets, bool) or sets < 1:
        raise InputError("sets", "a whole number of at least 1", sets)
    made = {seed: paper_set(seed)} | {seed + n: paper_set(seed + n) for n in range(1, sets)}
    given = {"sets": made, "contents": _contents, "chart": _chart, "kinds": KINDS, "marks": MARKS,
             "total": lambda own: sum(MARKS[e.kind] for e in own)}  # fmt: skip
    page = as_path(path)
    write_whole(
        page.with_name(f"{page.stem}-solutions{page.suffix}"),
        render("lessons/solutions.html", title=f"{_TITLE}, solutions", **given),
    )
    return write_whole(page, render("lessons/exercises.html", title=_TITLE, **given))


# What is done in a sitting: minutes and words. A chapter takes the same steps every time.
_CHAPTER = (
    (8, "Guess: each for themselves, then a show of hands; the computed answer and its range"),
    (10, "In pairs: the panel of the chapter and the questions of its text"),
    (7, "Check yourself: three questions, then what went wrong most often"),
)
_SITTINGS = (
    ("Two sums and a chart", ("equivalents", "one element", "fields"),
     ("say what an equivalent is and whose it is", "place a steel on a diagram by hand",
      "tell when a diagram may not be used"), ()),
    ("Welds that mix and freeze", ("dilution", "solidification"),
     ("find a weld metal on the line from wire to parent", "tell from a ratio what freezes first",
      "explain why the last films of melt crack"),
     ((20, "At the board: the strip of four modes, and where phosphorus and sulphur go"),)),
    ("Other families, less nickel", ("families", "nitrogen", "martensite"),
     ("name the index of each family and what it is for", "trade nickel for nitrogen and find what "
      "ends it", "say what bending does to lean austenite"), ()),
    ("Two phases, one index, one sheet", ("duplex", "pitting"),
     ("balance an element over two phases", "say what a pitting index does not know",
      "work through a set of exercises alone"),
     ((25, "The sheet of exercises, alone, and handed in"),)),
)  # fmt: skip


def lesson_plan(path: str | os.PathLike) -> Path:
    """Write a lesson plan of four sittings: chapters, aims, and what takes how long.

    Parameters
    ----------
    path : path of the HTML file, to be printed from a browser

    Returns
    -------
    Path

    Raises
    ------
    InputError
        A folder that is not there.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> page = lesson_plan(pathlib.Path(tempfile.mkdtemp()) / "plan.html")
    >>> page.read_text("utf-8").count("minutes in all")
    4
    """
    sittings: list[dict] = []
    for title, chapters, aims, more in _SITTINGS:
        last = "What was done last time, and what was wrong most often"
        steps = [
            (5, last if sittings else "A steel of each kind, a magnet, and the question of why")
        ]
        for name in chapters:
            steps += [(minutes, f"{name.capitalize()}. {words}") for minutes, words in _CHAPTER]
        steps += [*more, (5, "Each writes down one thing that was new, and one that is not clear")]
        sittings.append(
            {
                "title": title, "aims": aims, "steps": steps,
                "minutes": sum(minutes for minutes, _ in steps),
                "chapters": [(name, CHAPTERS[name].question) for name in chapters],
            }
        )  # fmt: skip
    title = "Phase balance: a lesson plan of four sittings"
    return write_whole(path, render("lessons/plan.html", title=title, sittings=sittings))
