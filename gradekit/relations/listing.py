"""Relations by any name, and what is known of each as a table."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeAlias

import pandas as pd

from gradekit.core.elements import require_element
from gradekit.core.errors import InputError, nearest
from gradekit.relations.declaration import Bands, Linear, Percent, Relation
from gradekit.relations.groups import families_in_words, known_families
from gradekit.relations.judgements import measured_words
from gradekit.relations.topics import CATALOGUE

#: Relations by name, by quantity or themselves; None for all.
Named: TypeAlias = str | Relation | Iterable[str | Relation] | None


def resolve(names: Named = None) -> tuple[Relation, ...]:
    """Return relations for a name, a quantity, a relation, a list of these, or None for all."""
    if names is None:
        return tuple(CATALOGUE.values())
    if isinstance(names, (str, Relation)):
        names = [names]
    if not isinstance(names, Iterable):
        raise InputError("names", "relation names, such as ['pren_16n']", names)
    chosen: dict[str, Relation] = {}
    for name in names:
        if isinstance(name, Relation):
            chosen[name.name] = name
        elif name in CATALOGUE or not isinstance(name, str):
            chosen[CATALOGUE[name].name] = CATALOGUE[name]
        elif name in (quantities := CATALOGUE.quantities()):
            chosen |= {n: CATALOGUE[n] for n in quantities[name]}
        else:
            close = nearest(name, [*CATALOGUE, *quantities])
            raise InputError("relation", "a name of gk.catalogue()", name, close)
    return tuple(chosen.values())


def catalogue(names: Named = None, family: str | None = None) -> pd.DataFrame:
    """Return one row a relation: what it is, its range, error, evidence and source.

    Parameters
    ----------
    names : str, Relation, or list of these, optional
        Names of relations, or quantities such as 'Md30' for all of one; all by default.
    family : str, optional
        A family of steel as `gk.family` names it: those that hold for it then come first.

    Returns
    -------
    DataFrame, indexed by name
        `unit`, `formula`, `conditions`, `range`, `standard_error` (stated with the relation),
        `measured_here` (found on measured heats), `status`, `source` and more; all texts. With a
        family, `holds`: whether each was made from steels of it.

    Raises
    ------
    InputError
        A name that is neither a relation nor a quantity, or no family, with the nearest ones.

    Examples
    --------
    >>> catalogue("md30_nohara_1977").loc["md30_nohara_1977", "status"]
    'verified'
    """
    rows = [
        {
            "name": r.name,
            "quantity": r.quantity,
            "title": r.title,
            "unit": r.unit,
            "form": r.form,
            "formula": r.formula,
            "conditions": ", ".join(r.conditions),
            "range": _range_words(r),
            "domain": r.domain,
            "family": ", ".join(r.families) or "any",
            "state": r.state,
            "standard_error": _error_words(r),
            "error_basis": r.error_basis,
            "measured_here": measured_words(r.name),
            "status": r.status,
            "source": r.citation,
            "note": r.note,
        }
        for r in resolve(names)
    ]
    listed = pd.DataFrame(rows).set_index("name")
    if family is None:
        return listed
    holds = [CATALOGUE[name].holds_for(*known_families(family)) for name in listed.index]
    listed.insert(0, "holds", holds)
    return listed.sort_values("holds", ascending=False, kind="stable")


def _range_words(relation: Relation) -> str:
    """Return the range of a relation in words."""
    if not relation.ranges:
        return "not stated"
    return "; ".join(
        f"{key} {'' if low is None else f'{low:g}'}…{'' if high is None else f'{high:g}'}"
        for key, (low, high) in relation.ranges.items()
    )


def _error_words(relation: Relation) -> str:
    if relation.error is None:
        return "not known"
    if isinstance(relation.error, Percent):
        return f"{relation.error.size:g} %"
    if isinstance(relation.error, Bands):
        sizes = [size for _, size in relation.error.steps]
        return f"{min(sizes):g}…{max(sizes):g} {relation.unit}, growing with the value"
    return f"{relation.error:g} {relation.unit}"


def weights(element: str) -> pd.DataFrame:
    """Return what one per cent of an element weighs in each published equivalent, lightest first.

    Parameters
    ----------
    element : str

    Returns
    -------
    DataFrame, one row a relation
        `weight` in per cent of chromium or nickel, `quantity`, `family` (made from), `domain`,
        `status`. Equivalents that leave the element out, or carry it in another power, are absent.

    Raises
    ------
    InputError
        What is no element.

    Examples
    --------
    >>> found = weights("N")
    >>> found["weight"].iloc[[0, -1]].tolist()
    [11.5, 30.0]
    """
    require_element(element, "element")
    rows = {
        r.name: (
            r.terms[element],
            r.quantity,
            families_in_words(r.families) or "any",
            r.domain,
            r.status,
        )
        for r in CATALOGUE.values()
        if isinstance(r, Linear) and r.quantity in _EQUIVALENTS and r.terms.get(element, 0.0) > 0
    }
    columns = ["weight", "quantity", "family", "domain", "status"]
    frame = pd.DataFrame(list(rows.values()), pd.Index(rows, name="relation"), columns)
    return frame.sort_values("weight", kind="stable")


_EQUIVALENTS = ("chromium equivalent", "nickel equivalent")
