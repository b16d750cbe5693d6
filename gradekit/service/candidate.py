"""What is known of a steel that is compared: a standard grade, or one heat."""

from __future__ import annotations

import operator
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from typing import TypeAlias

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike
from gradekit.core.errors import NOTHING, InputError, said
from gradekit.core.sources import weakest
from gradekit.heats.batch import as_batch
from gradekit.relations.evaluate import evaluate
from gradekit.relations.groups import FERRITIC, MARTENSITIC
from gradekit.relations.steels import families_by_votes, with_family
from gradekit.service.needs import Service
from gradekit.service.tables import cell_number, judged
from gradekit.standards.grades import Grade, grade, grades
from gradekit.standards.names import names_in, other_name
from gradekit.standards.nearest import nearest_grades
from gradekit.standards.tables import EVIDENCE

_INDEX = ("Cr", "Mo", "W", "N")
#: What a name of another standard is to the grade whose limits are held.
_HOW = {
    "same": "{name} ({system}) is this grade",
    "near": "{name} ({system}) is near this grade, not the same: check its own limits",
    "casting": "{name} is a casting: judged as wrought {number}; its limits and strength differ",
    "fastener": "{name} is a steel group of bolts: judged as {number}, which belongs to it",
}
_MOST_GRADES = 12  # more than ever overlap
#: As delivered for working; hardened states are bought by a code of their own.
_ANNEALED = ("+AT", "+A", "annealed", "+QT650", "")
_FORMS = {
    "cold rolled strip": ("C strip", "sheet", "flat", "C/H/P"),
    "hot rolled strip": ("H strip", "flat", "C/H/P"),
    "plate": ("P plate", "plate", "flat", "C/H/P"),
    "bar": ("bar",),
    "tube": ("tube", "W/S"),
    "wire": ("wire",),
    "spring strip": ("C strip", "sheet", "flat", "C/H/P"),
    "casting": ("casting",),
}


