"""HTML that changes in place, and whose numbers can be asked where they come from."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import anywidget
import pandas as pd
import traitlets

from gradekit.core.markup import askable, number


def pressable(values: pd.Series, names: Iterable[str]) -> pd.Series:
    """Return numbers that a reader may press, as `gradekit.core.markup.askable` makes them.

    Parameters
    ----------
    values : Series of numbers
    names : iterable of str
        What is asked for when each is pressed.
    """
    shown = [askable(number(x), n) for x, n in zip(values, names, strict=True)]
    return pd.Series(shown, values.index, dtype=object)  # not pandas' own text, which is no markup


class Page(anywidget.AnyWidget):
    """A string of HTML and SVG; when it changes, only what differs is touched on the screen.

    Unlike `ipywidgets.HTML` it makes nothing anew that stays, so that a step costs the browser what
    has changed, and a selected text, an opened part or a table scrolled sideways stay as they are.
    Numbers made with `pressable` are buttons; what one opens stands right below it.

    Parameters
    ----------
    value : str
        HTML made by this library; scripts in it do not run.
    number : str
        Name of the number that is open, '' for none.
    about : str
        HTML below that number.
    """

    _esm = Path(__file__).with_name("page.js")
    value = traitlets.Unicode().tag(sync=True)
    number = traitlets.Unicode().tag(sync=True)
    about = traitlets.Unicode().tag(sync=True)

    def on_number(self, action: Callable[[str], None]) -> None:
        """Call an action with the name of each number that is pressed."""

        def heard(_: Any, content: dict, buffers: Any) -> None:
            if isinstance(name := content.get("number"), str):
                action(name)

        self.on_msg(heard)

    def answer(self, number: str, about: str) -> None:
        """Show what a number is made of, or nothing for ''."""
        with self.hold_sync():
            self.number, self.about = number, about
