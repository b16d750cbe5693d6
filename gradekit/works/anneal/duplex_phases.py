"""What ferrite and austenite of a duplex steel hold at anneal temperature, and how each pits.

Masses are conserved: f c(ferrite) + (1 - f) c(austenite) = c for every element.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError, nearest, said
from gradekit.core.markup import details, items, panel, table
from gradekit.heats.batch import as_batch
from gradekit.relations.evaluate import evaluate
from gradekit.relations.topics import CATALOGUE
from gradekit.works.tables import process_table, rule

__all__ = [
    "NITROGEN_WAYS",
    "DuplexPhases",
    "duplex_phases",
    "equal_temperature",
    "partition",
    "phases_at",
]

#: How nitrogen is shared, for which publications disagree.
NITROGEN_WAYS = ("equilibrium", "measured", "saturated")
_LOW_C, _HIGH_C = 1000.0, 1250.0
_FERRITE = "ferrite_duplex_annealed"
_ROOM = CATALOGUE[_FERRITE].ranges["temperature_C"]


@dataclass(frozen=True)
class DuplexPhases:
    """Phases of one duplex heat.

    Attributes
    ----------
    heat : label
    table : DataFrame indexed by temperature °C
        `ferrite` (mass share); `PREN ferrite` with 16N; `PREN austenite` with the factor asked.
    ferrite, austenite : DataFrame, temperature by element, wt%
    equal_C : float
        Temperature where the two indices are equal, NaN where they do not cross.
    nitrogen, factor : str, int
        How nitrogen is shared, and the factor of N in the austenite.
    """

    heat: object
    table: pd.DataFrame
    ferrite: pd.DataFrame
    austenite: pd.DataFrame
    equal_C: float
    nitrogen: str
    factor: int

    def __repr__(self) -> str:
        return f"DuplexPhases of {self.heat}\n{self.table.round(2)!r}"

    def _repr_html_(self) -> str:
        notes = [
            f"nitrogen by the way '{self.nitrogen}'; publications disagree on it",
            f"16 N in the ferrite, {self.factor} N in the austenite",
            f"ferrite holds at {_ROOM[0]:g} to {_ROOM[1]:g} °C; the rest is carried on",
            "partition from memory; sigma, nitrides and the quench are not in it",
        ]
        lead = (
            f"Equal pitting index at {self.equal_C:.0f} °C"
            if np.isfinite(self.equal_C)
            else "The two indices do not cross between 1000 and 1250 °C"
        )
        shown = table(self.table.round(2), f"Phases of {self.heat}")
        return panel(shown, details("Notes", items(notes)), lead=lead)


def duplex_phases(
    heat: object,
    temperature_C: object = (1000, 1025, 1050, 1075, 1100, 1125, 1150),
    *,
    nitrogen: str = "measured",
    factor: int = 16,
) -> DuplexPhases:
    """Return what the two phases of a duplex steel hold.

    Parameters
    ----------
    heat : anything `as_batch` takes, one heat
        Cr, Mo, Ni, N and the others that it has, wt%.
    temperature_C : numbers
        Anneal temperatures; the ferrite relation holds from 1050 to 1150.
    nitrogen : 'equilibrium', 'measured' or 'saturated'
        Ferrite over austenite 0.15 or 0.45, or ferrite saturated at 0.04 wt%.
    factor : 16 or 30
        Of nitrogen in the austenite.

    Returns
    -------
    DuplexPhases

    Raises
    ------
    InputError
        More than one heat, another way or factor.

    Notes
    -----
    c(austenite) = c/(1 + f(K - 1)), c(ferrite) = K c(austenite); K of duplex reviews, recalled.

    Examples
    --------
    >>> steel = {"C": .02, "Si": .4, "Mn": 1.5, "Cr": 22.3, "Ni": 5.6, "Mo": 3.1, "N": .17}
    >>> p = duplex_phases(steel)
    >>> p.table.loc[1050, ["PREN ferrite", "PREN austenite"]].round(1).tolist()
    [39.5, 31.9]
    """
    batch = as_batch(heat)
    if len(batch) != 1:
        raise InputError("heat", "one heat", said(f"{len(batch)} heats"))
    if nitrogen not in NITROGEN_WAYS:
        raise InputError("nitrogen", ", ".join(NITROGEN_WAYS), nitrogen,
                         nearest(str(nitrogen), NITROGEN_WAYS))  # fmt: skip
    if factor not in (16, 30):
        raise InputError("factor", "16 or 30", factor)
    grid = np.atleast_1d(np.asarray(temperature_C, dtype=float))
    found, rich, poor = phases_at(batch, grid, nitrogen, factor)
    index = pd.Index(grid, name="temperature_C")
    return DuplexPhases(
        batch.index[0],
        found.set_axis(index), rich.set_axis(index), poor.set_axis(index),
        float(equal_temperature(batch, nitrogen, factor).iloc[0]), nitrogen, factor,
    )  # fmt: skip


def equal_temperature(heats: pd.DataFrame, nitrogen: str, factor: int = 16) -> pd.Series:
    """Return where both phases have the same pitting index, °C; NaN where they do not cross."""
    grid = np.arange(_LOW_C, _HIGH_C + 1.0, 5.0)
    found = {}
    for heat in heats.index:
        both, _, _ = phases_at(heats.loc[[heat]], grid, nitrogen, factor)
        gap = (both["PREN ferrite"] - both["PREN austenite"]).to_numpy()
        turn = np.flatnonzero(np.sign(gap[:-1]) * np.sign(gap[1:]) <= 0)
        found[heat] = np.nan
        if len(turn) and np.isfinite(gap).all():
            i = turn[0]
            found[heat] = grid[i] + 5.0 * gap[i] / (gap[i] - gap[i + 1])
    return pd.Series(found, dtype=float)


def partition(element: str, temperature_C: object, nitrogen: str = "measured") -> np.ndarray:
    """Return ferrite over austenite of an element, linear between the two tabulated temperatures.

    Examples
    --------
    >>> partition("Cr", [1000, 1250]).tolist(), float(partition("Cu", 1100))
    ([1.22, 1.1], 0.7)
    """
    grid = np.asarray(temperature_C, dtype=float)
    rows = _ratios().get(element, [])
    if element == "N":
        both = sorted(row["k_default"] for row in rows)
        return np.full_like(grid, both[nitrogen != "equilibrium"])
    if not rows:
        return np.ones_like(grid)
    ends = rows[0]["k_at_1000c"], rows[0]["k_at_1250c"]
    if np.isnan(ends).any():
        return np.full_like(grid, rows[0]["k_default"])
    return np.interp(grid, (_LOW_C, _HIGH_C), ends)


@cache
def _ratios() -> dict[str, list[dict]]:
    rows = process_table("duplex_partition")
    return {element: part.to_dict("records") for element, part in rows.groupby("element")}


def phases_at(
    heat: pd.DataFrame, grid: np.ndarray, nitrogen: str, factor: int = 16
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Return share of ferrite and both indices, and both phases, of one heat at temperatures."""
    share, rich, poor = _split(heat, grid, nitrogen)
    return pd.DataFrame({"ferrite": share, **_indices(rich, poor, factor)}), rich, poor


