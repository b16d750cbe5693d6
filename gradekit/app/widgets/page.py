"""HTML that changes in place."""

from __future__ import annotations

from pathlib import Path

import anywidget
import traitlets

__all__ = ["Page"]


class Page(anywidget.AnyWidget):
    """A string of HTML and SVG; when it changes, only what differs is touched on the screen.

    Unlike `ipywidgets.HTML` it makes nothing anew that stays, so that a step costs the browser what
    has changed, and a selected text, an opened part or a table scrolled sideways stay as they are.

    Parameters
    ----------
    value : str
        HTML made by this library; scripts in it do not run.
    """

    _esm = Path(__file__).with_name("page.js")
    value = traitlets.Unicode().tag(sync=True)
