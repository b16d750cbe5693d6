"""Relations by name, in the order in which they are declared."""

from __future__ import annotations

import ast
import operator
import re
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from importlib import import_module
from types import SimpleNamespace
from typing import Any, TypeVar

from gradekit.core.errors import InputError, nearest
from gradekit.core.formula import Formula
from gradekit.core.linear import NotLinear, Sum
from gradekit.relations.declaration import CONDITIONS, Function, Linear, Range, Relation

R = TypeVar("R", bound=Relation)
_LATER: list[str] = []
_SIGNS: dict[type, Callable] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul
}  # fmt: skip
# The shape of a symbol: which are elements is told when a relation is used, not for a hundred of
# them as the catalogue loads.
_SYMBOL = re.compile(r"[A-Z][a-z]?")
# Expressions are compiled when the catalogue loads, not when the package does.
#: A part of a domain that is a range: 'Cr 16-18', 'Mn <=4', 'Cr 20'; others are words.
_STATED = (
    r"(?P<name>[A-Z][a-z]?)(?: ?<=?(?P<most>{0})| (?P<low>{0})(?:-(?P<high>{0}))?)(?: \(memory\))?"
).format(r"\d+(?:\.\d+)?")
#: What begins as a range, whatever follows: elements, then a figure, a sign, or 'up to'.
_BEGUN = r"[A-Z][a-z]?(?: ?\+ ?[A-Z][a-z]?)*(?: \d| ?[<>=≤≥]| (?:about|below|from|to|up to) )"


def declared_later(module: str) -> None:
    """Name a module of a higher floor that declares relations; it loads at the first look.

    So that no file of a diagram is read before somebody asks for a relation.
    """
    _LATER.append(module)


def _complete() -> None:
    while _LATER:
        import_module(_LATER.pop())


