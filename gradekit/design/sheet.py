"""The melt-shop sheet: aim, minimum and maximum as a works writes them, with what they rest on."""

from __future__ import annotations

import os
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError
from gradekit.core.files import write_whole
from gradekit.core.markup import Part, flow, inline
from gradekit.core.pages import render
from gradekit.heats.writing import to_bytes
from gradekit.standards.tolerances import tolerance


def sheet_table(
    window: pd.DataFrame,
    sd: np.ndarray,
    windows: tuple,
    decimals: np.ndarray,
) -> pd.DataFrame:
    """Lay the window beside the grade's limits and the buyer's product tolerances.

    Returns
    -------
    DataFrame, one row an element
        `min`, `aim`, `max` as text in the works' decimals; `scatter` (standard deviation, wt%);
        `room` (the narrower side in standard deviations); `grade min`, `grade max`; the product
        tolerance at each; `reserve` (how far the window stays inside the grade, in tolerances).
    """
    limits = {row.element: row for row in windows}
    rows = {}
    for k, (element, low, aim, high) in enumerate(window.itertuples()):
        text = [f"{v:.{decimals[k]}f}" if np.isfinite(v) else "open" for v in (low, aim, high)]
        row = limits.get(element)
        grade = (row.min, row.max) if row else (np.nan, np.nan)
        sizes = _tolerances(row) if row else np.full(2, np.nan)
        inside = (low - grade[0], grade[1] - high) / np.where(sizes > 0, sizes, np.nan)
        rows[element] = {
            "min": text[0],
            "aim": text[1],
            "max": text[2],
            "scatter": sd[k],
            "room": np.fmin(aim - low if low > 0 else np.nan, high - aim) / (sd[k] or np.nan),
            "grade min": grade[0],
            "grade max": grade[1],
            "tolerance below": sizes[0],
            "tolerance above": sizes[1],
            "reserve": np.fmin(*inside),
        }
    return pd.DataFrame(list(rows.values()), index=pd.Index(rows, name="element"))


def _tolerances(row: Any) -> np.ndarray:
    """The product tolerance below the minimum and above the maximum of a grade, NaN where none."""
    sizes = np.full(2, np.nan)
    for i, (end, source) in enumerate(((row.min, row.min_from), (row.max, row.max_from))):
        if np.isfinite(end):
            side = "EN" if "EN " in str(source) else "ASTM"
            allowed = tolerance(side, row.element, Decimal(format(end, ".12g")))
            if allowed is not None:
                sizes[i] = float(allowed.above if i else allowed.below)
    return sizes


def export(path: str | os.PathLike, title: str, lead: str, parts: list[Part], tables: dict) -> Path:
    """Write the sheet, as a workbook (.xlsx) or a page to print (.html).

    Parameters
    ----------
    path : path that ends in .xlsx or .html
    title, lead : str
    parts : list
        Body of the page, as `gradekit.core.markup.flow` takes it.
    tables : mapping of sheet name to DataFrame
        What the workbook holds.
    """
    target = Path(path)
    if target.suffix.lower() == ".html":
        return write_whole(
            target, render("design/sheet.html", title=title, lead=lead, body=flow(parts, inline))
        )
    if target.suffix.lower() == ".xlsx":
        return write_whole(target, to_bytes(tables, lead=lead))
    raise InputError("path of the sheet", "one that ends in .xlsx or .html", str(path))
