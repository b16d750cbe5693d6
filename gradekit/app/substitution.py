"""The desk of a substitution: a customer's question, his service, the answer, the sheet to send."""

from __future__ import annotations

import base64
import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import ipywidgets as widgets
import pandas as pd

from gradekit.app.controls import Choice, Field, Numbers, guarded
from gradekit.app.panel import Panel
from gradekit.compare import Comparison, compare_grades
from gradekit.cost import read_prices
from gradekit.errors import NOTHING, InputError, said
from gradekit.html import escape
from gradekit.report import answer_page, write_answer
from gradekit.service.exposure import WORDS, Atmosphere
from gradekit.service.needs import CHOICES, Service
from gradekit.service.tables import rows

__all__ = ["SubstitutionDesk", "substitution"]

_STYLE = """<style>
.gk-panel .gk-answer{grid-area:1/2;min-width:0;overflow-x:auto}
.gk-panel .gk-check,.gk-panel .gk-check label{width:auto}
.gk-panel .gk-wish{font-style:italic;margin:.2em 0}
.gk-panel .gk-take a{font:600 13px/1.6 var(--jp-ui-font-family,system-ui,sans-serif);
 margin-right:1em;color:inherit;text-decoration:underline}
@container (max-width:60em){
 .gk-panel .gk-answer{grid-area:3/1/auto/-1}
 .gk-stage:has(.gk-answer)>.gk-controls{grid-area:2/1/auto/-1;display:block;columns:18em 2;
  column-gap:1.2em}
 .gk-stage:has(.gk-answer)>.gk-controls>*{break-inside:avoid}
 .gk-stage:has(.gk-answer)>.gk-foot{grid-area:4/1/auto/-1}
}
</style>"""
_NOWHERE, _INDOORS, _OUTDOORS = "no matter", "indoors", "outdoors"
_FIELDS = (
    Field("thickness_mm", 0.3, 20, 0.1, 0.01, 500, "thickness, mm", label="thickness, mm"),
    Field("chloride_mg_l", 0, 1000, 10, 0, None, "chloride of the water, mg/l; empty: not known",
          True, "chloride, mg/l"),
    Field("water_temperature_C", 0, 130, 1, -50, 400, "water temperature, °C",
          label="water, °C"),
    Field("free_chlorine_mg_l", 0, 10, 0.1, 0, None, "free chlorine, mg/l; empty: none",
          True, "free chlorine, mg/l"),
    Field("sea_km", 0, 30, 0.1, 0, None, "distance to the sea, km", label="sea, km away"),
    Field("temperature_max_C", 0, 1100, 10, -200, 1500, "hottest metal in air, °C; empty: ambient",
          True, "hottest, °C"),
    Field("temperature_min_C", -196, 20, 1, -273, 100, "coldest metal, °C; empty: ambient",
          True, "coldest, °C"),
)  # fmt: skip
_YES = (
    ("welded", "welded, not annealed"),
    ("food_contact", "food contact"),
    ("load_bearing", "load-bearing"),
    ("pressure", "pressure equipment"),
    ("sour", "sour service"),
)


@dataclass(frozen=True)
class Question:
    """Who asks, what he has now, what may replace it, where it serves."""

    customer: str
    reference: str
    candidates: str
    service: Service


