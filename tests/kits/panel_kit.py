"""A panel as its user has it: controls by the words before them, texts by where they stand."""

from __future__ import annotations

from collections.abc import Iterator

import ipywidgets as widgets

from gradekit.app.panels.drawn import LivePage
from gradekit.app.widgets.page import Page


def parts(panel) -> Iterator[widgets.Widget]:
    """Yield whatever stands on the page, from the top down."""
    ahead = [panel.root]
    while ahead:
        part = ahead.pop(0)
        yield part
        ahead = [*getattr(part, "children", ()), *ahead]


def classes(part: widgets.Widget) -> tuple[str, ...]:
    return tuple(part.get_state().get("_dom_classes", ()))


def control(panel, words: str) -> widgets.Widget:
    """Return the one control with these words before it, or on it."""
    (found,) = (part for part in parts(panel) if getattr(part, "description", None) == words)
    return found


def press(panel, words: str) -> str:
    """Press a button, and return what the status line says then."""
    control(panel, words).click()
    return panel.status.text


def place(panel, name: str) -> widgets.Widget:
    """Return what stands at a place of the page: 'moving', 'background', 'take'."""
    (found,) = (part for part in parts(panel) if f"gk-{name}" in classes(part))
    return found


def offered(panel) -> str:
    """Return the links that are offered to download, or why there are none."""
    return "".join(part.value for part in parts(panel) if "gk-take" in classes(part))


def answer(panel) -> str:
    """Return what is answered: the last text on the page of every panel."""
    texts = [part for part in parts(panel) if isinstance(part, widgets.HTML | Page | LivePage)]
    return texts[-1].value
