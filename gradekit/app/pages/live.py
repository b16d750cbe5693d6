"""An explorer in a notebook that computes in the page: the kernel keeps what it did."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import anywidget
import traitlets

from gradekit.app.pages.content import PageContent
from gradekit.app.pages.drawing import script, spec_of


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
