"""What an explorer puts on a page of its own, and gives to the page that it lives in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from gradekit.app.views import View
from gradekit.app.widgets.numbers import Field
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
        'contents', 'conditions'; of a weld 'weld', 'first', 'second', 'wire'.
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
        'weld' mixes three groups of contents; else the page is about the group 'contents'.
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
    diagrams: Sequence[Diagram]
    heats: Mapping[str, Mapping[str, float]]
    view: View
    lead: str
    elements: Sequence[str]
