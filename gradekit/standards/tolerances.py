"""What a product analysis may lie beyond a specified limit: the standards' classes of tolerance."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from itertools import pairwise

from gradekit.core.elements import is_element
from gradekit.core.errors import InputError, one_of
from gradekit.standards.tables import EVIDENCE, printed_number, rows_of

#: The tables of tolerances that serve each side, the one read before the one recalled.
_TOLERANCES = {
    "EN": ("EN 10088-2/-3", "EN 10088-3 (extended range)"),
    "ASTM": ("ASTM A480/A480M Table A1.1 (also A484)",),
}


@dataclass(frozen=True)
class Tolerance:
    """What a product analysis may lie beyond a specified limit, wt%."""

    over: Decimal
    up_to: Decimal
    below: Decimal
    above: Decimal
    standard: str
    evidence: str
    note: str

    @property
    def status(self) -> str:
        return EVIDENCE[self.evidence]

    def beyond(self, sign: int) -> Decimal:
        """How much wider it makes a minimum (`sign` -1) or a maximum (+1)."""
        return self.above if sign > 0 else self.below


@cache
def tolerances() -> dict[tuple[str, str], tuple[Tolerance, ...]]:
    """Return the classes of tolerance per (standard, element), ascending."""
    return read_tolerances(rows_of("product_tolerances"))


def read_tolerances(
    rows: Iterable[Mapping[str, str]],
) -> dict[tuple[str, str], tuple[Tolerance, ...]]:
    """Build the classes of tolerance; classes of one element may not overlap."""
    by_element: dict[tuple[str, str], list[Tolerance]] = {}
    known = {name for names in _TOLERANCES.values() for name in names}
    for number, row in enumerate(rows, start=2):
        place = f"product_tolerances.csv, line {number} ({row['standard']}, {row['element']})"
        one_of(f"{place}, standard", row["standard"], known, "one in use")
        if not is_element(row["element"]):
            raise InputError(f"{place}, element", "an element", row["element"])
        if row["evidence"] not in EVIDENCE:
            raise InputError(f"{place}, evidence", " | ".join(EVIDENCE), row["evidence"])
        over, up_to, below, above = (
            printed_number(row[c], f"{place}, {c}")
            for c in (
                "range_over",
                "range_up_to_incl",
                "tolerance_below_min",
                "tolerance_above_max",
            )
        )
        if over is None or up_to is None or below is None or above is None or over >= up_to:
            raise InputError(f"{place}, range", "four numbers, over < up to", row)
        by_element.setdefault((row["standard"], row["element"]), []).append(
            Tolerance(over, up_to, below, above, row["standard"], row["evidence"], row["note"])
        )
    for (standard, element), classes in by_element.items():
        classes.sort(key=lambda c: c.over)
        for first, second in pairwise(classes):
            if second.over < first.up_to:
                raise InputError(
                    f"product_tolerances.csv, {standard}, {element}",
                    f"in classes that do not overlap; the first ends at {first.up_to}",
                    str(second.over),
                )
    return {key: tuple(classes) for key, classes in by_element.items()}


def tolerance(side: str, element: str, limit: Decimal) -> Tolerance | None:
    """Return the class of tolerance that a specified limit value falls into, or None.

    A limit at the foot of the lowest class belongs to it ('Cr 10.5-15.0').

    Examples
    --------
    >>> tolerance("EN", "Ni", Decimal("10.5")).above, tolerance("EN", "Ni", Decimal("8.0")).below
    (Decimal('0.15'), Decimal('0.10'))
    """
    for standard in _TOLERANCES[side]:
        for one in tolerances().get((standard, element), ()):
            if one.over <= limit <= one.up_to:
                return one
    return None
