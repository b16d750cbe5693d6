"""From where a part stands to the corrosion class that its grade must have.

The factor and class scheme of the annex to EN 1993-1-4: CRF = F1 (chlorides) + F2 (sulphur
dioxide) + F3 (cleaning). F1, F2 and F3 were read; class bounds, grade lists and the rules for
pools are from memory, and every class says so.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from gradekit.core.errors import InputError, one_of
from gradekit.core.markup import number
from gradekit.service.finding import Finding
from gradekit.service.tables import rows

CLASSES = ("I", "II", "III", "IV", "V")
#: Accepted words of each field of `Atmosphere`, with the key of the table they stand for.
WORDS: dict[str, dict[str, str]] = {
    "coast": {"other European": "7", "North Sea (Germany) or Baltic": "6"},
    "so2": {"low": "1", "medium": "2", "high": "3"},
    "washing": {"rain": "1", "cleaned on a plan": "2", "none": "3"},
    "pool": {
        "no": "",
        "cleaned at least weekly": "weekly",
        "cleaned less often": "less",
        "fasteners or threaded parts": "less",
    },
}


@dataclass(frozen=True, kw_only=True)
class Atmosphere:
    """Where the part stands.

    Parameters
    ----------
    indoors : bool
        In a controlled indoor climate.
    sea_km : float
        Distance to the sea, km.
    salted_road_km : float
        Distance to roads with de-icing salt, km.
    salted_tunnel : bool
        In a road tunnel where de-icing salt is used.
    coast, so2, washing, pool : str
        One of `WORDS`.
    """

    indoors: bool = False
    sea_km: float = 100.0
    salted_road_km: float = 10.0
    salted_tunnel: bool = False
    coast: str = "other European"
    so2: str = "low"
    washing: str = "rain"
    pool: str = "no"

    def __post_init__(self) -> None:
        for name, words in WORDS.items():
            one_of(name, getattr(self, name), list(words))
        for name in ("sea_km", "salted_road_km"):
            given = getattr(self, name)
            if isinstance(given, bool) or not isinstance(given, (int, float)) or not given >= 0:
                raise InputError(name, "a distance in km, not negative", given)
        for name in ("indoors", "salted_tunnel"):
            if not isinstance(getattr(self, name), bool):
                raise InputError(name, "True or False", getattr(self, name))


@dataclass(frozen=True)
class Exposure:
    """The factors of a place and the class that follows."""

    factors: tuple[int, int, int] | None  # None where a rule of its own gives the class
    total: int | None
    crc: str
    status: str
    reasons: tuple[str, ...]

    @property
    def words(self) -> str:
        """The class with how it was reached."""
        if self.factors is None:
            return f"class {self.crc}"
        f1, f2, f3 = self.factors
        return f"CRF = {f1} + {f2} + {f3} = {self.total}, class {self.crc}".replace("-", "−")


def classify(place: Atmosphere) -> Exposure:
    """Return factors and corrosion resistance class of a place.

    Parameters
    ----------
    place : Atmosphere

    Returns
    -------
    Exposure
        Status 'memory': the class bounds are recalled, the factors were read.

    Examples
    --------
    >>> classify(Atmosphere(sea_km=0.5, washing="none")).words
    'CRF = −7 + 0 + −7 = −14, class III'
    """
    if place.pool != "no":
        return _pool(place)
    f1, why1 = _f1(place)
    f2, why2 = _factor("f2", WORDS["so2"][place.so2])
    # no rain falls indoors or in a tunnel
    dry = (place.indoors or place.salted_tunnel) and place.washing == "rain"
    f3, why3 = _factor("f3", WORDS["washing"]["none" if dry else place.washing])
    if f1 + f2 >= 0:
        f3, why3 = 0, "F1 + F2 is not below 0: cleaning does not count"
    total = f1 + f2 + f3
    return Exposure((f1, f2, f3), total, class_of_factor(total), "memory", (why1, why2, why3))


def class_of_factor(total: int) -> str:
    """Return the class of a corrosion resistance factor.

    Examples
    --------
    >>> class_of_factor(-14)
    'III'
    """
    table = (r for r in rows("atmosphere_class") if r["part"] == "crf_to_crc")
    (crc,) = (r["value"] for r in table if _holds(r["key"], total))
    return crc


def _pool(place: Atmosphere) -> Exposure:
    # An indoor pool is classed by its cleaning, not by the factor.
    crc = "III" if WORDS["pool"][place.pool] == "weekly" else "V"
    return Exposure(None, None, crc, "memory", (f"indoor pool, {place.pool}",))


def _f1(place: Atmosphere) -> tuple[int, str]:
    if place.indoors:
        return _factor("f1", "1")
    keys = ["2"]
    if place.sea_km <= 10 or place.salted_road_km <= 0.1:
        keys.append("3")
    if place.sea_km <= 1 or place.salted_road_km <= 0.01:
        keys.append("4")
    if place.salted_tunnel:
        keys.append("5")
    if place.sea_km <= 0.25:
        keys.append(WORDS["coast"][place.coast])
    # where several hold, the harshest counts
    return min((_factor("f1", key) for key in keys), key=lambda found: found[0])


@cache
def _parts() -> dict[tuple[str, str], dict[str, str]]:
    return {(r["part"], r["key"]): r for r in rows("atmosphere_class")}


def _factor(part: str, key: str) -> tuple[int, str]:
    row = _parts()[part, key]
    return int(row["value"]), row["meaning"]


def _holds(bound: str, total: int) -> bool:
    """Whether a bound of the table, 'CRF = 1', '0 >= CRF > -7' or 'CRF < -20', holds for a sum."""
    ends = [int(n) for n in re.findall(r"-?\d+", bound)]
    if len(ends) == 1:
        return total >= ends[0] if "=" in bound else total < ends[0]
    high, low = ends
    return high >= total and (total >= low if bound.count(">=") == 2 else total > low)


@cache
def grades_of_class() -> dict[str, tuple[str, ...]]:
    """Return the EN numbers listed for each class.

    Examples
    --------
    >>> "1.4404" in grades_of_class()["III"]
    True
    """
    return {
        r["key"]: tuple(r["value"].split() or r["meaning"].split())
        for r in rows("atmosphere_class")
        if r["part"] == "crc_grades"
    }


@cache
def excluded_from_pools(pool: str) -> tuple[str, ...]:
    """Return grades of the class lists that may not be used above an indoor pool.

    Parameters
    ----------
    pool : str
        One of `WORDS["pool"]`.

    Examples
    --------
    >>> excluded_from_pools("cleaned less often")
    ('1.4410', '1.4501', '1.4507')
    """
    key = WORDS["pool"][pool]
    if not key:
        return ()
    lines = [r for r in rows("atmosphere_class") if r["part"] == "pool"]
    row = next(r for r in lines if ("every week" in r["key"]) == (key == "weekly"))
    return tuple(re.findall(r"1\.\d{4}", row["meaning"].partition("excluding")[2]))


def class_of(number: str) -> str | None:
    """Return the class in which a grade is listed, None where no list names it."""
    return next((c for c, listed in grades_of_class().items() if number in listed), None)


def figures_of(f: Finding, between: str) -> str:
    """Return number and limit of a finding with their unit, classes by their names."""
    if f.unit.startswith("class"):
        return f" {between} ".join(
            CLASSES[int(k) - 1] for k in (f.number, f.limit) if k is not None
        )
    return f"{number(f.number, 3)} {between} {number(f.limit, 3)} {f.unit}"