def _split(heat: pd.DataFrame, grid: np.ndarray, nitrogen: str) -> tuple:
    """Return mass share of ferrite, and both phases, at each temperature."""
    each = heat.loc[heat.index.repeat(len(grid))].set_axis(pd.Index(grid))
    ferrite = evaluate(each, _FERRITE, temperature_C=grid).values[_FERRITE]
    share = np.clip(ferrite.to_numpy() / 100.0, 0.0, 1.0)
    rich, poor = {}, {}
    for element in heat.columns:
        content = float(heat[element].iloc[0])
        if element == "N" and nitrogen == "saturated":
            full = rule("nitrogen_ferrite", "strip_rules")
            low = np.minimum(0.5 * (full.low + full.high), content)
            with np.errstate(divide="ignore", invalid="ignore"):
                poor["N"] = np.where(share < 1, (content - share * low) / (1 - share), np.nan)
            rich["N"] = np.full_like(share, low)
            continue
        k = partition(element, grid, nitrogen)
        poor[element] = content / (1.0 + share * (k - 1.0))
        rich[element] = k * poor[element]
    return share, pd.DataFrame(rich), pd.DataFrame(poor)


def _indices(rich: pd.DataFrame, poor: pd.DataFrame, factor: int) -> pd.DataFrame:
    tungsten = any(poor.get("W", pd.Series(0.0)).fillna(0.0) > 0)
    ending = "_w" if tungsten else ""
    in_austenite = f"pren_{factor}n{ending}"
    return pd.DataFrame(
        {
            "PREN ferrite": evaluate(rich, f"pren_16n{ending}").values.iloc[:, 0],
            "PREN austenite": evaluate(poor, in_austenite).values.iloc[:, 0],
        }
    ).set_axis(rich.index)
