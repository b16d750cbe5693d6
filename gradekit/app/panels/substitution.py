"""The desk of a substitution: a customer's question, the service, the answer, the sheet to send."""

from __future__ import annotations

import os
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import pandas as pd

from gradekit.app.given import Code
from gradekit.app.panels.about_answer import about_answer
from gradekit.app.panels.about_number import ExplainingPanel
from gradekit.app.panels.asked import Question, read_question, read_questions
from gradekit.app.panels.service_boxes import (
    FIELDS,
    LABELS,
    NUMBERS,
    TEXTS,
    YES,
    box_value,
    choices,
    idle,
    must_fit,
    part_of,
)
from gradekit.app.state import History, Part
from gradekit.app.views import View
from gradekit.app.widgets.controls import Choice, Refused, Tick, TypedText
from gradekit.app.widgets.download import download, in_app
from gradekit.core.aliases import PathLike
from gradekit.core.errors import NOTHING, InputError, one_of
from gradekit.core.files import as_path, write_whole
from gradekit.core.markup import Html, small, tag
from gradekit.design.prices import Prices, read_prices
from gradekit.service.comparison import Comparison, compare_grades
from gradekit.service.stock import read_stock
from gradekit.sheets.language import LANGUAGES
from gradekit.sheets.printing import printed
from gradekit.sheets.substitution import answer_page

#: Boxes without which no sheet goes out: whose question it is, and what it was.
_ON_EVERY_SHEET = ("customer", "question")

_STYLE = Html("""<style>
.gk-panel .gk-answer{grid-area:1/2;min-width:0;overflow-x:auto}
.gk-verdict{display:none}
.gk-panel .gk-check,.gk-panel .gk-check label{width:auto}
.gk-panel .gk-question{font-style:italic;margin:.2em 0}
.gk-panel .gk-wrong input{border:2px solid #c0392b!important}
.gk-panel .gk-why{font-size:12px;font-weight:600;margin:0 0 .3em}
.gk-panel .gk-why .widget-html-content{line-height:1.4;white-space:normal}
.gk-panel .gk-take a{font:600 13px/1.6 var(--jp-ui-font-family,system-ui,sans-serif);
 margin-right:1em;color:inherit;text-decoration:underline}
@container (max-width:60em){
 .gk-panel .gk-verdict{display:block;font-weight:600;line-height:1.4;border-left:4px solid;
  padding:.1em .6em}.gk-panel .gk-verdict p{margin:.1em 0}
 .gk-stage:has(.gk-answer) .gk-overlay{grid-area:1/1/auto/-1}
 .gk-panel .gk-answer{grid-area:3/1/auto/-1}
 .gk-stage:has(.gk-answer)>.gk-side{grid-area:2/1/auto/-1;max-height:max(38vh,16em)}
 .gk-stage:has(.gk-answer) .gk-controls{display:block;columns:18em 2;column-gap:1.2em}
 .gk-stage:has(.gk-answer) .gk-controls>*{break-inside:avoid}
 .gk-stage:has(.gk-answer)>.gk-foot{grid-area:4/1/auto/-1}
}
</style>""")


def substitution(
    questions: str | os.PathLike | Mapping,
    prices: Prices | PathLike | None = None,
    customer: str | None = None,
    keep: str | os.PathLike[str] | None = None,
    *,
    sender: str | os.PathLike[str] | None = None,
    stock: str | os.PathLike[str] | None = None,
) -> SubstitutionDesk:
    """Answer a customer who wants another grade, and take the printable sheet along.

    Parameters
    ----------
    questions : path of a JSON file, or its content
        `questions`: a list of customers with `customer`, `reference`, `candidates` (grades with
        commas or semicolons between, or 'suggest') and `service` (fields of `Service`): where the
        desk begins.
    prices : Prices, or path of a price list, optional
        For the difference in alloy cost.
    customer : str, optional
        Whose question stands first.
    keep : path of a folder, optional
        Where each question is kept as it is typed, a file a question, so that a reload, Back or
        another tab of the browser comes back to it. Nobody's file is written over.
    sender : path of a text file, optional
        The sender's own head of the sheet.
    stock : path of a table, optional
        What is to be had, as for `gk.service.read_stock`.

    Returns
    -------
    SubstitutionDesk
        Live where a kernel runs; `.comparison` is the present answer.

    Raises
    ------
    InputError
        A file that is not there or holds no questions, or a question that cannot be asked.

    Examples
    --------
    >>> desk = substitution({"questions": [{"customer": "A", "reference": "1.4301",
    ...     "candidates": "1.4016", "service": {"magnetism": "non-magnetic"}}]})
    >>> desk.comparison.decisive["decisive"].tolist()
    ['magnetism']
    """
    desk = SubstitutionDesk(read_questions(questions), prices, customer, sender, stock)
    if keep is not None:
        desk.keep_in(keep)
    return desk


