"""Hot flow stress: Zener-Hollomon parameter, hyperbolic sine, constants by kind of steel."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, Numbers
from gradekit.core.errors import one_of
from gradekit.families.kinds import MANGANESE
from gradekit.heats.columns import amount, each_heat
from gradekit.relations.groups import AUSTENITIC, is_of
from gradekit.works.tables import as_numbers, process_table, row_of_kind

_GAS = 8.314e-3  # kJ/(mol K)
_ANCHOR_K, _ANCHOR_RATE = 1000.0 + 273.15, 1.0
_BASE = "304 default"
_TABLE = "peak_stress_anchors"


@dataclass(frozen=True)
class Flow:
    """Constants of hot flow: `q_kj_mol`, `alpha`, `n`, `a` (1/s); `name` of the set, `status`,
    `doubt` (what was borrowed), `gap` (why there is no value)."""

    name: str
    q_kj_mol: float
    alpha: float
    n: float
    a: float
    status: str
    doubt: str = ""
    gap: str = ""

    def stress(self, temperature_C: Numbers, rate_1_s: Numbers) -> np.ndarray:
        """Return the peak flow stress, MPa."""
        kelvin = np.asarray(temperature_C, dtype=float) + 273.15
        z = np.asarray(rate_1_s, dtype=float) * np.exp(self.q_kj_mol / (_GAS * kelvin))
        return np.arcsinh((z / self.a) ** (1.0 / self.n)) / self.alpha


def flow_stress(temperature_C: Numbers, rate_1_s: Numbers, steel: str = _BASE) -> np.ndarray:
    """Return the peak flow stress of a kind of steel, MPa.

    Parameters
    ----------
    temperature_C, rate_1_s : arrays or numbers
    steel : str
        '304 default', '316', '317' or 'S31254'.

    Returns
    -------
    ndarray, MPa

    Raises
    ------
    InputError
        A kind of steel without constants, or what is no number.

    Notes
    -----
    McQueen and Ryan's type of equation, from memory; the constant A is set so that 1000 °C and
    1/s give 155, 175, 190 and 230 MPa.

    Examples
    --------
    >>> flow_stress(1000, [0.1, 1, 10]).round().tolist()
    [114.0, 155.0, 198.0]
    """
    anchors = _anchors()
    one_of("steel", steel, anchors.index)
    numbers = as_numbers(temperature_C=temperature_C, rate_1_s=rate_1_s)
    return _flow(steel, float(anchors.at[steel, "peak_1000c_1_mpa"])).stress(*numbers)


def flow_of(heats: pd.DataFrame, kinds: pd.Series, peak_MPa: Given = None) -> list[Flow]:
    """Return the constants that serve each heat.

    Parameters
    ----------
    heats : clean batch
    kinds : Series
        Kinds of steel of the heats.
    peak_MPa : number, Series or mapping, optional
        Measured peak flow stress at 1000 °C and 1/s, which sets A whatever the steel.
    """
    peaks = each_heat(np.nan if peak_MPa is None else peak_MPa, heats, "peak_stress_MPa")
    plain = _anchors().reset_index()
    least = np.nan_to_num(plain["molybdenum_from_pct"].to_numpy())
    by_molybdenum = plain.to_dict("records")
    flows = []
    for kind, mo, peak in zip(kinds, amount(heats, "Mo"), peaks, strict=True):
        own = row_of_kind(_TABLE, kind)
        if is_of(kind, *AUSTENITIC) and kind not in MANGANESE:
            own = by_molybdenum[np.flatnonzero(least <= mo)[-1]]
        if own is None:
            gap = "no constants of flow for this family"
            flows.append(Flow("", np.nan, np.nan, np.nan, np.nan, "memory", gap=gap))
            continue
        measured = bool(np.isfinite(peak))
        anchor = peak if measured else own["peak_1000c_1_mpa"]
        doubt = "Q, alpha and n of Cr-Ni steel; the level of Cr-Mn-N steel from memory"
        doubt = doubt if kind in MANGANESE else ""
        flows.append(_flow(own["constants"], float(anchor), doubt, measured))
    return flows


@cache
def _anchors() -> pd.DataFrame:
    rows = process_table(_TABLE)
    return rows[rows["kind"] == "austenitic"].set_index("constants")


@cache
def _sets() -> dict[str, dict]:
    return process_table("hot_deformation").set_index("grade").to_dict("index")


def _flow(name: str, peak: float, doubt: str = "", measured: bool = False) -> Flow:
    row, base = _sets()[name], _sets()[_BASE]
    q, alpha, n = (float(row[c]) for c in ("q_kj_mol", "alpha_1_mpa", "n"))
    borrowed = np.isnan(alpha) or np.isnan(n)
    if borrowed:
        alpha, n = float(base["alpha_1_mpa"]), float(base["n"])
        doubt = "; ".join(filter(None, [doubt, f"alpha and n of {_BASE} serve for {name}"]))
    if name == _BASE and peak == _anchors().at[_BASE, "peak_1000c_1_mpa"]:
        a = float(row["a_1_s"])
    else:
        z = _ANCHOR_RATE * np.exp(q / (_GAS * _ANCHOR_K))
        a = z / np.sinh(alpha * peak) ** n
    return Flow(name, q, alpha, n, a, "heuristic" if borrowed or measured else "memory", doubt)
