"""The price book of the melt shop (one row a material) and the recoveries of its elements."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from gradekit.core.elements import require_element
from gradekit.core.errors import NOTHING, InputError, nearest, said
from gradekit.core.markup import panel, small, table

__all__ = ["PriceBook", "as_price_book", "as_recoveries"]

_NEEDED = ("material", "kind", "price", "currency_unit", "price_basis")
_GROSS, _CONTAINED = "per t gross", "per t contained"
_STAGES = ("eaf", "aod", "ladle", "overall")
#: Elements that no step takes out again: what is charged is in the steel.
RESIDUALS = ("P", "Cu", "Sn", "As", "Co")


@dataclass(frozen=True)
class PriceBook:
    """Materials that the melt shop can buy.

    Attributes
    ----------
    materials : DataFrame indexed by material
        `kind`, `price` (money per t gross), `co2` (t per t, NaN without a factor), `stock` (kg per
        t of steel, infinite where no limit is stated), `co2_status`, `analysis_status`, `ladle`
        (True where the price book or `charge` puts it into the ladle).
    contents : DataFrame, shape (materials, elements and `rest`), kg per kg
        `rest` is what is neither metal nor counted, such as the oxygen of an oxide.
    unknown : dict of material to elements whose content is not stated; counted as 0
    currency, note : str
    """

    materials: pd.DataFrame
    contents: pd.DataFrame
    unknown: dict[str, list[str]]
    currency: str
    note: str

    def _repr_html_(self) -> str:
        shown = self.materials.join((100.0 * self.contents).add_suffix(" wt%"))
        units = {"price": f"{self.currency} gross", "co2": "t/t", "stock": "kg/t"}
        return panel(table(shown, "Price book", units=units), small(self.note))


def as_price_book(source: object) -> PriceBook:
    """Return a price book.

    Parameters
    ----------
    source : PriceBook, path of a CSV file, or DataFrame
        Columns `material`, `kind`, `price`, `currency_unit`, `price_basis` ('per t gross', or 'per
        t contained' together with `price_element`), contents in wt% by element symbol (`Fe` empty:
        iron is the balance); optional `co2_t_per_t`, `stock_max_kg_per_t`, `added` ('furnace' or
        'ladle'), `co2_status`, `analysis_status`. Lines that begin with # are comments.

    Raises
    ------
    InputError
        A column missing, a material that stands twice, a number that is none, contents above 100 %.

    Examples
    --------
    >>> book = as_price_book("data/prices.csv")
    >>> book.currency, float(book.materials.at["feni_25", "price"]), round(
    ...     float(book.contents.at["feni_25", "Fe"]), 4)
    ('crown/t', 5100.0, 0.7184)
    """
    if isinstance(source, PriceBook):
        return source
    frame, note = _frame(source, "price book")
    for column in _NEEDED:
        if column not in frame:
            raise InputError("column of the price book", ", ".join(_NEEDED), list(frame.columns),
                             column)  # fmt: skip
    names = pd.Index(frame["material"].astype(str), name="material")
    if names.has_duplicates:
        raise InputError("material of the price book", "there once", names[names.duplicated()][0])
    frame = frame.set_index(names)
    contents, unknown = _contents(frame)
    currency = sorted(set(frame["currency_unit"].astype(str)))
    if len(currency) != 1:
        raise InputError("currency_unit of the price book", "one for all", currency)
    stock = _numbers(frame, "stock_max_kg_per_t").fillna(np.inf)
    materials = pd.DataFrame(
        {
            "kind": frame["kind"].astype(str),
            "price": _gross(frame, contents),
            "co2": _numbers(frame, "co2_t_per_t"),
            "stock": stock,
            "co2_status": _words(frame, "co2_status"),
            "analysis_status": _words(frame, "analysis_status"),
            "added": _words(frame, "added"),
        }
    )
    wrong = set(materials["added"]) - {"", "furnace", "ladle"}
    if wrong:
        raise InputError("added, in the price book", "'furnace', 'ladle' or nothing", min(wrong))
    return PriceBook(materials, contents, unknown, currency[0], note)


def as_recoveries(source: object) -> pd.DataFrame:
    """Return the recoveries of the works.

    Parameters
    ----------
    source : path of a CSV file, or DataFrame
        Columns `element`, `overall` and, where known, `eaf`, `aod`, `ladle`: fractions kept.

    Returns
    -------
    DataFrame indexed by element
        `eaf`, `aod`, `ladle`, `overall` (NaN where not known) and `status`.

    Raises
    ------
    InputError
        A column missing, an unknown element, a fraction outside 0 to 1.

    Examples
    --------
    >>> float(as_recoveries("data/recoveries.csv").at["Cr", "overall"])
    0.96
    """
    frame, _ = _frame(source, "recoveries")
    for column in ("element", "overall"):
        if column not in frame:
            raise InputError("column of the recoveries", "element, overall, eaf, aod, ladle",
                             list(frame.columns), column)  # fmt: skip
    elements = [require_element(e, "element of the recoveries") for e in frame["element"]]
    frame = frame.set_index(pd.Index(elements, name="element"))
    if frame.index.has_duplicates:
        raise InputError("element of the recoveries", "there once",
                         frame.index[frame.index.duplicated()][0])  # fmt: skip
    found = pd.DataFrame({s: _numbers(frame, s) for s in _STAGES})
    for stage in _STAGES:
        bad = found[stage][(found[stage] < 0) | (found[stage] > 1)]
        if len(bad):
            raise InputError(f"recovery of {bad.index[0]} ({stage})", "a fraction from 0 to 1",
                             bad.iloc[0])  # fmt: skip
    return found.assign(status=_words(frame, "status"))


def _frame(source: object, what: str) -> tuple[pd.DataFrame, str]:
    if isinstance(source, pd.DataFrame):
        named = source.index.name in ("element", "material") and source.index.name not in source
        return source.reset_index(drop=not named), ""
    if not isinstance(source, (str, os.PathLike)):
        raise InputError(what, "a path or a table", NOTHING if source is None else source)
    path = Path(source)
    if not path.is_file():
        raise InputError(what, "an existing CSV file", os.fspath(source))
    lines = path.read_text("utf-8-sig").splitlines()
    comments = [line.lstrip("# ").strip() for line in lines if line.startswith("#")]
    frame = pd.read_csv(path, skiprows=lambda i: i < len(lines) and lines[i].startswith("#"))
    return frame, " ".join(comments)


def _contents(frame: pd.DataFrame) -> tuple[pd.DataFrame, dict[str, list[str]]]:
    from gradekit.core.elements import symbols

    elements = [c for c in frame if c in symbols()]
    given = pd.DataFrame({e: _numbers(frame, e) for e in elements}) / 100.0
    if "Fe" not in given:
        given["Fe"] = np.nan
    others = given.drop(columns="Fe")
    unknown = {
        m: list(others.columns[row.isna()]) for m, row in others.iterrows() if row.isna().any()
    }
    total = others.sum(axis=1)
    iron = given["Fe"].fillna((1.0 - total).clip(lower=0.0))
    if ((total + iron) > 1.0 + 1e-9).any():
        worst = (total + iron).idxmax()
        raise InputError(f"contents of {worst}", "at most 100 wt% together",
                         said(f"{100 * (total + iron)[worst]:.2f} wt%"))  # fmt: skip
    found = others.fillna(0.0).assign(Fe=iron)
    return found.assign(rest=1.0 - found.sum(axis=1)), unknown


def _gross(frame: pd.DataFrame, contents: pd.DataFrame) -> pd.Series:
    price, basis = _numbers(frame, "price"), frame["price_basis"].astype(str)
    if price.isna().any():
        raise InputError(f"price of {price[price.isna()].index[0]}", "a number", NOTHING)
    for material, word in basis.items():
        if word == _GROSS:
            continue
        element = frame.at[material, "price_element"] if "price_element" in frame else None
        if word != _CONTAINED:
            raise InputError(f"price_basis of {material}", f"'{_GROSS}' or '{_CONTAINED}'", word,
                             nearest(word, (_GROSS, _CONTAINED)))  # fmt: skip
        if element not in contents or not contents.at[material, element] > 0:
            raise InputError(f"price_element of {material}", "an element that it holds", element)
        price[material] *= contents.at[material, element]
    return price


def _numbers(frame: pd.DataFrame, column: str) -> pd.Series:
    if column not in frame:
        return pd.Series(np.nan, index=frame.index)
    found = pd.to_numeric(frame[column], errors="coerce")
    cells = frame[column]
    wrong = found.isna() & cells.notna() & (cells.astype(str).str.strip() != "")
    wrong |= (found < 0) | np.isinf(found)
    if wrong.any():
        at = wrong.idxmax()
        raise InputError(f"{column} of {at}", "a number from 0 up, or nothing", cells[at])
    return found.astype(float)


def _words(frame: pd.DataFrame, column: str) -> pd.Series:
    if column not in frame:
        return pd.Series("", index=frame.index)
    return frame[column].fillna("").astype(str)
