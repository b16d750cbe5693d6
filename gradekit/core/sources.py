"""The bibliography: one entry a source, found by its key."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from gradekit.core.errors import one_of

REFERENCE = Path(__file__).resolve().parents[1] / "reference"

#: What each evidence word means, the strongest first. The word travels with a number to the screen,
#: beside its verdict.
STATUSES = {
    "verified": "read in the publication, or in a named publication that reproduces it",
    "secondary": "read in a publication that quotes the source",
    "computed-from-data": "fitted to, or averaged from, named measured data",
    "given by the user": "prices and figures of the user's own list, not published",
    "fitted by the user": "a regression made with fit_property on the user's own table",
    "reconstruction": "a diagram rebuilt from anchor values, not the printed figure",
    "memory": "trade knowledge, not read; confirm at the source before a decision rests on it",
    "conflicting": "publications disagree; the note says which form is used and why",
    "heuristic": "a working rule of this library, not published",
    "invented": "demo data, made up for the demo scenario",
}


@dataclass(frozen=True)
class Source:
    """One publication of the bibliography."""

    key: str
    authors: str
    year: str
    title: str
    journal: str
    pages: str
    address: str

    @property
    def short(self) -> str:
        """Author and year of a paper, else the standard, guide or kind of source.

        Examples
        --------
        >>> bibliography()["suutala_1980"].short, bibliography()["en_10095"].short
        ('Suutala et al. 1980', 'EN 10095')
        """
        person = re.match(r"([A-Z][\w'-]+) [A-Z]{1,2}( [A-Z])?(;| et al|$)", self.authors)
        if person is None:
            return self.journal or self.title
        return f"{person[1]}{' et al.' if person[3] else ''} {self.year}"

    def __str__(self) -> str:
        place = ", ".join(p for p in (self.journal, self.pages) if p)
        text = f"{self.authors} ({self.year}). {self.title}. {place}."
        return f"{text} {self.address}" if self.address else text


@cache
def bibliography() -> dict[str, Source]:
    """Return every source of the library, keyed by its short name.

    Examples
    --------
    >>> print(bibliography()["schaeffler_1949"].journal)
    Metal Progress
    """
    with open(REFERENCE / "references.csv", encoding="utf-8", newline="") as file:
        _, *rows = csv.reader(file)
    # behind the fields of a source stands what it is used for
    return {key: Source(key, *fields) for key, *fields, _ in rows}


def sources_of(text: str) -> tuple[str, ...]:
    """Return the keys of the bibliography that a cell 'key key: words' of a table names."""
    return tuple(text.partition(":")[0].split())


def source_in_words(text: str) -> str:
    """Return the source of a row of a table as its readers see it.

    Parameters
    ----------
    text : str
        Keys of the bibliography with spaces between, then words of its own after a colon.

    Examples
    --------
    >>> source_in_words("en_10095: table B.2")
    'EN 10095, table B.2'
    """
    known, words = bibliography(), text.partition(":")[2].strip()
    named = [known[key].short if key in known else key for key in sources_of(text)]
    return ", ".join(part for part in ("; ".join(named), words) if part)


def cited(text: str) -> str:
    """Return the source of a row with its full citations, words of its own last."""
    words = text.partition(":")[2].strip()
    named = cite(*sources_of(text)) if text else ""
    return f"{named} {words}".strip()


def cite(*keys: str) -> str:
    """Return the full citation of one or several keys.

    Examples
    --------
    >>> cite("schaeffler_1949").startswith("Schaeffler A L (1949)")
    True
    """
    known = bibliography()
    for key in keys:
        one_of("source", key, known, "a key of the bibliography")
    return " | ".join(str(known[key]) for key in keys)


def weakest(*statuses: str) -> str:
    """Return the weakest of several evidence words; what rests on several is no better than it.

    Examples
    --------
    >>> weakest("verified", "memory", "given by the user")
    'memory'
    """
    order = list(STATUSES)
    return max((s for s in statuses if s), key=order.index, default="")
