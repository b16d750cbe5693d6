"""A computed answer: value, range, what makes the range, table and sources."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from gradekit.core.aliases import Label
from gradekit.core.markup import Html, details, flow, items, number, panel, table, tag
from gradekit.relations.topics import CATALOGUE

# Nobody guesses to the last digit; a value asked exactly may be rounded, 0.206 to 0.2.
_ROOM, _ROUNDED = 0.02, 0.05


def room_words(room: float) -> str:
    """Say how much nitrogen lies below, or above, what casts without pores; wt%.

    Examples
    --------
    >>> room_words(-0.059), room_words(0.12)
    ('0.059 % more nitrogen than casts without pores', '0.12 % below what casts without pores')
    """
    if room < 0:
        return f"{number(-room, 2)} % more nitrogen than casts without pores"
    return f"{number(room, 2)} % below what casts without pores"


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
    exact : str
        The name of the relation that the question asks for, where it asks for one: `value` is then
        the only answer, and the range is what others give.
    of : int
        Out of how many is counted; 0 for a quantity that is measured.
    other_way : str
        What a guess of the other sign means.
    band : bool
        Whether the range is the answer, and `value` only one of it.
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
    exact: str = ""
    of: int = 0
    other_way: str = "an amount is not below zero"
    band: bool = False

    @property
    def headline(self) -> str:
        """The answer in one line."""
        if self.band:
            return f"{self._reach} {self.unit} ({self.spread})"
        reach = "no range" if self.low == self.high else f"range {self._reach}"
        if self.exact:
            reach = f"exact for the {self._asked}; {reach}"
        return f"{number(self.value, 3)} {self.unit} ({reach}: {self.spread})"

    @property
    def _reach(self) -> str:
        return f"{number(self.low, 3)} to {number(self.high, 3)}"

    @property
    def _asked(self) -> str:
        return CATALOGUE[self.exact].title

    def judged(self, guess: float) -> str:
        """Say how a guess lies beside the answer, without the answer in full."""
        return f"Your guess {number(guess, 3)} {self._lies(guess)}."

    def beside(self, guess: float) -> str:
        """Say how a guess lies beside the answer, and the answer.

        Examples
        --------
        >>> few = Answer(30.0, 20.0, 40.0, "% dilution", "", "tolerance", pd.DataFrame(), "")
        >>> few.beside(45)
        'Your guess 45 lies 5 % dilution above the range. Computed: 30 % dilution (range 20 to \
40: tolerance).'
        >>> few.judged(0.3)
        'Your guess 0.3 looks like a fraction: the answer is asked in %, and 30 lies inside the \
range (20 to 40).'
        """
        return f"{self.judged(guess)} Computed: {self.headline}."

    def _lies(self, guess: float) -> str:
        if self.low * self.high > 0 and guess * self.value < 0:
            return f"has the other sign: {self.other_way}"
        if self._is_fraction(guess):
            percent = f"{number(100 * guess, 3)} {self._place(100 * guess)}"
            return f"looks like a fraction: the answer is asked in %, and {percent}"
        return self._place(guess)

    def _is_fraction(self, guess: float) -> bool:
        """Whether per cent were typed as a fraction: 0.3 for 30."""
        if not self.unit.startswith("%") or self._holds(guess) or not 0 < guess < 1:
            return False
        return self.low >= 10 or self._holds(100 * guess)

    def _holds(self, guess: float) -> bool:
        room = _ROOM * abs(self.value)
        return self.low - room <= guess <= self.high + room

    def _place(self, guess: float) -> str:
        """Say where a guess lies that has the sign and the unit that are asked."""
        if self.exact:
            return self._beside_exact(guess)
        if self.of:
            return self._counted(guess)
        ends = "band" if self.band else "range" if self.high > self.low else "value"
        if self._holds(guess):
            return f"lies inside the {ends} ({self._reach})" if self.high > self.low else (
                "is the value"
            )  # fmt: skip
        above = guess > self.high
        off = number(abs(guess - (self.high if above else self.low)), 3)
        return f"lies {off} {self.unit} {'above' if above else 'below'} the {ends}"

    def _counted(self, guess: float) -> str:
        off, gives = guess - self.value, f"{number(self.value)} {self.unit}"
        if not off:
            return f"is what is read ({gives})"
        size = f"is {number(abs(off), 3)} too {'many' if off > 0 else 'few'} ({gives})"
        within = f", but inside the range ({self._reach})"
        return size + (within if self.low <= guess <= self.high else "")

    def _beside_exact(self, guess: float) -> str:
        gives = f"what the {self._asked} gives ({number(self.value, 3)} {self.unit})"
        off = guess - self.value
        if abs(off) <= _ROUNDED * abs(self.value):
            return f"is {gives}"
        size = f"{number(abs(off), 3)} {self.unit} too {'high' if off > 0 else 'low'}"
        lies = "lies inside" if self._holds(guess) else "lies outside"
        return f"is not {gives}: {size}. It {lies} the range of {self.spread} ({self._reach})"

    def body(self) -> Html:
        """Return what it means, the table and the sources, without a style."""
        known = [CATALOGUE[n] for n in self.relations]
        rows = [f"{r.title} ({r.status}): {r.citation}" for r in known]
        listed = items([*rows, *filter(None, [self.basis])])
        sources = details(f"Where it comes from ({len(rows)} relations)", listed)
        named = self.table.rename(index=_title, columns=_title)
        shown = table(named, self.caption, digits=3, wide=("remark",))
        lead = tag("p", f"Computed: {self.headline}", class_="lead")
        return flow([lead, self._formula, self.words, shown, sources])

    @property
    def _formula(self) -> str:
        """The relation that was asked, as it is written."""
        if not self.exact:
            return ""
        return f"{self._asked}: {CATALOGUE[self.exact].formula.replace('*', ' ')}"

    def _repr_html_(self) -> str:
        return panel(self.body())

    def __repr__(self) -> str:
        return f"Computed: {self.headline}\n{self.words}"


def _title(label: Label) -> Label:
    """What a relation is called; any other label as it is."""
    return CATALOGUE[label].title if isinstance(label, str) and label in CATALOGUE else label
