"""The charge judged: can it be made of what the yard holds, and which residuals come with it.

The charge itself is computed in `gradekit.works.melt.cheapest`, where the cautions stand too.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError
from gradekit.core.sources import weakest
from gradekit.heats.columns import column
from gradekit.works.aims import aim_windows
from gradekit.works.melt.charge_result import CAUTIONS as CAUTIONS
from gradekit.works.melt.cheapest import charge
from gradekit.works.melt.price_book import RESIDUALS, as_price_book, as_recoveries
from gradekit.works.step import Lot
from gradekit.works.tables import Cited, process_table

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


def checks(lot: Lot) -> None:
    """Judge the charge of each heat; see `gradekit.works.step`."""
    _residuals(lot, lot.heats, "of the analysis")
    gone = [name for name in ("prices", "recoveries") if name not in lot.conditions]
    check, plant = "a charge exists", lot.plant
    if gap := f"{' and '.join(gone)} not given" if gone else plant.gap(_TAP):
        lot.state(check, "not assessed", gap)
        return
    book = as_price_book(lot.conditions["prices"])
    kept = as_recoveries(lot.conditions["recoveries"])
    scatter, most_carbon = plant.scatter(), plant.get(_TAP, "wt%")
    invented = "invented" in book.note
    status, made = weakest("memory", "invented" if invented else ""), {}
    for heat, contents in lot.heats.iterrows():
        one = lot.where(lot.index == heat)
        try:
            result = charge(_aim(contents, scatter), book, kept, carbon_max=most_carbon)
        except InputError as error:
            one.state(check, "not assessed", str(error))
            continue
        one.state(
            check, "ok" if result.feasible else "stop",
            "; ".join(filter(None, [result.words, *result.not_known])),
            "price book and recoveries" + (" (invented)" if invented else ""), status,
            value=result.cost, unit=result.currency,
        )  # fmt: skip
        if result.feasible:
            made[heat] = result
    if not made:
        return
    lot = lot.where(lot.index.isin(made))
    steel = pd.DataFrame({h: c.steel["forecast"] for h, c in made.items()}).T
    _residuals(lot, steel.drop(columns=[e for e in steel if e in lot.heats]), "forecast")
    lot.judge(
        "sulphur forecast", steel["S"], high=lot.content("S"), beyond="caution",
        source="cheapest charge and recoveries", status=status,
        beyond_reason="more lime and a higher basicity, or materials with less sulphur",
    )  # fmt: skip
    wanted = "scrap_share_min_pct"
    lot.judge(
        "share of scrap", [c.scrap_share for c in made.values()], unit="%", beyond="caution",
        low=lot.condition(wanted) if wanted in lot.conditions else None, status=status,
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


@cache
def _practical_maxima() -> list:
    rows = process_table("residual_limits")
    return list(rows[rows["for_steels"].isin(["general", "chromium-nickel"])].itertuples())


def _residuals(lot: Lot, contents: pd.DataFrame, what: str) -> None:
    """Judge what cannot be taken out again, against what the trade takes for practical maxima."""
    for limit in _practical_maxima():
        content = column(contents, limit.element)
        judged = content.notna()
        if limit.element == "Cu":
            rich = column(contents, "Mo") >= _RICH_MO
            judged &= content < np.where(rich, _COPPER_OF_RICH, _COPPER_ALLOYED)
        strict = f"above the stricter of the usual limits, {limit.max_low_pct:g}"
        lot.where(judged).judge(
            f"residual {limit.element} {what}", content[judged], beyond="caution",
            high=Cited(limit.max_high_pct, "wt%", limit.source, limit.status),
            doubts=np.where(content[judged] > limit.max_low_pct, strict, ""),
            beyond_reason="cleaner scrap or alloys: nothing takes it out of the melt",
        )  # fmt: skip
