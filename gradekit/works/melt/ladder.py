"""The gas ladder of the converter: which gas, how much CO, down to which carbon."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.works.melt.blow import oxygen_per_kg
from gradekit.works.melt.carbon import bubble_pressure
from gradekit.works.plant import Plant
from gradekit.works.tables import process_table

_SHARE = ("carbon_share_min", "carbon_share_max")
#: Limits of the plant that every step of the converter needs.
HOTTEST, VESSEL_PRESSURE = "converter.temperature_max", "converter.pressure"


def gas_steps(plant: Plant) -> pd.DataFrame:
    """Return the gas ladder of the plant.

    Returns
    -------
    DataFrame
        `oxygen_to_inert` by volume and `pCO_atm`, which is the `pco_step` of the plant times its
        vessel pressure, or follows from the gas where the plant states none.
    """
    pressure = plant.get(VESSEL_PRESSURE, "atm")
    rows = []
    for step in range(1, 20):
        ratio = plant.get(f"converter.oxygen_to_inert_step_{step}", "1")
        stated = plant.get(f"converter.pco_step_{step}", "atm")
        if np.isnan(ratio) and np.isnan(stated):
            break
        pco = bubble_pressure(ratio, 1.0) if np.isnan(stated) else stated
        rows.append({"step": step, "oxygen_to_inert": ratio, "pCO_atm": pco * pressure})
    columns = ["step", "oxygen_to_inert", "pCO_atm"]
    return pd.DataFrame(rows, columns=columns).set_index("step")


def blow_down(aim: float, ladder: pd.DataFrame, start: float) -> pd.DataFrame:
    """Return the ladder with the carbon that each gas blows down, in the middle of the trade's.

    Returns
    -------
    DataFrame
        `carbon_from`, `carbon_to`, wt%; `carbon_share` of the oxygen that burns carbon in practice;
        `chromium_practice`, kg/t that the rest of it burns.
    """
    carbon = carbon_ends(np.array([aim]), ladder, start)[0].tolist()
    share = np.array([carbon_share(r) for r in ladder["oxygen_to_inert"]])
    burnt = oxygen_for_carbon(np.array([aim]), ladder, start)[0]
    return ladder.assign(
        carbon_from=carbon[:-1],
        carbon_to=carbon[1:],
        carbon_share=share,
        chromium_practice=burnt * (1.0 / share - 1.0) / oxygen_per_kg("Cr"),
    )


def practised_pressure(ladder: pd.DataFrame, pressure_atm: float) -> float:
    """Return the lowest CO pressure of the ladder with the share of oxygen that burns carbon in
    practice, atm; with all of it where the trade names no share."""
    lowest = [
        stated if np.isnan(share := carbon_share(ratio))
        else bubble_pressure(ratio, 1.0, pressure_atm, used=share)
        for ratio, stated in zip(ladder["oxygen_to_inert"], ladder["pCO_atm"], strict=True)
    ]  # fmt: skip
    return float(min(lowest, default=np.nan))


def carbon_ends(aims: np.ndarray, ladder: pd.DataFrame, start: float) -> np.ndarray:
    """Return the carbon at the start and after each gas, wt%, shape (heats, gases + 1)."""
    carbon = np.empty((len(aims), len(ladder) + 1))
    carbon[:, 0] = start
    for at, ratio in enumerate(ladder["oxygen_to_inert"], 1):
        middle = 0.5 * sum(trade_end(ratio))
        last = at == len(ladder) or np.isnan(middle)
        end = aims if last else np.fmax(middle, aims)
        carbon[:, at] = np.where(end < carbon[:, at - 1], end, carbon[:, at - 1])
        carbon[np.isnan(end), at] = np.nan
    return carbon


def oxygen_for_carbon(aims: np.ndarray, ladder: pd.DataFrame, start: float) -> np.ndarray:
    """Return the oxygen that burns the carbon with each gas, Nm³/t, shape (heats, gases)."""
    kg = 10.0 * np.maximum(-np.diff(carbon_ends(aims, ladder, start), axis=1), 0.0)
    return kg * oxygen_per_kg("C")


def trade_end(ratio: float) -> tuple[float, float]:
    """Carbon that the trade blows down to with a gas, by the nearest mixture it names."""
    return _trade(ratio, "carbon_end_min_pct", "carbon_end_max_pct")


def carbon_share(ratio: float) -> float:
    """Share of the oxygen that burns carbon in practice, the middle of the trade's."""
    return 0.5 * sum(_trade(ratio, *_SHARE))


def _trade(ratio: float, *columns: str) -> tuple[float, float]:
    if not ratio > 0:
        return float("nan"), float("nan")
    trade = process_table("gas_ladder")
    away = np.log(trade["oxygen_parts"].to_numpy() / trade["inert_parts"].to_numpy() / ratio)
    near = np.abs(away).argmin()
    if abs(away[near]) > 0.1:
        return float("nan"), float("nan")
    return tuple(trade[c].iat[near] for c in columns)
