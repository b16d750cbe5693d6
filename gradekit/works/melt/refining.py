"""The argon-oxygen converter judged: carbon, chromium, sulphur, nitrogen.

What a blow takes is worked out in `gradekit.works.melt.aod`, where the cautions stand too:
oxygen on steel that holds chromium is violent, and argon, nitrogen and carbon monoxide kill
unnoticed.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given
from gradekit.core.flags import Flag
from gradekit.heats.columns import column, each_heat, unknown
from gradekit.relations.evaluate import evaluate_batch
from gradekit.works.melt.aod import CAUTIONS as CAUTIONS
from gradekit.works.melt.aod import slag_share
from gradekit.works.melt.blow import oxygen_per_kg
from gradekit.works.melt.carbon import PREFERRED, in_balance, least_burnt
from gradekit.works.melt.ladder import (
    HOTTEST,
    VESSEL_PRESSURE,
    carbon_ends,
    gas_steps,
    practised_pressure,
    trade_end,
)
from gradekit.works.plant import Plant
from gradekit.works.row import Row
from gradekit.works.step import judge, unassessed
from gradekit.works.tables import rule

STEP = "refining"
CONDITIONS = {"sulphur_start_pct": "sulphur of the bath before reduction, wt%; else of the plant"}
_AT_ONCE = 1_000  # heats whose blow is worked out together
_START, _TAP_NITROGEN = "converter.bath_carbon_start", "eaf.tap_nitrogen"
_SULPHUR_START = "converter.bath_sulphur_start"
_SOLUBILITY = "n_solubility_recommended"
_FORMS = "equilibrium of Cr, C and CO by Hilty, Hilty-Kaveney, Itoh"


def checks(heats: pd.DataFrame, plant: Plant, *, sulphur_start_pct: Given = None) -> list[Row]:
    """Judge what the converter can do with each heat; see `gradekit.works.step`."""
    return [
        *_carbon(heats, plant),
        *_sulphur(heats, plant, sulphur_start_pct),
        *_nitrogen(heats, plant),
    ]


def _carbon(heats: pd.DataFrame, plant: Plant) -> list[Row]:
    ladder, hottest = gas_steps(plant), plant.get(HOTTEST, "C")
    first = "converter.oxygen_to_inert_step_1"
    gap = plant.gap(HOTTEST, VESSEL_PRESSURE, *([first] if ladder.empty else []))
    lean = ladder["pCO_atm"].idxmin() if not gap else 0
    last = practised_pressure(ladder, plant.get(VESSEL_PRESSURE, "atm"))
    carbon = column(heats, "C")
    gaps = unknown(heats, "C", "Cr", otherwise=gap)
    trade = trade_end(ladder.at[lean, "oxygen_to_inert"]) if not gap else (np.nan, np.nan)
    rows = judge(
        STEP, "carbon aim against the last gas", carbon, low=trade[0], unit="wt%", gap=gaps,
        source="trade practice", status="memory",
        reason=f"what the trade blows down to with that gas: {trade[0]:g} to {trade[1]:g} wt%",
        beyond_reason="a vacuum or a leaner gas would be needed",
    )  # fmt: skip
    needed = in_balance(heats, "temperature_C", pCO_atm=last)
    rows += judge(
        STEP, "temperature that reaches the carbon", needed[PREFERRED], high=hottest,
        beyond="caution", forms=needed, unit="°C", source=_FORMS, status="memory", gap=gaps,
        aside="one of them holds up to 1650 °C only" if hottest > 1650 else "",
        reason=f"at {last:.3g} atm CO, the last gas with the share of oxygen that burns carbon in "
        "practice; below about 1600 °C the forms part by a factor of 2 to 3",
        beyond_reason="much chromium burns for the last carbon: a vacuum or a leaner gas",
    )  # fmt: skip
    usual = rule("oxidised_chromium")
    gone = gap or plant.gap(_START)
    burnt = needed * np.nan if gone else _burnt(heats, plant, ladder)
    rows += judge(
        STEP, "chromium burnt on the way", burnt[PREFERRED], high=usual.high, beyond="caution",
        forms=burnt, unit="kg/t", source=f"{_FORMS}; {usual.source}", status=usual.status,
        gap=unknown(heats, "C", "Cr", otherwise=gone),
        reason=f"the least that must burn at {hottest:.0f} °C; {usual.high:g} kg/t is the figure "
        "of a worked example, not a limit",
        beyond_reason="more silicon for reduction, more slag, lower yield",
    )  # fmt: skip
    return rows


def _burnt(heats: pd.DataFrame, plant: Plant, ladder: pd.DataFrame) -> pd.DataFrame:
    """Return the least chromium burnt, kg/t, by every form, for each heat."""
    pressure = np.full(len(ladder), plant.get(VESSEL_PRESSURE, "atm"))
    ratio, parts = ladder["oxygen_to_inert"].to_numpy(), []
    for first in range(0, len(heats), _AT_ONCE):
        some = heats.iloc[first : first + _AT_ONCE]
        carbon = carbon_ends(column(some, "C").to_numpy(), ladder, plant.get(_START, "wt%"))
        contents = dict(zip(some, some.to_numpy().T, strict=True))
        burnt = least_burnt(contents, carbon[:, :-1], carbon[:, 1:], ratio, pressure,
                            plant.get(HOTTEST, "C"))  # fmt: skip
        parts.append(pd.DataFrame({f: kg.sum(axis=1) for f, kg in burnt.items()}, some.index))
    return pd.concat(parts)


def _sulphur(heats: pd.DataFrame, plant: Plant, start: Given) -> list[Row]:
    reach = "converter.sulphur_min"
    sulphur = column(heats, "S")
    rows = judge(
        STEP, "sulphur aim", sulphur, low=plant.get(reach, "wt%"), unit="wt%",
        source=plant.cite(reach), status="", gap=unknown(heats, "S", otherwise=plant.gap(reach)),
        reason="lowest sulphur that the works reaches",
        beyond_reason="ladle treatment or a cleaner charge would be needed",
    )  # fmt: skip
    check, unit = "sulphur after reduction", "wt%"
    start = plant.get(_SULPHUR_START, "wt%") if start is None else start
    if np.all(pd.isna(start)):
        needed = "sulphur_start_pct, the sulphur of the bath before reduction, is not given"
        return rows + unassessed(STEP, check, heats.index, needed, unit=unit)
    partition, basicity = rule("sulphur_partition"), plant.get("converter.basicity_max", "1")
    gap = plant.gap("converter.basicity_max")
    if basicity < (least := rule("basicity_sulphur").least):
        gap = f"the partition is known from basicity {least:g} up, the works reaches {basicity:g}"
    if gap:
        return rows + unassessed(STEP, check, heats.index, gap, unit=unit)
    slag = slag_share(basicity)
    before = each_heat(start, heats, "sulphur_start_pct")
    ends = partition.least, partition.middle, partition.most
    worst, usual, best = (before / (1.0 + k * slag) for k in ends)
    return rows + judge(
        STEP, check, usual, high=sulphur, unit=unit, beyond="caution", source=partition.source,
        status=partition.status, gap=unknown(heats, "S"),
        reason=[f"{w:.4f} to {b:.4f} wt% at partitions of {partition.low:g} to {partition.high:g} "
                f"with {1000 * slag:.0f} kg/t slag of basicity {basicity:g}"
                for w, b in zip(worst, best, strict=True)],
        beyond_reason=["only at the better partition" if b <= s else "not even at the better "
                       "partition" for b, s in zip(best, sulphur, strict=True)],
    )  # fmt: skip


def _nitrogen(heats: pd.DataFrame, plant: Plant) -> list[Row]:
    """Alloyed nitrogen asks for pressure, low nitrogen for washing out: one or the other."""
    low = (column(heats, "N") <= rule("nitrogen_low").high).to_numpy()
    rows = _nitrogen_pressure(heats[~low], plant) if not low.all() else []
    return rows + (_nitrogen_least(heats[low], plant) if low.any() else [])


def _nitrogen_pressure(heats: pd.DataFrame, plant: Plant) -> list[Row]:
    stage = rule("nitrogen_stage")
    at = stage.middle
    result = evaluate_batch(heats, "nitrogen solubility", temperature_C=at, pN2_atm=1.0)
    inside = (result.flags.to_numpy() & int(Flag.BELOW_RANGE | Flag.ABOVE_RANGE)) == 0
    usable = result.values.where(inside | (result.names == _SOLUBILITY))
    needed = usable.rdiv(column(heats, "N"), axis=0) ** 2
    return judge(
        STEP, "nitrogen pressure for the nitrogen aim", needed[_SOLUBILITY], forms=needed,
        high=plant.get(VESSEL_PRESSURE, "atm"), unit="atm", gap=unknown(
            heats, "C", "Cr", "N", otherwise=plant.gap(VESSEL_PRESSURE)),
        source=f"pn2_needed_sieverts by each set of solubility; {stage.source}",
        status=stage.status, reason=f"at {at:.0f} °C, where nitrogen is blown",
        beyond="caution", beyond_reason="more than nitrogen at the vessel's pressure can give: "
        "nitrided alloys into the cooler ladle, more manganese or chromium, or less nickel",
    )  # fmt: skip


def _nitrogen_least(heats: pd.DataFrame, plant: Plant) -> list[Row]:
    """Gas that leaves in balance with the bath carries nitrogen away: 1/N - 1/N0 = V/(8 s²), N and
    s (solubility) in wt%, V in Nm³ a tonne, since 1 Nm³ of N2 is 1.25 kg."""
    ladder, tap = gas_steps(plant), plant.get(_TAP_NITROGEN, "wt%")
    first = "converter.oxygen_to_inert_step_1"
    gap = plant.gap(_START, _TAP_NITROGEN, *([first] if ladder.empty else []))
    stage, pick_up = rule("nitrogen_stage"), rule("nitrogen_pick_up")
    volume = np.full(len(heats), np.nan)
    if not gap:
        ends = carbon_ends(column(heats, "C").to_numpy(), ladder, plant.get(_START, "wt%"))
        burnt = 10.0 * np.maximum(-np.diff(ends, axis=1), 0.0)
        gas = 2.0 + 1.0 / ladder["oxygen_to_inert"].to_numpy()
        volume = (burnt * oxygen_per_kg("C") * gas).sum(axis=1)
    solubility = evaluate_batch(heats, _SOLUBILITY, temperature_C=stage.high, pN2_atm=1.0)
    washed = 1.0 / (1.0 / tap + volume / (8.0 * solubility.values[_SOLUBILITY] ** 2))
    return judge(
        STEP, "lowest nitrogen that washing reaches", washed + pick_up.low, high=column(heats, "N"),
        unit="wt%", beyond="caution", status="heuristic",
        gap=unknown(heats, "C", "Cr", "N", otherwise=gap),
        source=f"balance of the gas with {_SOLUBILITY}; {plant.cite(_TAP_NITROGEN)}",
        reason=[f"{v:.0f} Nm³/t of carbon monoxide and argon wash {tap:g} down to {w:.4f} wt%, air "
                f"at tapping and casting gives {pick_up.low:g} to {pick_up.high:g} back"
                for v, w in zip(volume, washed, strict=True)],
        beyond_reason="argon from the first gas on, more carbon to burn, a vacuum, a shrouded "
        "stream",
    )  # fmt: skip
