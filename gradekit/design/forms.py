"""What a formula is in the contents: a sum, a ratio of two sums, or neither.

The formula itself is run, with symbols in the place of numbers. What the arithmetic of sums cannot
carry out (a square root, a choice, a product of two elements) is no sum, and says so. So the
linear programme uses the declaration of a relation and no second copy of its coefficients.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from gradekit.relations.declaration import Linear, Relation

__all__ = ["Ratio", "Sum", "form_of", "form_of_formula"]


class NotLinear(TypeError):
    """The arithmetic of sums ends here."""


@dataclass(frozen=True)
class Sum:
    """constant + sum of coefficient x content; `Fe` stands for the balance until it is placed.

    Examples
    --------
    >>> x = Sum(0.0, {"Cr": 1.0}) + 3.3 * Sum(0.0, {"Mo": 1.0}) - 20
    >>> x.constant, x.slopes
    (-20.0, {'Cr': 1.0, 'Mo': 3.3})
    """

    constant: float
    slopes: Mapping[str, float] = field(default_factory=dict)

    # numpy must leave the arithmetic to this class, and refuse what it does not know
    __array_ufunc__ = None

    def row(self, variables: Mapping[str, int]) -> tuple[np.ndarray, float]:
        """Return the coefficients in the order of the variables, and the constant."""
        row, constant = np.zeros(len(variables)), self.constant
        for element, slope in self.slopes.items():
            if element == "Fe":
                row -= slope
                constant += 100.0 * slope
            elif element in variables:
                row[variables[element]] += slope
        return row, constant

    def __add__(self, other: object) -> Sum | Ratio:
        if isinstance(other, Ratio):
            return other + self
        if isinstance(other, Sum):
            slopes = dict(self.slopes)
            for element, slope in other.slopes.items():
                slopes[element] = slopes.get(element, 0.0) + slope
            return Sum(self.constant + other.constant, slopes)
        return Sum(self.constant + float(other), self.slopes)

    def __mul__(self, other: object) -> Sum | Ratio:
        if isinstance(other, (Sum, Ratio)):
            if not other.slopes:
                return self * other.constant
            if not self.slopes:
                return other * self.constant
            raise NotLinear("product of contents")
        factor = float(other)
        return Sum(self.constant * factor, {e: s * factor for e, s in self.slopes.items()})

    def __truediv__(self, other: object) -> Sum | Ratio:
        if isinstance(other, Sum):
            return self * (1.0 / other.constant) if not other.slopes else Ratio(self, other)
        if isinstance(other, Ratio):
            raise NotLinear("a sum over a ratio")
        return self * (1.0 / float(other))

    def __rtruediv__(self, other: float) -> Sum | Ratio:
        return Sum(float(other)) / self

    def __pow__(self, power: object) -> Sum:
        if isinstance(power, Sum) or (self.slopes and power != 1):
            raise NotLinear("power of a content")
        return self if power == 1 else Sum(self.constant**power)

    def __rpow__(self, base: float) -> Sum:
        if self.slopes:
            raise NotLinear("content in an exponent")
        return Sum(base**self.constant)

    def __neg__(self) -> Sum:
        return self * -1.0

    def __pos__(self) -> Sum:
        return self

    def __sub__(self, other: object) -> Sum | Ratio:
        return self + (-other)

    def __rsub__(self, other: object) -> Sum | Ratio:
        return -self + other

    __radd__ = __add__
    __rmul__ = __mul__


@dataclass(frozen=True)
class Ratio:
    """One sum over another."""

    above: Sum
    below: Sum

    __array_ufunc__ = None
    slopes = True  # a ratio is never a plain number

    def __add__(self, other: object) -> Ratio:
        if isinstance(other, Ratio):
            if other.below != self.below:
                raise NotLinear("two ratios over different sums")
            return Ratio(self.above + other.above, self.below)
        if isinstance(other, Sum) and other.slopes:
            raise NotLinear("a ratio and contents")
        constant = other.constant if isinstance(other, Sum) else float(other)
        return Ratio(self.above + self.below * constant, self.below)

    def __mul__(self, other: object) -> Ratio:
        if isinstance(other, Ratio) or (isinstance(other, Sum) and other.slopes):
            raise NotLinear("product of a ratio and contents")
        factor = other.constant if isinstance(other, Sum) else float(other)
        return Ratio(self.above * factor, self.below)

    def __truediv__(self, other: object) -> Ratio:
        if isinstance(other, Ratio) or (isinstance(other, Sum) and other.slopes):
            raise NotLinear("a ratio over contents")
        return self * (1.0 / (other.constant if isinstance(other, Sum) else float(other)))

    def __pow__(self, power: object) -> Ratio:
        if power != 1:
            raise NotLinear("power of a ratio")
        return self

    def __neg__(self) -> Ratio:
        return self * -1.0

    def __sub__(self, other: object) -> Ratio:
        return self + (-other)

    def __rsub__(self, other: object) -> Ratio:
        return -self + other

    __radd__ = __add__
    __rmul__ = __mul__


def form_of(relation: Relation, conditions: Mapping[str, float]) -> Sum | Ratio | None:
    """Return the exact linear form of a relation under these conditions, or None.

    Ends of the scale (floor, ceiling) are left to the caller: the form is that of the formula.

    Examples
    --------
    >>> from gradekit.relations import CATALOGUE
    >>> form_of(CATALOGUE["pren_16n"], {}).slopes
    {'Cr': 1.0, 'Mo': 3.3, 'N': 16.0}
    >>> melt = {"temperature_C": 1500, "pN2_atm": 1}
    >>> form_of(CATALOGUE["n_solubility_recommended"], melt) is None
    True
    """
    if isinstance(relation, Linear) and relation.plain:
        return _plain(relation)
    return _cached(relation, tuple((c, float(conditions[c])) for c in relation.conditions))


@lru_cache(maxsize=1024)
def _plain(relation: Linear) -> Sum:
    return Sum(float(relation.intercept), dict(relation.terms))


@lru_cache(maxsize=1024)
def _cached(relation: Relation, conditions: tuple) -> Sum | Ratio | None:
    space = {e: Sum(0.0, {e: 1.0}) for e in relation.elements} | dict(conditions)
    if isinstance(relation, Linear):
        return _try(lambda: _terms(relation, space))
    return _try(lambda: relation.value(space))


def form_of_formula(
    formula: Callable, space: Mapping[str, Sum | Ratio | float | None]
) -> Sum | Ratio | None:
    """Return the form of an expression whose names stand for these forms."""
    if any(space[n] is None for n in formula.names):
        return None
    return _try(lambda: formula.on(space))


def _terms(relation: Linear, space: Mapping) -> Sum | Ratio:
    total = Sum(float(relation.intercept))
    for term, coefficient in relation.terms.items():
        product: object = coefficient
        for name, power in relation.factors[term]:
            product = product * space[name] ** power
        total = total + product
    return total


def _try(run: Callable) -> Sum | Ratio | None:
    # What a sum cannot do ends in a TypeError; a declaration made of something else than algebra
    # (a reading from a diagram) may stumble over a symbol in other ways, and is no sum either.
    try:
        found = run()
    except (TypeError, ValueError, AttributeError):
        return None
    return found if isinstance(found, (Sum, Ratio)) else Sum(float(found))
