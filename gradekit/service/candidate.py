"""What is known of a steel that is compared: a standard grade, or one heat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd

from gradekit.composition import as_batch
from gradekit.errors import InputError, said
from gradekit.evaluate import evaluate
from gradekit.grade_near import nearest_grades
from gradekit.grades import Grade, grade

__all__ = ["Candidate", "candidate"]

_STATES = {
    "read in two independent publications": "verified",
    "read in one publication": "verified",
    "trade memory": "memory",
    "conflicting": "conflicting",
}
_FORMS = {
    "cold rolled strip": ("C strip", "sheet", "flat", "C/H/P"),
    "hot rolled strip": ("H strip", "flat", "C/H/P"),
    "plate": ("P plate", "plate", "flat", "C/H/P"),
    "bar": ("bar",),
}


@dataclass(frozen=True, eq=False)
class Candidate:
    """A steel under comparison.

    Attributes
    ----------
    name : str
    grade : Grade or None
        The standard grade; for a heat the nearest one, whose family it takes.
    least, most : mapping of element to wt%
        What every heat keeps: the ends of the window, or the analysis itself.
    is_heat : bool
    """

    name: str
    grade: Grade
    least: Mapping[str, float]
    most: Mapping[str, float]
    is_heat: bool = False
    status: str = "memory"
    remarks: tuple[str, ...] = field(default=())

    @property
    def number(self) -> str:
        """EN number of the grade."""
        return self.grade.number

    @property
    def detailed_family(self) -> str:
        return self.grade.family

    @cached_property
    def family(self) -> str:
        """austenitic, ferritic, duplex, martensitic or precipitation hardening."""
        words = self.grade.family
        if words.startswith("PH"):
            return "precipitation hardening"
        for family in ("ferritic", "duplex", "martensitic"):
            if family in words:
                return family
        return "austenitic"

    @property
    def manganese_type(self) -> bool:
        return "CrMn" in self.grade.family

    @property
    def stabilised(self) -> bool:
        return "stabilised" in self.grade.family or "(Cu, Nb)" in self.grade.family

    @property
    def free_machining(self) -> bool:
        return "free machining" in self.grade.family

    @cached_property
    def pitting_index(self) -> float:
        """Index of the family, at the poorest composition that still is this steel."""
        name = "pre_ferritic" if self.family == "ferritic" else "pren_16n_w"
        heat = {e: self.least.get(e, 0.0) for e in ("Cr", "Mo", "W", "N")}
        return float(evaluate(heat, name).values.iloc[0, 0])

    @cached_property
    def md30(self) -> tuple[float, float] | None:
        """Lowest and highest Md30 (°C) over the forms, at the least stable end of the window."""
        if self.family != "austenitic":
            return None
        names = ("C", "N", "Si", "Mn", "Cr", "Ni", "Mo", "Cu", "Nb")
        heat = {e: self.least.get(e, 0.0) for e in names}
        result = evaluate(heat, "Md30", grain_size_astm=8)
        row = result.spread.iloc[0]
        return float(row["low"]), float(row["high"])

    def properties(self, form: str, thickness_mm: float) -> dict | None:
        """Return the minimum properties that the standards give for a form and thickness.

        Returns
        -------
        dict or None
            `rp02` and `rm` (MPa), `elongation` (%), `standard`, `product`, `status`; None where
            no table names this form at this thickness.
        """
        table = self.grade.properties.to_dict("records")
        # an EN number is held to EN: what its standard leaves out is not borrowed from another
        european = [row for row in table if row["standard"].startswith("EN")]
        found = [
            row
            for row in european or table
            if _fits(row["product_form"], form, thickness_mm)
            and row["condition"] in ("+AT", "+A", "annealed", "+QT650", "")
        ]
        if not found:
            return None
        row = found[0]
        return {
            "rp02": _number(row["rp02_min_MPa"]),
            "rm": _number(row["rm_min_MPa"]),
            "elongation": _number(row["a_min_pct"]),
            "standard": row["standard"],
            "product": row["product_form"],
            "status": _STATES.get(row["evidence"], row["evidence"]),
        }


def candidate(what: object) -> Candidate:
    """Make a candidate of a grade name, a heat, or a candidate.

    Parameters
    ----------
    what : str, Grade, or anything `as_batch` takes with one heat

    Examples
    --------
    >>> candidate("1.4301").family, candidate("1.4016").family
    ('austenitic', 'ferritic')
    """
    if isinstance(what, Candidate):
        return what
    if isinstance(what, Grade):
        return _from_grade(what.number, what)
    if isinstance(what, str):
        return _from_grade(what, grade(what))
    batch = as_batch(what)
    if len(batch) != 1:
        raise InputError("candidate", "a grade name or one heat", said(f"{len(batch)} heats"))
    return _from_heat(batch)


def _from_grade(name: str, found: Grade) -> Candidate:
    window = found.windows[0]
    least, most = {}, {}
    for limit in window.limits:
        if "+" in limit.element or limit.element == "PREN":
            continue
        if limit.low is not None:
            least[limit.element] = float(limit.low)
        if limit.high is not None:
            most[limit.element] = float(limit.high)
    status = (
        "memory" if any(x.status == "memory" for x in window.limits) else window.limits[0].status
    )
    label = name if name == found.number else f"{name} ({found.number})"
    return Candidate(label, found, least, most, status=status)


def _from_heat(batch: pd.DataFrame) -> Candidate:
    near = nearest_grades(batch, n=1)
    relative = grade(str(near.iloc[0]["grade"] if "grade" in near else near.index[0]))
    known = {e: float(v) for e, v in batch.iloc[0].items() if np.isfinite(v)}
    return Candidate(
        f"heat {batch.index[0]}",
        relative,
        known,
        known,
        is_heat=True,
        status="verified",
        remarks=(f"judged as the family of its nearest grade, {relative.number}",),
    )


def _fits(product: str, form: str, thickness_mm: float) -> bool:
    if not any(product.startswith(start) for start in _FORMS[form]):
        return False
    words = product.replace("<=", " <= ").replace(">=", " >= ").replace("<", " < ").split()
    for sign, size in zip(words, words[1:], strict=False):
        try:
            limit = float(size)
        except ValueError:
            continue
        if (sign == "<=" and thickness_mm > limit) or (sign == ">" and thickness_mm <= limit):
            return False
    return True


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")
