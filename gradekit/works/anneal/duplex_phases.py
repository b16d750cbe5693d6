"""What ferrite and austenite of a duplex steel hold at anneal temperature, and how each pits.

Masses are conserved: f c(ferrite) + (1 - f) c(austenite) = c for every element. Nitrogen draws
chromium into austenite, so the ratios of chromium and molybdenum are those of the kind of duplex.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike, Label, Numbers
from gradekit.core.errors import InputError, one_of
from gradekit.core.markup import details, items, panel, table
from gradekit.heats.batch import one_heat
from gradekit.heats.columns import column
from gradekit.relations.evaluate import evaluate_batch
from gradekit.relations.topics import CATALOGUE
from gradekit.works.tables import process_table, rule

#: How nitrogen is shared, for which publications disagree.
NITROGEN_WAYS = ("saturated", "equilibrium", "measured")
_LOW_C, _HIGH_C = 1000.0, 1250.0
_FERRITE = "ferrite_duplex_anchored"
# wt% Cr from which a duplex steel shares its elements as the 25Cr grades do.
_RICH = 24.0
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

    heat: Label
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
    heat: HeatsLike,
    temperature_C: Numbers = (1000, 1025, 1050, 1075, 1100, 1125, 1150),
    *,
    nitrogen: str = "saturated",
    factor: int = 16,
) -> DuplexPhases:
    """Return what the two phases of a duplex steel hold.

    Parameters
    ----------
    heat : anything `as_batch` takes, one heat
        Cr, Mo, Ni, N and the others that it has, wt%.
    temperature_C : numbers
        Anneal temperatures; the ferrite relation holds from 1000 to 1250.
    nitrogen : 'saturated', 'equilibrium' or 'measured'
        Ferrite saturated at 0.04 wt%; ferrite over austenite 0.15; or 0.45 as a microprobe finds
        it after quenching, with the nitride that formed on the way.
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
    [37.9, 32.7]
    """
    batch = one_heat(heat)
    one_of("nitrogen", nitrogen, NITROGEN_WAYS)
    if factor not in (16, 30):
        raise InputError("factor", "16 or 30", factor)
    grid = np.atleast_1d(np.asarray(temperature_C, dtype=float))
    index = pd.Index(grid, name="temperature_C")
    share, rich, poor = phase_contents(batch, grid, nitrogen)
    both = _indices(rich, poor, factor)
    ferrite, austenite = (
        pd.DataFrame({e: x[0] for e, x in phase.items()}, index) for phase in (rich, poor)
    )
    return DuplexPhases(
        batch.index[0],
        pd.DataFrame({"ferrite": share[0], **{k: v[0] for k, v in both.items()}}, index),
        ferrite, austenite, float(equal_temperature(batch, nitrogen, factor).iloc[0]), nitrogen,
        factor,
    )  # fmt: skip


def pitting_indices(
    heats: pd.DataFrame, temperature_C: pd.Series, nitrogen: str = "saturated", factor: int = 16
) -> pd.DataFrame:
    """Return the share of ferrite and the pitting index of both phases, each heat at its anneal."""
    share, rich, poor = phase_contents(heats, temperature_C.to_numpy()[:, None], nitrogen)
    both = {"ferrite": share, **_indices(rich, poor, factor)}
    return pd.DataFrame({k: v[:, 0] for k, v in both.items()}, heats.index)


def equal_temperature(heats: pd.DataFrame, nitrogen: str, factor: int = 16) -> pd.Series:
    """Return where both phases have the same pitting index, °C; NaN where they do not cross."""
    grid = np.arange(_LOW_C, _HIGH_C + 1.0, 10.0)
    _, rich, poor = phase_contents(heats, grid, nitrogen)
    both = _indices(rich, poor, factor)
    gap = both["PREN ferrite"] - both["PREN austenite"]
    turn = np.sign(gap[:, :-1]) * np.sign(gap[:, 1:]) <= 0
    i, each = turn.argmax(axis=1), np.arange(len(heats))
    with np.errstate(invalid="ignore", divide="ignore"):
        at = grid[i] + 10.0 * gap[each, i] / (gap[each, i] - gap[each, i + 1])
    return pd.Series(np.where(turn.any(axis=1), at, np.nan), heats.index, dtype=float)


def partition(
    element: str, temperature_C: Numbers, nitrogen: str = "saturated", chromium: Numbers = 22.0
) -> np.ndarray:
    """Return ferrite over austenite of an element, linear between the two tabulated temperatures.

    Parameters
    ----------
    element : str
    temperature_C : array or number
    nitrogen : str
        The way of `duplex_phases`; only of use for N.
    chromium : array or number
        wt% of the steel: from 24 up the ratios of 25Cr steel hold.

    Examples
    --------
    >>> partition("Cr", [1000, 1250]).tolist(), partition("Cr", [1000, 1250], chromium=25).tolist()
    ([1.22, 1.1], [1.14, 1.06])
    >>> float(partition("Cu", 1100))
    0.7
    """
    grid, rich = np.broadcast_arrays(
        np.asarray(temperature_C, dtype=float), np.asarray(chromium, dtype=float) >= _RICH
    )
    rows = _ratios().get(element, [])
    if element == "N":
        both = sorted(row["k_default"] for row in rows)
        return np.full(grid.shape, both[nitrogen == "measured"])
    if not rows:
        return np.ones(grid.shape)
    plain, own = ([row for row in rows if row["steel"] == k] for k in ("", "25Cr"))
    return np.where(rich, _along(grid, (own or plain)[0]), _along(grid, plain[0]))


def _along(grid: np.ndarray, row: dict) -> np.ndarray:
    ends = row["k_at_1000c"], row["k_at_1250c"]
    if np.isnan(ends).any():
        return np.full(grid.shape, row["k_default"])
    return np.interp(grid, (_LOW_C, _HIGH_C), ends)


@cache
def _ratios() -> dict[str, list[dict]]:
    rows = process_table("duplex_partition")
    return {element: part.to_dict("records") for element, part in rows.groupby("element")}


def phase_contents(
    heats: pd.DataFrame, temperature_C: np.ndarray, nitrogen: str
) -> tuple[np.ndarray, dict[str, np.ndarray], dict[str, np.ndarray]]:
    """Return mass share of ferrite, and what ferrite and austenite hold, element by element.

    Parameters
    ----------
    heats : batch
    temperature_C : array, shape (temperatures,) or (heats, temperatures)
        Of the anneal.
    nitrogen : str
        The way of `duplex_phases`.

    Returns
    -------
    share, ferrite, austenite : arrays and dicts of arrays, shape (heats, temperatures), wt%

    Examples
    --------
    >>> steel = pd.DataFrame({"Cr": [22.3], "Ni": [5.6], "Mo": [3.1], "N": [0.17], "C": [0.02]})
    >>> share, rich, poor = phase_contents(steel, np.array([1050.0]), "saturated")
    >>> back = share * rich["Cr"] + (1 - share) * poor["Cr"]
    >>> float(back.round(6)[0, 0])
    22.3
    """
    count = temperature_C.shape[-1]
    at = np.broadcast_to(temperature_C, (len(heats), count))
    each = pd.DataFrame(np.repeat(heats.to_numpy(dtype=float), count, axis=0),
                        columns=heats.columns)  # fmt: skip
    ferrite = evaluate_batch(each, _FERRITE, temperature_C=at.ravel()).values[_FERRITE]
    share = np.clip(ferrite.to_numpy().reshape(at.shape) / 100.0, 0.0, 1.0)
    chromium = column(heats, "Cr").to_numpy()[:, None]
    rich, poor = {}, {}
    contents = heats.to_numpy(dtype=float)
    for k, element in enumerate(heats.columns):
        content = contents[:, k, None]
        if element == "N" and nitrogen == "saturated":
            full = rule("nitrogen_ferrite").middle
            low = np.minimum(full, content) + 0.0 * share
            with np.errstate(divide="ignore", invalid="ignore"):
                poor["N"] = np.where(share < 1, (content - share * low) / (1 - share), np.nan)
            rich["N"] = low
            continue
        ratio = partition(element, at, nitrogen, chromium)
        poor[element] = content / (1.0 + share * (ratio - 1.0))
        rich[element] = ratio * poor[element]
    return share, rich, poor


def _indices(rich: dict, poor: dict, factor: int) -> dict[str, np.ndarray]:
    # Relations are asked as plain functions of arrays: what is not there counts as nothing.
    tungsten = np.nan_to_num(poor.get("W", np.zeros(1))).max(initial=0.0) > 0
    ending = "_w" if tungsten else ""

    def index(phase: dict, weight: int) -> np.ndarray:
        relation = CATALOGUE[f"pren_{weight}n{ending}"]
        none = np.zeros_like(phase["Cr"])
        return relation.value({e: np.nan_to_num(phase[e]) if e in ("Mo", "W") and e in phase
                               else phase.get(e, none) for e in relation.elements})  # fmt: skip

    return {"PREN ferrite": index(rich, 16), "PREN austenite": index(poor, factor)}
