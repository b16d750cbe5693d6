"""A class's hand-ins as one table, each answer judged again."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path

import pandas as pd

from gradekit.app.panels import lesson_views
from gradekit.app.panels.lesson_state import KIND, Work
from gradekit.app.state import SAVED, from_json, state_of, to_json
from gradekit.core.aliases import PathLike
from gradekit.core.errors import InputError, said
from gradekit.core.files import as_path
from gradekit.core.json_text import read_json
from gradekit.core.markup import flow, panel, small, table
from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.marking import mark

_FIRST, _LATER = 2, 1


class ClassReport(pd.DataFrame):
    """A row a hand-in; a DataFrame that shows itself with what a class found hard.

    Attributes
    ----------
    chapters : DataFrame, a row a chapter
        `students` who answered, `right` and `at once` (shares of the questions answered).
    """

    _metadata = ("chapters",)

    @property
    def _constructor(self) -> type:
        return pd.DataFrame

    def _repr_html_(self) -> str:
        note = (
            f"A self-check question is worth {_FIRST} marks when the first answer is right and its "
            f"working was not shown before, {_LATER} when a later one is. Every answer is judged "
            "again here; what a file claims does not count."
        )
        own = table(pd.DataFrame(self), "Hand-ins", wide=["remark"], digits=3)
        hard = table(self.chapters, "What the class found hard", digits=2)
        return panel(flow([own, hard, small(note)]), lead=f"{len(self)} hand-ins")


def class_report(folder: PathLike) -> ClassReport:
    """Return a table of a class's hand-ins.

    Parameters
    ----------
    folder : path of a folder
        With the files that students hand in: `my-phase-balance.json`, what a page of the course
        exports, or the sheet of `course.sheet`. Other files are left alone.

    Returns
    -------
    ClassReport
        A DataFrame indexed by file: `name`, `guesses` (of ten chapters), `questions` (answered),
        `right` (of them), `at once` (right at the first answer, without the working), `marks` and
        `of`, `chapters` (with an answer), `remark` (an answer that the file calls right and the
        course does not, a file that cannot be read). What the class found hard is `.chapters`.

    Raises
    ------
    InputError
        A folder that is not there, or holds no hand-in.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from gradekit.app.panels.course import course
    >>> folder = pathlib.Path(tempfile.mkdtemp())
    >>> said = course(folder / "ann.json", "Ann").check("pitting").enter(1, "1")
    >>> report = class_report(folder)
    >>> report.loc["ann.json", ["name", "questions", "right"]].tolist()
    ['Ann', 1, 0]
    """
    place = as_path(folder)
    if not place.is_dir():
        raise InputError("folder of hand-ins", "a folder that is there", said(str(place)))
    rows: dict[str, dict] = {}
    answered: list[dict] = []
    known: dict[str, str] = {}  # a work as text, and the file that it came in first
    for path in sorted(place.iterdir()):
        try:
            work = _work_in(path)
        except InputError as error:
            rows[path.name] = {"name": "", "remark": f"cannot be read: {error}"}
            continue
        if work is not None:
            rows[path.name], own = _judged(work)
            first = known.setdefault(to_json(KIND, work.data()), path.name)
            if own and first != path.name:
                remarks = [rows[path.name]["remark"], f"the same work as {first}: counted once"]
                rows[path.name]["remark"] = "; ".join(filter(None, remarks))
            else:
                answered += own
    if not rows:
        must_be = "with hand-ins: files of the course or its sheets"
        raise InputError("folder of hand-ins", must_be, said(place.name))
    columns = ["name", "guesses", "questions", "right", "at once", "marks", "of", "chapters",
               "remark"]  # fmt: skip
    report = ClassReport(pd.DataFrame(rows).T.reindex(columns=columns).rename_axis("file"))
    report.chapters = _hard(answered)
    return report


def _work_in(path: Path) -> Work | None:
    """Return the work in a file, None where it is of another kind."""
    if path.suffix == ".json":
        data = read_json(path, SAVED)
        if not isinstance(data, dict) or data.get("kind") != KIND:
            return None
        return Work.from_data(state_of(data, KIND, path.name), path.name)
    if path.suffix in (".html", ".htm"):
        sheet = _Sheet()
        sheet.feed(path.read_text("utf-8", "replace"))
        if sheet.work is not None:
            return Work.from_data(from_json(sheet.work, KIND, path.name), path.name)
    return None


class _Sheet(HTMLParser):
    """Finds the work that a sheet carries."""

    work: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.work = dict(attrs).get("data-work") or self.work


def _judged(work: Work) -> tuple[dict, list[dict]]:
    """Return the row of a hand-in, and its self-check questions one by one."""
    own: list[dict] = []
    false, seen = 0, 0
    for name in CHAPTERS:
        seeds = sorted({t.seed for t in work.tries if t.chapter == name and t.item})
        for *_, exercise, tries in lesson_views.asked(work, name, seeds):
            seen += len(tries)
            if tries:
                rights = [mark(exercise, t.given).right for t in tries]
                false += sum(t.right and not r for t, r in zip(tries, rights, strict=True))
                at_once = rights[0] and not tries[0].after_working
                own.append({"chapter": name, "right": any(rights), "at once": at_once})
    right, first = (sum(q[key] for q in own) for key in ("right", "at once"))
    row: dict = {
        "name": work.name, "guesses": len(work.guesses), "questions": len(own), "right": right,
        "at once": first, "marks": _FIRST * first + _LATER * (right - first),
        "of": _FIRST * max(len(own), lesson_views.QUESTIONS * len(CHAPTERS)),
        "chapters": len({q["chapter"] for q in own} | set(work.guesses)),
        "remark": f"{false} answers are called right in the file, and are not" if false else "",
    }  # fmt: skip
    earlier = sum(t.item > 0 for t in work.tries) - seen
    if earlier:
        row["remark"] = "; ".join(filter(None, [
            row["remark"], f"{earlier} answers to questions of another edition are left out"
        ]))  # fmt: skip
    student = work.name or id(work)
    return row, [q | {"student": student} for q in own]


def _hard(answered: list[dict]) -> pd.DataFrame:
    """Return what a class found hard, chapter by chapter."""
    columns = ["chapter", "right", "at once", "student"]
    frame = pd.DataFrame(answered, columns=columns).astype({"right": float, "at once": float})
    by = frame.groupby("chapter")
    made = pd.DataFrame({"students": by["student"].nunique(), "right": by["right"].mean(),
                         "at once": by["at once"].mean()})  # fmt: skip
    return made.reindex([name for name in CHAPTERS if name in made.index]).rename_axis("chapter")
