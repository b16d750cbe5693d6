"""The whole course as one file: texts, guesses, questions and their working, without Python."""

from __future__ import annotations

import ast
import json
import os
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pandas as pd

from gradekit.app import views
from gradekit.app.pages.drawing import PageContent
from gradekit.app.pages.model import json_text, text_of
from gradekit.app.pages.saved import PAGE_CAUTIONS, explorers_script, inlined, shown
from gradekit.app.panels import lesson_views
from gradekit.core.errors import InputError
from gradekit.core.files import as_path, write_whole
from gradekit.core.markup import Html, small, tag
from gradekit.core.pages import render
from gradekit.lessons.answer import Answer
from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.charted import chart_data
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.prompts import prompt
from gradekit.lessons.steels import STEELS
from gradekit.relations.topics import CATALOGUE

_SETS = 12  # of three questions a chapter; what they weigh sets the size of the page
_HIGHEST = 10**6 - _SETS
# Explorers of a notebook that compute in a page.
_LIVE = ("gk.explorer", "gk.app.contributions", "gk.app.weld_explorer")
_PACKAGE = Path(__file__).parents[2]


def course_page(path: str | os.PathLike[str], seed: int = 0) -> Path:
    """Write the course on phase balance as one HTML file that needs no Python and no network.

    Parameters
    ----------
    path : path of an HTML file
    seed : int
        Of the first questions of each chapter; the same number gives the same page.

    Returns
    -------
    Path
        Of a page of all chapters: their texts, a box for each guess, questions with fresh numbers
        that are judged in the page, with the usual slips, and their working. What a student does
        is kept in the browser, and goes as a file from there to the notebook and back. Explorers of
        relations and diagrams live in it; other panels of the notebook are pictures.

    Raises
    ------
    InputError
        A seed that is no whole number, or a file that cannot be written.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> page = course_page(pathlib.Path(tempfile.mkdtemp()) / "course.html", seed=7)
    >>> page.stat().st_size < 1_500_000
    True
    """
    if isinstance(seed, bool) or not isinstance(seed, int) or not 0 <= seed < _HIGHEST:
        raise InputError("seed", f"a whole number from 0 and below {_HIGHEST}", seed)
    return write_whole(as_path(path), _page(seed))


def _page(seed: int) -> str:
    seeds = range(seed, seed + _SETS)
    sets = {
        name: {s: [e.data() for e in lesson_views.questions(one, s)] for s in seeds}
        for name, one in CHAPTERS.items()
    }
    sections, asked, explorers = _sections(seed)
    prompts: dict[str, dict[str, Any]] = {
        name: {"chapter": prompt(name).chapter, "data": prompt(name).exercise().data()}
        for name in asked
    }
    every = [e for own in sets.values() for some in own.values() for e in some]
    every += [one["data"] for one in prompts.values()]
    drawn = sorted({e["picture"]["diagram"] for e in every if e["picture"]})
    data = {
        "questions": lesson_views.QUESTIONS,
        "chapters": {
            name: {"answer": guess_data(lesson_views.answer(name)), "sets": sets[name]}
            for name, one in CHAPTERS.items()
        },
        "prompts": prompts,
        "charts": {name: chart_data(name) for name in drawn},
    }
    texts = map(text_of, ("../widgets/question.js", "marking.js", "course.js"))
    lesson = "\n".join([f"const course={json_text(data)};", *texts])
    styles = ("explorer.css", "course.css", "../widgets/question.css")
    kept = inlined(*styles, explorers=explorers_script(explorers), lesson=lesson)
    return render(
        "app/pages/course.html",
        title="Phase balance: why one stainless steel is austenite and the next ferrite",
        chapters=list(CHAPTERS),
        sections=sections,
        cautions=[
            *PAGE_CAUTIONS,
            "All steels are invented. The diagrams are reconstructions within the tolerance that "
            "stands beside them, and not for acceptance under any code.",
        ],
        seed=seed,
        **kept,
    )  # fmt: skip


def guess_data(answer: Answer) -> dict[str, Any]:
    """Return what a guess is judged by in a page, as plain data."""
    numbers = {name: float(getattr(answer, name)) for name in ("value", "low", "high")}
    names = ("unit", "spread", "of", "band", "other_way")
    exact = CATALOGUE[answer.exact].title if answer.exact else ""
    return {**numbers, **{name: getattr(answer, name) for name in names}, "exact": exact}


# --- the texts: those of the notebooks, which are written once ----------------------------------