@dataclass(frozen=True, eq=False)
class Candidate:
    """A steel under comparison.

    Attributes
    ----------
    name : str
    grade : Grade
        The standard grade; for a heat the nearest one.
    steel : str
        Family as `gk.family` names it: that of the grade, of a heat in no grade its own.
    least, most : mapping of element to wt%
        What every heat keeps: the ends of the window, or the analysis itself.
    is_heat : bool
    inside : bool
        Whether it is the grade, or lies within every limit of it. Only then may lists that name
        the grade speak of this steel.
    parts : tuple of Candidate
        The grades of a dual certification, such as 304/304L; else empty.
    how : str
        What the name that was asked for is to the grade: '' its own, 'near', 'casting', 'fastener'.
    """

    name: str
    grade: Grade
    steel: str
    least: Mapping[str, float]
    most: Mapping[str, float]
    is_heat: bool = False
    inside: bool = True
    status: str = "memory"
    remarks: tuple[str, ...] = ()
    parts: tuple[Candidate, ...] = ()
    how: str = ""

    def __repr__(self) -> str:
        return f"Candidate {self.name}: {self.detailed_family}"

    @property
    def number(self) -> str:
        """EN number of the grade, '' for a steel that lies in no grade."""
        return self.grade.number if self.inside else ""

    @property
    def title(self) -> str:
        """What lists are asked for: the grade's number, else the name."""
        return self.name if self.parts else self.number or self.name

    @property
    def detailed_family(self) -> str:
        return self.grade.family if self.steel == self.grade.steel else self.steel

    @cached_property
    def family(self) -> str:
        """austenitic, ferritic, duplex, martensitic or precipitation-hardening."""
        if self.steel in (*FERRITIC, "ferritic-martensitic"):
            return "ferritic"
        if self.steel in MARTENSITIC:
            return "martensitic"
        return self.steel if self.steel in ("duplex", "precipitation-hardening") else "austenitic"

    @property
    def attracted(self) -> bool:
        """Whether a magnet draws it; of steels hardened by ageing, one kind stays austenite."""
        return self.family != "austenitic" and self.detailed_family != "PH austenitic"

    @property
    def manganese_type(self) -> bool:
        return "CrMn" in self.detailed_family

    @property
    def molybdenum_type(self) -> bool:
        """Whether molybdenum is a main addition: 1.5 % parts the kinds of 316 from those of 304."""
        return self.least.get("Mo", 0.0) >= 1.5

    @property
    def stabilised(self) -> bool:
        return "stabilised" in self.detailed_family or "(Cu, Nb)" in self.detailed_family

    @property
    def free_machining(self) -> bool:
        return "free machining" in self.detailed_family

    @property
    def heat_resisting(self) -> bool:
        return "heat-resisting" in self.detailed_family

    @property
    def hardens(self) -> bool:
        """Whether a heat treatment hardens it: quenching, or ageing."""
        return self.family in ("martensitic", "precipitation-hardening")

    @cached_property
    def pitting_index(self) -> float | None:
        """Index of the family at the poorest composition that still is this steel; None for
        martensitic and precipitation-hardening steel, for which the index is not used."""
        return None if self.hardens else _index(self.index_name, self.poorest)

    @property
    def index_name(self) -> str:
        """Name of the relation that gives the index of its family."""
        return "pre_ferritic" if self.family == "ferritic" else "pren_16n_w"

    @cached_property
    def pitting_index_most(self) -> float | None:
        """The same index at the richest composition."""
        if self.pitting_index is None:
            return None
        richest = {e: self.highest(e) for e in _INDEX}
        return max(self.pitting_index, _index(self.index_name, richest))

    @cached_property
    def pitting_index_manganese(self) -> float:
        """30N − Mn form of the index, at the highest manganese of the window."""
        return _index("pren_mn_rondelli_1995", self.poorest | {"Mn": self.highest("Mn")})

    @cached_property
    def index_in_water(self) -> float | None:
        """Index by which chloride limits are read: the lower one where manganese is high."""
        if self.pitting_index is None or self.highest("Mn") <= judged("manganese_doubt"):
            return self.pitting_index
        return min(self.pitting_index, self.pitting_index_manganese)

    @property
    def poorest(self) -> dict[str, float]:
        """What it holds at least of the elements that resist pitting, wt%."""
        return {e: self.least.get(e, 0.0) for e in _INDEX}

    def highest(self, element: str) -> float:
        """Highest content that is known, wt%; 0 where none is."""
        return self.most.get(element, self.least.get(element, 0.0))

    @cached_property
    def md30(self) -> tuple[float, float] | None:
        """Lowest and highest Md30 (°C) over the forms that hold, at the least stable end of the
        window; None where none was made from such steel."""
        return _md30_of([self])[0] if self.steel == "austenitic" else None

    @property
    def stays_austenite(self) -> bool:
        """Whether every form of Md30 that holds says that cold forming leaves it austenite."""
        return self.md30 is not None and self.md30[1] <= judged("stable_md30")

    @cached_property
    def _listed(self) -> list[dict]:
        every = self.grade.properties.to_dict("records")
        # an EN number is held to EN: what its standard leaves out is not borrowed from another
        european = [row for row in every if row["standard"].startswith("EN")]
        return [row for row in european or every if row["condition"] in _ANNEALED]

    def listed_as(self, form: str) -> bool:
        """Whether a table names this form of the steel, at any thickness."""
        forms = [row["product_form"] for s in self.parts or (self,) for row in s._listed]
        return any(product.startswith((*_FORMS[form], "all,")) for product in forms)

    def properties(self, form: str, thickness_mm: float) -> dict | None:
        """Return the minimum properties that the standards give for a form and thickness.

        Returns
        -------
        dict or None
            `rp02` and `rm` (MPa), `elongation` (%), `standard`, `product`, `status`; None where
            no table names this form at this thickness.
        """
        if not self.inside:
            return None
        if self.parts:
            each = [steel.properties(form, thickness_mm) for steel in self.parts]
            held = [one for one in each if one is not None]
            return _higher_of(held) if len(held) == len(each) else None
        for row in self._listed:
            if _fits(row["product_form"], form, thickness_mm):
                return {
                    "rp02": cell_number(row["rp02_min_MPa"]),
                    "rm": cell_number(row["rm_min_MPa"]),
                    "elongation": cell_number(row["a_min_pct"]),
                    "standard": row["standard"],
                    "product": row["product_form"],
                    "status": EVIDENCE[row["evidence"]],
                }
        return None

    def minimum(self, what: str, service: Service) -> float | None:
        """Return one of these minimum properties for the form and thickness of a service."""
        return (self.properties(service.form, service.thickness_mm) or {}).get(what)


