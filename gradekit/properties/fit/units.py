"""What a column is measured in, by its name, and what betrays that two units were mixed."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from gradekit.core.aliases import Label
from gradekit.core.errors import InputError, said
from gradekit.properties.fit.source import numbers

KSI = 6.894757
# A single letter is a unit only behind '_' or in brackets: 'Total C' is carbon.
_UNITS = {
    "MPa": r"MPa|N/mm[2²]", "ksi": "ksi", "psi": "psi", "%": "pct|%|percent", "°C": r"°\s?C|degC",
    "K": "kelvin", "°F": r"°\s?F|degF", "µm": "[uµμ]m", "mm": "mm", "HV": r"HV\d*", "HB": r"HBW?",
    "mV": "mV",
}  # fmt: skip
_LETTERS = {"C": "°C", "K": "K", "F": "°F", "J": "J"}
_TAIL = re.compile(r"(?P<name>.*?)(?P<part>[\s_,/(\[]+)(?P<unit>[^\s_,()\[\]]+|°\s?[CF])[)\]]?\s*")
# How laboratories head the columns that published relations call otherwise.
_QUANTITIES = {
    "proof strength": r"rp0[.,]?2|ys|0[.,]2\s*%?\s*(proof|yield).*|(proof|yield) (strength|stress)",
    "tensile strength": r"rm|uts|(ultimate )?tensile (strength|stress)",
    "critical pitting temperature": "cpt|critical pitting temperature",
    "ferrite number": "fn|ferrite number",
}
_STRENGTHS = ("proof strength", "tensile strength")
_AS_KSI = 100.0  # the median of a table of strengths in MPa lies above, in ksi below
_ROOM_K = (293.0, 293.15, 296.15, 298.15)


def unit_of(header: Label) -> str:
    """Return the unit at the end of a header, '' where none is known.

    Examples
    --------
    >>> [unit_of(h) for h in ("Rp0.2 (MPa)", "proof_strength_MPa", "T [K]", "Total C", "A5 %")]
    ['MPa', 'MPa', 'K', '', '%']
    """
    return _parted(header)[1]


def quantity_in_header(header: Label) -> str:
    """Return what a header measures, in the words of the catalogue where they are known.

    Examples
    --------
    >>> quantity_in_header("Rp0.2 (MPa)"), quantity_in_header("fatigue_limit_MPa")
    ('proof strength', 'fatigue limit')
    """
    name = re.sub(r"[\s_]+", " ", _parted(header)[0]).strip()
    for quantity, words in _QUANTITIES.items():
        if re.fullmatch(words, name, re.IGNORECASE):
            return quantity
    return name


def _parted(header: Label) -> tuple[str, str]:
    text = str(header)
    match = _TAIL.fullmatch(text)
    if match:
        unit = match["unit"]
        if unit in _LETTERS and match["part"].strip():
            return match["name"], _LETTERS[unit]
        for name, words in _UNITS.items():
            if re.fullmatch(words, unit, re.IGNORECASE):
                return match["name"], name
    return text, ""


def refuse_unit(column: Label, expected: str, asked: str) -> None:
    """Refuse a column whose name states another unit than is asked for."""
    stated = unit_of(column)
    if stated and expected and stated != expected:
        must = f"in {expected}, as {asked} is"
        raise InputError(f"column '{column}'", must, said(f"{stated}, by its name"))


def refuse_sizes(values: dict) -> None:
    """Refuse a grain size in millimetres and temperatures in kelvin."""
    grain = values.get("grain_size_um")
    if grain is not None and np.nanmedian(grain) < 0.5:
        raise InputError(
            "grain_size_um", "µm", said(f"a median of {np.nanmedian(grain):g}, as in mm")
        )
    hot = values.get("temperature_C")
    if hot is not None and np.isfinite(hot).any():
        least = np.nanmin(hot)
        if least in (295.0, 295.15, 298.0) or np.isin(hot, _ROOM_K).any():
            kelvin = least if least > 200 else hot[np.isin(hot, _ROOM_K)][0]
            raise InputError("temperature_C", "°C", said(f"{kelvin:g}, as in K"))


def refuse_strengths(frame: pd.DataFrame, target: str, y: np.ndarray, stated: str | None) -> None:
    """Refuse ksi among MPa: by name, in some rows, or in a whole column beside others.

    A unit stated by the user counts; only the name may still contradict it.
    """
    named = unit_of(target)
    for unit in (named, stated):
        if unit in ("ksi", "psi"):
            advice = f"MPa = {KSI:.3f} ksi" if unit == "ksi" else "MPa = psi / 145.04"
            raise InputError(f"column '{target}'", "in MPa", said(f"{unit}, by its name"), advice)
    if (stated or named) != "MPa":
        return
    known = y[np.isfinite(y)]
    if (known <= 0).any():
        row = frame.index[np.nanargmin(y)]
        raise InputError(f"column '{target}', row {row}", "a positive strength", float(known.min()))
    if stated is None:
        _refuse_rows(frame, target, y)
        _refuse_column(frame, target, known)
    _refuse_order(frame, target, y)


def _refuse_rows(frame: pd.DataFrame, target: str, y: np.ndarray) -> None:
    """Refuse rows that are a seventh of the others, with a gap between."""
    ordered = np.sort(np.log(y[np.isfinite(y)]))
    gaps = np.diff(ordered)
    if not len(gaps) or gaps.max() < np.log(2):
        return
    at = int(gaps.argmax()) + 1
    low, high = ordered[:at], ordered[at:]
    apart = np.median(high) - np.median(low)
    together = np.std(np.concatenate([low + np.log(KSI), high]))
    if abs(apart - np.log(KSI)) < 0.5 and together < np.std(ordered) / 2:
        rows = frame.index[np.log(np.where(y > 0, y, np.nan)) <= low[-1]]
        shown = ", ".join(map(str, rows[:5])) + (" and more" if len(rows) > 5 else "")
        raise InputError(
            f"column '{target}'", "in one unit",
            said(f"{len(low)} of {len(ordered)} values a seventh of the others, as ksi among"
                 f" MPa (row {shown}: {np.nanmin(y):g})"),
            _advice(),
        )  # fmt: skip


def _refuse_column(frame: pd.DataFrame, target: str, known: np.ndarray) -> None:
    """Refuse a target of the size of ksi, by itself or beside another column in MPa."""
    median = float(np.median(known)) if len(known) else np.nan
    for other in frame.columns:
        if other == target or unit_of(other) != "MPa":
            continue
        beside = np.nanmedian(numbers(frame[other], other, "MPa"))
        if median / beside < 0.19:
            raise InputError(
                f"column '{target}'", "in MPa",
                said(f"a median of {median:g}, where '{other}' has {beside:g}: as ksi among MPa"),
                _advice(),
            )  # fmt: skip
    if quantity_in_header(target) in _STRENGTHS and median < _AS_KSI:
        got = said(f"a median of {median:g}, as in ksi")
        raise InputError(f"column '{target}'", "in MPa", got, _advice())


def _refuse_order(frame: pd.DataFrame, target: str, y: np.ndarray) -> None:
    """Refuse a tensile strength below the proof strength of the same test."""
    mine = quantity_in_header(target)
    if mine not in _STRENGTHS:
        return
    for other in frame.columns:
        if unit_of(other) != "MPa" or {quantity_in_header(other), mine} != set(_STRENGTHS):
            continue
        values = numbers(frame[other], other, "MPa")
        proof, tensile = (y, values) if mine == "proof strength" else (values, y)
        wrong = tensile < 0.98 * proof
        if wrong.any():
            at = int(np.flatnonzero(wrong)[0])
            low = other if tensile is values else target
            raise InputError(
                f"column '{low}', row {frame.index[at]}", "at least the proof strength",
                said(f"{tensile[at]:g} beside {proof[at]:g} MPa, in {int(wrong.sum())} rows:"
                     " columns exchanged, or ksi among MPa?"),
            )  # fmt: skip


def _advice() -> str:
    return f"MPa = {KSI:.3f} ksi; unit='MPa' if it is MPa"
