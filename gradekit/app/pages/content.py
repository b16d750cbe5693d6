"""What an explorer puts on a page of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import pandas as pd

from gradekit.app.state import Trial
from gradekit.app.widgets.numbers import Field, Numbers
from gradekit.diagrams.constitution import Diagram
from gradekit.relations.declaration import Relation

__all__ = ["Group", "PageContent", "contents_of", "trial_groups"]


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
    """

    key: str
    title: str
    fields: Sequence[Field]
    values: Mapping[str, float | None]


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
    """

    kind: str
    title: str
    groups: Sequence[Group]
    relations: Sequence[Relation]
    metal: Mapping[str, float]
    diagrams: Sequence[Diagram] = ()
    heats: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    lead: str = ""


def trial_groups(numbers: Numbers, conditions: Numbers, state: Trial) -> list[Group]:
    """Return the boxes of a composition and of its conditions."""
    groups = [Group("trial", "Composition, wt%", numbers.boxes, state.composition)]
    if conditions.boxes:
        given = dict(state.conditions)
        groups.append(Group("conditions", "Conditions", conditions.boxes, given))
    return groups


def contents_of(heats: pd.DataFrame) -> dict[str, dict[str, float]]:
    """Return what is known of each heat, by name."""
    return {str(name): heats.loc[name].dropna().to_dict() for name in heats.index}
