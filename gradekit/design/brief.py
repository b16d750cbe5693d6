"""A brief: bounds of elements, limits, grades to belong to, and what is minimised."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from typing import Any, TypeAlias

import numpy as np
import pandas as pd

from gradekit.core.elements import require_element
from gradekit.core.errors import NOTHING, InputError, listed, one_of
from gradekit.core.markup import Html, details, panel, table
from gradekit.design.asked import Asked, asked_of, refuse_targets
from gradekit.design.family import Defining, defining, family_of
from gradekit.design.prices import COST, FOOTPRINT, NICKEL, nickel_content
from gradekit.design.quantities import Quantity, name_of, read_quantity
from gradekit.relations.declaration import CONDITIONS, Relation
from gradekit.relations.groups import families_in_words as among
from gradekit.relations.groups import known_families
from gradekit.relations.topics import CATALOGUE
from gradekit.standards.windows import joint_rules, window

#: Short words for what can be least, and the relation that each stands for.
AIMS = {"cost": COST, "nickel": NICKEL, "co2": FOOTPRINT}
OPEN = (None, None)
# Cost and footprint get their numbers from the prices given to `design_grade`.
_KNOWN = {NICKEL: nickel_content(), COST: None, FOOTPRINT: None}


@dataclass(frozen=True)
class Brief:
    """What is wanted of a steel.

    Parameters
    ----------
    bounds : mapping of element to (low, high) or a fixed content, wt%
        What may vary. A bound is kept by every heat, like a limit; a fixed content is aimed at.
        None leaves an end to the grade window. Elements that stand in no bound and no window are
        not used.
    limits : mapping of name to (low, high)
        Elements, relations of the catalogue, quantities ('Md30' means each relation of it),
        expressions such as 'cr_eq_hammar_1979 / ni_eq_hammar_1979' or 'Ti - 5*(C + N)',
        'alloy_cost', 'co2_footprint', or a `Relation` of your own. None leaves an end open.
    within : str or several, optional
        Grades whose limits are to be kept together, such as ('1.4301', '1.4307', '304').
    minimise : str, mapping, Relation, or two of these
        'cost', 'nickel', 'co2', a relation's name, an expression, or weights per element. Of two,
        the first is least and the second decides a tie; `Design.front` gives the curve of both.
        A screening takes three as well.
    conditions : mapping, optional
        Conditions that the relations need, such as {'grain_size_astm': 7}.
    stay_in_range : bool
        Keep to where the relations used claim to hold.
    robust_over : 'spread', optional
        Constraint each limit from every relation of its quantity that claims to hold.
    standard : str, optional
        Which standard of `within`; by default the first of each designation.
    name : str
    family : str, optional
        Family of the steel, such as 'austenitic' or 'duplex': what makes a steel one of it is kept
        like any limit, with guard bands. By default that of the grades of `within`, else of the
        heats that the scatter came from; '' holds the design to none.

    Raises
    ------
    InputError
        A name that is not known, a limit without an end, a condition or an element missing.

    Examples
    --------
    >>> brief = Brief({"Cr": (16, 20), "Mo": (0, 1), "N": (0, 0.1)}, {"pren_16n": (19, None)},
    ...               minimise={"Cr": 1.0, "Mo": 10.0})
    >>> brief.but(limits={"pren_16n": (20, None)}).limits["pren_16n"]
    (20.0, None)
    """

    bounds: Mapping[str, Any]  # (low, high) or a content; kept as (low, high)
    limits: Mapping[str | Relation, tuple[float | None, float | None]] = field(default_factory=dict)
    within: str | tuple[str, ...] | None = None
    minimise: Any = "cost"
    conditions: Mapping[str, float] = field(default_factory=dict)
    stay_in_range: bool = True
    robust_over: str | None = None
    standard: str | None = None
    name: str = ""
    family: str | None = None

    def __post_init__(self) -> None:
        put = lambda name, value: object.__setattr__(self, name, value)  # noqa: E731
        if not isinstance(self.bounds, Mapping):
            raise InputError("bounds", "contents by element, as {'Ni': (0, 4.5)}", self.bounds)
        if not isinstance(self.limits, Mapping):
            raise InputError("limits", "ends by name, as {'pren_16n': (19, None)}", self.limits)
        put("bounds", {e: _bound(e, span) for e, span in self.bounds.items()})
        put("limits", {k: _ends(f"limit '{name_of(k)}'", span) for k, span in self.limits.items()})
        put("conditions", {c: _condition(c, v) for c, v in self.conditions.items()})
        if self.within is not None and not isinstance(self.within, str):
            put("within", tuple(self.within))
        if self.family:
            known_families(self.family)
        if self.robust_over not in (None, "spread"):
            raise InputError("robust_over", "'spread' or None", self.robust_over)
        if not self.variables:
            raise InputError("bounds", "at least one element, or within= a grade", NOTHING)
        for key in self.limits:
            self._check_limit(key)
        for aim in self.objectives:
            refuse_targets("minimise", aim.named.values())
            self._check(aim)

    @cached_property
    def held(self) -> str:
        """The family that the design is held to, '' for none."""
        if self.family is None and self.within:
            return family_of(listed(self.within, "within"))
        return self.family or ""

    @property
    def windows(self) -> tuple:
        """The common window of the grades: rows of `element min max min_from max_from`."""
        return _granted(self.within, self.standard)[0] if self.within else ()

    @property
    def rules(self) -> tuple:
        """What the grades ask of elements jointly: words, sum, from, evidence of each."""
        return _granted(self.within, self.standard)[1] if self.within else ()

    @cached_property
    def defining(self) -> list[Defining]:
        """What makes a steel one of the family of the brief."""
        return defining(self.held, self.bounds, self.variables) if self.held else []

    @cached_property
    def variables(self) -> tuple[str, ...]:
        """The elements that the aim speaks of."""
        return tuple(dict.fromkeys([*self.bounds, *(row.element for row in self.windows)]))

    @cached_property
    def objectives(self) -> tuple[Quantity, ...]:
        """What is to be least: one quantity, two, or three for a screening."""
        return self.priced_objectives({})

    def priced_objectives(self, priced: Mapping[str, Relation]) -> tuple[Quantity, ...]:
        """Return what is to be least, with the relations of a price list."""
        several = isinstance(self.minimise, (list, tuple))
        aims = [objective(aim, priced) for aim in (self.minimise if several else [self.minimise])]
        if not 1 <= len(aims) <= 3:
            raise InputError("minimise", "one aim, two or three", self.minimise)
        return tuple(aims)

    def but(self, **changes: Any) -> Brief:
        """Return the brief with changes; `bounds`, `limits` and `conditions` are added to.

        A limit or bound of None is taken out.
        """
        for name in ("bounds", "limits", "conditions"):
            if name in changes:
                merged = {**getattr(self, name), **changes[name]}
                changes[name] = {k: v for k, v in merged.items() if v is not None}
        return replace(self, **changes)

    def asked(self, key: str | Relation, priced: Mapping[str, Relation] | None = None) -> Asked:
        """Return what a limit constrains, and in words what was left out and why."""
        return asked_of(self, key, {**_KNOWN, **(priced or {})})

    @cached_property
    def box(self) -> dict[str, tuple[float, float]]:
        """What bounds and grades leave each element."""
        spans = [(e, *span) for e, span in self.bounds.items()]
        spans += [(row.element, row.min, row.max) for row in self.windows]
        box: dict[str, tuple[float, float]] = {}
        for element, low, high in spans:
            least, most = box.get(element, (0.0, 100.0))
            # a blank of a window is NaN, which no comparison takes
            box[element] = max(least, low or 0.0), most if high is None else min(most, high)
        return box

    def _check_limit(self, key: str | Relation) -> None:
        what, asked = f"limit '{name_of(key)}'", self.asked(key)
        if not asked.quantities:
            raise InputError(what, "one that a relation can answer", asked.left)
        for quantity in asked.quantities:
            low, high = asked.span_of(quantity, self.limits[key])
            self._check(quantity)
            relation = quantity.relation
            floor, ceiling = (relation.floor, relation.ceiling) if relation else OPEN
            if high is not None and floor is not None and high < floor:
                raise InputError(what, f"{floor:g}, its floor, or more", high)
            if low is not None and ceiling is not None and low > ceiling:
                raise InputError(what, f"{ceiling:g}, its ceiling, or less", low)

    def _check(self, quantity: Quantity) -> None:
        for relation in quantity.named.values():
            if self.held and not relation.holds_for(self.held):
                same = (
                    self.asked(relation.quantity).quantities
                    if relation.quantity in CATALOGUE.quantities()
                    else []
                )
                raise InputError(
                    f"relation {relation.name}",
                    f"one that holds for {self.held} steel",
                    f"one made for {among(relation.families)} steel",
                    ", ".join(q.key for q in same) or None,
                )
        lacking = [n for n in quantity.inputs if n in CONDITIONS and n not in self.conditions]
        if lacking:
            raise InputError(
                f"conditions for {quantity.key}",
                f"given: {CONDITIONS[lacking[0]]}",
                NOTHING,
                f"conditions={{'{lacking[0]}': ...}}",
            )
        plain = quantity.inputs if not quantity.named else quantity.required
        gone = [e for e in plain if e not in self.variables and e not in CONDITIONS and e != "Fe"]
        if gone:
            raise InputError(
                "bounds",
                f"given for {', '.join(gone)}, which {quantity.key} needs",
                list(self.variables),
                f"bounds={{'{gone[0]}': (low, high)}}",
            )

    def __repr__(self) -> str:
        wanted = (*self.bounds.items(), *self.limits.items())
        asked = [f"{name_of(key)} {_span(span)}" for key, span in wanted]
        grades = f"; {self.held}" if self.held else ""
        grades += f" within {self.within}" if self.within else ""
        least = ", ".join(q.key for q in self.objectives)
        return f"Brief {self.name}: {'; '.join(asked)}{grades}; least {least}"

    def _repr_html_(self) -> str:
        rows = [(name_of(k), *v, "limit") for k, v in self.limits.items()]
        rows += [(e, *v, "bound of the element") for e, v in self.bounds.items()]
        held = [
            (r.element, r.min, r.max, f"window of {r.max_from or r.min_from}") for r in self.windows
        ]
        held += [(d.quantity.key, d.low, d.high, f"{self.held}: {d.words}") for d in self.defining]
        least = " then ".join(q.title for q in self.objectives)
        return panel(
            _constraints(rows, "What is wanted"),
            details("What grade and family ask as well", _constraints(held, "")),
            lead=f"Brief {self.name}: least {least}".replace("  ", " "),
        )


def _constraints(rows: list[tuple], caption: str) -> Html:
    names = ["constraint", "at least", "at most", "kind"]
    frame = pd.DataFrame(rows, columns=names).set_index("constraint")
    return table(frame.astype({"at least": float, "at most": float}), caption, wide=["kind"])


@lru_cache(maxsize=64)
def _granted(within: str | tuple[str, ...], standard: str | None) -> tuple[tuple, tuple]:
    """The windows and rules of grades, as rows; they are the library's own and do not change."""
    return tuple(window(within, standard).itertuples()), tuple(joint_rules(within, standard))


