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
#: Families that a design is held to by constraints; what hardens by precipitation does so in three
#: ways that exclude each other, and is voted on at the aim only.
HELD = (
    *AUSTENITIC, *DUPLEX, *FERRITIC, "ferritic-martensitic", "martensitic", "nickel martensitic",
)  # fmt: skip


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
    rows = []
    for key, low, high, words in _rows(family, bounds, variables):
        quantity = _quantity(key)
        if set(quantity.inputs) & {*variables, "Fe"}:
            rows.append(Defining(quantity, low, high, words))
    return rows


def _rows(family: str, bounds: Bounds, variables: tuple[str, ...]) -> list[tuple]:
    rows: list[tuple] = [("Cr", FAMILY_LIMITS["stainless"], None, "stainless")]
    own: dict[str, list[tuple]]
    if family in AUSTENITIC:
        rows += [*_ferrite_votes(-1, bounds), *_no_hardener("Al", "Ti")]
        rows.append((_RETENTION, None, FAMILY_LIMITS["stays"], "austenite stays on cooling"))
        rows.append((VOTES["austenite"], FAMILY_LIMITS["ferritic"], None, "austenite on heating"))
        own = {
            "austenitic": [
                ("Ni", None, 16.0, "no superaustenitic steel"),
                ("Ni/2.5 + Mn/3", 2.0, None, "nickel or manganese makes the austenite"),
            ],
            "superaustenitic": [
                ("Ni", 16.0, FAMILY_LIMITS["nickel"], "superaustenitic"), ("Mo", 1.8, None, ""),
                ("Cr", 18.5, None, "superaustenitic"),
            ],
            "heat-resisting Fe-Ni-Cr": [
                ("Ni", 25.0, FAMILY_LIMITS["nickel"], "much nickel"),
                ("Mo", None, 1.8, "no molybdenum"),
            ],
        }  # fmt: skip
        rows += own[family]
    elif family in DUPLEX:
        rows += _ferrite_votes(1, bounds)
        rows.append(("Cr", 17.0, None, "duplex"))
        rows.append((_FORMERS, FAMILY_LIMITS["formers"], None, "austenite is formed"))
        rows.append(("Ni + 0.5*Mn", 2.0, None, "nickel or manganese forms it"))
    elif family in FERRITIC:
        rows.append(
            (VOTES["austenite"], None, FAMILY_LIMITS["ferritic"], "it stays ferrite on heating")
        )
        rows.append((_FORMERS, None, FAMILY_LIMITS["formers_poor"], "no duplex steel"))
        rows.append(("Ni", None, 5.0, "ferritic"))
        binders = [e for e in _BINDERS if e in variables]
        if family == "stabilised ferritic":
            text = " + ".join(f"{e}/{_BINDERS[e]}" for e in binders)
            one = len(binders) == 1
            rows.append(
                (binders[0], _BINDERS[binders[0]], None, "it binds carbon and nitrogen")
                if one
                else (text or "Ti", len(binders) or 0.1, None, "one of them binds C and N")
            )
            rows += [
                ("C", None, FAMILY_LIMITS["hard_carbon"], "low carbon"),
                ("Ni", None, 1.5, "ferritic"),
            ]
        elif family == "ferritic":
            rows += [(e, None, _BINDERS[e], "not stabilised") for e in binders]
        if family == "superferritic":
            rows += [
                ("Cr", 24.5, None, "superferritic"), ("Mo", 0.75, None, "superferritic"),
                ("C + N", None, 0.06, "superferritic"),
            ]  # fmt: skip
        else:
            rows.append(("Cr", None, 24.5, "no superferritic steel"))
    else:
        rows += [("Cr", None, 17.0, "no duplex steel"), *_no_hardener("Al", "Ti", "Cu")]
        if family == "nickel martensitic":
            rows.append((_RETENTION, FAMILY_LIMITS["stays"], None, "austenite turns on cooling"))
            rows += [
                ("Ni", 2.5, None, "nickel"),
                (VOTES["austenite"], FAMILY_LIMITS["ferritic"], None, ""),
            ]
        elif family in HELD:
            rows += [("Ni", None, 2.5, "no nickel martensitic steel"), ("Mn", None, 3.0, "")]
            rows.append(("N", None, 0.3, "no nitrogen austenite"))
            rows += [(e, None, _BINDERS[e], "not stabilised") for e in _BINDERS]
            hard = FAMILY_LIMITS["hard_carbon"]
            rows += (
                [
                    ("C", hard, None, "hardens"),
                    (VOTES["austenite"], FAMILY_LIMITS["ferritic"], None, ""),
                ]
                if family == "martensitic"
                else [
                    ("C", None, 0.03, "soft martensite"),
                    (
                        VOTES["austenite"],
                        FAMILY_LIMITS["partly"],
                        FAMILY_LIMITS["fully"],
                        "half is martensite",
                    ),
                ]
            )
        else:
            rows = []
    return rows


def _ferrite_votes(sense: int, bounds: Bounds) -> list[tuple]:
    """Every vote on ferrite: below its limit (-1, austenitic) or above it (1, duplex)."""
    votes = [
        ("ratio", FAMILY_LIMITS["ratio"], FAMILY_LIMITS["ratio_rich"]),
        ("annealed", FAMILY_LIMITS["annealed"], FAMILY_LIMITS["annealed"]),
        ("weld", FAMILY_LIMITS["weld"], FAMILY_LIMITS["weld_rich"]),
    ]
    most = {e: 100.0 if (top := bounds.get(e, (None, None))[1]) is None else top for e in ("Mn",)}
    least = bounds.get("Ni", (None, None))[0] or 0.0
    if most["Mn"] >= 4.0 and least < 4.0:
        votes.append(("manganese", FAMILY_LIMITS["manganese"], FAMILY_LIMITS["manganese"]))
    words = "no vote for duplex" if sense < 0 else "every vote for duplex"
    return [
        (_ANNEALED if name == "annealed" else VOTES[name], None, low, words)
        if sense < 0
        else (_ANNEALED if name == "annealed" else VOTES[name], rich, None, words)
        for name, low, rich in votes
    ]


def _no_hardener(*elements: str) -> list[tuple]:
    ends = {"Al": 0.6, "Ti": 0.85, "Cu": 1.0}
    return [(e, None, ends[e], "nothing hardens it by precipitation") for e in elements]


_ANNEALED = "the vote at the anneal"


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
