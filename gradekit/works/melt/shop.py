"""A price book seen through the recoveries of the works: what each material leaves in the steel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.core.aliases import TableLike
from gradekit.core.errors import InputError
from gradekit.works.melt.price_book import (
    RESIDUALS,
    BookLike,
    PriceBook,
    as_price_book,
    as_recoveries,
)

#: Nitrogen, wt%, from which an alloy is one that brings nitrogen and goes into the ladle.
_NITRIDED = 1.0


@dataclass(frozen=True)
class Shop:
    """The price book seen through the recoveries: `where` each material is added (see `ADDED`), and
    kg `kept` of each element from a kg of it."""

    book: PriceBook
    where: pd.Series
    kept: pd.DataFrame

    @property
    def ladle(self) -> pd.Series:
        """Which materials are added after the blow."""
        return self.where == "ladle"

    @property
    def carbon_blown(self) -> np.ndarray:
        """kg carbon that a kg of material brings before the blow."""
        return self._content("C") * ~self.ladle.to_numpy()

    @property
    def carbon_late(self) -> np.ndarray:
        """kg carbon that a kg of material brings after it."""
        return self._content("C") * self.ladle.to_numpy()

    def _content(self, element: str) -> np.ndarray:
        contents = self.book.contents
        return contents[element].to_numpy() if element in contents else np.zeros(len(contents))


def make_shop(prices: BookLike, recoveries: TableLike) -> Shop:
    """Read price book and recoveries and set where each material goes."""
    book, kept = as_price_book(prices), as_recoveries(recoveries)
    contents = book.contents.drop(columns="rest")
    aod = kept["aod"].reindex(contents.columns)
    gone = [e for e in contents if e not in kept.index and e not in RESIDUALS]
    if gone:
        raise InputError("recoveries", f"a table with {', '.join(gone)}", list(kept.index))
    overall = kept["overall"].reindex(contents.columns)
    overall[overall.isna() & overall.index.isin(RESIDUALS)] = 1.0
    # What the converter burns or has no figure for is not counted on from the furnace.
    through = (kept["eaf"].reindex(contents.columns) * aod).fillna(overall)
    furnace = through.where(aod.notna() | overall.index.isin(RESIDUALS), 0.0)
    late = kept["ladle"].reindex(contents.columns).fillna(overall)
    converter = book.materials["added"].where(book.materials["added"] == "converter", "furnace")
    where = converter.mask(_goes_into_ladle(book, aod), "ladle")
    # What is charged into the converter never sees the furnace and its losses.
    share = {"furnace": furnace, "converter": aod.fillna(furnace), "ladle": late}
    matrix = contents * np.array([share[place] for place in where])
    return Shop(book, where, matrix)


def _goes_into_ladle(book: PriceBook, aod: pd.Series) -> pd.Series:
    """An alloy whose main element the converter would burn, or that brings nitrogen."""
    metals = book.contents.drop(columns=["Fe", "rest"])
    main = metals.idxmax(axis=1)
    burnt = main.map(aod.isna()) & (metals.max(axis=1) > 0) & (book.materials["kind"] != "scrap")
    nitrided = metals["N"] * 100.0 >= _NITRIDED if "N" in metals else False
    added = book.materials["added"]
    return ((burnt | nitrided) & ~added.isin(("furnace", "converter"))) | (added == "ladle")


def unwanted_alloys(shop: Shop, wanted: pd.DataFrame) -> np.ndarray:
    """Alloys of an element that the aim does not name: nothing is added that nobody asked for."""
    metals = shop.book.contents.drop(columns=["Fe", "rest"])
    main = metals.idxmax(axis=1)
    asked = main.isin(wanted.index) | (main == "N") | (metals.max(axis=1) == 0)
    return (~asked & (shop.book.materials["kind"] != "scrap")).to_numpy()


def spent_metal(shop: Shop, used_up: pd.Series) -> pd.Series:
    """kg/t of each element that the consumed materials leave in the steel."""
    metals = shop.book.contents.drop(columns=["Fe", "rest"])
    keep = shop.kept.copy()
    for material in used_up.index[used_up > 0]:
        keep.loc[material, metals.loc[material].idxmax()] = 0.0
    return keep.mul(used_up, axis=0).sum()
