"""Relations by name, in the order in which they are declared."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from importlib import import_module
from typing import Any, TypeVar

from gradekit.core.errors import InputError, nearest
from gradekit.relations.declaration import Function, Linear, Relation

__all__ = ["Catalogue", "declared_later"]

R = TypeVar("R", bound=Relation)
_LATER: list[str] = []


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
    measured : mapping of name to (error, words), optional
        What relations were found to do on measured heats. It takes the place of the error that a
        declaration states, whose figure and basis stay in the words.

    Examples
    --------
    >>> from gradekit.relations.topics import CATALOGUE
    >>> CATALOGUE["md30_angel_1954"].unit
    '°C'
    """

    def __init__(self, measured: Mapping[str, tuple[float, str]] | None = None) -> None:
        self._relations: dict[str, Relation] = {}
        self._quantities: dict[str, list[str]] | None = None  # made when asked for
        self._measured = measured or {}

    def add(self, relation: R, replace: bool = False) -> R:
        """Add a relation under its name and return it."""
        if relation.name in self._relations and not replace:
            raise InputError("name of a relation", "not used before", relation.name)
        self._relations[relation.name] = relation
        self._quantities = None
        return relation

    def remove(self, name: str) -> None:
        """Take a relation out again."""
        self._relations.pop(self[name].name)
        self._quantities = None

    def linear(self, name: str, title: str, **fields: Any) -> Linear:
        """Declare a linear relation."""
        return self.add(Linear(name=name, title=title, **self._judged(name, fields)))

    def function(self, name: str, title: str, algebra: str, **fields: Any) -> Function:
        """Declare a relation by its formula, which may name relations declared before it."""
        known: dict[str, str] = {}
        named = set(re.findall(r"\w+", algebra))
        for other in filter(named.__contains__, self._relations):
            relation = self._relations[other]
            known |= {**getattr(relation, "uses", {}), other: relation.formula}
        fields = self._judged(name, fields)
        return self.add(Function(name=name, title=title, algebra=algebra, uses=known, **fields))

    def _judged(self, name: str, fields: dict) -> dict:
        if name not in self._measured:
            return fields
        error, words = self._measured[name]
        before = f"{fields['error']:g}, {fields['error_basis']}"
        return fields | {"error": error, "error_basis": f"{words}; elsewhere: {before}"}

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
