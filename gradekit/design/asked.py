"""Which relations a limit asks: those that hold for the steels of a brief, and what stands in.

A limit on a quantity asks every relation that holds somewhere within the bounds. Where none on its
own scale holds all over them, one on another scale of the same thing does (a ferrite number for a
percentage); else the search keeps to where they hold. A limit on one relation that holds nowhere
within the bounds asks those that do in its place. Where no relation holds anywhere, all of them
are kept together as guides: more constraints can cost money and never win any, and the answer says
first that the limit cannot be promised.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple, Protocol

from gradekit.core.elements import is_element
from gradekit.core.errors import InputError
from gradekit.core.markup import number
from gradekit.design.quantities import Quantity, on_scale, read_quantity, rivals_of, without_term
from gradekit.relations.declaration import Relation
from gradekit.relations.groups import families_in_words
from gradekit.relations.topics import CATALOGUE

_Span = tuple[float | None, float | None]
# Published with steps; what stands for it where a search goes along it.
_STEPPED = {"ni_eq_espy_1982": "ni_eq_espy_smooth"}
_NO_TARGET = "stacking fault energy"


class Ground(Protocol):
    """What a brief leaves: its family, contents, elements and conditions."""

    @property
    def held(self) -> str: ...
    @property
    def box(self) -> dict[str, tuple[float, float]]: ...
    @property
    def variables(self) -> tuple[str, ...]: ...
    @property
    def conditions(self) -> Mapping[str, float]: ...
    @property
    def stay_in_range(self) -> bool: ...
    @property
    def robust_over(self) -> str | None: ...


class Asked(NamedTuple):
    """What one limit asks.

    Attributes
    ----------
    quantities : list of Quantity
    left : list of str
        What is not asked, and why.
    guides : tuple of str
        Names asked outside their range, because no relation of the quantity holds.
    ties : mapping of element to (low, high)
        Where at least one of several relations holds.
    unit : str
        In which the limit is given; '' where all quantities are in it.
    """

    quantities: list[Quantity]
    left: list[str]
    guides: tuple[str, ...] = ()
    ties: Mapping[str, _Span] = {}

    unit: str = ""

    def span_of(self, quantity: Quantity, span: _Span) -> _Span:
        """Return the ends of the limit on the scale of a quantity."""
        own = quantity.relation
        return span if own is None or not self.unit else on_scale(span, self.unit, own.unit)


def asked_of(ground: Ground, key: str | Relation, known: Mapping[str, Relation | None]) -> Asked:
    """Return what a limit asks of the relations.

    Parameters
    ----------
    ground : Ground
    key : str or Relation
        Key of the limit.
    known : mapping of name to relation
        Relations known beside the catalogue; None for what a price list will give a meaning.
    """
    if key in _STEPPED:
        raise InputError("limit", "a relation without steps, which a search would exploit",
                         key, _STEPPED[key])  # fmt: skip
    named = isinstance(key, Relation) or key in CATALOGUE or is_element(key)
    if not named and key in CATALOGUE.quantities():
        return _of_quantity(ground, CATALOGUE.quantities()[key])
    one = read_quantity(key, known)
    first = one.relation
    refuse_targets(f"limit '{one.key}'", one.named.values())
    if first is None or one.key not in CATALOGUE:
        return Asked([one], [], unit=first.unit if first else "")
    rivals = CATALOGUE.quantities().get(first.quantity, [])
    # An index has a scale of its own: no other can stand in its place.
    outside = ground.stay_in_range and first.unit != "1" and bool(_elsewhere(first, ground))
    if not outside and ground.robust_over != "spread":
        return Asked([one], [], unit=first.unit)
    return _of_quantity(ground, rivals, first, outside=outside)


def refuse_targets(what: str, relations: Iterable[Relation]) -> None:
    """Refuse what no design can be held to.

    Raises
    ------
    InputError
        A stacking fault energy: known to a factor of two, with signs in dispute.
    """
    if any(r.quantity == _NO_TARGET for r in relations):
        raise InputError(
            what,
            "a quantity that a design can be held to",
            "a stacking fault energy: laboratories differ by a factor of two and in the signs of "
            "C, Cr and Mn",
            "'Md30', below which martensite forms when drawn; gk.evaluate shows the band of SFE",
        )


def _of_quantity(
    ground: Ground, names: Iterable[str], first: Relation | None = None, *, outside: bool = False
) -> Asked:
    """Ask every relation of a quantity; `first` in any case, unless it is `outside` its range."""
    relations = dict.fromkeys([*([first] if first else []), *(CATALOGUE[n] for n in names)])
    refuse_targets(f"limit '{next(iter(relations)).quantity}'", relations)
    left, out, part = [], [], []
    for relation in relations:
        reason = "" if relation is first else _unfit(relation, first, ground)
        away = _elsewhere(relation, ground) if ground.stay_in_range else ""
        if reason:
            left.append(f"{relation.name} is not asked: {reason}")
        elif away and (first is None or outside or relation is not first):
            out.append((relation, away))
        else:
            part.append(relation)
    whole = [r for r in part if _all_over(r, ground)]
    ties: dict[str, _Span] = {}
    scale = next(iter(relations)).unit
    if not whole and ground.stay_in_range and (first is None or outside):
        others = [
            r
            for r in dict.fromkeys(s for o in relations for s in rivals_of(o))
            if r.unit != scale and not _unfit(r, None, ground) and _all_over(r, ground)
            and not _elsewhere(r, ground) and on_scale((1.0, 1.0), scale, r.unit) != (None, None)
        ]  # fmt: skip
        if others:
            left += [f"{r.name} is not asked: it holds in a part of the bounds only" for r in part]
            part = others
        else:
            ties = _union(part)
    guides = [] if part else [r for r, _ in out]
    left += [f"{r.name} is not asked: {away}" for r, away in out if part]
    quantities = [Quantity(r.name, {r.name: r}) for r in dict.fromkeys([*guides, *part])]
    return Asked(quantities, left, tuple(r.name for r in guides), ties, scale)


def _unfit(relation: Relation, first: Relation | None, ground: Ground) -> str:
    """Say why a relation cannot be asked whatever the contents, or nothing."""
    if first and relation.unit != first.unit:
        return f"it is in {relation.unit}"
    families = (ground.held,) if ground.held else first.families if first else ()
    if not relation.holds_for(*families):
        return f"it is for {families_in_words(relation.families)} steel"
    needed = [c for c in relation.conditions if c not in ground.conditions]
    needed += [e for e in relation.required if e not in ground.variables]
    if needed:
        return f"{', '.join(needed)} not given"
    if element := without_term(relation, {e: low for e, (low, _) in ground.box.items()}):
        return f"it has no term for {element}"
    return ""


def _elsewhere(relation: Relation, ground: Ground) -> str:
    """Say at which content of the brief a relation claims nothing at all."""
    for key, (low, high) in relation.ranges.items():
        if key not in ground.box:
            continue
        least, most = ground.box[key]
        wide = least < most  # what is met at a single point of a span cannot be kept
        if (high is not None and (least > high or (wide and least == high))) or (
            low is not None and (most < low or (wide and most == low))
        ):
            return f"it claims nothing at {key} {number(least)} to {number(most)} wt%"
    return ""


def _all_over(relation: Relation, ground: Ground) -> bool:
    """Tell whether a relation claims to hold for every content of the brief."""
    return all(
        (low is None or ground.box[key][0] >= low) and (high is None or ground.box[key][1] <= high)
        for key, (low, high) in relation.ranges.items()
        if key in ground.box
    )


def _union(relations: list[Relation]) -> dict[str, _Span]:
    """Return element by element where at least one of the relations holds."""
    shared = [e for e in relations[0].ranges if is_element(e)] if relations else []
    ties = {}
    for element in shared:
        spans = [r.ranges.get(element, (None, None)) for r in relations]
        lows, highs = zip(*spans, strict=True)
        low = None if None in lows else min(lows)
        high = None if None in highs else max(highs)
        if (low, high) != (None, None):
            ties[element] = (low, high)
    return ties
