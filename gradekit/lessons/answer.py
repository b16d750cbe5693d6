"""A computed answer: value, range, what makes the range, table and sources."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from gradekit.html import escape, number, panel, table
from gradekit.relations import CATALOGUE

__all__ = ["Answer"]


@dataclass(frozen=True)
class Answer:
    """A computed answer with its range, what makes the range, and its sources.

    Attributes
    ----------
    value, low, high : float
        In `unit`.
    words, spread : str
        What it means, and what the range is made of.
    table : DataFrame
    caption : str
    relations : tuple of names in the catalogue
    basis : str
        What else it rests on.
    """

    value: float
    low: float
    high: float
    unit: str
    words: str
    spread: str
    table: pd.DataFrame
    caption: str
    relations: tuple[str, ...] = ()
    basis: str = ""

    @property
    def headline(self) -> str:
        """The answer in one line."""
        low, high = number(self.low, 3), number(self.high, 3)
        reach = "no range" if low == high else f"range {low} to {high}"
        return f"{number(self.value, 3)} {self.unit} ({reach}: {self.spread})"

    def beside(self, guess: float) -> str:
        """Say how a guess lies beside the answer."""
        room = 0.02 * abs(self.value)  # nobody guesses to the last digit
        range_or_value = "range" if self.high > self.low else "value"
        if self.low - room <= guess <= self.high + room:
            where = "inside the range" if self.high > self.low else "at the value"
        else:
            side, end = ("above", self.high) if guess > self.high else ("below", self.low)
            where = f"{number(abs(guess - end), 2)} {self.unit} {side} the {range_or_value}"
        return f"Your guess {number(guess, 3)} lies {where}. Computed: {self.headline}."

    def body(self) -> str:
        """Return what it means, the table and the sources, as HTML without a style."""
        known = [CATALOGUE[n] for n in self.relations]
        rows = [f"{r.title} ({r.status}): {r.citation}" for r in known]
        listed = "".join(f"<li>{escape(t)}</li>" for t in [*rows, *filter(None, [self.basis])])
        sources = (
            f'<details class="s"><summary>Where it comes from ({len(rows)} relations)</summary>'
            f"<ul>{listed}</ul></details>"
        )
        shown = table(self.table, self.caption, digits=3)
        lead = f'<p class="lead">{escape(f"Computed: {self.headline}")}</p>'
        return f"{lead}<p>{escape(self.words)}</p>{shown}{sources}"

    def _repr_html_(self) -> str:
        return panel(self.body())

    def __repr__(self) -> str:
        return f"Computed: {self.headline}\n{self.words}"
