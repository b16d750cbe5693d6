"""Mechanical results of a certificate against the minimum properties of a designation."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from gradekit.core.aliases import Cell
from gradekit.core.verdicts import Verdict
from gradekit.heats.certificates.cells import parse_cell
from gradekit.standards.tables import Window, rows_of

#: How certificates head their columns, and what is meant.
_HEADS = {
    "Rp1.0": r"rp\s*1[.,]0.*",
    "Rp0.2": r"rp\s*0[.,]2.*|re[hl]?|yield.*|(?:0[.,]2\s*%?\s*)?proof.*|ys.*",
    "Rm": r"rm|uts|ts|tensile.*",
    "A": r"(?:a|el\.?|elongation)\s*(?:5|50|80)?(?:\s*mm)?",
    "HB": r"hbw?|hardness\s*hbw?|brinell.*",
    "HRB": r"hrbw?",
    "HRC": r"hrc",
}
_UNITS = {"": 1.0, "mpa": 1.0, "n/mm2": 1.0, "n/mm²": 1.0, "ksi": 6.894757, "%": 1.0}
#: No stainless steel has a strength below this in MPa; a smaller figure is in another unit.
_LEAST_MPA = 100.0


@dataclass(frozen=True)
class TestResult:
    """One test result: the property, its value (MPa, % or hardness), and how it was printed."""

    property: str
    value: float | None
    header: str
    printed: str
    trouble: str = ""


def read_results(columns: Mapping[str, Cell]) -> list[TestResult]:
    """Read the test results among the columns that came with a heat.

    Parameters
    ----------
    columns : mapping of header to entry

    Returns
    -------
    list of TestResult
        One for each entry under a header of a test; what cannot be read keeps its text and says
        why.

    Examples
    --------
    >>> [(r.property, r.value) for r in read_results({"Rm [MPa]": "604", "grade": "304"})]
    [('Rm', 604.0)]
    """
    results = []
    for header, entry in columns.items():
        name, unit = _head(str(header))
        if name is None or entry is None or entry != entry:
            continue
        value: float | None = None
        trouble = ""
        try:
            number, mark = parse_cell(entry)
        except ValueError:
            number, mark = float("nan"), str(entry)
        if mark or number != number:
            trouble = f"'{entry}' is no plain number"
        elif unit not in _UNITS:
            trouble = f"the unit '{unit}' is not known"
        elif name.startswith("R") and number * _UNITS[unit] < _LEAST_MPA:
            trouble = f"{entry} is no strength in MPa; which unit is not said"
        else:
            value = number * _UNITS[unit]
        results.append(TestResult(name, value, str(header), str(entry), trouble))
    return results


def _head(header: str) -> tuple[str | None, str]:
    text = re.sub(r"\s*\((?:test|\d+)\)$", "", header.strip())
    unit = ""
    if tail := re.fullmatch(r"(.*?)\s*(?:[\[(]\s*([^\])]*)[\])]|\b(MPa|N/mm[2²]|ksi|psi))", text):
        text, unit = tail[1], (tail[2] or tail[3] or "").lower().strip()
    for name, pattern in _HEADS.items():
        if re.fullmatch(pattern, text.strip(), re.I):
            return name, unit
    return None, ""


def judge_result(
    result: TestResult, window: Window, product_form: str | None = None
) -> tuple[Verdict, str, str]:
    """Return (verdict, status, reason) of one result.

    Minima differ with the product form; a verdict is given only where all the forms (or those
    whose name holds `product_form`) agree.
    """
    if result.value is None:
        return "not assessed", "", result.trouble
    forms = [
        (
            sign * (end - result.value) >= 0,
            read,
            f"{row['product_form']} {row['condition']}",
            f"{'max' if sign > 0 else 'min'} {end:g}",
        )
        for row in _rows(window)
        if (product_form or "").lower() in row["product_form"].lower()
        for sign, read, end in _ends(result.property, row)
    ]
    if not forms:
        form = f" as '{product_form}'" if product_form else ""
        return "not assessed", "", f"no {result.property} is held for {window.designation}{form}"
    bad = [f for f in forms if not f[0]]
    name = f"{result.property} {result.value:g}"
    told = "; ".join(dict.fromkeys(f"{form}: {end}" for _, _, form, end in bad))
    if bad and len({f[2] for f in bad}) < len({f[2] for f in forms}):
        return "not assessed", "", f"{name} depends on the product form, not met for {told}"
    status = "verified" if all(f[1] for f in bad or forms) else "memory"
    reason = f"{name} against {told}" if bad else ""
    if status == "memory" and not bad:
        reason = "minimum properties from trade memory"
    gauge = re.search(r"(50|80)", result.header)
    if result.property == "A" and gauge and window.side == "EN":
        reason = "; ".join(p for p in (reason, f"gauge length {gauge[1]} mm, the table has A") if p)
        status = "memory"
    return "stop" if bad else "ok", status, reason


def _rows(window: Window) -> list[dict[str, str]]:
    """Return the rows of properties of a designation, those of its own standard where there are."""
    every = rows_of("grade_properties")
    if window.side == "ASTM":
        rows = [row for row in every if row["uns"] == window.uns]
    else:
        rows = [r for r in every if r["en_number"] == window.en_number and not r["uns"]]
    first = re.split(r"[:/]", window.standard)[0]
    return [row for row in rows if row["standard"].startswith(first)] or rows


#: Of each property the columns of its limits, with the words for them in `cells_from_memory`.
_CELLS: dict[str, dict[str, tuple[str, ...]]] = {
    "Rp0.2": {"rp02_min_MPa": ("Rp0.2",)},
    "Rp1.0": {"rp10_min_MPa": ("Rp1.0",)},
    "Rm": {"rm_min_MPa": ("Rm",), "rm_max_MPa": ("Rm max", "Rm")},
    "A": {"a_min_pct": ("A",)},
}
_HARDNESS: dict[str, tuple[str, ...]] = {"hardness_max": ("HB", "hardness")}


def _ends(name: str, row: dict[str, str]) -> list[tuple[int, bool, float]]:
    """The ends that a row sets a property: which side, whether it was read, and where it lies."""
    ends = []
    for key, words in _CELLS.get(name, _HARDNESS).items():
        figure = re.search(r"[\d.]+" if name in _CELLS else rf"\b{name} (\d+)", row[key])
        if figure:
            sign = 1 if "max" in key else -1
            ends.append((sign, _read(row, words), float(figure[figure.lastindex or 0])))
    return ends


def _read(row: dict[str, str], words: tuple[str, ...]) -> bool:
    """Tell whether a cell of these words was read, and not recalled or in conflict."""
    recalled = [cell.strip() for cell in row["cells_from_memory"].split(";")]
    return row["evidence"].startswith("read") and not {"all", *words} & set(recalled)