class SubstitutionDesk(ExplainingPanel):
    """The panel made by `substitution`."""

    kind = "substitution"
    title = "Desk of a substitution"

    def __init__(
        self,
        questions: dict[str, Question],
        prices: Prices | PathLike | None,
        customer: str | None,
        sender: str | os.PathLike[str] | None = None,
        stock: str | os.PathLike[str] | None = None,
    ):
        self._questions = questions
        self._sender = sender
        self._stock = None if stock is None else read_stock(stock)
        self._price_list = prices  # as it was given, for the code
        self._prices = read_prices(prices) if isinstance(prices, str | os.PathLike) else prices
        if customer is not None:
            one_of("customer", customer, questions)
        for question in questions.values():
            must_fit(question, question.customer)
        state = questions[customer or next(iter(questions))]
        self._take = widgets.HTML().add_class("gk-take")
        super().__init__(state, file="my-answer")
        self._customer = Choice("Take up", list(questions), state.customer, self._take_up,
                                self.status)  # fmt: skip
        self._texts = {
            name: self.bind(part_of(name), partial(TypedText, text, status=self.status))
            for name, text in TEXTS
        }
        for text in self._texts.values():
            text.box.observe(self._withdraw, "value")
        self.numbers = self.boxes(FIELDS, NUMBERS, "Service")
        self.numbers.observe(self._withdraw, "problems")
        self._refused = Refused(self.status, self._texts.values(), self.numbers, LABELS)
        self._choices = {
            name: self.choice(text, options, part_of(name)) for name, text, options in choices()
        }
        self._ticks = {
            name: self.bind(part_of(name), partial(Tick, text, status=self.status))
            for name, text in YES
        }
        sheet = [
            self.button("Report", self._report, "make the printable sheet to download"),
            self.button("Report as PDF", self._report_pdf, "needs an installed Chromium or Chrome"),
        ]
        self._language = Choice("Sheet in", LANGUAGES, "en", lambda word: f"sheet in {word}",
                                self.status)  # fmt: skip
        asked = [*self._texts.values(), *self._choices.values(), self.numbers]
        ticks = widgets.VBox(list(self._ticks.values()))
        self.lay([self._customer, *asked, ticks, self._language, widgets.HBox(sheet), self._take])

    @property
    def comparison(self) -> Comparison:
        """The present answer."""
        return self.answer(self.state)

    def compute(self, state: Question) -> Comparison:
        return compare_grades(
            state.now, state.others, state.service,
            prices=self._prices, customer=state.customer, stock=self._stock,
        )  # fmt: skip

    # --- the state as strings and data ------------------------------------------------------

    def moving(self, state: Question) -> View:
        answer = self.answer(state)
        question = state.service.question
        asked = tag("p", f"“{question}”", class_="gk-question") if question else ""
        warning = small(self._prices.warning) if self._prices else ""
        rows = answer.decisive.iterrows()
        told = (tag("p", f"{row['sign']} {name}: {row['answer']}") for name, row in rows)
        verdict = tag("div", *told, class_="gk-verdict", aria_hidden="true")  # said below in full
        below = (_STYLE, asked, answer._repr_html_(), warning)
        return View(figure=(verdict,), below=below, place="gk-answer")

    def about(self, state: Question, name: str) -> Html:
        return about_answer(self.answer(state), name)

    def _show(self, history: History) -> None:
        super()._show(history)
        self._withdraw()  # not in `moving`: a picture of the same state takes no sheet back
        off = idle(self.state)
        self.numbers.hidden = [name for name in LABELS if name in off]
        # One choice moves others: washing asks for a place, and 'no matter' forgets the washing.
        for name, box in (self._choices | self._ticks).items():
            box.show(box_value(self.state, name))
            box.layout.display = "none" if name in off else None

    def spoken(self, state: Question) -> str:
        decided = self.answer(state).decisive
        return "; ".join(f"{name}: {answer}" for name, answer in decided["answer"].items())

    def fill(self, state: Question) -> None:
        super().fill(state)
        if state.customer in self._questions:
            self._customer.show(state.customer)

    def encode(self, state: Question) -> dict:
        return state.as_dict()

    def decode(self, data: dict, where: str) -> Question:
        question = read_question(data, where)
        must_fit(question, where)
        self.answer(question)
        return question

    def named(self, state: Question) -> str:
        return state.customer

    def is_given(self, state: Question) -> bool:
        return state in self._questions.values()

    def table(self, state: Question) -> pd.DataFrame:
        return self.answer(state).table

    def code(self, state: Question) -> str:
        code, priced = Code(), self._prices is not None
        asked = [
            f"{state.now!r}, {state.others!r}, service",
            *(["prices=prices"] if priced else []),
            f"customer={state.customer!r}",
        ]
        sent = state.customer.strip() and state.service.question.strip()  # else there is no sheet
        return code.text(
            f"service = gk.Service.from_dict({code.of(state.service.as_dict())})",
            *([f"prices = {code.read('gk.read_prices', self._price_list)}"] if priced else []),
            f"answer = gk.compare_grades({', '.join(asked)})",
            *(["answer.report('answer.html')"] if sent else []),
            "answer",
        )

    # --- what the controls ask for ----------------------------------------------------------

    def _take_up(self, customer: str) -> str:
        state = self._questions[customer]
        self.change(state)
        self.fill(state)
        return f"the question of {customer}: {self.spoken(state)}"

    def _withdraw(self, _: Any = None) -> None:
        """Take the sheet back: it is not what the boxes show."""
        self._take.value = ""

    def put(self, part: Part, value: Any, key: str = "") -> None:
        super().put(part, value, key)
        if part is not NUMBERS and self.numbers.values != (now := NUMBERS.held(self.state)):
            # A place says anew how far the sea is; what was refused before stays so.
            refused = {n: self.numbers.texts[n] for n in self.numbers.problems}
            self.numbers.show(now)
            for box, text in refused.items():
                self.numbers.enter(box, text)
            self.status.say(self.spoken(self.state))

    def _fit_to_send(self) -> None:
        """Refuse, where the link would stand, a sheet of other things than the boxes show."""
        try:
            self._refused.forbid("sheet")
            for name in _ON_EVERY_SHEET:
                if not part_of(name).held(self.state).strip():
                    raise InputError("sheet", f"with '{dict(TEXTS)[name]}' filled in", NOTHING)
        except InputError as error:
            self._take.value = tag("p", f"✕ {error}", class_="gk-why")
            raise

    def _page(self) -> str:
        self._fit_to_send()
        language = str(self._language.value)
        return answer_page(self.comparison, sender=self._sender, language=language)

    def save_page(self, path: PathLike, heats: bool = False) -> Path:
        """Write the answer as one HTML file, as it stands: with nothing to be moved in it.

        Its criteria are walked through step by step (waters, exposure, what a part is formed to),
        and no formulas that a page could compute; another service or candidate is asked here. The
        page says so.

        Parameters
        ----------
        path : path of an HTML file
        heats : bool
            Without effect: only grades stand on the page.

        Returns
        -------
        Path

        Raises
        ------
        InputError
            Boxes whose text is refused, or a file that cannot be written.
        """
        return write_whole(as_path(path), self._page())

    def _report(self) -> str:
        page = self._page().encode("utf-8")
        self._take.value = download("answer.html", page, "sheet")
        return "the sheet is ready: the link stands below the button"

    def _report_pdf(self) -> str:
        path, sheet = self._path("pdf"), printed(self._page())
        if not in_app():
            self._shelf.put(path, sheet)
        self._take.value = download("answer.pdf", sheet, "sheet")
        return f"the sheet is ready{'' if in_app() else f' and lies in {path}'}"
