"""What an explorer puts on a page of its own, and gives to the page that it lives in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import pandas as pd

from gradekit.app.state import Trial
from gradekit.app.views import View
from gradekit.app.widgets.numbers import Field, NumberBoxes
from gradekit.diagrams.constitution import Diagram
from gradekit.relations.declaration import Relation

#: What the values of a page are compared with where no heat is.
START = "the start"


@dataclass(frozen=True)
class Group:
    """A set of number boxes.

    Attributes
    ----------
    key : str
        'trial', 'conditions'; of a weld 'weld', 'first', 'second', 'wire'.
    title : str
    fields : sequence of Field
    values : mapping of field name to number, None where not known
    heat : str
        Name of the heat whose contents they are, '' for none.
    """

    key: str
    title: str
    fields: Sequence[Field]
    values: Mapping[str, float | None]
    heat: str = ""


@dataclass(frozen=True)
class PageContent:
    """Boxes, relations and diagrams of a page.

    Attributes
    ----------
    kind : str
        'weld' mixes three groups of contents; else the page is about the group 'trial'.
    title : str
    groups : sequence of Group
    relations : sequence of Relation
    diagrams : sequence of Diagram
        The first one is shown first.
    metal : mapping of element to wt%
        The steel with which the page begins.
    heats : mapping of name to contents
        Heats that stand on the diagrams; only those that the user asked to put in.
    view : View
        What the panel shows of its state beside `START`; the page changes it in place.
    lead : str
        The answer in a sentence.
    elements : sequence of str
        Columns of a table of weld metals.
    """

    kind: str
    title: str
    groups: Sequence[Group]
    relations: Sequence[Relation]
    metal: Mapping[str, float]
    diagrams: Sequence[Diagram] = ()
    heats: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    view: View = field(default_factory=View)
    lead: str = ""
    elements: Sequence[str] = ()


def trial_groups(numbers: NumberBoxes, conditions: NumberBoxes, state: Trial) -> list[Group]:
    """Return the boxes of a composition and of its conditions."""
    groups = [Group("trial", numbers.title, numbers.boxes, state.composition)]
    if conditions.boxes:
        given = dict(state.conditions)
        groups.append(Group("conditions", conditions.title, conditions.boxes, given))
    return groups


def known_contents(heats: pd.DataFrame) -> dict[str, dict[str, float]]:
    """Return what is known of each heat, by name."""
    return {str(name): heats.loc[name].dropna().to_dict() for name in heats.index}
