"""Explorers that compute where they are looked at: in the page of a notebook, or in a file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import anywidget
import ipywidgets as widgets
import pandas as pd
import traitlets

from gradekit.app import views
from gradekit.app.pages.drawing import (
    Group,
    PageContent,
    heat_data,
    known_heats,
    script,
    spec_of,
)
from gradekit.app.views import View
from gradekit.app.widgets.controls import Choice
from gradekit.app.widgets.numbers import NumberBoxes
from gradekit.app.widgets.panel import Panel
from gradekit.core.svg import write
from gradekit.diagrams.constitution import Diagram
from gradekit.relations.declaration import Relation


class LivePage(anywidget.AnyWidget):
    """The moving part of a panel, drawn in the page by the script of its saved pages.

    What is typed is shown without the kernel, which hears of it afterwards; what the kernel changes
    itself (undo, a file, a cell) goes to the page as `state`.

    Parameters
    ----------
    content : PageContent
    page : mapping
        What the page needs to know beside it: `boxes` (title of a group of numbers to the part of
        the state that it sets), `choices` (label of a list to the part of the state and its
        options), `pictures` (backgrounds by diagram), `known` (contents by heat).
    value : str
        The first view, as HTML.
    state : mapping
        Plain data: `contents`, `conditions` or `weld`, `chosen`, and the heats that are chosen.
    """

    value = traitlets.Unicode().tag(sync=True)
    state = traitlets.Dict().tag(sync=True)

    def __init__(
        self, content: PageContent, page: Mapping[str, Any], value: str, state: Mapping[str, Any]
    ):
        self._esm = script([content], {"spec": {**spec_of(content), **page}}, "live.js")
        super().__init__(value=value, state=dict(state))
        self.add_class("gk-moving").add_class("gk-drawn")


class DrawnPanel(Panel):
    """Base of the explorers whose page computes what moves (`gradekit.app.pages`).

    Before it calls `lay` a subclass sets `relations`, and where it has them `heats` (whose contents
    the page may need) and `diagrams` (by name). It defines

    - `alone(state) -> View`: what is shown of a state that is compared with itself;
    - `beside(state)`: the heats that are chosen, by the part that they play: name and contents;
    - `metal(state) -> dict`: the steel that the page is about, element to wt%, where that is not
      the composition of the state.
    """

    relations: Sequence[Relation]
    heats = pd.DataFrame()
    diagrams: Mapping[str, Diagram] = {}
    elements: Sequence[str] = ()  # columns of a table of weld metals

    def metal(self, state: Any) -> dict[str, float]:
        return state.composition

    def alone(self, state: Any) -> View:
        raise NotImplementedError

    def beside(self, state: Any) -> dict[str, tuple[str, Any]]:
        raise NotImplementedError

    def pictured(self) -> Iterable[str]:
        """Return the names of the diagrams whose pictures the page has."""
        return self.diagrams

    def lay(self, controls: list[widgets.Widget]) -> None:
        content, first = self.page_content(self.state, False), views.live(self.moving(self.state))
        self._moving = LivePage(content, self.page_data(), first, self.page_state(self.state))
        super().lay(controls)

    def _in_page(self, state: Any) -> tuple[str, Any]:
        self.spoken(state)  # what cannot be shown is refused here too
        return "state", self.page_state(state)

    def page_content(self, state: Any, heats: bool) -> PageContent:
        shown = getattr(state, "diagram", "")
        drawn = sorted(self.diagrams.values(), key=lambda d: d.name != shown)
        return PageContent(
            self.kind,
            self.title,
            self.groups(state),
            self.relations,
            self.metal(state),
            tuple(drawn),
            {str(n): self.heats.loc[n].dropna().to_dict() for n in self.heats.index if heats},
            self.alone(state),
            self.spoken(state),
            self.elements,
        )

    def groups(self, state: Any) -> list[Group]:
        """Return the boxes of the page."""
        return [
            Group(part.name, boxes.title, boxes.boxes, part.held(state))
            for part, boxes in self._bound_to(NumberBoxes)
            if boxes.boxes
        ]

    def page_state(self, state: Any) -> dict[str, Any]:
        """Return the state as plain data for the page."""
        numbers, chosen = (
            {part.name: part.held(state) for part, _ in self._bound_to(kind)}
            for kind in (NumberBoxes, Choice)
        )
        parts = {part: heat_data(*heat) for part, heat in self.beside(state).items()}
        return {**numbers, "chosen": chosen, "parts": parts}

    def page_data(self) -> dict[str, Any]:
        """Return what the page is told once; see `LivePage`."""
        rests = {n: self.background(replace(self.state, diagram=n)) for n in self.pictured()}
        return {
            "boxes": {boxes.title: part.name for part, boxes in self._bound_to(NumberBoxes)},
            "choices": {
                choice.description: [part.name, choice.values]
                for part, choice in self._bound_to(Choice)
            },
            "pictures": {n: write(drawn) for n, drawn in rests.items() if drawn is not None},
            "known": known_heats(self.heats),
        }

    def _bound_to(self, kind: type) -> list[tuple]:
        return [(part, control) for part, control in self._bound if isinstance(control, kind)]
