"""The tables of grades, read once and checked row by row.

`gradekit/reference/grades/` holds the limits as printed, the minimum properties, and for each
conflicting limit the forms that publications give. Limits stay decimal numbers with the digits of
the standard.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache, cached_property
from typing import TypeVar

from gradekit.core.elements import is_element
from gradekit.core.errors import InputError
from gradekit.core.linear import Sum
from gradekit.core.sources import REFERENCE
from gradekit.standards.rules import lines_of, quantity_of, read_rule

#: The evidence words of the tables and the status that each stands for.
EVIDENCE = {
    "read in two independent publications": "verified",
    "read in one publication": "verified",
    "trade memory": "memory",
    "conflicting": "conflicting",
}
_COLUMNS = (
    "en_number en_name uns common family element min max rule min_expression standard evidence note"
).split()
_T = TypeVar("_T")
_Head = tuple[str, str, str, str, str]  # the names of a window
_NUMBER = re.compile(r"\d{1,2}(\.\d{1,4})?")


@dataclass(frozen=True)
class Variant:
    """One form of a limit: its ends and computed minima, where it stands, and its status."""

    low: Decimal | None
    high: Decimal | None
    floors: tuple[Sum, ...]
    where: str
    status: str
    use: str = ""


def variant_in_words(form: Variant) -> str:
    """Return one form of a limit in words: '8.0 to 10.5', 'max 0.030', 'min 0.3 + 3 C'."""
    floor = " and ".join(map(str, form.floors)) or form.low
    if floor is None:
        return f"max {form.high}"
    return f"min {floor}" if form.high is None else f"{floor} to {form.high}"


@dataclass(frozen=True, eq=False)
class Limit:
    """One row of a standard's table.

    Attributes
    ----------
    element : str
        An element, a sum such as 'Ti+Nb', or 'PREN'.
    variants : tuple of Variant
        The form of the table first; more than one where publications disagree.
    """

    element: str
    quantity: Sum
    rule: str
    evidence: str
    note: str
    variants: tuple[Variant, ...]

    @property
    def low(self) -> Decimal | None:
        return self.variants[0].low

    @property
    def high(self) -> Decimal | None:
        return self.variants[0].high

    @property
    def floors(self) -> tuple[Sum, ...]:
        return self.variants[0].floors

    @property
    def status(self) -> str:
        return EVIDENCE[self.evidence]

    @property
    def unit(self) -> str:
        return "1" if self.element == "PREN" else "wt%"

    @property
    def needs(self) -> tuple[str, ...]:
        """The elements that it speaks of."""
        lines = [self.quantity, *(f for v in self.variants for f in v.floors)]
        return tuple(dict.fromkeys(e for line in lines for e in line.slopes))

    @cached_property
    def helps(self) -> frozenset[str]:
        """The elements that only lower a computed minimum; not reported, they count as 0."""
        lowered = {e for v in self.variants for f in v.floors for e, k in f.slopes.items() if k < 0}
        return frozenset(lowered - self.quantity.slopes.keys())

    def filled(self, contents: Mapping[str, _T], nothing: _T) -> Mapping[str, _T]:
        """Return contents in which such an element that is not there stands as `nothing`."""
        return {**dict.fromkeys(self.helps, nothing), **contents} if self.helps else contents


@dataclass(frozen=True, eq=False)
class Window:
    """The limits of one designation in one standard.

    EN numbers go with EN standards and UNS numbers with ASTM standards; `uns` of an EN window is
    the nearest American relative, `en_number` of an ASTM window the nearest European one.
    """

    en_number: str
    en_name: str
    uns: str
    common: str
    family: str
    standard: str
    limits: tuple[Limit, ...] = field(repr=False)

    @property
    def side(self) -> str:
        """'EN' or 'ASTM'."""
        return "EN" if self.standard.startswith("EN ") else "ASTM"

    @property
    def designation(self) -> str:
        return self.en_number if self.side == "EN" else self.uns

    @property
    def grade(self) -> str:
        """The name under which the window is filed: EN number, or UNS number without one."""
        return self.en_number or self.uns

    @cached_property
    def by_element(self) -> dict[str, Limit]:
        return {limit.element: limit for limit in self.limits}

    @property
    def title(self) -> str:
        return f"{self.designation} ({self.standard})"


@cache
def rows_of(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of one table of `gradekit/reference/grades/`, all texts."""
    with open(REFERENCE / "grades" / f"{name}.csv", encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


@cache
def windows() -> tuple[Window, ...]:
    """Return every window of the library, in the order of the table.

    Examples
    --------
    >>> [w.title for w in windows() if w.en_number == "1.4541"][:2]
    ['1.4541 (EN 10088-2:2014)', 'S32100 (ASTM A240/A240M)']
    """
    return read_windows(rows_of("grade_limits"), rows_of("limit_variants"))


def read_windows(
    limits: Iterable[Mapping[str, str]], variants: Iterable[Mapping[str, str]]
) -> tuple[Window, ...]:
    """Build windows from rows of limits and of variants; the first bad row is named."""
    other = _read_variants(variants)
    found: dict[tuple[str, str, str], tuple[_Head, dict[str, Limit]]] = {}
    names: dict[str, str] = {}
    for number, row in enumerate(limits, start=2):
        if missing := [c for c in _COLUMNS if c not in row]:
            raise InputError("grade_limits.csv", f"with the columns {', '.join(missing)}", [*row])
        en_number, uns, standard = row["en_number"], row["uns"], row["standard"]
        element = row["element"]
        place = f"grade_limits.csv, line {number} ({en_number or uns}, {standard}, {element})"
        if not re.fullmatch(r"(1\.\d{4})?", en_number):
            raise InputError(f"{place}, en_number", "such as 1.4301", en_number)
        if not re.fullmatch(r"([A-Z]\d{5})?", uns):
            raise InputError(f"{place}, uns", "such as S30400", uns)
        head = en_number, row["en_name"], uns, row["common"], row["family"]
        window = Window(*head, standard, ())
        if not standard or not window.designation:
            raise InputError(place, "a standard with its EN or UNS number", head)
        if names.setdefault(window.grade, window.en_name) != window.en_name:
            raise InputError(f"{place}, en_name", "the same in every row", window.en_name)
        first, under = found.setdefault((en_number, uns, standard), (head, {}))
        if first != head:
            raise InputError(f"{place}, names", f"those of the rows before, {first}", head)
        if element in under:
            raise InputError(f"{place}, element", "there once", element)
        variants_of = other.pop((window.designation, standard, element), ())
        under[element] = _limit(row, place, variants_of)
    if other:
        raise InputError("limit_variants.csv", "of a limit marked conflicting", next(iter(other)))
    return tuple(
        Window(*head, key[2], tuple(under.values())) for key, (head, under) in found.items()
    )


def _limit(row: Mapping[str, str], place: str, variants: tuple[Variant, ...]) -> Limit:
    element, rule, evidence = row["element"], row["rule"], row["evidence"]
    if element != "PREN" and not all(is_element(e) for e in element.split("+")):
        raise InputError(f"{place}, element", "an element, a sum of elements, or PREN", element)
    if evidence not in EVIDENCE:
        raise InputError(f"{place}, evidence", " | ".join(EVIDENCE), evidence)
    low, high, floors = _ends(row, place)
    quantity = _at(place, quantity_of, element, rule)
    _agree(row, place, floors)
    own = Variant(low, high, floors, row["standard"], EVIDENCE[evidence])
    if evidence == "conflicting":
        same = [v for v in variants if (v.low, v.high, v.floors) == (low, high, floors)]
        if not same or len(variants) < 2:
            raise InputError(
                f"{place}, conflicting", "in limit_variants.csv, this form and another", variants
            )
        variants = (same[0], *(v for v in variants if v is not same[0]))
    elif variants:
        raise InputError(f"{place}, evidence", "conflicting, as it has variants", evidence)
    return Limit(element, quantity, rule, evidence, row["note"], variants or (own,))


def _ends(
    row: Mapping[str, str], place: str
) -> tuple[Decimal | None, Decimal | None, tuple[Sum, ...]]:
    """Return the two ends and the computed minima of a row; min must lie below max."""
    low, high = (printed_number(row[c], f"{place}, {c}") for c in ("min", "max"))
    floors = _at(place, lines_of, row["min_expression"]) if row["min_expression"] else ()
    if low is None and high is None and not floors:
        raise InputError(place, "a min, a max or a min_expression", "an empty row")
    least = max([low or Decimal(0), *(f.constant for f in floors)])
    if high is not None and least >= high:
        raise InputError(f"{place}, min", f"below max {high}", str(least))
    return low, high, floors


def _agree(row: Mapping[str, str], place: str, floors: tuple[Sum, ...]) -> None:
    """The printed rule and the columns say the same thing twice; they must agree."""
    if not row["rule"]:
        if row["min_expression"]:
            raise InputError(f"{place}, rule", "given with a min_expression", row["min_expression"])
        return
    said = _at(place, read_rule, row["rule"])
    if row["element"] != "PREN" and said["quantity"] != row["element"]:
        raise InputError(f"{place}, rule", f"about {row['element']}", row["rule"])
    printed = _at(place, lines_of, said["floor"]) if "floor" in said else ()
    if printed != floors:
        raise InputError(
            f"{place}, min_expression", f"that of '{row['rule']}'", row["min_expression"]
        )
    for end in ("min", "max"):
        if said.get(end, "") != row[end]:
            raise InputError(f"{place}, {end}", f"that of '{row['rule']}'", row[end])


def _at(place: str, read, *given):
    """Call a reader and put the place into what it says."""
    try:
        return read(*given)
    except InputError as error:
        raise InputError(f"{place}, {error.what}", error.must_be, error.got) from error


def printed_number(text: str, place: str) -> Decimal | None:
    """Return a number with its printed digits, None for an empty cell."""
    if not text:
        return None
    if not _NUMBER.fullmatch(text):
        raise InputError(place, "a number as a standard prints it, such as 0.030", text)
    return Decimal(text)


def _read_variants(rows: Iterable[Mapping[str, str]]) -> dict[tuple, tuple[Variant, ...]]:
    variants: dict[tuple, tuple[Variant, ...]] = {}
    for number, row in enumerate(rows, start=2):
        key = (row["designation"], row["standard"], row["element"])
        place = f"limit_variants.csv, line {number} ({', '.join(key)})"
        if row["status"] not in ("verified", "memory"):
            raise InputError(f"{place}, status", "verified or memory", row["status"])
        new = Variant(*_ends(row, place), row["where"], row["status"], row["use"])
        variants[key] = (*variants.get(key, ()), new)
    return variants
