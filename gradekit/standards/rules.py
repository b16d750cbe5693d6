"""Rules of a grade, such as Ti >= 5x(C+N), taken apart into exact linear expressions.

The numbers are decimals, because a heat is judged on the digits that were reported and never on a
binary fraction.
"""

from __future__ import annotations

import re
from decimal import Decimal

from gradekit.core.elements import require_element
from gradekit.core.errors import InputError
from gradekit.core.formula import Formula
from gradekit.core.linear import NotLinear, Sum, expression

ZERO = Decimal(0)


def lines_of(algebra: str) -> tuple[Sum, ...]:
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


def _line(text: str) -> Sum:
    formula = Formula(text.strip())
    for name in formula.names:
        require_element(name, f"name in the rule '{text}'")
    try:
        line = expression(formula)
    except NotLinear:
        line = None
    if not isinstance(line, Sum):
        raise InputError("rule of a grade", "linear in the contents", text)
    return line.exact


def quantity_of(element: str, rule: str) -> Sum:
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
    return Sum(ZERO, dict.fromkeys(element.split("+"), Decimal(1)))


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
    if match := re.fullmatch(rf"(\S+) >= (.+?), (?:max ({number})|no maximum stated)", rule):
        quantity, floor, most = match.groups()
        parts = {"quantity": quantity, "floor": _algebra(floor)}
        return parts | ({"max": most} if most else {})
    if match := re.fullmatch(rf"sum (\S+) max ({number})", rule):
        return {"quantity": match[1], "max": match[2]}
    if match := re.fullmatch(rf"sum (\S+) ({number}) to ({number})", rule):
        return {"quantity": match[1], "min": match[2], "max": match[3]}
    if match := re.fullmatch(rf"(.+) >= ({number})", rule):
        return {"quantity": match[1], "min": match[2]}
    raise InputError("rule of a grade", "such as 'Ti >= 5x(C+N), max 0.70'", rule)
