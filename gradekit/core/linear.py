"""One linear expression: read from algebra, added up exactly or in floats, laid out as a row.

A formula is run with symbols in the place of numbers. What comes out is a sum of contents, a ratio
of two sums, or neither (a square root, a choice, a product of two elements). So a linear programme
and a rule of a standard use the text as it is declared, and no coefficient is typed twice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import numpy as np

from gradekit.core.formula import Formula

#: A float, or a Decimal in an exact sum; the two are never mixed.
Number = Any
#: Twelve digits are more than any laboratory reports and fewer than a product by 1e-4 disturbs.
_DIGITS = ".12g"


class NotLinear(TypeError):
    """The expression is not linear in the contents."""


def decimal(number: float) -> Decimal:
    """Return the decimal number that was meant by a float.

    Examples
    --------
    >>> decimal(693 * 1e-4), decimal(0.1 + 0.2)
    (Decimal('0.0693'), Decimal('0.3'))
    """
    return Decimal(format(number, _DIGITS))


@dataclass(frozen=True)
class Sum:
    """constant + sum of slope x content; `Fe` stands for the balance until it is placed.

    The numbers are floats, or all of them decimals (`exact`), in which a heat is judged.

    Examples
    --------
    >>> x = Sum(0.0, {"Cr": 1.0}) + 3.3 * Sum(0.0, {"Mo": 1.0}) - 20
    >>> x.constant, x.slopes
    (-20.0, {'Cr': 1.0, 'Mo': 3.3})
    >>> rule = expression("0.15 + 4*(C + N)").exact
    >>> print(rule, "=", rule.at({"C": Decimal("0.020"), "N": Decimal("0.015")}))
    0.15 + 4 C + 4 N = 0.290
    """

    constant: Number
    slopes: Mapping[str, Number] = field(default_factory=dict)

    # numpy must leave the arithmetic to this class, and refuse what it does not know
    __array_ufunc__ = None

    @property
    def exact(self) -> Sum:
        """The same sum in decimals, terms of no weight left out."""
        slopes = {e: decimal(float(k)) for e, k in self.slopes.items() if k}
        return Sum(decimal(float(self.constant)), slopes)

    def at(self, contents: Mapping[str, Decimal]) -> Decimal:
        """Return the value of an exact sum; every element of it must be given."""
        return sum((k * contents[e] for e, k in self.slopes.items()), self.constant)

    def over(self, contents: Mapping[str, np.ndarray | float]) -> np.ndarray:
        """Return the value for columns of contents, in floats."""
        total = np.asarray(float(self.constant))
        for element, slope in self.slopes.items():
            total = total + float(slope) * contents[element]
        return total

    def row(self, variables: Mapping[str, int]) -> tuple[np.ndarray, float]:
        """Return the slopes in the order of the variables, and the constant."""
        row, constant = np.zeros(len(variables)), float(self.constant)
        for element, slope in self.slopes.items():
            if element == "Fe":
                row -= float(slope)
                constant += 100.0 * float(slope)
            elif element in variables:
                row[variables[element]] += float(slope)
        return row, constant

    def __str__(self) -> str:
        terms = [f"{self.constant:g}"] if self.constant else []
        for element, k in self.slopes.items():
            term = element if abs(k) == 1 else f"{abs(k):.10g} {element}"
            terms.append(f"{'-' if k < 0 else '+'} {term}" if terms else f"{'-' * (k < 0)}{term}")
        return " ".join(terms) or "0"

    def __add__(self, other: Expression | Number) -> Expression:
        if isinstance(other, Ratio):
            return other + self
        return self.plus(other if isinstance(other, Sum) else Sum(_number(other)))

    def __mul__(self, other: Expression | Number) -> Expression:
        if isinstance(other, (Sum, Ratio)):
            if isinstance(other, Sum) and not other.slopes:
                return self.times(other.constant)
            if not self.slopes:
                return other * self.constant
            raise NotLinear("product of contents")
        return self.times(_number(other))

    def times(self, factor: Number) -> Sum:
        """Return the sum times a number."""
        return Sum(self.constant * factor, {e: s * factor for e, s in self.slopes.items()})

    def plus(self, other: Sum) -> Sum:
        """Return this sum and another, added up."""
        slopes = dict(self.slopes)
        for element, slope in other.slopes.items():
            slopes[element] = slopes.get(element, 0) + slope
        return Sum(self.constant + other.constant, slopes)

    def __truediv__(self, other: Expression | Number) -> Expression:
        if isinstance(other, Sum):
            return self * (1 / other.constant) if not other.slopes else Ratio(self, other)
        if isinstance(other, Ratio):
            raise NotLinear("a sum over a ratio")
        return self * (1 / _number(other))

    def __rtruediv__(self, other: Number) -> Expression:
        return Sum(_number(other)) / self

    def __pow__(self, power: Expression | Number) -> Sum:
        if isinstance(power, (Sum, Ratio)) or (self.slopes and power != 1):
            raise NotLinear("power of a content")
        return self if power == 1 else Sum(self.constant**power)

    def __rpow__(self, base: Number) -> Sum:
        if self.slopes:
            raise NotLinear("content in an exponent")
        return Sum(base**self.constant)

    def __neg__(self) -> Sum:
        return Sum(-self.constant, {e: -s for e, s in self.slopes.items()})

    def __pos__(self) -> Sum:
        return self

    def __sub__(self, other: Expression | Number) -> Expression:
        return self + (-other)

    def __rsub__(self, other: Number) -> Expression:
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

    def __add__(self, other: Expression | Number) -> Ratio:
        if isinstance(other, Ratio):
            if other.below != self.below:
                raise NotLinear("two ratios over different sums")
            return Ratio(self.above.plus(other.above), self.below)
        added = self.below.times(_plain(other, "a ratio and contents"))
        return Ratio(self.above.plus(added), self.below)

    def __mul__(self, other: Expression | Number) -> Ratio:
        factor = _plain(other, "product of a ratio and contents")
        return Ratio(self.above.times(factor), self.below)

    def __truediv__(self, other: Expression | Number) -> Ratio:
        return self * (1 / _plain(other, "a ratio over contents"))

    def __pow__(self, power: Expression | Number) -> Ratio:
        if power != 1:
            raise NotLinear("power of a ratio")
        return self

    def __neg__(self) -> Ratio:
        return Ratio(-self.above, self.below)

    def __sub__(self, other: Expression | Number) -> Ratio:
        return self + (-other)

    def __rsub__(self, other: Expression | Number) -> Ratio:
        return -self + other

    __radd__ = __add__
    __rmul__ = __mul__


Expression = Sum | Ratio


def symbol_sums(names: Iterable[str]) -> dict[str, Sum]:
    """Return a symbol for each name, to run a formula on."""
    return {name: Sum(0.0, {name: 1.0}) for name in names}


def expression(
    formula: str | Formula | Callable[[], object], space: Mapping | None = None
) -> Expression:
    """Return a formula as a sum or a ratio of sums.

    Parameters
    ----------
    formula : text, Formula, or a function that computes with symbols
    space : mapping of name to symbol or number, optional
        What the names stand for; by default each stands for itself.

    Raises
    ------
    NotLinear
        The expression is neither.

    Examples
    --------
    >>> print(expression("Ti - 5*(C + N)"))
    Ti - 5 C - 5 N
    """
    if isinstance(formula, str):
        formula = Formula(formula)
    try:
        if isinstance(formula, Formula):
            names: Any = symbol_sums(formula.names) if space is None else space
            value: Any = formula.on(names)
        else:
            value = formula()
        return value if isinstance(value, (Sum, Ratio)) else Sum(float(value))
    except (TypeError, ValueError, AttributeError) as error:
        # A declaration made of something else than algebra (a reading from a diagram) may stumble
        # over a symbol in other ways than a sum does, and is no sum either.
        raise NotLinear(str(error)) from error


def _number(value: Number) -> Number:
    return value if isinstance(value, Decimal) else float(value)


def _plain(value: Expression | Number, what: str) -> Number:
    """The number that a factor is, refused where it is made of contents."""
    if isinstance(value, Ratio) or (isinstance(value, Sum) and value.slopes):
        raise NotLinear(what)
    return value.constant if isinstance(value, Sum) else _number(value)
