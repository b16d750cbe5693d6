"""What a number on the screen is made of: its parts, what moved it, range, source and rivals."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

import ipywidgets as widgets
import numpy as np
import pandas as pd

from gradekit.app.pages.drawing import START
from gradekit.app.pages.told import NEGLIGIBLE, told_lines
from gradekit.app.panels.comparison import signed
from gradekit.app.panels.parts import parts_of, parts_svg
from gradekit.app.widgets.panel import Panel
from gradekit.app.widgets.status import guarded
from gradekit.core.markup import Html, Part, flow, inline, number, tag
from gradekit.design.quantities import rivals_of
from gradekit.relations.declaration import Relation
from gradekit.relations.evaluate import evaluate
from gradekit.relations.explain import take_apart
from gradekit.relations.steels import families_by_votes
from gradekit.relations.why import why


class ExplainingPanel(Panel):
    """An explorer whose numbers are buttons: what each is made of is computed when it is pressed.

    A subclass makes them with `pressable`, and defines `about`.
    """

    def about(self, state: Any, name: str) -> Html:
        """Return what a number is made of, nothing for one that does not stand there."""
        raise NotImplementedError

    def lay(self, controls: list[widgets.Widget]) -> None:
        super().lay(controls)
        self._moving.on_number(guarded(self.status, self.ask))

    def ask(self, name: str) -> str:
        """Show below a number what it is made of; '' shuts what is open.

        Returns
        -------
        str
            What is to be said in the status line.
        """
        self._moving.answer(name, self.about(self.state, name) if name else "")
        return f"what {name} is made of stands below it" if name else "shut again"

    def moved(self) -> None:
        super().moved()
        if name := self._moving.number:
            self._moving.answer(name, self.about(self.state, name))


class Told(NamedTuple):
    """What is told of a value.

    Attributes
    ----------
    pictures : list of (title, parts)
        The value and its parts; then, where there is a steel before, the change and its parts.
    lines : list of (word, text)
    """

    pictures: list[tuple[str, list[tuple[str, float]]]]
    lines: list[tuple[str, str]]


def told(
    relation: Relation,
    contents: Mapping[str, float],
    conditions: Mapping[str, float],
    start: Mapping[str, float] | None = None,
) -> Told:
    """Return what is told of the value that a relation has of a steel; `told.js` in a kernel.

    Parameters
    ----------
    relation : Relation
    contents, conditions : mapping of name to number
        The steel; a condition that is not known is left out.
    start : mapping of element to wt%, optional
        The steel at the start: what changed the value since then, element by element.

    Examples
    --------
    >>> from gradekit.relations.topics import CATALOGUE
    >>> found = told(CATALOGUE["pren_16n"], {"Cr": 18.0, "Mo": 2.0, "N": 0.05}, {})
    >>> found.pictures[0][0], dict(found.lines)["Formula"]
    ('PREN with 16N: 25.4', 'Cr + 3.3*Mo + 16*N')
    """
    heat = pd.DataFrame([dict(contents)], index=["now"])
    given = {c: v for c, v in conditions.items() if c in relation.conditions}
    result = evaluate(heat, relation, **given)
    unit = relation.unit_behind
    pictures = [*map(parts_of, take_apart(result, "now"))]
    if start is not None:
        table = why(dict(start), heat.iloc[0].to_dict(), relation, **given)
        parts = table["contribution"][table["contribution"].abs() > NEGLIGIBLE]
        # of parts that differ by rounding alone the names decide
        moved = sorted(parts.items(), key=lambda p: (-float(f"{abs(p[1]):.8e}"), p[0]))
        change = signed(table.attrs["after"] - table.attrs["before"])
        if moved:
            pictures.append((f"Change from {START}: {change}{unit}", moved))
    error = float(result.standard_error.iat[0, 0])
    places = {
        "": "",
        "error": f"± {number(error, 3)}{unit}" if np.isfinite(error) else "not known here",
        "said": result.words("now", relation.name),
        "others": others_in_words(rivals_of(relation), heat, conditions),
    }
    lines = [(line.word, places[line.place] + line.text) for line in told_lines(relation)]
    return Told(pictures, [line for line in lines if line[1]])


def others_in_words(
    relations: Iterable[Relation], heat: pd.DataFrame, conditions: Mapping[str, float]
) -> str:
    """Say what those relations give that hold for the steel of a batch of one."""
    family = families_by_votes(heat).iloc[0]
    others = [r for r in relations if not family or r.holds_for(family)]
    needed = {c: v for c, v in conditions.items() if any(c in r.conditions for r in others)}
    values = evaluate(heat, others, **needed).values.iloc[0] if others else pd.Series(dtype=float)
    return "; ".join(
        f"{r.title} {number(float(values[r.name]))}{r.unit_behind}"
        for r in others if np.isfinite(values[r.name])
    ) or "none for this steel, as far as it is known"  # fmt: skip


def told_list(lines: Iterable[tuple[str, str]]) -> Html:
    """Return words and texts as a list, the empty ones left out."""
    shown = (tag("dt", word) + tag("dd", text) for word, text in lines if text)
    return tag("dl", Html("".join(shown)), class_="gk-told")


def about_relations(
    relations: Iterable[Relation],
    contents: Mapping[str, float],
    conditions: Mapping[str, float],
    start: Mapping[str, float] | None = None,
    *more: Part,
) -> Html:
    """Return what the values of relations are made of, as a part of a page.

    Parameters
    ----------
    relations : relations
    contents, conditions : mapping of name to number
        As for `told`.
    start : contents, optional
        The steel at the start: what moved the value since then.
    *more : Part
        What else is to be said, first.
    """
    parts: list[Part] = [*more]
    for relation in relations:
        made = told(relation, contents, conditions, start)
        parts += [parts_svg(made.pictures), told_list(made.lines)]
    return flow(parts, inline)
