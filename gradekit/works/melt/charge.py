"""The charge judged: can it be made of what the yard holds, and which residuals come with it.

The charge itself is computed in `gradekit.works.melt.cheapest`, where the cautions stand too.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, Label, TableLike
from gradekit.core.errors import InputError
from gradekit.core.sources import weakest
from gradekit.heats.columns import column, each_heat, unknown
from gradekit.works.aims import aim_windows
from gradekit.works.melt.charge_result import CAUTIONS as CAUTIONS
from gradekit.works.melt.charge_result import Charge
from gradekit.works.melt.cheapest import charge
from gradekit.works.melt.price_book import (
    RESIDUALS,
    BookLike,
    PriceBook,
    as_price_book,
    as_recoveries,
)
from gradekit.works.plant import Plant
from gradekit.works.row import Row
from gradekit.works.step import judge, unassessed
from gradekit.works.tables import process_table

STEP = "charge"
CONDITIONS = {
    "prices": "price book of the melt shop, path or table (see gk.works.charge)",
    "recoveries": "recoveries of the elements, path or table (see gk.works.charge)",
    "scrap_share_min_pct": "least share of scrap asked for, per cent of the metals charged",
}
_TAP = "eaf.tap_carbon_max"
# Copper from here on is an alloy that was asked for, not a residual; 6Mo and super duplex steel
# asks for it from the second figure on.
_COPPER_ALLOYED, _COPPER_OF_RICH, _RICH_MO = 1.0, 0.4, 3.0
# wt% below which an element that is no residual is a trace.
_TRACE = 0.1


def checks(
    heats: pd.DataFrame,
    plant: Plant,
    *,
    prices: BookLike | None = None,
    recoveries: TableLike | None = None,
    scrap_share_min_pct: Given = None,
) -> list[Row]:
    """Judge the charge of each heat; see `gradekit.works.step`."""
    rows = _residuals(heats, "of the analysis")
    given = {"prices": prices, "recoveries": recoveries}
    gone = [name for name, source in given.items() if source is None]
    check, most_carbon = "a charge exists", plant.get(_TAP, "wt%")
    gap = f"{' and '.join(gone)} not given" if gone else plant.gap(_TAP)
    if gap:
        return rows + unassessed(STEP, check, heats.index, gap)
    book, kept = as_price_book(prices), as_recoveries(recoveries)
    scatter = plant.scatter()
    charges = {
        h: _charge(_aim(row, scatter), book, kept, most_carbon) for h, row in heats.iterrows()
    }
    status = weakest("memory", "invented" if "invented" in book.note else "")
    rows += [_exists(h, c, status) for h, c in charges.items()]
    made = {h: c for h, c in charges.items() if isinstance(c, Charge) and c.feasible}
    if not made:
        return rows
    steel = pd.DataFrame({h: c.steel["forecast"] for h, c in made.items()}).T
    rows += _residuals(steel.drop(columns=[e for e in steel if e in heats]), "forecast")
    rows += judge(
        STEP, "sulphur forecast", steel["S"], high=column(heats, "S").reindex(steel.index),
        unit="wt%", beyond="caution", source="cheapest charge and recoveries", status=status,
        gap=unknown(heats.loc[steel.index], "S"),
        beyond_reason="more lime and a higher basicity, or materials with less sulphur",
    )  # fmt: skip
    share = pd.Series({h: c.scrap_share for h, c in made.items()})
    wanted = None
    if scrap_share_min_pct is not None:
        wanted = each_heat(scrap_share_min_pct, heats, "scrap_share_min_pct").reindex(share.index)
    return rows + judge(
        STEP, "share of scrap", share, low=wanted, unit="%", beyond="caution", status=status,
        source="cheapest charge from the price book",
    )  # fmt: skip


def _aim(heat: pd.Series, scatter: pd.Series) -> dict[str, Any]:
    """Take a heat for an aim: residuals may be two standard deviations above, traces are not asked.

    Sulphur is the converter's business, and a trace is what it is.
    """
    aim: dict[str, Any] = {}
    for element, content in heat.dropna().items():
        low, _ = aim_windows({element: content}).loc[element]
        if np.isfinite(low):
            aim[element] = content
        elif element in RESIDUALS or content >= _TRACE:
            aim[element] = (None, content + 2.0 * float(scatter.get(element, 0.0)))
    return aim


def _charge(aim: dict, book: PriceBook, kept: pd.DataFrame, most: float) -> Charge | str:
    try:
        return charge(aim, book, kept, carbon_max=most)
    except InputError as error:
        return str(error)


def _exists(heat: Label, result: Charge | str, status: str) -> Row:
    if isinstance(result, str):
        return unassessed(STEP, "a charge exists", pd.Index([heat]), result)[0]
    silent = "; ".join(result.not_known)
    return Row(
        heat, STEP, "a charge exists", result.cost, "", result.currency, float("nan"),
        "ok" if result.feasible else "stop", "; ".join(filter(None, [result.words, silent])),
        "price book and recoveries" + (" (invented)" if status == "invented" else ""), status,
    )  # fmt: skip


@cache
def _practical_maxima() -> list:
    rows = process_table("residual_limits")
    return list(rows[rows["for_steels"].isin(["general", "chromium-nickel"])].itertuples())


def _residuals(contents: pd.DataFrame, what: str) -> list[Row]:
    """Judge what cannot be taken out again, against what the trade takes for practical maxima."""
    rows = []
    for limit in _practical_maxima():
        if limit.element not in contents:
            continue
        content = contents[limit.element].dropna()
        if limit.element == "Cu":
            rich = column(contents, "Mo").reindex(content.index) >= _RICH_MO
            content = content[content < np.where(rich, _COPPER_OF_RICH, _COPPER_ALLOYED)]
        if content.empty:
            continue
        strict = limit.max_low_pct
        rows += judge(
            STEP, f"residual {limit.element} {what}", content, high=limit.max_high_pct, unit="wt%",
            beyond="caution", source=limit.source, status=limit.status,
            doubts=[f"above the stricter of the usual limits, {strict:g}" if x > strict else ""
                    for x in content],
            beyond_reason="cleaner scrap or alloys: nothing takes it out of the melt",
        )  # fmt: skip
    return rows