def substitution(
    questions: str | os.PathLike | Mapping, prices: object = None, customer: str | None = None
) -> SubstitutionDesk:
    """Answer a customer who wants another grade, and take the printable sheet along.

    Parameters
    ----------
    questions : path of a JSON file, or its content
        `questions`: a list of customers with `customer`, `reference`, `candidates` (grades with
        commas between, or 'suggest') and `service` (fields of `Service`): where the desk begins.
    prices : Prices, or path of a price list, optional
        For the difference in alloy cost.
    customer : str, optional
        Whose question stands first.

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
    return SubstitutionDesk(_read(questions), prices, customer)


class SubstitutionDesk(Panel):
    """The panel made by `substitution`."""

    kind = "substitution"
    title = "Desk of a substitution"

    def __init__(self, questions: dict[str, Question], prices: object, customer: str | None):
        self._questions = questions
        self._prices = read_prices(prices) if isinstance(prices, str | os.PathLike) else prices
        if customer is not None and customer not in questions:
            raise InputError("customer", ", ".join(questions), customer)
        state = questions[customer or next(iter(questions))]
        self._kept: tuple[Question, Comparison] | None = None
        self._take = widgets.HTML().add_class("gk-take")
        super().__init__(state, file="my-answer")
        self._customer = Choice("Customer", list(questions), state.customer, self._take_up,
                                self.status)  # fmt: skip
        self._reference = self._text("Grade now", "reference")
        self._candidates = self._text("Replace by", "candidates")
        self._chemicals = self._text("Chemicals", "chemicals")
        self.numbers = Numbers(_FIELDS, self._numbers_of(state), self._moved,
                               "Service", self.status)  # fmt: skip
        self._choices = {
            name: Choice(text, list(options), self._word(state, name),
                         lambda word, n=name: self._chosen(n, word), self.status)
            for name, text, options in _choices()
        }  # fmt: skip
        self._checks = {name: self._check(name, text) for name, text in _YES}
        sheet = [
            self.button("Report", self._report, "make the printable sheet to download"),
            self.button("Report as PDF", self._report_pdf, "needs an installed Chromium or Chrome"),
        ]
        boxes = [self._reference, self._candidates, self._chemicals]
        ticks = widgets.VBox(list(self._checks.values()))
        asked = [self._customer, *boxes, *self._choices.values(), self.numbers, ticks]
        self.lay([*asked, widgets.HBox(sheet), self._take])

    @property
    def comparison(self) -> Comparison:
        """The present answer."""
        return self._answer(self.state)

    # --- the state as strings and data ------------------------------------------------------

    def moving(self, state: Question) -> str:
        answer = self._answer(state)
        self._take.value = ""  # a sheet of another question must not be sent
        wish = f'<p class="gk-wish">“{escape(state.service.question)}”</p>'
        warning = f'<p class="s">{escape(self._prices.warning)}</p>' if self._prices else ""
        return (
            f'{_STYLE}<div class="gk-answer" role="region" aria-label="answer" tabindex="0">'
            f"{wish if state.service.question else ''}{answer._repr_html_()}{warning}</div>"
        )

    def spoken(self, state: Question) -> str:
        decided = self._answer(state).decisive
        return "; ".join(f"{name}: {answer}" for name, answer in decided["answer"].items())

    def fill(self, state: Question) -> None:
        self._customer.show(state.customer)
        for box, name in ((self._reference, "reference"), (self._candidates, "candidates")):
            self._put(box, getattr(state, name))
        self._put(self._chemicals, state.service.chemicals)
        self.numbers.show(self._numbers_of(state))
        for name, choice in self._choices.items():
            choice.show(self._word(state, name))
        for name, box in self._checks.items():
            self._put(box, getattr(state.service, name))

    def encode(self, state: Question) -> dict:
        return _plain(state)

    def decode(self, data: dict, where: str) -> Question:
        found = _question(data, where)
        if found.customer not in self._questions:
            raise InputError(f"{where}, customer", ", ".join(self._questions), found.customer)
        self._answer(found)
        return found

    def table(self, state: Question) -> pd.DataFrame:
        return self._answer(state).table

    def code(self, state: Question) -> str:
        names = [n.strip() for n in state.candidates.split(",")]
        cands = "'suggest'" if names == ["suggest"] else repr(names)
        return "\n".join(
            [
                "import gradekit as gk",
                "",
                f"service = gk.Service.from_dict({state.service.as_dict()!r})",
                f"answer = gk.compare_grades({state.reference!r}, {cands}, service)",
                "answer.report('answer.html')",
                "answer",
            ]
        )

    # --- what the controls ask for ----------------------------------------------------------

    def _take_up(self, customer: str) -> str:
        state = self._questions[customer]
        self.change(state)
        self.fill(state)
        return f"the question of {customer}: {self.spoken(state)}"

    def _moved(self, values: dict, name: str) -> None:
        service = self.state.service
        if name == "sea_km":
            place = service.atmosphere or Atmosphere()
            service = service.changed(atmosphere=replace(place, sea_km=values[name]))
        else:
            service = service.changed(**{name: values[name]})
        self.change(replace(self.state, service=service), name)
        self._choices["place"].show(self._word(self.state, "place"))

    def _chosen(self, name: str, word: str) -> None:
        service = self.state.service
        if name in ("place", "washing", "so2"):
            service = service.changed(atmosphere=_place(service.atmosphere, name, word))
        elif name == "finish":
            service = service.changed(finish=None if word == "not said" else word)
        else:
            service = service.changed(**{name: word})
        self.change(replace(self.state, service=service))

    def _report(self) -> str:
        page = answer_page(self.comparison).encode("utf-8")
        self._take.value = _link(page, "text/html", "html")
        return "the sheet is ready: the link stands below the button"

    def _report_pdf(self) -> str:
        path = write_answer(self.comparison, self._path("pdf"))
        self._take.value = _link(path.read_bytes(), "application/pdf", "pdf")
        return f"the sheet is ready and lies in {path}"

    # --- what they need ---------------------------------------------------------------------

    def _answer(self, state: Question) -> Comparison:
        """The answer to a state; the last one is kept."""
        if self._kept is None or self._kept[0] != state:
            names = [n.strip() for n in state.candidates.split(",") if n.strip()]
            asked = "suggest" if names == ["suggest"] else names
            answer = compare_grades(state.reference, asked, state.service, prices=self._prices)
            self._kept = state, answer
        return self._kept[1]

    def _text(self, text: str, name: str) -> widgets.Text:
        box = widgets.Text(
            description=text, continuous_update=False,
            style={"description_width": "auto"}, layout=widgets.Layout(width="auto"),
        )  # fmt: skip
        box.gk_name = name
        self._put(box, self._held(name))

        def typed(_: Mapping) -> None:
            state = self.state  # and the text as they are now, not as they were before a wait
            if name == "chemicals":
                new = replace(state, service=state.service.changed(chemicals=box.value))
            else:
                new = replace(state, **{name: box.value})
            self.change(new)

        box.gk_action = guarded(self.status, typed)
        box.observe(box.gk_action, "value")
        return box

    def _check(self, name: str, text: str) -> widgets.Checkbox:
        box = widgets.Checkbox(description=text, indent=False, value=self._held(name))
        box.add_class("gk-check")

        def ticked(_: Mapping) -> None:
            service = self.state.service.changed(**{name: box.value})
            self.change(replace(self.state, service=service))

        box.gk_action = guarded(self.status, ticked)
        box.observe(box.gk_action, "value")
        return box

    def _put(self, box: widgets.Widget, value: object) -> None:
        """Show a value without calling the action."""
        action = getattr(box, "gk_action", None)
        if action is not None:
            box.unobserve(action, "value")
        box.value = value
        if action is not None:
            box.observe(action, "value")

    def _held(self, name: str) -> object:
        of = self.state if hasattr(self.state, name) else self.state.service
        return getattr(of, name)

    def _numbers_of(self, state: Question) -> dict:
        place = state.service.atmosphere or Atmosphere()
        names = [f.name for f in _FIELDS if f.name != "sea_km"]
        return {**{n: getattr(state.service, n) for n in names}, "sea_km": place.sea_km}

    def _word(self, state: Question, name: str) -> str:
        place = state.service.atmosphere
        if name == "place":
            if place is None:
                return _NOWHERE
            pool = "" if place.pool == "no" else f"indoor pool, {place.pool}"
            return pool or (_INDOORS if place.indoors else _OUTDOORS)
        if name in ("washing", "so2"):
            return getattr(place or Atmosphere(), name)
        return getattr(state.service, name) or "not said"


def _choices() -> Iterable[tuple[str, str, Iterable]]:
    finishes = dict.fromkeys(
        code for row in rows("finishes", "process") for code in row["en_code"].split("/") if code
    )
    pools = [f"indoor pool, {word}" for word in WORDS["pool"] if word != "no"]
    return (
        ("form", "Form", CHOICES["form"]),
        ("finish", "Finish", ("not said", *finishes)),
        ("place", "Place", (_NOWHERE, _INDOORS, _OUTDOORS, *pools)),
        ("washing", "Washed by", WORDS["washing"]),
        ("so2", "SO2", WORDS["so2"]),
        ("water", "Water", CHOICES["water"]),
        ("forming", "Forming", CHOICES["forming"]),
        ("magnetism", "Magnetism", CHOICES["magnetism"]),
        ("skin_contact", "Skin", CHOICES["skin_contact"]),
    )


def _place(place: Atmosphere | None, name: str, word: str) -> Atmosphere | None:
    if name != "place":
        return replace(place or Atmosphere(), **{name: word})
    if word == _NOWHERE:
        return None
    pool = word.removeprefix("indoor pool, ") if word.startswith("indoor pool") else "no"
    indoors = word == _INDOORS or pool != "no"
    return replace(place or Atmosphere(), indoors=indoors, pool=pool)


def _link(content: bytes, kind: str, ending: str) -> str:
    text = base64.b64encode(content).decode("ascii")
    return (
        f'<a download="answer.{ending}" href="data:{kind};base64,{text}">'
        f"Download the sheet ({ending.upper()}, {len(content) // 1000} kB)</a>"
    )


def _plain(state: Question) -> dict:
    return {
        "customer": state.customer,
        "reference": state.reference,
        "candidates": state.candidates,
        "service": state.service.as_dict(),
    }


def _question(data: object, where: str) -> Question:
    names = list(asdict(Question("", "", "", Service())))
    if not isinstance(data, Mapping) or not set(names) <= set(data):
        raise InputError(where, f"a mapping with {', '.join(names)}", said(f"{data!r:.80}"))
    for name in names[:3]:
        if not isinstance(data[name], str) or not data[name].strip():
            raise InputError(f"{where}, {name}", "text", data[name] or NOTHING)
    return Question(*(data[n] for n in names[:3]), Service.from_dict(data["service"]))


def _read(questions: object) -> dict[str, Question]:
    where = "questions"
    if isinstance(questions, str | os.PathLike):
        where = Path(questions).name
        try:
            questions = json.loads(Path(questions).read_text("utf-8"))
        except (OSError, ValueError) as error:
            raise InputError(where, "a JSON file that is there", type(error).__name__) from None
    listed = questions.get("questions") if isinstance(questions, Mapping) else None
    if not isinstance(listed, list) or not listed:
        raise InputError(where, "a mapping with a list 'questions'", listed or NOTHING)
    found = [_question(q, f"{where}, question {k}") for k, q in enumerate(listed, start=1)]
    return {q.customer: q for q in found}