#: Whatever `candidate` makes a candidate of.
CandidateLike: TypeAlias = Candidate | Grade | HeatsLike


def candidate(what: CandidateLike) -> Candidate:
    """Make a candidate of a grade name, a heat, or a candidate.

    Parameters
    ----------
    what : str, Grade, Candidate, or anything `as_batch` takes with one heat

    Examples
    --------
    >>> candidate("1.4301").family, candidate("1.4016").family
    ('austenitic', 'ferritic')
    """
    if isinstance(what, Candidate):
        return what
    if isinstance(what, Grade):
        return _from_grade(what.number)
    if isinstance(what, str):
        return _from_grade(what.strip())
    batch = as_batch(what)
    if len(batch) != 1:
        raise InputError("candidate", "a grade name or one heat", said(f"{len(batch)} heats"))
    return _from_heats(f"heat {batch.index[0]}", batch)


def works_grade(name: str, heats: HeatsLike) -> Candidate:
    """Make a candidate of the works' own grade: the window that its heats have kept.

    Parameters
    ----------
    name : str
        What it is called.
    heats : anything `as_batch` takes
        Heats of one grade, wt%.

    Returns
    -------
    Candidate
        Judged at the ends of what the heats show, as the family of the grade that holds them all,
        else that of their mean; lists that name a grade count only if every heat lies inside it.

    Raises
    ------
    InputError
        An empty name, no heat, or heats that cannot be read.

    Examples
    --------
    >>> own = works_grade("TW-X", {"H1": {"C": .02, "Cr": 18.1, "Ni": 8.1},
    ...                            "H2": {"C": .03, "Cr": 18.3, "Ni": 8.3}})
    >>> own.least["Cr"], own.most["Cr"], own.family
    (18.1, 18.3, 'austenitic')
    """
    if not isinstance(name, str) or not name.strip():
        raise InputError("name of the grade", "text such as 'TW-18L'", name)
    batch = as_batch(heats)
    if not len(batch):
        raise InputError("heats", "at least one", NOTHING)
    return _from_heats(name, batch)


@cache
def standard_candidates() -> tuple[Candidate, ...]:
    """Return every grade of the tables as a candidate, the pitting indices worked out at once."""
    steels = [_from_grade(number) for number in dict.fromkeys(grades()["grade"])]
    # all at once what the cached properties would find one by one
    frame = pd.DataFrame([s.poorest for s in steels])
    indices = evaluate(frame, ["pre_ferritic", "pren_16n_w"]).values
    for steel, (ferritic, other) in zip(steels, indices.to_numpy(), strict=True):
        if not steel.hardens:
            index = ferritic if steel.family == "ferritic" else other
            steel.__dict__["pitting_index"] = float(index)
    austenitic = [s for s in steels if s.steel == "austenitic"]
    for steel, md30 in zip(austenitic, _md30_of(austenitic), strict=True):
        steel.__dict__["md30"] = md30
    return tuple(steels)


def _index(name: str, contents: Mapping[str, float]) -> float:
    return float(evaluate(contents, name).values.iloc[0, 0])


def _md30_of(steels: list[Candidate]) -> list[tuple[float, float] | None]:
    names = ("C", "N", "Si", "Mn", "Cr", "Ni", "Mo", "Cu", "Nb")
    heats = pd.DataFrame([{e: s.least.get(e, 0.0) for e in names} for s in steels])
    known = with_family(heats, pd.Series([s.steel for s in steels], heats.index))
    spread = evaluate(known, "Md30", grain_size_astm=8).spread
    ends = zip(spread["low"].map(float), spread["high"].map(float), strict=True)
    return [(low, high) if np.isfinite(high) else None for low, high in ends]