def _ends(what: str, span: Any) -> tuple[float | None, float | None]:
    """Return (low, high) as numbers or None; refuse what is no span."""
    try:
        given = [] if isinstance(span, (str, bytes)) else span
        low, high = (None if end is None else float(end) for end in given)
    except (TypeError, ValueError):
        low = high = np.nan
    if any(end is not None and np.isnan(end) for end in (low, high)):
        raise InputError(what, "(low, high) of numbers, None for an open end", span)
    low, high = (None if end is None or np.isinf(end) else end for end in (low, high))
    if (low, high) == OPEN:
        raise InputError(what, "at least one end that is not None", span)
    if low is not None and high is not None and low > high:
        raise InputError(what, "low not above high", span, f"({high:g}, {low:g})")
    return low, high


def _bound(element: str, span: Any) -> tuple[float | None, float | None]:
    require_element(element, "bounds, element")
    what = f"bounds of {element}"
    if isinstance(span, (int, float)) and not isinstance(span, bool):
        span = (span, span)
    open_ = isinstance(span, (tuple, list)) and tuple(span) == OPEN
    low, high = OPEN if open_ else _ends(what, span)
    for end in (low, high):
        if end is not None and not 0 <= end <= 100:
            raise InputError(what, "between 0 and 100 wt%", end)
    return low, high