class Catalogue(Mapping[str, Relation]):
    """Relations by name, in the order in which they were declared.

    Parameters
    ----------
    quantities : mapping of the beginning of a name to a quantity with its unit, optional
        What a relation gives whose declaration does not say it: the longest beginning tells.
    measured : mapping of name to (error, words), optional
        What relations were found to do on measured heats. It takes the place of the error that a
        declaration states, whose figure and basis stay in the words.

    Examples
    --------
    >>> from gradekit.relations.topics import CATALOGUE
    >>> CATALOGUE["md30_angel_1954"].unit
    '°C'
    """

    def __init__(
        self,
        quantities: Mapping[str, str] | None = None,
        measured: Mapping[str, tuple[float, str]] | None = None,
    ) -> None:
        self._relations: dict[str, Relation] = {}
        self._quantities: dict[str, list[str]] | None = None  # made when asked for
        self._told_by_name, self._measured = quantities or {}, measured or {}

    def add(self, relation: R, replace: bool = False) -> R:
        """Add a relation under its name and return it."""
        if relation.name in self._relations and not replace:
            raise InputError("name of a relation", "not used before", relation.name)
        self._refuse_unheard(relation)
        self._relations[relation.name] = relation
        self._quantities = None
        return relation

    def remove(self, name: str) -> None:
        """Take a relation out again."""
        self._relations.pop(self[name].name)
        self._quantities = None

    def linear(self, name: str, title: str, algebra: str, **fields: Any) -> Linear:
        """Declare a sum of elements and conditions, and of linear relations declared before it."""
        total = self._sum(ast.parse(algebra, mode="eval").body, name)
        # Free of the noise of floats.
        intercept = round(total.constant, 10)
        terms = {term: round(k, 10) for term, k in total.slopes.items()}
        fields = self._filled(name, fields)
        return self.add(Linear(name=name, title=title, terms=terms, intercept=intercept, **fields))

    def function(self, name: str, title: str, algebra: str, **fields: Any) -> Function:
        """Declare a relation by its formula, which may name relations declared before it."""
        known: dict[str, str] = {}
        named = set(re.findall(r"\w+", algebra))
        for other in filter(named.__contains__, self._relations):
            relation = self._relations[other]
            known |= {**getattr(relation, "uses", {}), other: relation.formula}
        fields = self._filled(name, fields)
        return self.add(Function(name=name, title=title, algebra=algebra, uses=known, **fields))

    def group(self, **shared: Any) -> SimpleNamespace:
        """Return `linear` and `function` for relations that have these fields in common.

        Its own `group` adds fields to these. What a declaration states itself holds.
        """
        return SimpleNamespace(
            linear=partial(self.linear, **shared),
            function=partial(self.function, **shared),
            group=partial(self.group, **shared),
        )

    def _sum(self, node: ast.expr, name: str) -> Sum:
        """Return what a node of the algebra adds up to."""
        try:
            match node:
                case ast.Constant(value=int() | float() as number):
                    return Sum(float(number))
                case ast.Name(id=word) if isinstance(known := self._relations.get(word), Linear):
                    return Sum(known.intercept, known.terms)
                case ast.Name(id=word) if _SYMBOL.fullmatch(word) or word in CONDITIONS:
                    return Sum(0.0, {word: 1.0})
                case ast.UnaryOp(op=ast.USub(), operand=inner):
                    return -self._sum(inner, name)
                case ast.BinOp(left=left, op=sign, right=right):
                    return _SIGNS[type(sign)](self._sum(left, name), self._sum(right, name))
        except (KeyError, NotLinear):
            pass
        must_be = "of numbers, elements, conditions and linear relations declared before it"
        raise InputError(f"sum of {name}", must_be, ast.unparse(node))

    def _filled(self, name: str, fields: dict) -> dict:
        """Take the unit off the quantity and the ranges out of the domain, where not told apart."""
        if "unit" not in fields:
            told = fields.get("quantity") or self._told_by(name)
            quantity, _, unit = told.rpartition(", ")
            if not quantity:
                raise InputError(f"quantity of {name}", "with its unit, as 'Md30, °C'", told)
            fields |= {"quantity": quantity, "unit": unit}
        if "ranges" not in fields:
            fields["ranges"] = _stated(fields.get("domain", ""), name)
        if name not in self._measured:
            return fields
        error, words = self._measured[name]
        before = f"{fields['error']:g}, {fields['error_basis']}"
        return fields | {"error": error, "error_basis": f"{words}; elsewhere: {before}"}

    def _told_by(self, name: str) -> str:
        """Return the quantity that the beginning of a name stands for, '' where it is none."""
        while name and name not in self._told_by_name:
            name = name.rpartition("_")[0]
        return self._told_by_name.get(name, "")

    def _refuse_unheard(self, relation: Relation) -> None:
        """Refuse a range that no heat could be held to: of what nothing tells, or upside down."""

        def known(name: str) -> bool:
            if name in ("value", relation.name) or name in CONDITIONS or _SYMBOL.fullmatch(name):
                return True
            # what a higher floor declares is loaded only for a name that is not here
            return name in self._relations or name in self

        what = f"range of {relation.name}"
        for key, (low, high) in relation.ranges.items():
            if low is not None and high is not None and not low <= high:
                raise InputError(what, "from low to high", {key: (low, high)})
            names = [key] if key.isidentifier() else Formula(key).names
            if not all(map(known, names)):
                must_be = "of elements, conditions, relations declared before it, or 'value'"
                raise InputError(what, must_be, key)

    def quantities(self) -> dict[str, list[str]]:
        """Return the names of the relations of each quantity."""
        if self._quantities is None:
            by_quantity: dict[str, list[str]] = {}
            for name, relation in self.items():
                by_quantity.setdefault(relation.quantity, []).append(name)
            self._quantities = by_quantity
        return self._quantities

    def __getitem__(self, name: str) -> Relation:
        try:
            if name not in self._relations:
                _complete()
            return self._relations[name]
        except (KeyError, TypeError):
            close = nearest(str(name), self._relations)
            raise InputError("relation", "a name of gk.catalogue()", name, close) from None

    def __contains__(self, name: object) -> bool:
        _complete()
        return name in self._relations

    def __iter__(self) -> Iterator[str]:
        _complete()
        return iter(self._relations)

    def __len__(self) -> int:
        _complete()
        return len(self._relations)


def _stated(domain: str, relation: str) -> Range:
    """Return the ranges that the parts of a domain state in figures.

    A part that begins as a range and does not read as one is refused: it would be looked at for no
    heat, and nobody would be told.
    """
    ranges: dict[str, tuple[float | None, float | None]] = {}
    for text in domain.split("; "):
        if part := re.fullmatch(_STATED, text):
            ends = (None if x is None else float(x) for x in part.group("low", "high", "most"))
            low, high, most = ends
            # one figure alone is both ends
            ranges[part["name"]] = (low, most if low is None else low if high is None else high)
        elif re.match(_BEGUN, text):
            must_be = "ranges as 'Cr 16-18', 'Mn <=4', 'Cr 20', or with `ranges` told apart"
            raise InputError(f"domain of {relation}", must_be, text)
    return ranges
