"""The melt-shop sheet: aim, minimum and maximum as a works writes them, with what they rest on."""

from __future__ import annotations

import os
from decimal import Decimal
from pathlib import Path

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
        sides = [s for s in (aim - low if low > 0 else np.inf, high - aim) if np.isfinite(s)]
        room = min(sides) / sd[k] if sd[k] > 0 and sides else np.nan
        ends, tolerances, reserve = [np.nan, np.nan], [np.nan, np.nan], []
        if element in limits:
            row = limits[element]
            for i, (end, source) in enumerate(((row.min, row.min_from), (row.max, row.max_from))):
                if not np.isfinite(end):
                    continue
                ends[i] = end
                side = "EN" if "EN " in str(source) else "ASTM"
                allowed = tolerance(side, element, Decimal(format(end, ".12g")))
                if allowed is None:
                    continue
                size = float(allowed.below if i == 0 else allowed.above)
                tolerances[i] = size
                inside = (low - end) if i == 0 else (end - high)
                if size > 0 and np.isfinite(inside):
                    reserve.append(inside / size)
        rows[element] = {
            "min": text[0], "aim": text[1], "max": text[2], "scatter": sd[k], "room": room,
            "grade min": ends[0], "grade max": ends[1],
            "tolerance below": tolerances[0], "tolerance above": tolerances[1],
            "reserve": min(reserve) if reserve else np.nan,
        }  # fmt: skip
    return pd.DataFrame(list(rows.values()), index=pd.Index(rows, name="element"))


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
