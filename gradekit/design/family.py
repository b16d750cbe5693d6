"""What keeps a steel in its family, as constraints of the programme.

`gradekit.relations.steels` decides by votes: a majority, and choices such as 'nickel or manganese'.
A programme needs constraints that all hold together, so a design is asked for more: every vote for
its family, by the same limits. Where one of several contents would do, a weighted sum stands in
their place, large enough that one of them is there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from gradekit.core.formula import Formula
from gradekit.design.quantities import Quantity, read_quantity
from gradekit.relations.declaration import Check, Function
from gradekit.relations.groups import AUSTENITIC, DUPLEX, FERRITIC, known_families
from gradekit.relations.steels import ANNEAL, FAMILY_LIMITS, PARTS, VOTES
from gradekit.relations.topics import CATALOGUE

Bounds = Mapping[str, tuple[float | None, float | None]]
_RETENTION = "austenite_retention"
_FORMERS = "Ni + 0.5*Mn + 30*N"
# Contents from which nitrogen, carbon and nitrogen are bound, of each binder.
_BINDERS = {"Ti": 0.1, "Nb": 0.15}
_EITHER = " + ".join(f"{element}/{least}" for element, least in _BINDERS.items())
#: Families that a design is held to by constraints; what hardens by precipitation does so in three
#: ways that exclude each other, and is voted on at the aim only.
HELD = (
    *AUSTENITIC, *DUPLEX, *FERRITIC, "ferritic-martensitic", "martensitic", "nickel martensitic",
)  # fmt: skip
_HARDENED = ("martensitic", "ferritic-martensitic")
_ENDS = FAMILY_LIMITS
_ANNEALED = "the vote at the anneal"
_AUSTENITE = VOTES["austenite"]
_LEAN, _RICH = "no vote for duplex", "every vote for duplex"
_SOFT = "nothing hardens it by precipitation"
_UNBOUND = "not stabilised"
# What each family is held to: quantity, lowest and highest value, and why.
_HOLDS: tuple[tuple[tuple[str, ...], str, float | None, float | None, str], ...] = (
    (HELD, "Cr", _ENDS["stainless"], None, "stainless"),
    (AUSTENITIC, VOTES["ratio"], None, _ENDS["ratio"], _LEAN),
    (AUSTENITIC, _ANNEALED, None, _ENDS["annealed"], _LEAN),
    (AUSTENITIC, VOTES["weld"], None, _ENDS["weld"], _LEAN),
    (AUSTENITIC, VOTES["manganese"], None, _ENDS["manganese"], _LEAN),
    (AUSTENITIC, "Al", None, 0.6, _SOFT),
    (AUSTENITIC, "Ti", None, 0.85, _SOFT),
    (AUSTENITIC, _RETENTION, None, _ENDS["stays"], "austenite stays on cooling"),
    (AUSTENITIC, _AUSTENITE, _ENDS["ferritic"], None, "austenite on heating"),
    (("austenitic",), "Ni", None, 16.0, "no superaustenitic steel"),
    (("austenitic",), "Ni/2.5 + Mn/3", 2.0, None, "nickel or manganese makes the austenite"),
    (("superaustenitic",), "Ni", 16.0, _ENDS["nickel"], "superaustenitic"),
    (("superaustenitic",), "Mo", 1.8, None, ""),
    (("superaustenitic",), "Cr", 18.5, None, "superaustenitic"),
    (("heat-resisting Fe-Ni-Cr",), "Ni", 25.0, _ENDS["nickel"], "much nickel"),
    (("heat-resisting Fe-Ni-Cr",), "Mo", None, 1.8, "no molybdenum"),
    (DUPLEX, VOTES["ratio"], _ENDS["ratio_rich"], None, _RICH),
    (DUPLEX, _ANNEALED, _ENDS["annealed"], None, _RICH),
    (DUPLEX, VOTES["weld"], _ENDS["weld_rich"], None, _RICH),
    (DUPLEX, VOTES["manganese"], _ENDS["manganese"], None, _RICH),
    (DUPLEX, "Cr", 17.0, None, "duplex"),
    (DUPLEX, _FORMERS, _ENDS["formers"], None, "austenite is formed"),
    (DUPLEX, "Ni + 0.5*Mn", 2.0, None, "nickel or manganese forms it"),
    (FERRITIC, _AUSTENITE, None, _ENDS["ferritic"], "it stays ferrite on heating"),
    (FERRITIC, _FORMERS, None, _ENDS["formers_poor"], "no duplex steel"),
    (FERRITIC, "Ni", None, 5.0, "ferritic"),
    (("stabilised ferritic",), "Ti", _BINDERS["Ti"], None, "it binds carbon and nitrogen"),
    (("stabilised ferritic",), "Nb", _BINDERS["Nb"], None, "it binds carbon and nitrogen"),
    (("stabilised ferritic",), _EITHER, 2.0, None, "one of them binds C and N"),
    (("stabilised ferritic",), "C", None, _ENDS["hard_carbon"], "low carbon"),
    (("stabilised ferritic",), "Ni", None, 1.5, "ferritic"),
    (("ferritic",), "Ti", None, _BINDERS["Ti"], _UNBOUND),
    (("ferritic",), "Nb", None, _BINDERS["Nb"], _UNBOUND),
    (("superferritic",), "Cr", 24.5, None, "superferritic"),
    (("superferritic",), "Mo", 0.75, None, "superferritic"),
    (("superferritic",), "C + N", None, 0.06, "superferritic"),
    (("ferritic", "stabilised ferritic"), "Cr", None, 24.5, "no superferritic steel"),
    ((*_HARDENED, "nickel martensitic"), "Cr", None, 17.0, "no duplex steel"),
    ((*_HARDENED, "nickel martensitic"), "Al", None, 0.6, _SOFT),
    ((*_HARDENED, "nickel martensitic"), "Ti", None, 0.85, _SOFT),
    ((*_HARDENED, "nickel martensitic"), "Cu", None, 1.0, _SOFT),
    (("nickel martensitic",), _RETENTION, _ENDS["stays"], None, "austenite turns on cooling"),
    (("nickel martensitic",), "Ni", 2.5, None, "nickel"),
    (("nickel martensitic",), _AUSTENITE, _ENDS["ferritic"], None, ""),
    (_HARDENED, "Ni", None, 2.5, "no nickel martensitic steel"),
    (_HARDENED, "Mn", None, 3.0, ""),
    (_HARDENED, "N", None, 0.3, "no nitrogen austenite"),
    (_HARDENED, "Ti", None, _BINDERS["Ti"], _UNBOUND),
    (_HARDENED, "Nb", None, _BINDERS["Nb"], _UNBOUND),
    (("martensitic",), "C", _ENDS["hard_carbon"], None, "hardens"),
    (("martensitic",), _AUSTENITE, _ENDS["ferritic"], None, ""),
    (("ferritic-martensitic",), "C", None, 0.03, "soft martensite"),
    (("ferritic-martensitic",), _AUSTENITE, _ENDS["partly"], _ENDS["fully"], "half is martensite"),
)


@dataclass(frozen=True)
class Defining:
    """One thing that makes a steel one of its family: low <= quantity <= high, and why."""

    quantity: Quantity
    low: float | None
    high: float | None
    words: str


def family_of(names: Iterable[str]) -> str:
    """Return the family that grades have in common, '' where they have none."""
    from gradekit.standards.grades import grade

    families = {grade(name).steel for name in names}
    return families.pop() if len(families) == 1 else ""


def defining(family: str, bounds: Bounds, variables: tuple[str, ...]) -> list[Defining]:
    """Return what makes a steel one of a family.

    Parameters
    ----------
    family : str
        A name of `gradekit.relations.groups.FAMILIES`.
    bounds : mapping of element to (low, high)
        Of the brief: the form for manganese steels speaks only where they allow one.
    variables : tuple of str
        Elements that may be there; the others are not.

    Examples
    --------
    >>> rows = defining("stabilised ferritic", {}, ("C", "Cr", "Ti", "N"))
    >>> [(d.quantity.key, d.low, d.high) for d in rows if "Ti" in d.quantity.key]
    [('Ti', 0.1, None)]
    """
    known_families(family)
    (nickel, _), (_, manganese) = (bounds.get(e, (None, None)) for e in ("Ni", "Mn"))
    rich = (nickel or 0.0) < 4.0 and (manganese is None or manganese >= 4.0)
    both = {*_BINDERS} <= {*variables}
    rows = []
    for families, key, low, high, words in _HOLDS:
        if family not in families or (key == VOTES["manganese"] and not rich):
            continue
        alone = key in _BINDERS and low is not None
        if (alone and both) or (key == _EITHER and not both):
            continue  # where titanium and niobium may both be there, one of them is enough
        quantity = _quantity(key)
        if set(quantity.inputs) & {*variables, "Fe"}:
            rows.append(Defining(quantity, low, high, words))
    return rows


@cache
def _quantity(key: str) -> Quantity:
    if key == _RETENTION:
        return _turning()
    if key != _ANNEALED:
        return read_quantity(key, {}, "family")
    vote = CATALOGUE[VOTES["annealed"]]
    assert isinstance(vote, Function)
    name = f"{vote.name}_{ANNEAL:.0f}"
    at = {e: vote.check.composition.get(e, 0.0) for e in vote.elements} | {"temperature_C": ANNEAL}
    relation = vote.variant(
        name,
        title=f"{vote.title} at {ANNEAL:.0f} °C",
        algebra=f"temperature_C = {ANNEAL}; {vote.name}",
        uses={**vote.uses, vote.name: vote.formula},
        ranges={},
        check=Check(vote.check.composition, float(vote.value(at))),
    )
    return Quantity(name, {name: relation})


def _turning() -> Quantity:
    """The mean vote of Ms and Md30, each in steps of about its own error, as a relation."""
    ms, md30 = (CATALOGUE[VOTES[name]] for name in ("ms", "md30"))
    steel = md30.check.composition
    at = {e: np.float64(steel.get(e, 0.0)) for e in (*ms.elements, *md30.elements)}
    votes = {"ms": ms.value(at), "md30": md30.value(at)}
    relation = Function(
        name=_RETENTION,
        title="Mean vote of Ms and Md30: above 0.3 austenite turns on cooling",
        algebra=f"ms = {ms.name}; md30 = {md30.name}; {PARTS['retention']}",
        uses={ms.name: ms.formula, md30.name: md30.formula},
        quantity="austenite retention",
        unit="1",
        status="heuristic",
        source=("this_library", *ms.source, *md30.source),
        check=Check(steel, float(Formula(PARTS["retention"]).on(votes))),
    )
    return Quantity(_RETENTION, {_RETENTION: relation})
