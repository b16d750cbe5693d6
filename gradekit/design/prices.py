"""What a composition costs and what it weighs on the climate, as relations like any other.

A price list has one row an element: the price and the CO2 of a contained tonne, and the share
that the works keeps (recovery). The demo list is invented, and every number made from it says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from typing import Any, TypeAlias

import numpy as np
import pandas as pd

from gradekit.core.aliases import PathLike, TableLike
from gradekit.core.elements import require_element
from gradekit.core.errors import NOTHING, InputError, one_of
from gradekit.core.markup import panel, table
from gradekit.core.usertable import read_number, user_table
from gradekit.relations.declaration import Check, Linear
from gradekit.works.melt.making import MakingCost, making_costs
from gradekit.works.melt.price_book import BookLike, PriceBook, as_price_book
from gradekit.works.plant import Plant, PlantLike, as_plant, typical_plant

#: Names of the relations that a price list gives.
COST, FOOTPRINT, NICKEL = "alloy_cost", "co2_footprint", "nickel_content"
#: Name of what a steel costs with its making, and the columns of the table of its parts.
TOTAL, PART_COLUMNS = "cost", ["money", "counted", "source", "evidence"]

_REQUIRED = ("element", "recovery", "date")
_OPTIONAL = ("co2_t_per_t", "basis", "source_material", "co2_status", "co2_source", "note")


def nickel_content() -> Linear:
    """Return nickel itself as a relation, wt%, so that it can be limited and minimised.

    Examples
    --------
    >>> nickel_content().formula
    'Ni'
    """
    return Linear(
        name=NICKEL,
        title="Nickel",
        quantity="nickel",
        unit="wt%",
        terms={"Ni": 1.0},
        status="verified",
        source=("the analysis itself",),
        check=Check({"Ni": 8.1}, 8.1),
        error=0.0,
        error_basis="no relation between: the content itself",
    )


@dataclass(frozen=True, eq=False)
class Prices:
    """A price list, one row an element.

    Attributes
    ----------
    table : DataFrame indexed by element
        `price` (money per contained tonne), `recovery` (fraction kept), `co2` (t per contained
        tonne, NaN where no factor is at hand), and what the file says of each.
    currency, date, source : str
    invented : bool
        True where the file says that it is invented.
    remarks : tuple of str
        What was decided or left out while the list was read.
    book : PriceBook or None
        Gases, fluxes and alloys: what `making` needs.
    plant : Plant or None
        The works that makes the steel.
    """

    table: pd.DataFrame
    currency: str
    date: str
    source: str
    invented: bool = False
    remarks: tuple[str, ...] = ()
    book: PriceBook | None = None
    plant: Plant | None = None
    _made: dict = field(default_factory=dict, init=False, repr=False)

    @property
    def unit(self) -> str:
        """Money per tonne of steel."""
        return f"{self.currency}/t"

    @cached_property
    def cost(self) -> Linear:
        """Alloy cost, money per tonne of steel: sum of content x price / (100 x recovery)."""
        iron = "iron included" if "Fe" in self.table.index else "iron, which has no price, at 0"
        basis = f"prices of {self.date}; price / (100 x recovery) a wt%, {iron}"
        return self._linear(
            COST, "Alloy cost at the works' prices", self.unit, self.table["price"], basis
        )

    @cached_property
    def footprint(self) -> Linear:
        """Footprint of the alloys, t CO2 per tonne of steel; elements without a factor left out."""
        basis = "factors a contained tonne / (100 x recovery) a wt%; melting not counted"
        gone = ", ".join(self.table.index[self.table["co2"].isna()])
        if gone:
            basis += f"; no factor at hand for {gone}: not counted, so the figure is a lower bound "
            basis += "where they are used"
        known = self.table["co2"].dropna()
        return self._linear(FOOTPRINT, "CO2 of the alloys charged", "t/t", known, basis)

    @property
    def relations(self) -> dict[str, Linear]:
        """The relations of this list by name: alloy cost, footprint, nickel."""
        return {COST: self.cost, FOOTPRINT: self.footprint, NICKEL: nickel_content()}

    def making(self, heat: Mapping[str, float]) -> tuple[list[MakingCost], list[str]]:
        """Return what contents cost in the making, and in words what is not known of it.

        Parameters
        ----------
        heat : mapping of element to wt%
            Where the balances of the melt shop are taken.
        """
        if self.book is None:
            words = "no price book was given (gk.read_prices(..., book=)): making is not counted"
            return [], [words]
        known = tuple(sorted(heat.items()))
        if known not in self._made:
            prices, kept = self.table["price"].to_dict(), self.table["recovery"].get("N", 1.0)
            plant = typical_plant() if self.plant is None else self.plant
            self._made[known] = making_costs(heat, plant, self.book, prices, kept)
        return self._made[known]

    def parts(
        self, aim: pd.Series, making: Sequence[MakingCost], unknown: Sequence[str]
    ) -> pd.DataFrame:
        """Return what a composition costs, a row a part; the money adds up to the cost.

        Returns
        -------
        DataFrame
            `money` a tonne of steel, NaN where it is not known; `counted` in words, `source`,
            `evidence`. The metals first, the dearest on top, then the making.
        """
        alloys = self.cost
        contents = {**aim, "Fe": 100.0 - aim.sum()}
        metals = {e: float(alloys.terms.get(e, 0.0) * x) for e, x in contents.items()}
        rows = []
        for e, money in sorted(metals.items(), key=lambda each: -each[1]):
            if money:
                counted = f"{contents[e]:.4g} wt%, price over recovery"
                rows.append((e, money, counted, alloys.citation, alloys.status))
        for part in making:
            money = float(part.line.value(aim[part.element]))
            what = f"{part.element}: {part.what}"
            rows.append((what, money, part.basis, part.source, part.status))
        rows += [("making", np.nan, words, "", "") for words in unknown]
        return pd.DataFrame(rows, columns=["part", *PART_COLUMNS]).set_index("part")

    @property
    def warning(self) -> str:
        """What has to be said wherever a number of this list is shown."""
        loud = "INVENTED PRICES, not market data" if self.invented else "the user's own prices"
        return f"{loud}; {self.currency}, {self.date}, from {self.source}"

    def changed(self, **prices: float) -> Prices:
        """Return the list with some prices changed, money a contained tonne, for a what-if.

        Examples
        --------
        >>> rows = {"element": ["Fe", "Ni"], "price_crown_per_t": [420, 21000], "recovery": [1, 1],
        ...         "date": "2026-10-01"}
        >>> dear = read_prices(pd.DataFrame(rows)).changed(Ni=30000)
        >>> float(dear.table.loc["Ni", "price"]), dear.cost.terms["Ni"]
        (30000.0, 300.0)
        """
        table = self.table.copy()
        for element, price in prices.items():
            one_of("price to change", element, table.index, "that of an element in the list")
            given = read_number(price, f"price of {element}", "a number, 0 or more")
            if not 0.0 <= given < np.inf:
                raise InputError(f"price of {element}", "a number, 0 or more", price)
            table.loc[element, "price"] = given
        changes = ", ".join(f"{e} at {table.loc[e, 'price']:g}" for e in prices)
        return replace(self, table=table, source=f"{self.source} with {changes}")

    def with_source(
        self, element: str, material: str, book: PathLike | pd.DataFrame, price: float | None = None
    ) -> Prices:
        """Return the list with one element bought as another material of the price book.

        Parameters
        ----------
        element : str
        material : str
            A row of the price book, such as 'npi_high11'.
        book : path or DataFrame
            `data/prices.csv`, or a table with its columns.
        price : float, optional
            Price of a contained tonne; by default that of the price book.
        """
        one_of("element to buy otherwise", element, self.table.index, "one of the price list")
        needed = ("material", "price", "price_basis", element)
        texts = ("price_element", "co2_status", "co2_source")
        materials = user_table(book, "price book", needed, ("co2_t_per_t", *texts))
        names = materials.words("material")
        one_of("material", material, names, "a row of the price book")
        at = names.index(material)
        word = {c: materials.words(c)[at] for c in ("price_basis", *texts)}

        def figure(column: str) -> float:
            return float(materials.numbers(column, least=0.0)[at])

        content = figure(element) / 100.0
        if not content > 0:
            raise InputError(f"source of {element}", f"a material that holds {element}", material)
        if price is None:
            price = figure("price")
            if word["price_basis"] == "per t gross":
                price /= content
            elif word["price_element"] != element:
                raise InputError(f"source of {element}", f"priced by its {element}", material)
        if not 0.0 <= price < np.inf:  # without one the element would come for nothing
            got = NOTHING if np.isnan(price) else price
            raise InputError(f"price of {material}", "a number, 0 or more", got)
        changed = self.table.copy()
        changed.loc[element, ["price", "co2"]] = price, figure("co2_t_per_t") / content
        changed.loc[element, "source_material"] = material
        for column in ("co2_status", "co2_source"):
            changed.loc[element, column] = word[column]
        return replace(self, table=changed)

    def _linear(self, name: str, title: str, unit: str, known: pd.Series, basis: str) -> Linear:
        per_percent = known / self.table.loc[known.index, "recovery"] / 100.0
        terms = {str(e): float(v) for e, v in per_percent.items()}
        # A little of everything priced, no two alike; the rest is iron.
        steel = {e: round(0.01 * k, 2) for k, e in enumerate(terms, start=1) if e != "Fe"}
        iron = 100.0 - sum(steel.values())
        expected = sum(v * terms[e] for e, v in steel.items()) + iron * terms.get("Fe", 0.0)
        return Linear(
            name=name,
            title=title,
            quantity=title.split(" at ")[0].lower(),
            unit=unit,
            terms=terms,
            essential=(),
            status="invented" if self.invented else "given by the user",
            source=(f"{self.source}, {self.date}",),
            check=Check(steel, expected, tolerance=1e-6 * max(1.0, abs(expected))),
            domain="any steel of which iron is the rest",
            ranges={"Fe": (0.0, None)},
            error=0.0,
            error_basis="a sum at given prices: the prices are uncertain, the sum is not",
            note=f"{self.warning}; {basis}",
        )

    def _repr_html_(self) -> str:
        shown = self.table.rename(
            columns={"price": f"price, {self.currency}/t", "co2": "CO2, t/t contained"}
        )
        return panel(
            table(shown, "Price list, a contained tonne", wide=["co2_source", "note"]),
            lead="; ".join([self.warning, *self.remarks]),
        )


#: A price list, or what `read_prices` makes one of.
PricesLike: TypeAlias = Prices | TableLike


def read_prices(
    source: PricesLike, book: BookLike | None = None, plant: PlantLike | None = None
) -> Prices:
    """Read a price list: one row an element.

    Parameters
    ----------
    source : path of a CSV or XLSX file, or DataFrame
        Columns `element`, `price_<money>_per_t` (a contained tonne), `recovery` (fraction kept),
        `date`; optional `co2_t_per_t` (a contained tonne), `basis`, `source_material`,
        `co2_status`, `co2_source`, `note`. Lines that begin with # are comments. The word
        'invented' in the notes stays with every number made from the list. A `Prices` is returned
        as it is, with the book and the plant where they are given.
    book : price book of the melt shop, path or table, optional
        One row a material (see `gk.works.charge`). With it a design counts what contents cost in
        the making too: decarburising, low nitrogen, nitrided alloys, low sulphur.
    plant : Plant, path or table, optional
        The works whose converter makes them; by default one typical of the trade (memory).

    Returns
    -------
    Prices

    Raises
    ------
    InputError
        A column missing, an unknown element, a price that is no number, a recovery outside (0, 1].

    Examples
    --------
    >>> rows = {"element": ["Fe", "Cr"], "price_crown_per_t": [420, 2400], "recovery": [0.96, 0.96],
    ...         "date": "2026-10-01", "note": "invented"}
    >>> prices = read_prices(pd.DataFrame(rows))
    >>> prices.unit, prices.invented, round(prices.cost.terms["Cr"], 3)
    ('crown/t', True, 25.0)
    """
    given: dict[str, Any] = {}
    if book is not None:
        given["book"] = as_price_book(book)
    if plant is not None:
        given["plant"] = as_plant(plant)
    if isinstance(source, Prices):
        return replace(source, **given) if given else source
    listed = user_table(source, "price list", _REQUIRED, _OPTIONAL, _is_price)
    money = [c for c in map(str, listed.frame) if _is_price(c)]
    if not money:
        raise InputError(
            f"columns of {listed.source}", "price_<money>_per_t", list(listed.frame.columns)[:8]
        )
    elements = [
        require_element(e, f"{listed.place(row, 'element')}, element")
        for row, e in enumerate(listed.words("element"))
    ]
    listed.once("element", elements)
    built = pd.DataFrame(index=pd.Index(elements, name="element"))

    def filled(column: str, what: str, most: float = np.inf, needed: bool = True) -> np.ndarray:
        return listed.numbers(column, lambda row: f"{what} of {elements[row]}", 0.0, most, needed)

    built["price"] = filled(money[0], "price")
    built["recovery"] = filled("recovery", "recovery", 1.0)
    if (built["recovery"] == 0).any():
        where = listed.place(int(built["recovery"].argmin()), "recovery")
        worst = built["recovery"].idxmin()
        raise InputError(f"{where}, recovery of {worst}", "above 0, at most 1", 0)
    built["co2"] = filled("co2_t_per_t", "co2", needed=False)
    for column in _OPTIONAL[1:]:
        if column in listed:
            built[column] = listed.words(column)
    dates = sorted(set(filter(None, listed.words("date"))))
    odd = ", ".join(repr(day) for day in dates if not _is_date(day))
    if odd:
        listed.remarks.append(f"no date as 2026-10-01, taken as it stands: {odd}")
    notes = " ".join([*listed.words("note"), listed.comments])
    return Prices(
        built,
        money[0].removeprefix("price_").removesuffix("_per_t"),
        " to ".join(dict.fromkeys((dates[0], dates[-1]))) if dates else "no date",
        listed.source,
        "invented" in notes.lower(),
        tuple(listed.remarks),
        **given,
    )


def _is_date(text: str) -> bool:
    try:
        return bool(datetime.fromisoformat(text))
    except ValueError:
        return False


def _is_price(name: str) -> bool:
    return name.startswith("price_") and name.endswith("_per_t")