def _sections(seed: int) -> tuple[list[list[Html]], list[str], dict[str, PageContent]]:
    """Return the chapters as blocks of a page, the prompts in them, and the explorers."""
    sections: list[list[Html]] = []
    asked: list[str] = []
    explorers: dict[str, PageContent] = {}
    for book in _notebooks():
        current: list[Html] = []
        ours = False
        for cell in [*json.loads(_text(book))["cells"], {"cell_type": "markdown", "source": "## "}]:
            source = "".join(cell["source"])
            if cell["cell_type"] == "markdown":
                if source.startswith("## "):
                    if ours:
                        sections.append(current)
                    current, ours = [], False
                current.append(_markdown(source))
                continue
            what, name, inner = _call(source)
            if what == "prompt":
                asked.append(name)
                current.append(tag("div", _still([prompt(name).exercise()]), data_prompt=name))
            elif what == "guess":
                number = [*CHAPTERS].index(name) + 1
                guess = _without_revival(lesson_views.guess_still(CHAPTERS[name]))
                box = tag("div", guess, data_guess=name)
                current = [tag("a", id=f"chapter-{number}"), *current, box]
                ours = True
            elif what == "check":
                questions = lesson_views.questions(CHAPTERS[name], seed)
                current.append(tag("div", _still(questions), data_check=name))
                ours = True
            elif ours and (content := _explorer(inner or source)):
                key = f"explorer-{len(explorers) + 1}"
                explorers[key] = content
                part = render("app/pages/explorer_one.html", one=shown(key, content))
                current.append(lesson_views.shut(name, content.title, part) if inner else part)
            else:
                ours = ours or source.startswith("gk.pictures.")  # the bridge into the chapters
                current += _stills(cell)
    return sections, asked, explorers


def _explorer(source: str) -> PageContent | None:
    """Return the content of an explorer that a cell makes of the steels of the course."""
    try:
        cell = ast.parse(source.strip(), mode="eval")
    except SyntaxError:
        return None
    if not (isinstance(cell.body, ast.Call) and ast.unparse(cell.body.func) in _LIVE):
        return None
    steels = pd.DataFrame(STEELS).T.rename_axis("heat")
    names = {"gk": sys.modules["gradekit"], "steels": steels}
    panel = eval(compile(cell, "notebook", "eval"), names)  # a cell of our own notebook
    return panel.page_content(panel.state, False)


def _notebooks() -> list[Path]:
    packed = _PACKAGE / "_start"
    folder = (packed if packed.is_dir() else _PACKAGE.parent) / "notebooks"
    return [b for b in sorted(folder.glob("[0-9]*.ipynb")) if "gk.course(" in _text(b)]


def _call(source: str) -> tuple[str, str, str]:
    """Return what a cell asks of the course at its end, of which chapter, and the panel in it.

    `course.guess("x")` gives 'guess', 'x' and ''; `course.after("x", panel)` has a panel.
    """
    try:
        statements = ast.parse(source).body
    except SyntaxError:
        return "", "", ""
    match statements[-1:]:
        case [
            ast.Expr(ast.Call(ast.Attribute(ast.Name("course"), what), [ast.Constant(name), *more]))
        ]:
            inner = ast.unparse(more[0]) if what == "after" else ""
            return what, str(name), inner
    return "", "", ""


def _markdown(text: str) -> Html:
    import mistune

    class Plain(mistune.HTMLRenderer):
        """Without links: nothing leads out of the page, and the notebooks are not beside it."""

        def link(self, text: str, url: str, title: str | None = None) -> str:
            return text

        def image(self, text: str, url: str, title: str | None = None) -> str:
            return text

    return Html(mistune.create_markdown(renderer=Plain(escape=True))(text))


def _still(exercises: list[Exercise]) -> Html:
    return _without_revival(
        lesson_views.questions_still(exercises, [""] * len(exercises), "Check yourself")
    )


def _stills(cell: dict[str, Any]) -> list[Html]:
    """Return what a cell of a notebook showed when it was last run, without a kernel."""
    shown = ["".join(o.get("data", {}).get("text/html", "")) for o in cell["outputs"]]
    own = [text for text in shown if text and not text.startswith(views.ABOUT_LIVE[:20])]
    moves = small("A picture: in the notebook of the course this panel moves.")
    note = moves if len(own) < len(shown) else Html()
    return [tag("div", _without_revival(text.replace(views.NO_ERROR, "")), note) for text in own]


def _without_revival(text: str) -> Html:
    for words in (views.REVIVE, lesson_views.RUN_TO_ANSWER):
        text = text.replace(small(words), "")
    return Html(text)


@cache
def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")
