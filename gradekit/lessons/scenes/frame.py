"""One step of a chapter's explorer, and what it is made from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from xml.etree.ElementTree import Element

import pandas as pd

from gradekit.core.markup import Html, Part, flow, panel, small, table
from gradekit.core.svg import write


@dataclass(frozen=True)
class Slot:
    """A number beside the contents of the steel, with the ends of its slider.

    Attributes
    ----------
    name, label : str
        The label has the unit.
    low, high, step, start : float
    least, most : float
        What the box takes.
    """

    name: str
    label: str
    low: float
    high: float
    step: float
    start: float
    least: float
    most: float

    @property
    def unit(self) -> str:
        """The unit in its label, '' for a plain number."""
        unit = self.label.partition(", ")[2]
        return "" if unit == "ASTM" else unit


@dataclass(frozen=True)
class Scene:
    """What is seen at one step.

    Attributes
    ----------
    figure : tuple of Element
        The picture, and smaller ones beneath it.
    words : str
        The answer in a sentence or two.
    table : DataFrame
        Its numbers; the words of its index and columns are those of the trade.
    caption, note : str
        Of the table; what it rests on.
    """

    figure: tuple[Element, ...]
    words: str
    table: pd.DataFrame
    caption: str
    note: str = ""

    def below(self) -> tuple[Part, ...]:
        """What stands beneath the picture."""
        return self.words, table(self.table, self.caption, digits=3), small(self.note)

    @property
    def svg(self) -> str:
        """The first picture, as text."""
        return write(self.figure[0])

    def _repr_html_(self) -> str:
        return panel(*self.figure, Html(flow(self.below())))


@dataclass(frozen=True)
class Play:
    """What an explorer of a chapter is made from.

    Attributes
    ----------
    chapter, title : str
    steel : str
        The steel of the course with which it begins.
    look : callable(steel, numbers) -> Scene
        A batch of one heat; the numbers by the names of the slots.
    slots : tuple of Slot
    elements : tuple of str
        Those with a box.
    """

    chapter: str
    title: str
    steel: str
    look: Callable[[pd.DataFrame, Mapping[str, float]], Scene]
    slots: tuple[Slot, ...] = ()
    elements: tuple[str, ...] = ("C", "Si", "Mn", "Cr", "Ni", "Mo", "N", "Cu")
