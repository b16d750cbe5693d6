"""The price book of the melt shop (one row a material) and the recoveries of its elements."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import pandas as pd

from gradekit.core.aliases import TableLike
from gradekit.core.elements import require_element, symbols
from gradekit.core.errors import InputError, nearest, said
from gradekit.core.markup import number, panel, small, table
from gradekit.core.usertable import UserTable, user_table

_NEEDED = ("material", "kind", "price", "currency_unit", "price_basis")
_GROSS, _CONTAINED = "per t gross", "per t contained"
_OPTIONAL = (
    "price_element", "co2_t_per_t", "co2_status", "co2_source", "stock_max_kg_per_t",
    "analysis_status", "added", "note",
)  # fmt: skip
#: Where a material is added, in the order of the melt shop.
ADDED = ("furnace", "converter", "ladle")
_STAGES = ("eaf", "aod", "ladle", "overall")
_BESIDE = ("overall_basis", "status", "source", "note")
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
        held = [
            ", ".join(f"{e} {number(100.0 * x, 3)}" for e, x in row.items() if x > 0)
            for _, row in self.contents.iterrows()
        ]
        shown = self.materials.assign(contents=held)
        units = {"price": f"{self.currency} gross", "co2": "t/t", "stock": "kg/t"}
        lead = f"{len(shown)} materials, prices in {self.currency} gross"
        return panel(
            table(shown, "Price book; contents in wt%", units=units, wide=["contents"]),
            small(self.note),
            lead=lead,
        )


#: Whatever `as_price_book` makes a price book of.
BookLike: TypeAlias = PriceBook | TableLike


def as_price_book(source: TableLike) -> PriceBook:
    """Return a price book.

    Parameters
    ----------
    source : PriceBook, path of a CSV file, or DataFrame
        Columns `material`, `kind`, `price`, `currency_unit`, `price_basis` ('per t gross', or 'per
        t contained' together with `price_element`), contents in wt% by element symbol (`Fe` empty:
        iron is the balance); optional `co2_t_per_t`, `stock_max_kg_per_t`, `added` ('furnace',
        'converter' or 'ladle'), `co2_status`, `analysis_status`. Lines that begin with # are
        comments.

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
    rows = user_table(source, "price book", _NEEDED, (*_OPTIONAL, *symbols()))
    names = rows.words("material")
    rows.once("material", names)
    elements = [c for c in rows.frame if c in symbols()]
    contents, unknown = _contents(_figures(rows, elements, names, most=100.0))
    currency = sorted(set(rows.words("currency_unit")))
    if len(currency) != 1:
        raise InputError("currency_unit of the price book", "one for all", currency)
    figures = _figures(rows, ("price", "co2_t_per_t", "stock_max_kg_per_t"), names)
    texts = ("kind", "co2_status", "analysis_status", "added")
    words = {c: pd.Series(rows.words(c), index=figures.index) for c in texts}
    wrong = set(words["added"]) - {"", *ADDED}
    if wrong:
        raise InputError("added, in the price book", f"{', '.join(ADDED)} or nothing", min(wrong))
    materials = pd.DataFrame(
        {
            "kind": words["kind"],
            "price": _gross(rows, figures["price"], contents),
            "co2": figures["co2_t_per_t"],
            "stock": figures["stock_max_kg_per_t"].fillna(np.inf),
            **{c: words[c] for c in texts[1:]},
        }
    )
    note = "; ".join(filter(None, [rows.comments, *rows.remarks]))
    return PriceBook(materials, contents, unknown, currency[0], note)


def as_recoveries(source: TableLike) -> pd.DataFrame:
    """Return the recoveries of the works.

    Parameters
    ----------
    source : path of a CSV file, or DataFrame
        Columns `element`, `overall` and, where known, `eaf`, `aod`, `ladle`: fractions kept.
        What goes through the furnace keeps `eaf` times `aod`, what is added to the converter `aod`;
        `overall` stands in where one of them is not known.

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
    rows = user_table(source, "recoveries", ("element", "overall"), (*_STAGES[:3], *_BESIDE))
    elements = [require_element(e, "element of the recoveries") for e in rows.words("element")]
    rows.once("element", elements)
    recoveries = pd.DataFrame(
        {s: rows.numbers(s, lambda row: f"recovery of {elements[row]}", 0.0, 1.0) for s in _STAGES},
        index=pd.Index(elements, name="element"),
    )
    return recoveries.assign(status=rows.words("status"))


def _figures(
    rows: UserTable, columns: Sequence[str], names: list[str], most: float = np.inf
) -> pd.DataFrame:
    def figures(column: str) -> np.ndarray:
        what, needed = (lambda row: f"{column} of {names[row]}"), column == "price"
        return rows.numbers(column, what, 0.0, most, needed=needed)

    return pd.DataFrame({c: figures(c) for c in columns}, pd.Index(names, name="material"))


def _contents(given: pd.DataFrame) -> tuple[pd.DataFrame, dict[str, list[str]]]:
    given = given / 100.0
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
    contents = others.fillna(0.0).assign(Fe=iron)
    return contents.assign(rest=1.0 - contents.sum(axis=1)), unknown


def _gross(rows: UserTable, price: pd.Series, contents: pd.DataFrame) -> pd.Series:
    price = price.copy()
    paid = zip(price.index, rows.words("price_basis"), rows.words("price_element"), strict=True)
    for material, word, element in paid:
        if word == _GROSS:
            continue
        if word != _CONTAINED:
            raise InputError(f"price_basis of {material}", f"'{_GROSS}' or '{_CONTAINED}'", word,
                             nearest(word, (_GROSS, _CONTAINED)))  # fmt: skip
        if element not in contents or not contents.at[material, element] > 0:
            raise InputError(f"price_element of {material}", "an element that it holds", element)
        price[material] *= contents.at[material, element]
    return price