def _condition(name: str, value: Any) -> float:
    one_of("condition", name, CONDITIONS)
    try:
        return float(value)
    except (TypeError, ValueError):
        raise InputError(name, f"a number ({CONDITIONS[name]})", value) from None


#: What is minimised: a name, an expression, a relation, or weights of elements.
Aim: TypeAlias = str | Relation | Mapping[str, float]


def objective(aim: Aim, priced: Mapping[str, Relation] | None = None) -> Quantity:
    """Return the quantity that an aim means."""
    if isinstance(aim, Mapping):
        for element in aim:
            require_element(element, "minimise, element")
        if not aim:
            raise InputError("minimise", "at least one weight", aim)
        try:
            text = " + ".join(f"{float(weight)!r}*{e}" for e, weight in aim.items())
        except (TypeError, ValueError):
            raise InputError("minimise", "weights that are numbers", aim) from None
        return read_quantity(text, {}, "minimise")
    if isinstance(aim, str):
        aim = AIMS.get(aim, aim)
    what = f"minimise ({', '.join(map(repr, AIMS))}, or another quantity)"
    return read_quantity(aim, {**_KNOWN, **(priced or {})}, what, AIMS)


def _span(span: tuple) -> str:
    low, high = span
    if low is not None and low == high:
        return f"= {low:g}"
    ends = zip("≥≤", span, strict=True)
    return " and ".join(f"{sign} {end:g}" for sign, end in ends if end is not None)
