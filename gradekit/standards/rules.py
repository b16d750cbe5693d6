"""Rules of a grade, such as Ti >= 5x(C+N), taken apart into exact linear expressions.

The algebra is read by `gradekit.core.formula.Formula`; what is kept are decimal coefficients,
because a heat is judged on the digits that were reported and never on a binary fraction.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from gradekit.core.elements import require_element
from gradekit.core.errors import InputError
from gradekit.core.formula import Formula

__all__ = ["Line", "decimal", "lines_of", "quantity_of", "read_rule"]

ZERO = Decimal(0)
#: Twelve digits are more than any laboratory reports and fewer than a product by 1e-4 disturbs.
_DIGITS = ".12g"


def decimal(number: float) -> Decimal:
    """Return the decimal number that was meant by a float.

    Examples
    --------
    >>> decimal(693 * 1e-4), decimal(0.1 + 0.2)
    (Decimal('0.0693'), Decimal('0.3'))
    """
    return Decimal(format(number, _DIGITS))


@dataclass(frozen=True)
class Line:
    """A linear expression in contents: intercept + sum of coefficient x wt%.

    Examples
    --------
    >>> (line,) = lines_of("0.15+4*(C+N)")
    >>> print(line, "=", line.at({"C": Decimal("0.020"), "N": Decimal("0.015")}))
    0.15 + 4 C + 4 N = 0.290
    """

    intercept: Decimal
    coefficients: Mapping[str, Decimal]

    def at(self, contents: Mapping[str, Decimal]) -> Decimal:
        """Return the exact value in wt%; every element of the line must be given."""
        return sum((k * contents[e] for e, k in self.coefficients.items()), self.intercept)

    def __sub__(self, other: Line) -> Line:
        elements = dict.fromkeys([*self.coefficients, *other.coefficients])
        mine, theirs = self.coefficients, other.coefficients
        slopes = {e: mine.get(e, ZERO) - theirs.get(e, ZERO) for e in elements}
        return Line(self.intercept - other.intercept, {e: k for e, k in slopes.items() if k})

    def __str__(self) -> str:
        terms = [str(self.intercept)] if self.intercept else []
        terms += [e if k == 1 else f"{k} {e}" for e, k in self.coefficients.items()]
        return " + ".join(terms) or "0"


def lines_of(algebra: str) -> tuple[Line, ...]:
    """Read algebra in contents; `max(a, b)` gives one line each, all of which must be met.

    Examples
    --------
    >>> [str(line) for line in lines_of("max(8*(C+N), 0.15)")]
    ['8 C + 8 N', '0.15']
    """
    text = algebra.strip()
    if text.startswith("max(") and text.endswith(")"):
        return tuple(_line(part) for part in _parts(text[4:-1]))
    return (_line(text),)


def _parts(text: str) -> list[str]:
    parts, depth = [""], 0
    for character in text:
        depth += (character == "(") - (character == ")")
        if character == "," and depth == 0:
            parts.append("")
        else:
            parts[-1] += character
    return parts


def _line(text: str) -> Line:
    formula = Formula(text.strip())
    names = sorted(formula.names, key=re.findall(r"\w+", text).index)
    for name in names:
        require_element(name, f"name in the rule '{text}'")
    zero = dict.fromkeys(names, 0.0)
    intercept = float(formula.on(zero))
    slopes = {n: float(formula.on(zero | {n: 1.0})) - intercept for n in names}
    # A second point, different in every element, tells a straight line from anything else.
    point = {n: 0.37 + 0.11 * i for i, n in enumerate(names)}
    straight = intercept + sum(slopes[n] * point[n] for n in names)
    if abs(float(formula.on(point)) - straight) > 1e-9:
        raise InputError("rule of a grade", "linear in the contents", text)
    return Line(decimal(intercept), {n: decimal(k) for n, k in slopes.items() if k})


def quantity_of(element: str, rule: str) -> Line:
    """Return what a row limits: an element, a sum of elements, or an index spelt out in its rule.

    Examples
    --------
    >>> str(quantity_of("Ti+Nb", "")), str(quantity_of("PREN", "Cr + 3.3 Mo + 16 N >= 40"))
    ('Ti + Nb', 'Cr + 3.3 Mo + 16 N')
    """
    if element == "PREN":
        if ">=" not in rule:
            raise InputError("rule of PREN", "'<sum> >= <number>'", rule)
        return _line(_algebra(rule.split(">=")[0]))
    return Line(ZERO, dict.fromkeys(element.split("+"), Decimal(1)))


def _algebra(printed: str) -> str:
    """Turn the multiplication of a printed rule, `5x(C+N)` or `3.3 Mo`, into algebra."""
    text = re.sub(r"(?<=\d)\s*x\s*(?=[A-Z(])", "*", printed)
    return re.sub(r"(?<=\d) (?=[A-Z])", "*", text)


def read_rule(rule: str) -> dict[str, str]:
    """Take a printed rule apart: its `quantity`, `floor` (algebra), `min` and `max`, where given.

    Examples
    --------
    >>> read_rule("Ti >= 5x(C+N), max 0.70")
    {'quantity': 'Ti', 'floor': '5*(C+N)', 'max': '0.70'}
    >>> read_rule("sum Nb+Ta 0.10 to 0.50")
    {'quantity': 'Nb+Ta', 'min': '0.10', 'max': '0.50'}
    """
    number = r"\d+(?:\.\d+)?"
    if found := re.fullmatch(rf"(\S+) >= (.+?), (?:max ({number})|no maximum stated)", rule):
        quantity, floor, most = found.groups()
        said = {"quantity": quantity, "floor": _algebra(floor)}
        return said | ({"max": most} if most else {})
    if found := re.fullmatch(rf"sum (\S+) max ({number})", rule):
        return {"quantity": found[1], "max": found[2]}
    if found := re.fullmatch(rf"sum (\S+) ({number}) to ({number})", rule):
        return {"quantity": found[1], "min": found[2], "max": found[3]}
    if found := re.fullmatch(rf"(.+) >= ({number})", rule):
        return {"quantity": found[1], "min": found[2]}
    raise InputError("rule of a grade", "such as 'Ti >= 5x(C+N), max 0.70'", rule)
