"""A published relation as a value: declared once, read by everything else.

Two kinds: `Linear`, a sum of coefficients times terms, and `Function`, a formula. Neither can be
built without a source and a check.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import cached_property
from types import MappingProxyType
from typing import Any, ClassVar

import numpy as np

from gradekit.core.aliases import Columns
from gradekit.core.elements import is_element
from gradekit.core.errors import InputError, one_of
from gradekit.core.formula import Formula
from gradekit.core.sources import STATUSES, bibliography, cite
from gradekit.relations.groups import known_families

#: Conditions a relation may ask for, with what they are. The unit is in the name.
CONDITIONS: Mapping[str, str] = MappingProxyType(
    {
        "temperature_C": "temperature, °C",
        "grain_size_um": "mean lineal intercept of the grains, µm",
        "grain_size_astm": "ASTM grain size number G",
        "delta_ferrite_pct": "delta ferrite, %",
        "ferrite_vol_pct": "ferrite, vol%",
        "twin_spacing_um": "measured twin spacing, µm",
        "free_N": "nitrogen in solution, wt%",
        "chloride_M": "chloride, mol/l",
        "pN2_atm": "nitrogen pressure, atm",
        "pCO_atm": "carbon monoxide pressure, atm",
        "pH2_atm": "hydrogen pressure, atm",
        "mode_factor": "0.70 where ferrite solidifies first, 0.95 where austenite does",
    }
)
#: Without these a relation that uses them has no value; any other absent element counts as zero.
ESSENTIAL = ("Cr", "Ni", "C", "N")
Range = Mapping[str, tuple[float | None, float | None]]


@dataclass(frozen=True)
class Check:
    """One composition with the value that the relation must give there.

    Parameters
    ----------
    composition : mapping of element to wt%
    value : float
        In the unit of the relation.
    kind : str
        'printed', 'measured' or 'arithmetic' (worked independently, not published).
    conditions : mapping, optional
    tolerance : float, optional
        By default half a unit of the seventh digit.
    """

    composition: Mapping[str, float]
    value: float
    kind: str = "arithmetic"
    conditions: Mapping[str, float] = field(default_factory=dict)
    tolerance: float | None = None

    @property
    def allowed(self) -> float:
        """The largest difference that still counts as agreement."""
        if self.tolerance is not None:
            return self.tolerance
        return 0.501 * 10.0 ** (Decimal(repr(self.value)).adjusted() - 6)


@dataclass(frozen=True)
class Bands:
    """An error that grows with the value: (upper end of band, standard error) pairs."""

    steps: tuple[tuple[float, float], ...]
    relative_above: float = 0.0

    def at(self, values: np.ndarray) -> np.ndarray:
        """Return the error at each value."""
        ends = np.array([end for end, _ in self.steps[:-1]])
        sizes = np.array([size for _, size in self.steps])
        error = sizes[np.searchsorted(ends, values, side="left")]
        if self.relative_above:
            last = values > ends[-1]
            error = np.where(last, np.maximum(error, self.relative_above * values), error)
        return np.where(np.isnan(values), np.nan, error)


@dataclass(frozen=True)
class Percent:
    """An error in per cent of the value."""

    size: float

    def at(self, values: np.ndarray) -> np.ndarray:
        """Return the error at each value."""
        return np.abs(values) * (self.size / 100.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Relation:
    """What every relation carries, whatever its form.

    Parameters
    ----------
    name : str
        `quantity_author_year`.
    title, quantity, unit : str
    status : str
        An evidence word of `gradekit.core.sources.STATUSES`.
    source : tuple of str
        Keys of the bibliography.
    check : Check
    families : tuple of str
        Families of steel that it was made from, names of `gradekit.relations.groups.FAMILIES`;
        empty where it holds for iron alloys whatever their family.
    state : str
        What it speaks of where that is no wrought steel: 'weld', 'casting', 'melt'; 'route' where
        it sets a published relation against a limit of the trade.
    domain : str
        Where the source says that it holds, in words.
    ranges : mapping of name to (low, high)
        The numeric part of the domain: elements, conditions, expressions such as 'C+N', names of
        other relations, or 'value' for the result itself; None leaves an end open.
    error : float, Percent or Bands, optional
        Standard error in the unit of the relation; None where no figure is known.
    error_basis : str
    essential : tuple of str, optional
        Elements without which there is no value; by default Cr, Ni, C, N where used.
    floor, ceiling : float, optional
        Ends of the scale: values beyond are shown as the end and flagged.
    fitted : bool
        True where the ranges are those of fitted data.
    """

    name: str
    title: str
    quantity: str
    unit: str
    status: str
    source: tuple[str, ...]
    check: Check
    domain: str = "not stated"
    ranges: Range = field(default_factory=dict)
    families: tuple[str, ...] = ()
    state: str = ""
    error: float | Percent | Bands | None = None
    error_basis: str = "none"
    essential: tuple[str, ...] | None = None
    floor: float | None = None
    ceiling: float | None = None
    fitted: bool = False
    note: str = ""

    form: ClassVar[str] = ""

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[a-z][a-z0-9_]*", self.name):
            raise InputError("name of a relation", "lower case letters, digits and _", self.name)
        one_of(f"status of {self.name}", self.status, STATUSES)
        if not self.source:
            raise InputError(f"source of {self.name}", "at least one source", self.source)
        known_families(*self.families)
        if not isinstance(self.check, Check):
            raise InputError(f"check of {self.name}", "a Check", self.check)

    @property
    def inputs(self) -> tuple[str, ...]:
        """Names of the elements and conditions that the value needs."""
        raise NotImplementedError

    @cached_property
    def elements(self) -> tuple[str, ...]:
        """Elements that the value needs; `Fe` stands for the balance."""
        return tuple(n for n in self.inputs if n not in CONDITIONS)

    @cached_property
    def conditions(self) -> tuple[str, ...]:
        """Conditions that the value needs."""
        return tuple(n for n in self.inputs if n in CONDITIONS)

    @cached_property
    def required(self) -> tuple[str, ...]:
        """Elements without which there is no value."""
        if self.essential is not None:
            return self.essential
        return tuple(e for e in ESSENTIAL if e in self.elements)

    @property
    def formula(self) -> str:
        """The formula, made from the declaration."""
        raise NotImplementedError

    def holds_for(self, *families: str) -> bool:
        """Tell whether it was made from steels of one of these families; none stand for any."""
        return not (self.families and families) or not {*self.families}.isdisjoint(families)

    @property
    def unit_shown(self) -> str:
        """The unit as it stands behind a number; '' for a plain one."""
        return "" if self.unit == "1" else self.unit

    @property
    def unit_behind(self) -> str:
        """`unit_shown` with a blank before it, as it follows a number in a sentence."""
        return f" {self.unit_shown}" if self.unit_shown else ""

    @property
    def citation(self) -> str:
        """The full text of the sources."""
        known = bibliography()
        return " | ".join(cite(k) if k in known else k for k in self.source)

    def value(self, columns: Columns) -> np.ndarray:
        """Return the raw value for columns of elements (wt%) and conditions, without flags."""
        raise NotImplementedError

    def error_at(self, values: np.ndarray) -> np.ndarray:
        """Return the standard error that belongs to each value; NaN where none is known."""
        if self.error is None:
            return np.full(np.shape(values), np.nan)
        if isinstance(self.error, (Bands, Percent)):
            return self.error.at(values)
        return np.where(np.isnan(values), np.nan, self.error)

    def moved(
        self, constant: float, factor: float = 1.0, terms: Mapping[str, float] | None = None
    ) -> dict[str, Any]:
        """Return the fields of constant + factor x this + terms, in the form that this has.

        Parameters
        ----------
        constant, factor : float
        terms : mapping of element or condition to coefficient, optional
        """
        raise NotImplementedError

    def variant(self, name: str, **changes: Any) -> Relation:
        """Return a relation that differs from this one only in what is given."""
        return replace(self, name=name, **changes)


@dataclass(frozen=True, kw_only=True, eq=False)
class Linear(Relation):
    """intercept + sum of coefficient x term.

    A term is an element, or a product of powers written as a name: 'Cr', 'N^0.5', 'Cr*Mo'.

    Examples
    --------
    >>> from gradekit.relations.topics import CATALOGUE
    >>> CATALOGUE["pren_16n"].formula
    'Cr + 3.3*Mo + 16*N'
    """

    intercept: float = 0.0
    terms: dict[str, float]

    form: ClassVar[str] = "linear"

    @cached_property
    def factors(self) -> dict[str, tuple[tuple[str, float], ...]]:
        """Each term as (name, power) pairs."""
        return {term: _factors(term, self.name) for term in self.terms}

    @cached_property
    def plain(self) -> bool:
        """True if every term is a bare element, as a linear programme needs."""
        return all(is_element(t) for t in self.terms)

    @cached_property
    def inputs(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(n for pairs in self.factors.values() for n, _ in pairs))

    @property
    def formula(self) -> str:
        parts = [f"{self.intercept:.10g}"] if self.intercept or not self.terms else []
        for term, c in self.terms.items():
            text = term if abs(c) == 1 else f"{abs(c):.10g}*{term}"
            parts.append((" - " if c < 0 else " + ") + text if parts else f"{'-' * (c < 0)}{text}")
        return "".join(parts).replace("^", "**")

    def term_values(self, columns: Columns) -> dict[str, np.ndarray]:
        """Return the amount of each term."""
        return {
            term: np.prod([columns[n] if p == 1 else columns[n] ** p for n, p in pairs], axis=0)
            for term, pairs in self.factors.items()
        }

    def moved(
        self, constant: float, factor: float = 1.0, terms: Mapping[str, float] | None = None
    ) -> dict[str, Any]:
        whole = {t: factor * c for t, c in self.terms.items()}
        for term, coefficient in (terms or {}).items():
            whole[term] = whole.get(term, 0.0) + coefficient
        return {"intercept": constant + factor * self.intercept, "terms": whole}

    def value(self, columns: Columns) -> np.ndarray:
        amounts = self.term_values(columns)
        return np.asarray(self.intercept + sum(c * amounts[t] for t, c in self.terms.items()))


@dataclass(frozen=True, kw_only=True, eq=False)
class Function(Relation):
    """A relation that is not linear, declared by its formula (see `gradekit.core.formula`)."""

    algebra: str
    uses: Mapping[str, str] = field(default_factory=dict)

    form: ClassVar[str] = "function"

    @cached_property
    def compiled(self) -> Formula:
        """The formula, compiled."""
        return Formula(self.algebra, self.uses)

    @property
    def inputs(self) -> tuple[str, ...]:
        return self.compiled.names

    @property
    def formula(self) -> str:
        return self.algebra

    def moved(
        self, constant: float, factor: float = 1.0, terms: Mapping[str, float] | None = None
    ) -> dict[str, Any]:
        before, semicolon, _ = self.algebra.rpartition(";")
        scale = "" if factor == 1.0 else f"{factor:.10g}*"
        parts = [f"{constant:.10g}", *(f"{scale}({text})" for text, _ in self.compiled.terms)]
        parts += [f"{coefficient:.10g}*{name}" for name, coefficient in (terms or {}).items()]
        algebra = f"{before}{semicolon} {' + '.join(parts)}".strip()
        return {"algebra": algebra, "uses": dict(self.uses)}

    def value(self, columns: Columns) -> np.ndarray:
        return self.compiled.on(columns)


def _factors(term: str, relation: str) -> tuple[tuple[str, float], ...]:
    pairs = []
    for factor in term.split("*"):
        name, _, power = factor.partition("^")
        if not (is_element(name) or name in CONDITIONS):
            raise InputError(
                f"term of {relation}", "elements and conditions, as in 'Cr', 'N^0.5', 'Cr*Mo'", term
            )
        try:
            pairs.append((name, float(power) if power else 1.0))
        except ValueError:
            raise InputError(f"power in {relation}", "a number, as in 'N^0.5'", term) from None
    return tuple(pairs)
