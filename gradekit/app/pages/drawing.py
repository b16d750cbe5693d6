"""What an explorer puts on a page, and what the scripts of the page are given of it."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from gradekit.app.pages.model import engine, json_text, text_of
from gradekit.app.views import View
from gradekit.app.widgets.numbers import Field
from gradekit.core.flags import flag_words
from gradekit.diagrams.constitution import Diagram
from gradekit.diagrams.constitution import diagram as named_diagram
from gradekit.pictures.draw import background
from gradekit.pictures.marks import Mark, ToPixels
from gradekit.pictures.overlay import mark_shape
from gradekit.relations.declaration import Relation

#: What the values of a page are compared with where no heat is.
START = "the start"
#: Diagrams of the explorers, the first shown at first.
DIAGRAMS = ("wrc_1992", "schaeffler_1949", "delong_1973")
#: Pixels of each.
CHART_WIDTH = 640
#: More heats than these stay with the kernel, and a page asks it for the one that is chosen.
MANY = 300
_STYLES = 5  # trial, reference, parents, layers, other heats


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


def script(contents: Sequence[PageContent], constants: Mapping[str, Any], *files: str) -> str:
    """Return the script of explorers: engine, data, view, and what drives it.

    Parameters
    ----------
    contents : sequence of PageContent
    constants : mapping of name to plain data
        What the files name, beside what every explorer has (`page`).
    *files : str
        Names of the scripts that come after `view.js`.
    """
    relations = list(dict.fromkeys(r for one in contents for r in one.relations))
    diagrams = list(dict.fromkeys(d for one in contents for d in one.diagrams))
    page = {
        "charts": [_chart_data(drawn, background(drawn, CHART_WIDTH)[1]) for drawn in diagrams],
        "shapes": [_shape(style) for style in range(_STYLES)],
        "flagWords": flag_words(),
        "units": {
            f.unit: dict(sorted(f.units.items()))  # a page is the same each time it is made
            for one in contents
            for group in one.groups
            for f in group.fields
        },
        # Its axes begin at nothing, so that no mixture of steels lies below them.
        "further": {"name": "schaeffler_1949", "title": named_diagram("schaeffler_1949").title},
    }
    named = [f"const {k}={json_text(v)};" for k, v in {"page": page, **constants}.items()]
    scripts = [text_of(name) for name in ("view.js", *files)]
    return "\n".join([engine(relations, diagrams), *named, *scripts])


def spec_of(content: PageContent) -> dict[str, Any]:
    """Return what the scripts are told of one explorer, as plain data."""
    return {
        "kind": content.kind,
        "relations": [r.name for r in content.relations],
        "diagrams": [d.name for d in content.diagrams],
        "metalElements": list(content.elements),
    }


def _chart_data(drawn: Diagram, to_px: ToPixels) -> dict[str, Any]:
    return {
        "name": drawn.name,
        "width": to_px.width,
        "height": to_px.height,
        "box": list(to_px.box),
        "x": list(to_px.x_range),
        "y": list(to_px.y_range),
        "labels": [list(box) for box in to_px.labels],
    }


def _shape(style: int) -> dict[str, Any]:
    mark = Mark(0.0, 0.0, style=style)
    drawn = mark_shape(mark.shape, 0.0, 0.0, 6.0)
    return {"tag": drawn.tag, "attributes": drawn.attrib, "colour": mark.colour, "ink": mark.ink}


def heat_data(name: str, contents: Mapping[Hashable, float] | pd.Series) -> dict[str, Any]:
    """Return a heat as plain data; what is not known of it is None."""
    amounts = {str(e): float(x) if math.isfinite(x) else None for e, x in contents.items()}
    return {"name": name, "contents": amounts}


def known_heats(heats: pd.DataFrame) -> dict[str, dict[str, float | None]]:
    """Return the contents of heats by name; of many none, for the page would grow heavy."""
    if len(heats) > MANY:
        return {}
    return {str(name): heat_data(str(name), heats.loc[name])["contents"] for name in heats.index}
