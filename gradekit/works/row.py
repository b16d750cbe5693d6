"""One row of the route, and what the words in it mean."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from operator import attrgetter

import pandas as pd

from gradekit.core.aliases import Label
from gradekit.core.sources import STATUSES, bibliography
from gradekit.core.verdicts import VERDICTS, Verdict


@dataclass(frozen=True)
class Row:
    """One check of one heat; the fields are the columns of the table."""

    heat: Label
    step: str
    check: str
    value: float
    limit: str
    unit: str
    margin: float
    verdict: Verdict
    reason: str
    source: str
    status: str

    def __post_init__(self) -> None:
        assert self.verdict in VERDICTS, self.verdict
        assert self.status in STATUSES or self.status == "", self.status


COLUMNS = tuple(f.name for f in fields(Row))


def as_table(rows: Iterable[Row]) -> pd.DataFrame:
    """Return rows as a DataFrame with the columns of `Row`."""
    frame = pd.DataFrame(map(attrgetter(*COLUMNS), rows), columns=list(COLUMNS))
    return frame.assign(**{c: frame[c].astype(float) for c in ("value", "margin")})


def short(*keys: str) -> str:
    """Return sources in short, as 'authors year'; what is no key of the bibliography stays.

    Examples
    --------
    >>> short("ridolfi_tassa_2003", "suutala_1980")
    'Ridolfi, Tassa 2003; Suutala et al 1980'
    """
    return "; ".join(dict.fromkeys(_short(k) for k in keys))


def _short(key: str) -> str:
    entry = bibliography().get(key)
    if entry is None:
        return key
    people = [p.strip() for p in entry.authors.split(";")]
    names = [_surname(p) for p in people]
    shown = f"{names[0]} et al" if len(names) > 2 else ", ".join(names)
    return f"{shown} {entry.year}"


def _surname(person: str) -> str:
    words = person.split()
    initials = [w for w in words[1:] if len(w) == 1 or w.replace("-", "").isupper()]
    return words[0] if len(initials) == len(words) - 1 else person
