"""The composition explorer: a trial beside a heat, on a diagram and through chosen relations."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, NamedTuple
from xml.etree.ElementTree import Element

import numpy as np
import pandas as pd

from gradekit.app.given import Code
from gradekit.app.pages.drawing import CHART_WIDTH, DIAGRAMS, MANY, START
from gradekit.app.panels import comparison
from gradekit.app.panels.comparison import Line
from gradekit.app.panels.drawn import DrawnPanel
from gradekit.app.state import Part, Trial, attribute, known, pairs
from gradekit.app.views import View
from gradekit.app.widgets.fields import condition_field, element_field
from gradekit.app.widgets.numbers import Field
from gradekit.core.aliases import HeatsLike
from gradekit.core.errors import NOTHING, one_of
from gradekit.core.markup import tag
from gradekit.core.svg import stacked
from gradekit.diagrams.constitution import Diagram
from gradekit.diagrams.constitution import diagram as find_diagram
from gradekit.diagrams.placement import Spot
from gradekit.families.kinds import MAKERS
from gradekit.heats.batch import as_batch
from gradekit.pictures.draw import background
from gradekit.pictures.marks import Mark
from gradekit.pictures.overlay import overlay
from gradekit.relations.evaluate import Result, evaluate
from gradekit.relations.groups import AUSTENITIC, DUPLEX
from gradekit.relations.listing import resolve
from gradekit.relations.steels import families_by_votes
from gradekit.relations.topics import CATALOGUE

RELATIONS = (
    "pren_16n",
    "pren_30n",
    "md30_angel_1954",
    "md30_nohara_1977",
    "md30_gladman_1974",
    "md30_sjoberg_1973",
    "ferrite_wrc_1992",
    "ferrite_schaeffler_1949",
    "ferrite_index_fi1_us6056917",
    "cr_ni_ratio_hammar",
    "n_castable_by_mode",
    "yield_nordberg_2004",
)
# What is asked of other steels: each was made from some of them.
_OTHER = (
    "pren_16n_w",
    "pre_ferritic",
    "austenite_max_17cr",
    "ferrite_factor_kaltenhauser_1971",
    "ac1_tricot_1966_quadratic",
    "ac1_gooch_soft",
    "ms_self_1984",
    "ms_finkler_1996",
    "ms_gooch_1982",
    "ms_pickering_1978",
    "ferrite_duplex_anchored",
    "ferrite_wrc_1992",
    "ferrite_schaeffler_1949",
    "cr_ni_ratio_hammar",
    "cpt_g48",
    "cct_g48",
    "stabilisation_margin_us4119765",
    "laves_solvus_fujita_2003",
    "n_castable_by_mode",
    "yield_nordberg_2004",
)
_ELEMENTS = ("C", "Si", "Mn", "Cr", "Ni", "Mo", "N", "Cu")


def explorer(
    heats: HeatsLike,
    diagram: str | Diagram | None = None,
    relations: Iterable[str] | None = None,
    reference: str | None = None,
    elements: Iterable[str] | None = None,
    start: Mapping[str, float] | pd.Series | None = None,
    **conditions: float,
) -> Explorer:
    """Move a composition and see beside a heat what changes.

    Parameters
    ----------
    heats : anything `as_batch` takes
        Compositions in wt%; one of them is the reference, all stand on the diagram.
    diagram : str or Diagram, optional
        'wrc_1992', 'schaeffler_1949' or 'delong_1973', or one of your own (`gk.load_diagram`); by
        default WRC-1992 for austenitic and duplex steel, Schaeffler's for any other.
    relations : names or quantities, optional
        What the table shows; by default those that hold for the family of the reference.
    reference : str, optional
        Heat to compare with; the first one by default.
    elements : symbols, optional
        Elements with a box; by default those that matter in its family.
    start : composition in wt%, optional
        Where the trial begins; at the reference by default.
    **conditions
        As for `evaluate`; each condition that a relation asks for has a box.

    Returns
    -------
    Explorer
        Live where a kernel runs, with a picture to read elsewhere; `.trial` is the composition
        as a dict. What cannot be evaluated is said in words, and nothing is lost.

    Raises
    ------
    InputError
        A diagram, relation, reference, element or condition that there is not, or heats that
        cannot be read.

    Examples
    --------
    >>> panel = explorer({"C": .05, "Cr": 18.2, "Ni": 8.1, "Mn": 1.4, "Si": .4, "N": .05})
    >>> panel.numbers.enter("Ni", "4,5")
    >>> panel.trial["Ni"]
    4.5
    """
    return Explorer(
        as_batch(heats), diagram, relations, reference, elements, start, dict(conditions)
    )


class _Placed(NamedTuple):
    """What the relations give for one composition, and where it lies on the diagram."""

    result: Result
    spot: Spot


def _relations_of(family: str) -> list[str]:
    """Return what is asked of a family by default: nothing that was made for another."""
    if not family or family in AUSTENITIC:
        return list(RELATIONS)
    return [name for name in _OTHER if CATALOGUE[name].holds_for(family)]


class Explorer(DrawnPanel):
    """The panel made by `explorer`."""

    kind = "composition"
    told_below = True
    title = "Composition explorer"

    def __init__(self, heats, diagram, relations, reference, elements, start, conditions):
        self.heats = heats
        self._names = {str(label): label for label in heats.index}
        reference = str(heats.index[0]) if reference is None else str(reference)
        self._must_be_heat(reference, "reference")
        self._family = families_by_votes(heats.loc[[self._names[reference]]]).iloc[0]
        self.relations = resolve(_relations_of(self._family) if relations is None else relations)
        if diagram is None:
            diagram = DIAGRAMS[self._family not in (*AUSTENITIC, *DUPLEX, "")]
        shown = find_diagram(diagram) if isinstance(diagram, str) else diagram
        self.diagrams = {name: find_diagram(name) for name in DIAGRAMS} | {shown.name: shown}
        axes = (name for drawn in self.diagrams.values() for name in drawn.axes)
        self._evaluated = resolve([*self.relations, *axes])
        asked = dict.fromkeys(c for r in self.relations for c in r.conditions)
        evaluate(heats.iloc[:1], self.relations, **conditions)  # refuses an unknown condition
        begin = heats.loc[self._names[reference]] if start is None else as_batch(start).iloc[0]
        self._pictures: dict[str, tuple] = {}
        self._kept: dict[Trial, _Placed] = {}
        super().__init__(Trial.of(begin, conditions, reference=reference, diagram=shown.name))
        self.numbers = self.boxes(
            self._fields(elements, begin), pairs("contents"), "Trial, wt%"
        )  # fmt: skip
        self.conditions = self.boxes(
            [condition_field(name) for name in dict.fromkeys((*asked, *conditions))],
            pairs("conditions"),
            "Conditions",
        )
        titles = [(drawn.title, name) for name, drawn in self.diagrams.items()]
        chart = self.choice("Diagram", titles, attribute("diagram"))
        compared = self.choice("Reference", self._names, attribute("reference"))
        same = self.button(
            "Trial = reference", self._start_at_reference, "begin again at the reference heat"
        )
        self._note_reference()
        boxes = [chart, compared, same, self.numbers]
        self.lay([*boxes, self.conditions] if self.conditions.values else boxes)

    @property
    def trial(self) -> dict[str, float]:
        """The present composition, wt%."""
        return self.state.composition

    # --- the state as strings and data ------------------------------------------------------

    def compute(self, state: Trial) -> tuple[_Placed, _Placed]:
        """Return the values of the trial and of the reference, which mostly stays."""
        kept = replace(state, contents=())
        if kept not in self._kept:
            heat = self.heats.loc[[self._names[state.reference]]]
            self._kept = {kept: self._placed(heat, state)}
        return self._placed(state.batch("trial"), state), self._kept[kept]

    def moving(self, state: Trial) -> View:
        trial, reference = self.answer(state)
        return self._view(state, trial, reference, state.reference)

    def alone(self, state: Trial) -> View:
        trial, _ = self.answer(state)
        return self._view(state, trial, trial, START)

    def _view(self, state: Trial, trial: _Placed, reference: _Placed, beside: str) -> View:
        drawn, lines = self.diagrams[state.diagram], self._lines(trial, reference)
        spots = [("trial", trial.spot), (beside, reference.spot)]
        words = comparison.places_in_words(drawn, spots)
        marks = [  # the trial last, so that it lies on top
            Mark(s.x, s.y, name, style)
            for style, (name, s) in reversed(list(enumerate(spots)))
            if np.isfinite(s.x + s.y)
        ]
        moving = overlay(self._picture(drawn)[1], marks, trail=True, words=" ".join(words))
        place = f", {drawn.status}, not for code acceptance. {' '.join(words)}"
        below = (
            tag("p", tag("b", drawn.title), place, data_of="place"),
            comparison.values_table(lines, beside),
            comparison.spread_bars(lines, beside),
        )
        return View((moving,), below)

    def background(self, state: Trial) -> Element:
        return self._picture(self.diagrams[state.diagram])[0]

    def spoken(self, state: Trial) -> str:
        drawn = self.diagrams[state.diagram]
        (words,) = comparison.places_in_words(drawn, [("trial", self.answer(state)[0].spot)])
        return f"{drawn.title}, {words}"

    def fill(self, state: Trial) -> None:
        super().fill(state)
        self._note_reference()

    def decode(self, data: dict, where: str) -> Trial:
        trial = super().decode(data, where)
        self._must_be_heat(trial.reference, f"{where}, reference")
        one_of(f"{where}, diagram", trial.diagram or NOTHING, self.diagrams)
        return trial

    def table(self, state: Trial) -> pd.DataFrame:
        reference = self._reference_heat(state)
        contents = [
            (e, "content", "wt%", x, reference.get(e, np.nan), np.nan, "", "")
            for e, x in state.contents
        ]
        values = [
            (x.name, x.title, x.unit, x.trial, x.reference, x.error, x.status, x.words)
            for x in self._lines(*self.answer(state))
        ]
        names = ["name", "title", "unit", "trial", state.reference, "standard_error", "status"]
        return pd.DataFrame([*contents, *values], columns=[*names, "flag"])

    def code(self, state: Trial) -> str:
        code = Code()
        both = pd.DataFrame(
            [state.composition, self._reference_heat(state).dropna()],
            index=["trial", state.reference],
        )
        names = [r.name for r in self.relations]
        own = state.diagram not in DIAGRAMS
        call = "load_diagram('the file of your diagram')" if own else f"diagram({state.diagram!r})"
        return code.text(
            f"heats = {code.of(both)}",
            f"values = gk.evaluate(heats, {names!r}{code.given(state.conditions)})",
            f"values, gk.{call}.locate(heats)",
        )

    def beside(self, state: Trial) -> dict[str, tuple[str, pd.Series]]:
        return {"reference": (state.reference, self._reference_heat(state))}

    def pictured(self) -> Iterable[str]:
        # Each holds all heats as dots: of many heats only the one that is seen.
        return self.diagrams if len(self.heats) <= MANY else [self.state.diagram]

    # --- what the controls ask for ----------------------------------------------------------

    def put(self, part: Part, value: Any, key: str = "") -> str | None:
        super().put(part, value, key)
        if part.name != "reference":
            return None
        self._note_reference()
        return f"compared with {value}"

    def _start_at_reference(self) -> str:
        contents = known(self._reference_heat(self.state))
        self.change(replace(self.state, contents=contents))
        self.fill(self.state)
        return f"the trial begins again at {self.state.reference}"

    # --- what they need ---------------------------------------------------------------------

    def _fields(self, elements: Iterable[str] | None, begin: pd.Series) -> list[Field]:
        if elements is None:
            reported = [e for e in _ELEMENTS if e in self.heats or e in begin.index]
            elements = [*(reported or self.heats), *MAKERS.get(self._family, ())]
        return [element_field(e, self.heats) for e in elements]

    def _must_be_heat(self, name: str, what: str) -> None:
        one_of(what, name, self._names, "one of the heats")

    def _reference_heat(self, state: Trial) -> pd.Series:
        return self.heats.loc[self._names[state.reference]]

    def _note_reference(self) -> None:
        heat = self._reference_heat(self.state)
        self.numbers.notes = {
            e: f"ref. {heat[e]:.4g}" if np.isfinite(heat.get(e, np.nan)) else "ref. —"
            for e in self.numbers.values
        }

    def _lines(self, trial: _Placed, reference: _Placed) -> list[Line]:
        # After the relations that are asked for come the axes of the diagrams.
        return comparison.compared(trial.result, reference.result)[: len(self.relations)]

    def _placed(self, heat: pd.DataFrame, state: Trial) -> _Placed:
        result = evaluate(heat, self._evaluated, **dict(state.conditions))
        (spot,) = self.diagrams[state.diagram].spots(result)
        return _Placed(result, spot)

    def _picture(self, drawn: Diagram) -> tuple:
        if drawn.name not in self._pictures:
            resting, to_px = background(drawn, CHART_WIDTH)
            placed = drawn.locate(self.heats)
            heats = comparison.crowd(to_px, placed["x"], placed["y"])
            self._pictures[drawn.name] = (stacked(resting, heats), to_px)
        return self._pictures[drawn.name]
