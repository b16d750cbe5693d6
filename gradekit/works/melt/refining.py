"""The argon-oxygen converter judged: carbon, chromium, sulphur, nitrogen.

What a blow takes is worked out in `gradekit.works.melt.aod`, where the cautions stand too:
oxygen on steel that holds chromium is violent, and argon, nitrogen and carbon monoxide kill
unnoticed.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.flags import Flag
from gradekit.heats.columns import column
from gradekit.works.melt.aod import CAUTIONS as CAUTIONS
from gradekit.works.melt.aod import slag_share
from gradekit.works.melt.carbon import PREFERRED, in_balance, least_burnt
from gradekit.works.melt.ladder import (
    HOTTEST,
    VESSEL_PRESSURE,
    carbon_ends,
    gas_steps,
    oxygen_for_carbon,
    practised_pressure,
    trade_end,
)
from gradekit.works.step import Lot
from gradekit.works.tables import rule

STEP = "refining"
CONDITIONS = {"sulphur_start_pct": "sulphur of the bath before reduction, wt%; else of the plant"}
_AT_ONCE = 1_000  # heats whose blow is worked out together
_START, _TAP_NITROGEN = "converter.bath_carbon_start", "eaf.tap_nitrogen"
_SULPHUR_START, _FIRST_GAS = "converter.bath_sulphur_start", "converter.oxygen_to_inert_step_1"
_SOLUBILITY = "n_solubility_recommended"
_FORMS = "equilibrium of Cr, C and CO by Hilty, Hilty-Kaveney, Itoh"


def checks(lot: Lot) -> None:
    """Judge what the converter can do with each heat; see `gradekit.works.step`."""
    ladder = gas_steps(lot.plant)
    _carbon(lot, ladder)
    _sulphur(lot)
    # Alloyed nitrogen asks for pressure, low nitrogen for washing out: one or the other.
    low = (lot["N"] <= rule("nitrogen_low").most).to_numpy()
    if not low.all():
        _nitrogen_pressure(lot.where(~low))
    if low.any():
        _nitrogen_least(lot.where(low), ladder)


def _carbon(lot: Lot, ladder: pd.DataFrame) -> None:
    plant, hottest = lot.plant, lot.plant.get(HOTTEST, "C")
    gap = plant.gap(HOTTEST, VESSEL_PRESSURE, *_no_gas(ladder))
    last = practised_pressure(ladder, plant.get(VESSEL_PRESSURE, "atm"))
    low, high = (np.nan, np.nan)
    if not gap:
        low, high = trade_end(ladder.at[ladder["pCO_atm"].idxmin(), "oxygen_to_inert"])
    gaps = lot.unknown("C", "Cr", otherwise=gap)
    lot.judge(
        "carbon aim against the last gas", lot["C"], low=low, unit="wt%", gap=gaps,
        source="trade practice", status="memory",
        reason=f"what the trade blows down to with that gas: {low:g} to {high:g} wt%",
        beyond_reason="a vacuum or a leaner gas would be needed",
    )  # fmt: skip
    needed = in_balance(lot.heats, "temperature_C", pCO_atm=last)
    lot.judge(
        "temperature that reaches the carbon", needed[PREFERRED], high=hottest, beyond="caution",
        forms=needed, unit="°C", source=_FORMS, status="memory", gap=gaps,
        aside="one of them holds up to 1650 °C only" if hottest > 1650 else "",
        reason=f"at {last:.3g} atm CO, the last gas with the share of oxygen that burns carbon in "
        "practice; below about 1600 °C the forms part by a factor of 2 to 3",
        beyond_reason="much chromium burns for the last carbon: a vacuum or a leaner gas",
    )  # fmt: skip
    usual, gone = rule("oxidised_chromium"), gap or plant.gap(_START)
    burnt = needed * np.nan if gone else _burnt(lot, ladder)
    lot.judge(
        "chromium burnt on the way", burnt[PREFERRED], high=usual, beyond="caution", forms=burnt,
        source=_FORMS, gap=lot.unknown("C", "Cr", otherwise=gone),
        reason=f"the least that must burn at {hottest:.0f} °C; {usual.high:g} kg/t is the figure "
        "of a worked example, not a limit",
        beyond_reason="more silicon for reduction, more slag, lower yield",
    )  # fmt: skip


def _no_gas(ladder: pd.DataFrame) -> tuple[str, ...]:
    """Return the line of the plant table that a ladder without a gas lacks."""
    return (_FIRST_GAS,) if ladder.empty else ()


def _burnt(lot: Lot, ladder: pd.DataFrame) -> pd.DataFrame:
    """Return the least chromium burnt, kg/t, by every form, for each heat."""
    plant = lot.plant
    pressure = np.full(len(ladder), plant.get(VESSEL_PRESSURE, "atm"))
    ratio, parts = ladder["oxygen_to_inert"].to_numpy(), []
    for first in range(0, len(lot), _AT_ONCE):
        some = lot.heats.iloc[first : first + _AT_ONCE]
        carbon = carbon_ends(column(some, "C").to_numpy(), ladder, plant.get(_START, "wt%"))
        contents = dict(zip(some, some.to_numpy().T, strict=True))
        burnt = least_burnt(contents, carbon[:, :-1], carbon[:, 1:], ratio, pressure,
                            plant.get(HOTTEST, "C"))  # fmt: skip
        parts.append(pd.DataFrame({f: kg.sum(axis=1) for f, kg in burnt.items()}, some.index))
    return pd.concat(parts)


def _sulphur(lot: Lot) -> None:
    plant, condition = lot.plant, "sulphur_start_pct"
    lot.judge(
        "sulphur aim", lot.content("S"), low=plant.line("converter.sulphur_min", "wt%"),
        reason="lowest sulphur that the works reaches",
        beyond_reason="ladle treatment or a cleaner charge would be needed",
    )  # fmt: skip
    check, partition = "sulphur after reduction", rule("sulphur_partition")
    before = lot.condition(condition, plant.get(_SULPHUR_START, "wt%")).value
    basicity, least = plant.line("converter.basicity_max", "1"), rule("basicity_sulphur").least
    gap = basicity.gap
    if before.isna().all():
        gap = f"{condition}, the sulphur of the bath before reduction, is not given"
    elif basicity.value < least:
        gap = f"the partition is known from basicity {least:g} up, the works reaches "
        gap += f"{basicity.value:g}"
    if gap:
        lot.state(check, "not assessed", gap, unit="wt%")
        return
    slag = slag_share(basicity.value)
    ends = partition.least, partition.middle, partition.most
    worst, usual, best = (before / (1.0 + k * slag) for k in ends)
    lot.judge(
        check, usual, high=lot["S"], unit="wt%", beyond="caution", source=partition.source,
        status=partition.status, gap=lot.unknown("S"),
        reason=[f"{w:.4f} to {b:.4f} wt% at partitions of {partition.low:g} to {partition.high:g} "
                f"with {1000 * slag:.0f} kg/t slag of basicity {basicity.value:g}"
                for w, b in zip(worst, best, strict=True)],
        beyond_reason=np.where(best <= lot["S"], "only at the better partition",
                               "not even at the better partition"),
    )  # fmt: skip


def _nitrogen_pressure(lot: Lot) -> None:
    stage = rule("nitrogen_stage")
    at = stage.middle
    result = lot.evaluate("nitrogen solubility", temperature_C=at, pN2_atm=1.0)
    inside = (result.flags.to_numpy() & int(Flag.BELOW_RANGE | Flag.ABOVE_RANGE)) == 0
    usable = result.values.where(inside | (result.names == _SOLUBILITY))
    needed = usable.rdiv(lot["N"], axis=0) ** 2
    lot.judge(
        "nitrogen pressure for the nitrogen aim", needed[_SOLUBILITY], forms=needed,
        high=lot.plant.get(VESSEL_PRESSURE, "atm"), unit="atm",
        gap=lot.unknown("C", "Cr", "N", otherwise=lot.plant.gap(VESSEL_PRESSURE)),
        source=f"pn2_needed_sieverts by each set of solubility; {stage.source}",
        status=stage.status, reason=f"at {at:.0f} °C, where nitrogen is blown",
        beyond="caution", beyond_reason="more than nitrogen at the vessel's pressure can give: "
        "nitrided alloys into the cooler ladle, more manganese or chromium, or less nickel",
    )  # fmt: skip


def _nitrogen_least(lot: Lot, ladder: pd.DataFrame) -> None:
    """Gas that leaves in balance with the bath carries nitrogen away: 1/N - 1/N0 = V/(8 s²), N and
    s (solubility) in wt%, V in Nm³ a tonne, since 1 Nm³ of N2 is 1.25 kg."""
    plant = lot.plant
    tap, gap = (
        plant.get(_TAP_NITROGEN, "wt%"),
        plant.gap(_START, _TAP_NITROGEN, *_no_gas(ladder)),
    )
    stage, pick_up = rule("nitrogen_stage"), rule("nitrogen_pick_up")
    volume = np.full(len(lot), np.nan)
    if not gap:
        start = plant.get(_START, "wt%")
        oxygen = oxygen_for_carbon(lot["C"].to_numpy(), ladder, start)
        volume = (oxygen * (2.0 + 1.0 / ladder["oxygen_to_inert"].to_numpy())).sum(axis=1)
    solubility = lot.evaluate(_SOLUBILITY, temperature_C=stage.high, pN2_atm=1.0)
    washed = 1.0 / (1.0 / tap + volume / (8.0 * solubility.values[_SOLUBILITY] ** 2))
    lot.judge(
        "lowest nitrogen that washing reaches", washed + pick_up.low, high=lot["N"], unit="wt%",
        beyond="caution", status="heuristic", gap=lot.unknown("C", "Cr", "N", otherwise=gap),
        source=f"balance of the gas with {_SOLUBILITY}; {plant.cite(_TAP_NITROGEN)}",
        reason=[f"{v:.0f} Nm³/t of carbon monoxide and argon wash {tap:g} down to {w:.4f} wt%, air "
                f"at tapping and casting gives {pick_up.low:g} to {pick_up.high:g} back"
                for v, w in zip(volume, washed, strict=True)],
        beyond_reason="argon from the first gas on, more carbon to burn, a vacuum, a shrouded "
        "stream",
    )  # fmt: skip
