"""What is to be had: a user's own table of grades, forms, thicknesses, finishes and weeks."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from gradekit.core.aliases import PathLike
from gradekit.core.errors import InputError
from gradekit.core.usertable import user_table
from gradekit.service.needs import CHOICES, Service
from gradekit.standards.grades import grade
from gradekit.standards.names import found_windows, likely_meant

_NEEDED = ("grade", "form", "thickness_min_mm", "thickness_max_mm", "weeks")


@dataclass(frozen=True, eq=False)
class Stock:
    """What a supplier has or makes, a row an offer; `grade` holds the number of each grade."""

    table: pd.DataFrame

    def words(self, number: str, service: Service) -> str:
        """Return what is to be had of a grade for a service: weeks and finishes, or why not."""
        own = self.table[self.table["grade"] == number]
        if own.empty:
            return "not in the stock table"
        fits = own[
            (own["form"] == service.form)
            & (own["thickness_min_mm"] <= service.thickness_mm)
            & (service.thickness_mm <= own["thickness_max_mm"])
        ]
        if service.finish:
            fits = fits[fits["finish"].isin(["", service.finish])]
        if fits.empty:
            return "not in this form, thickness and finish"
        soonest = fits.sort_values("weeks", kind="stable").iloc[0]
        finishes = ", ".join(dict.fromkeys(filter(None, fits["finish"])))
        weeks = soonest["weeks"]
        told = f"in {weeks:g} week{'' if weeks == 1 else 's'}" if weeks else "from stock"
        return f"{told}, finish {finishes}" if finishes else told


def read_stock(source: PathLike | pd.DataFrame) -> Stock:
    """Read a table of what is to be had.

    Parameters
    ----------
    source : path of a CSV or XLSX file, or DataFrame
        `grade` (any name), `form` (one of `CHOICES["form"]`), `thickness_min_mm`,
        `thickness_max_mm`, `weeks` (0: from stock); `finish` and `note` may stand too.

    Returns
    -------
    Stock
        For `compare_grades(..., stock=)`; `.words(number, service)` says what is to be had.

    Raises
    ------
    InputError
        A column missing, a grade or form that is not known, a cell that is no number.

    Examples
    --------
    >>> offers = pd.DataFrame({"grade": ["304"], "form": ["cold rolled strip"],
    ...     "thickness_min_mm": [0.5], "thickness_max_mm": [3.0], "finish": ["2B"], "weeks": [0]})
    >>> read_stock(offers).words("1.4301", Service(thickness_mm=1.5))
    'from stock, finish 2B'
    """
    read = user_table(source, "stock table", _NEEDED, ("finish", "note"))
    frame = pd.DataFrame({"grade": read.frame["grade"].astype(str), "form": read.frame["form"]})
    for at, form in frame["form"].items():
        if form not in CHOICES["form"]:
            raise InputError(f"stock table, row {at}, form", ", ".join(CHOICES["form"]), form)
    for at, name in frame["grade"].items():
        if found_windows(name) is None:
            what = f"stock table, row {at}, grade"
            raise InputError(what, "a grade that a standard names", name, likely_meant(name))
    frame["grade"] = [grade(name).number for name in frame["grade"]]
    for column in ("thickness_min_mm", "thickness_max_mm", "weeks"):
        frame[column] = read.numbers(column, least=0.0)
    frame["finish"] = read.words("finish")
    return Stock(frame)
