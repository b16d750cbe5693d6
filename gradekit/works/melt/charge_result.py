"""A charge as a reader gets it: mix, steel, what each limit costs, or which limits clash."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd

from gradekit.core.markup import details, items, number, panel, table
from gradekit.works.aims import carbon_end_of
from gradekit.works.melt.shop import Shop, spent_metal

#: kg of liquid steel for which everything is counted.
TONNE = 1000.0
CAUTIONS = (
    "Scrap may be radioactive, oily, closed or leaded: check it before it is charged.",
    "Molten metal and moisture explode: dry and preheat scrap, alloys and tools, charge no closed "
    "containers.",
    "Dust of nickel, cobalt and ferro-alloys sensitises and can cause cancer, manganese fume harms "
    "the nerves, fine aluminium, titanium and silicon can ignite.",
    "Prices, CO2 factors and residual limits stand in for contract data; the list's own words say "
    "which are invented.",
)


@dataclass(frozen=True)
class Charge:
    """A charge for a tonne of liquid steel, or the reason why there is none.

    Attributes
    ----------
    feasible : bool
    mix : DataFrame indexed by material
        `kg_per_t`, `where` it goes, `cost` and `co2` of it for a tonne of steel; `stock` (kg/t);
        `enters_at`, the price a tonne gross at which an unused material would enter (NaN for
        alloys of an element that the aim does not name);
        `one_more_kg_saves` where the stock is used up.
    steel : DataFrame indexed by element
        `low`, `high` asked for and `forecast`, wt%; `charged`, `kept`, `lost` in kg/t;
        `cost_of_0.01` : what 0.01 wt% of room at the binding limit would save, money per t.
    cost : float, money per t of steel; co2 : float, t per t of steel
    scrap_share : float, per cent of the weight of the metals charged
    no_factor, not_known : what the figures leave out
    clash : DataFrame
        Limits that cannot be kept together, none of which can be spared, and how far each alone
        would have to give way (NaN where that is not enough); empty if there is a charge.
    """

    feasible: bool
    mix: pd.DataFrame
    steel: pd.DataFrame
    cost: float
    co2: float
    scrap_share: float
    no_factor: tuple[str, ...]
    not_known: tuple[str, ...]
    clash: pd.DataFrame
    currency: str
    note: str

    def without_prices(self) -> Charge:
        """Return the charge without what limits cost, which holds for the cheapest charge only."""
        nan = float("nan")
        return replace(
            self,
            mix=self.mix.assign(enters_at=nan, one_more_kg_saves=nan),
            steel=self.steel.assign(**{"cost_of_0.01": nan}),
        )

    @cached_property
    def words(self) -> str:
        """The result in a sentence."""
        if self.feasible:
            used = int((self.mix["kg_per_t"] > 0).sum())
            return (
                f"{number(self.cost)} {self.currency} and {number(self.co2, 3)} t CO2 a tonne, "
                f"{used} materials, {self.scrap_share:.0f} % scrap"
            )
        names = "; ".join(self.clash.index)
        gives = self.clash["gives way by"].dropna()
        ways = [f"{k} by {number(x, 3)} {self.clash.at[k, 'unit']}" for k, x in gives.items()]
        enough = f". It would be enough to relax {', or '.join(ways)}" if ways else ""
        return f"No charge exists, these cannot be kept together: {names}{enough}"

    def __repr__(self) -> str:
        return self.words

    def _repr_html_(self) -> str:
        notes = [self.note, *self.not_known]
        if self.no_factor:
            notes.append(f"CO2 is a lower bound, no factor at hand for {', '.join(self.no_factor)}")
        parts = []
        if self.feasible:
            used = self.mix[(self.mix["kg_per_t"] > 0) | (self.mix["enters_at"].notna())]
            money = self.currency.removesuffix("/t")
            plain = {"kg_per_t": "amount", "enters_at": "enters at a price of",
                     "one_more_kg_saves": "one more kg saves",
                     "cost_of_0.01": "0.01 wt% of room saves"}  # fmt: skip
            units = dict.fromkeys(["low", "high", "forecast"], "wt%")
            units |= dict.fromkeys(["amount", "stock", "charged", "kept", "lost"], "kg/t")
            units |= {"cost": f"{money}/t steel", "co2": "t/t steel",
                      "enters at a price of": f"{money}/t gross", "one more kg saves": money,
                      "0.01 wt% of room saves": f"{money}/t steel"}  # fmt: skip
            shown, steel = (frame.rename(columns=plain) for frame in (used, self.steel))
            charged = shown["amount"] > 0
            waiting = shown.loc[~charged, ["kind", "stock", "enters at a price of"]]
            parts += [
                table(shown[charged].dropna(axis=1, how="all"),
                      "Charge for a tonne of liquid steel", units=units),
                details(f"{len(waiting)} materials that would enter at a lower price",
                        table(waiting, "Not charged", units=units)),
                details("The steel that comes of it",
                        table(steel, "Contents, and what is charged, kept and lost", units=units)),
            ]  # fmt: skip
        else:
            parts.append(table(self.clash, "Limits that cannot be kept together"))
        listed = items((*filter(None, notes), *CAUTIONS))
        return panel(*parts, details("Notes and cautions", listed), lead=self.words)


def result_of(
    shop: Shop, wanted: pd.DataFrame, used_up: pd.Series, mix: np.ndarray, reduced: np.ndarray,
    paid: dict[str, float], silent: tuple[str, ...],
) -> Charge:  # fmt: skip
    """Make the result of an optimum: the mix, what a kg more of each adds, the price of limits."""
    book, materials = shop.book, shop.book.materials
    bought = pd.Series(mix, index=materials.index).clip(lower=0.0) + used_up
    cost, co2 = bought * materials["price"] / TONNE, bought * materials["co2"] / TONNE
    brings = book.contents.drop(columns="rest").sum(axis=1) > 0
    unused = (bought == 0) & (reduced > 0) & brings
    full = reduced < 0
    amounts = pd.DataFrame(
        {
            "kind": materials["kind"],
            "where": shop.where,
            "kg_per_t": bought,
            "cost": cost,
            "co2": co2,
            "stock": materials["stock"],
            "enters_at": (materials["price"] - TONNE * reduced).where(unused),
            "one_more_kg_saves": pd.Series(-reduced, index=materials.index).where(full),
        }
    ).sort_values("kg_per_t", ascending=False, kind="stable")
    steel = _steel(shop, wanted, used_up, bought, paid)
    chromium = book.contents.get("Cr", pd.Series(0.0, bought.index)) * bought
    metals = bought[brings]
    scrap = metals[materials.loc[metals.index, "kind"] == "scrap"]
    return Charge(
        feasible=True,
        mix=amounts,
        steel=steel,
        cost=float(cost.sum()),
        co2=float(co2.sum()),
        scrap_share=100.0 * float(scrap.sum() / metals.sum()),
        no_factor=tuple(bought.index[(bought > 0) & materials["co2"].isna()]),
        not_known=(*silent, *_not_known(shop, bought), *_chromium(chromium, amounts, steel)),
        clash=pd.DataFrame({"gives way by": [], "unit": []}),
        currency=book.currency,
        note=book.note,
    )


def _steel(
    shop: Shop, wanted: pd.DataFrame, used_up: pd.Series, bought: pd.Series, paid: dict[str, float]
) -> pd.DataFrame:
    carbon = carbon_end_of(wanted)
    charged = bought.to_numpy() @ shop.book.contents
    kept = ((bought - used_up).to_numpy() @ shop.kept) + spent_metal(shop, used_up)
    kept["C"] = carbon * TONNE / 100.0
    kept["rest"] = 0.0
    kept = kept.reindex(charged.index)
    price = pd.Series(paid, dtype=float).reindex(charged.index)
    return pd.DataFrame(
        {
            "low": wanted["low"].reindex(charged.index),
            "high": wanted["high"].reindex(charged.index),
            "forecast": 100.0 * kept / TONNE,
            "charged": charged,
            "kept": kept,
            "lost": charged - kept,
            "cost_of_0.01": price * 0.01 * TONNE / 100.0,
        }
    ).rename_axis("element")


def _chromium(brought: pd.Series, mix: pd.DataFrame, steel: pd.DataFrame) -> list[str]:
    """Say how much of the chromium goes through the furnace, which decides how much is kept."""
    if not brought.sum() > 0:
        return []
    through = 100.0 * brought[mix.index[mix["where"] == "furnace"]].sum() / brought.sum()
    kept = 100.0 * steel.at["Cr", "kept"] / steel.at["Cr", "charged"]
    return [
        f"{through:.0f} % of the chromium goes through the furnace, and {kept:.1f} % of all "
        "chromium is kept; what is added to the converter is spared the furnace's loss"
    ]


def _not_known(shop: Shop, bought: pd.Series) -> tuple[str, ...]:
    gaps: dict[str, list[str]] = {}
    for material in bought.index[bought > 0]:
        for element in shop.book.unknown.get(material, ()):
            gaps.setdefault(element, []).append(material)
    return tuple(f"{e} is not stated for {', '.join(ms)}: counted as 0" for e, ms in gaps.items())


def no_charge(shop: Shop, clash: pd.DataFrame, silent: tuple[str, ...]) -> Charge:
    """Make the result of a task that no charge fulfils."""
    nan = float("nan")
    return Charge(
        False, pd.DataFrame(), pd.DataFrame(), nan, nan, nan, (), silent, clash, shop.book.currency,
        shop.book.note,
    )  # fmt: skip
