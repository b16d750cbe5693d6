"""Grades of the standards: finding one by any of its names, and showing its limits.

A grade is filed under its EN number, or under its UNS number where it has none. Its windows are
kept apart: an EN number goes with EN standards, a UNS or AISI name with ASTM standards.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from gradekit.core.errors import InputError, listed
from gradekit.core.markup import details, panel, small, table
from gradekit.standards.names import found_windows, likely_meant, names_in, plain
from gradekit.standards.tables import Limit, Window, rows_of, variant_in_words, windows
from gradekit.standards.typical import typical_contents

#: Words of the table of grades, the first that fits, with the family that they mean.
_STEELS = (
    ("^PH", "precipitation-hardening"),
    ("duplex", "duplex"),
    ("weldable", "ferritic-martensitic"),
    ("soft", "nickel martensitic"),
    ("martensitic", "martensitic"),
    ("ferritic super", "superferritic"),
    (r"ferritic.* stabilised|\(Al, Ti\)", "stabilised ferritic"),
    ("ferritic", "ferritic"),
    ("super-austenitic", "superaustenitic"),
    ("austenitic", "austenitic"),
)
_LIMIT_COLUMNS = ["designation", "standard", "element", "min", "max", "rule", "evidence", "note"]


def windows_of(name: str, standard: str | Iterable[str] | None = None) -> tuple[Window, ...]:
    """Return every window that a name carries: EN number, EN name, UNS, AISI or common name.

    Parameters
    ----------
    name : str
        Case, spaces and prefixes such as 'AISI' or 'UNS' do not matter. An EN number carries its
        EN windows and those of its American relatives; a UNS number its own only.
    standard : str or several, optional
        Part of a standard's name, such as 'EN', 'A240', 'EN 10088-2'.

    Raises
    ------
    InputError
        An unknown name, with the nearest known ones; a standard that the grade does not carry.

    Examples
    --------
    >>> [w.title for w in windows_of("2205", "ASTM")]
    ['S31803 (ASTM A240/A240M)', 'S32205 (ASTM A240/A240M)']
    """
    parts = names_in(name) if isinstance(name, str) else []
    # steel that carries several designations at once keeps the windows of all
    named = tuple(dict.fromkeys(w for part in parts for w in windows_of(part)))
    if isinstance(name, str) and not parts:
        named = found_windows(name) or ()
    if not named:
        must_be = "an EN number, EN name, UNS, AISI name or a name of another standard"
        raise InputError("grade", must_be, name, likely_meant(name))
    if standard is None:
        return named
    wanted = listed(standard, f"standard of {name}")
    chosen = tuple(w for w in named if any(_stands_in(s, w.standard) for s in wanted))
    if not chosen:
        carried = ", ".join(dict.fromkeys(w.standard for w in named))
        raise InputError(f"standard of {name}", f"one of {carried}", standard)
    return chosen


def _stands_in(asked: str, standard: str) -> bool:
    """Tell whether the standard asked for is one of those printed in `standard`."""
    if not isinstance(asked, str):
        raise InputError("standard", "text such as 'EN 10088-2' or 'A240'", asked)
    short = re.sub(r"[^A-Z0-9]", "", asked.upper().split(":")[0])
    parts = [standard.split(":")[0], *re.split(r"[/\s]", standard.split(":")[0])]
    plain = [re.sub(r"[^A-Z0-9]", "", p.upper()) for p in parts]
    return bool(short) and (short in plain or plain[0].startswith(short))


def own_windows(name: str, standard: str | Iterable[str] | None = None) -> tuple[Window, ...]:
    """Return the windows of the side that a name belongs to: the first one, unless a standard (or
    'all' of that side) is asked for.

    An EN number or name means EN standards, a UNS, AISI or common name means ASTM standards, as on
    an order; where that side has no window, the other one stands in.
    """
    if parts := names_in(name):
        return tuple(dict.fromkeys(w for part in parts for w in own_windows(part, standard)))
    named = windows_of(name, None if standard == "all" else standard)
    asked_number = re.match(r"1\.|X\d", plain(name)) is not None
    side = "EN" if asked_number else "ASTM"
    own = tuple(w for w in named if w.side == side) or named
    if standard is not None:
        return own
    exact = [w for w in own if plain(name) in map(plain, (w.uns, *w.common.split(" / ")))]
    return own[:1] if asked_number else tuple(exact or own)[:1]


@dataclass(frozen=True)
class Grade:
    """A grade with its windows, one a standard.

    Attributes
    ----------
    number : str
        EN number, or UNS number where there is none.
    windows : tuple of Window
    """

    number: str
    windows: tuple[Window, ...]

    @property
    def name(self) -> str:
        return self.windows[0].en_name

    @property
    def common(self) -> str:
        return self.windows[0].common

    @property
    def family(self) -> str:
        return self.windows[0].family

    @property
    def steel(self) -> str:
        """Family as `gk.family` names it; the table of the grades says more in its own words."""
        return next(name for sign, name in _STEELS if re.search(sign, self.family))

    @property
    def uns(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(w.uns for w in self.windows if w.uns))

    @cached_property
    def limits(self) -> pd.DataFrame:
        """One row a limit: designation, standard, element, min and max as printed (text, wt%),
        rule, evidence, note. A conflicting limit names the other forms in its note."""
        rows = [
            (w.designation, w.standard, limit.element, *_printed(limit), _note(limit))
            for w in self.windows
            for limit in w.limits
        ]
        return pd.DataFrame(rows, columns=_LIMIT_COLUMNS)

    @cached_property
    def properties(self) -> pd.DataFrame:
        """Minimum strengths (MPa), elongation (%) and hardness per product form, as texts."""
        rows = [
            row
            for row in rows_of("grade_properties")
            if (row["en_number"] or row["uns"]) == self.number
            and (not row["uns"] or row["uns"] in self.uns)
        ]
        return pd.DataFrame(rows, columns=list(rows_of("grade_properties")[0]))

    @cached_property
    def typical(self) -> pd.Series:
        """A usual heat of the first window, wt%: made by a working rule of this library, status
        heuristic (see `gradekit.standards.typical`)."""
        return pd.Series(typical_contents(self.windows[0]), name=self.number, dtype=float)

    def __repr__(self) -> str:
        names = ", ".join(n for n in (self.name, *self.uns, self.common) if n)
        return f"Grade {self.number}: {names}; {', '.join(w.standard for w in self.windows)}"

    def _repr_html_(self) -> str:
        spans, every = {}, []
        names = ["designation", "standard"]
        for (designation, standard), own in self.limits.groupby(names, sort=False):
            title = f"{designation} ({standard})"
            own = own.drop(columns=names).set_index("element")
            # an element may stand twice: a limit, and a rule
            texts = pd.Series(
                [_span(*ends) for ends in zip(own["min"], own["max"], own["rule"], strict=True)],
                own.index,
            )
            spans[title] = texts.groupby(level=0, sort=False).agg("; ".join)
            disputed = own["note"].where(own["evidence"] == "conflicting", "")
            unit = {"min": "wt%", "max": "wt%"}
            every.append(table(own.assign(note=disputed), title, units=unit, wide=["note"]))
            # A note on a settled limit is about the whole window.
            notes = dict.fromkeys(n for n in own["note"] if n and n not in set(disputed))
            every += map(small, notes)
        shown = pd.DataFrame(spans).fillna("").rename_axis("wt%")
        least = self.properties.set_index("product_form").drop(columns=["en_number", "note"])
        lead = " · ".join(n for n in (self.number, self.name, *self.uns, self.common) if n)
        return panel(
            small(f"{self.family}. {_CONFIRM}"),
            table(shown, "Limits by standard"),
            details("Minimum properties", table(least, "By product form")),
            details("Each limit with its evidence", *every),
            lead=lead,
        )


def _span(low: str, high: str, rule: str) -> str:
    """The limits of an element as one text."""
    ends = (
        f"{low} to {high}" if low and high else f"≤ {high}" if high else f"≥ {low}" if low else ""
    )
    return "; ".join(filter(None, (ends, rule)))


_CONFIRM = (
    "A limit from trade memory was not read in a publication: confirm it in the standard in force "
    "before a certificate or an order depends on it."
)


def _printed(limit: Limit) -> tuple[str, str, str, str]:
    low, high = ("" if end is None else str(end) for end in (limit.low, limit.high))
    return low, high, limit.rule, limit.evidence


def _note(limit: Limit) -> str:
    if len(limit.variants) == 1:
        return limit.note
    forms = "; ".join(f"{variant_in_words(v)} ({v.where})" for v in limit.variants)
    use = next((f" Use {variant_in_words(v)}: {v.use}." for v in limit.variants if v.use), "")
    return f"variants: {forms}.{use}"


def grade(name: str) -> Grade:
    """Return one grade with its windows per standard.

    Parameters
    ----------
    name : str
        EN number, EN name, UNS, AISI or common name.

    Returns
    -------
    Grade
        `.number`, `.common`, `.family`, and a window for each standard that lists it.

    Raises
    ------
    InputError
        With the nearest known names.

    Examples
    --------
    >>> grade("AISI 316L").number, grade("x5crni18-10").number, grade("S40920").common
    ('1.4404', '1.4301', '409')
    """
    named = windows_of(name)
    return Grade(named[0].grade, named)


def typical_analysis(name: str) -> pd.Series:
    """Return the analysis that a heat of a grade usually has, by a working rule of this library.

    Parameters
    ----------
    name : str
        As for `grade`; the first window that the name carries is used.

    Returns
    -------
    Series, indexed by element, wt%
        Inside every limit of the window; what usually comes with the charge is in it too. Status
        heuristic: shares of the window by element and family, from `typical_rule.csv`, no
        producer's figures.

    Raises
    ------
    InputError
        With the nearest known names.

    Examples
    --------
    >>> typical_analysis("316L")[["C", "Cr", "Ni", "Mo"]].tolist()
    [0.018, 17.0, 10.6, 2.1]
    """
    return grade(name).typical


def grades() -> pd.DataFrame:
    """Return all grades, one row a designation in one standard.

    Returns
    -------
    DataFrame
        `designation`, `en_number`, `name`, `uns`, `common`, `family`, `standard`, `evidence`: how
        many of the limits were read, come from trade memory, or are in conflict.

    Examples
    --------
    >>> table = grades().set_index("designation")
    >>> table.loc["1.4462", ["name", "common", "standard"]].tolist()
    ['X2CrNiMoN22-5-3', '2205', 'EN 10088-2:2014']
    """
    told = "grade designation en_number en_name uns common family standard".split()
    table = pd.DataFrame([[getattr(w, name) for name in told] for w in windows()], columns=told)
    evidence = [window_evidence(w) for w in windows()]
    return table.rename(columns={"en_name": "name"}).assign(evidence=evidence)


def window_evidence(window: Window) -> str:
    """Return how many limits of a window were read, recalled, or are in conflict, in words."""
    count = Counter(limit.status for limit in window.limits)
    words = [("verified", "read"), ("memory", "memory"), ("conflicting", "conflicting")]
    return ", ".join(f"{count[s]} {word}" for s, word in words if count[s])