@cache
def _from_grade(name: str) -> Candidate:
    if parts := names_in(name):
        return _dual(name, parts)
    named = grade(name)
    window = named.windows[0]
    least, most = {}, {}
    for limit in window.limits:
        if "+" in limit.element or limit.element == "PREN":
            continue
        if limit.low is not None:
            least[limit.element] = float(limit.low)
        if limit.high is not None:
            most[limit.element] = float(limit.high)
    statuses = [limit.status for limit in window.limits]
    status = next((s for s in ("memory", "conflicting") if s in statuses), statuses[0])
    label = name if name == named.number else f"{name} ({named.number})"
    other = other_name(name)
    remarks = (_HOW[other["how"]].format(**other),) if other else ()
    how = "" if other is None or other["how"] == "same" else other["how"]
    return Candidate(
        label, named, named.steel, least, most, status=status, remarks=remarks, how=how
    )


def _dual(name: str, names: list[str]) -> Candidate:
    """Steel that carries several grades at once: the window all leave, the strength of the higher.

    Lists are asked by the grade with the least carbon.
    """
    parts = tuple(map(_from_grade, names))
    leanest = min(parts, key=lambda steel: steel.highest("C"))
    least = pd.DataFrame([steel.least for steel in parts]).max().to_dict()
    most = pd.DataFrame([steel.most for steel in parts]).min().to_dict()
    numbers = "/".join(dict.fromkeys(steel.grade.number for steel in parts))
    label = name if name == numbers else f"{name} ({numbers})"
    told = ("carries both: the window that both leave, the strength of the higher",)
    status = weakest(*(steel.status for steel in parts))
    filed, kind = leanest.grade, leanest.steel
    return Candidate(label, filed, kind, least, most, status=status, remarks=told, parts=parts)


def _higher_of(minima: list[dict]) -> dict:
    """The minimum properties that meet every one of several."""
    numbers = {
        key: max((f[key] for f in minima if f[key] is not None), default=None)
        for key in ("rp02", "rm", "elongation")
    }
    texts = {
        key: " + ".join(dict.fromkeys(f[key] for f in minima)) for key in ("standard", "product")
    }
    return numbers | texts | {"status": weakest(*(f["status"] for f in minima))}


def _from_heats(name: str, batch: pd.DataFrame) -> Candidate:
    near = nearest_grades(batch.mean().to_frame("mean").T, n=1).iloc[0]
    # a steel may lie in several grades; the first that holds every heat speaks for it
    each = nearest_grades(batch, n=_MOST_GRADES)
    held = each.loc[each["distance"] == 0].groupby("grade", sort=False).size()
    common = held.index[held == len(batch)]
    inside = len(common) > 0
    number = near["grade"] if near["grade"] in common or not inside else common[0]
    relative = grade(number)
    least = {e: float(v) for e, v in batch.min().items() if np.isfinite(v)}
    most = {e: float(v) for e, v in batch.max().items() if np.isfinite(v)}
    own = families_by_votes(batch.mean().to_frame("mean").T).iloc[0]
    steel = relative.steel if inside or not own else own
    told = (
        f"within every limit of {relative.number} that was reported"
        if inside
        else f"{'in no grade' if len(batch) == 1 else 'not every heat in one grade'}: "
        f"judged as {steel} steel; the nearest is {relative.number} ({near['separates']})"
    )
    more = () if len(batch) == 1 else (f"judged at the ends of {len(batch)} heats",)
    return Candidate(
        name, relative, steel, least, most, is_heat=True, inside=inside, status="verified",
        remarks=(told, *more),
    )  # fmt: skip


def _fits(product: str, form: str, thickness_mm: float) -> bool:
    """Whether a form of the tables, such as 'P plate <=75 mm', holds for what is ordered."""
    if not product.startswith((*_FORMS[form], "all,")):
        return False
    bounds = re.findall(r"([<>]=?) ?([\d.]+)", product)
    return all(_BEYOND[sign](thickness_mm, float(size)) for sign, size in bounds)


_BEYOND = {"<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge}
