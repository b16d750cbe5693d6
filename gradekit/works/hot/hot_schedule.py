"""A pass schedule of the hot mill: every pass loaded to the same share of what the mill can do."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike, Label
from gradekit.core.errors import InputError, said
from gradekit.core.markup import details, items, panel, table
from gradekit.families.kinds import MANGANESE, kinds_of
from gradekit.heats.batch import one_heat
from gradekit.relations.groups import TURNS
from gradekit.works.hot.flow import Flow, flow_of
from gradekit.works.plant import Plant, PlantLike, as_plant
from gradekit.works.rolling import PASS_UNITS, pass_strain_rate, roll
from gradekit.works.tables import process_table

#: What the schedule asks of the plant table, with the unit it computes in.
NEEDS = {
    "hot_mill.force_max": "MN",
    "hot_mill.torque_max": "kN m",
    "hot_mill.roll_radius": "mm",
    "hot_mill.width_max": "mm",
    "hot_mill.entry_thickness": "mm",
    "hot_mill.finish_temperature_min": "C",
    "hot_mill.speed_max": "m/s",
    "hot_mill.passes_max": "1",
    "hot_mill.friction": "1",
    "reheating.temperature_max": "C",
}
_WINDOW = {
    "austenitic": "Cr-Ni austenitic slab",
    **dict.fromkeys(MANGANESE, "Cr-Mn-N slab"),
    "austenitic, Mo": "Mo austenitic 316/317",
    "superaustenitic": "superaustenitic slab",
    "duplex": "duplex lean and standard slab",
    **dict.fromkeys(("duplex, super", "duplex, hyper"), "superduplex slab"),
    "ferritic": "ferritic unstabilised 430",
    "stabilised ferritic": "ferritic stabilised 409/441/444",
    **dict(zip(TURNS, TURNS, strict=True)),
}
_SHARES = np.geomspace(0.1, 4.0, 8)
_FINER = (np.geomspace(0.85, 1.18, 6), np.geomspace(0.99, 1.01, 3))
_REDUCTIONS = np.concatenate([[0.002], np.linspace(0.02, 0.6, 19)])
_COLUMNS = ("entry_mm", "exit_mm", "reduction_pct", "temperature_C", "strain_rate_1_s",
            "stress_MPa", "force_MN", "torque_kNm", "bite_share")  # fmt: skip


@dataclass(frozen=True)
class HotSchedule:
    """Passes of one heat.

    Attributes
    ----------
    heat : label
    passes : DataFrame, one row a pass
        `entry_mm exit_mm reduction_pct temperature_C strain_rate_1_s stress_MPa force_MN
        torque_kNm bite_share`; the force is upper-bound, at the peak stress and the highest speed.
    load : float
        Share of force, torque or bite that every pass needs so that all passes together reach the
        thickness; above 1 the mill cannot.
    flow : Flow
    notes : tuple of str
    """

    heat: Label
    passes: pd.DataFrame
    load: float
    flow: Flow
    notes: tuple[str, ...]

    def __repr__(self) -> str:
        return f"HotSchedule of {self.heat}: {len(self.passes)} passes, load {self.load:.2f}"

    def _repr_html_(self) -> str:
        return panel(
            table(self.passes.round(3), f"Hot rolling of {self.heat}", units=PASS_UNITS),
            details("Notes", items(self.notes)),
            lead=f"Every pass takes {100 * self.load:.0f} % of what the mill allows",
        )


def hot_schedule(
    heat: HeatsLike,
    plant: PlantLike,
    *,
    exit_mm: float | None = None,
    family: str | None = None,
    peak_stress_MPa: float | None = None,
) -> HotSchedule:
    """Lay out the passes of the hot mill for one heat.

    Parameters
    ----------
    heat : anything `as_batch` takes, one heat
    plant : Plant, path or table
        All of `NEEDS` must be in it.
    exit_mm : float, optional
        Thickness of the hot strip; by default the thinnest that the works makes.
    family : str, optional
    peak_stress_MPa : float, optional
        Measured peak flow stress at 1000 °C and 1/s.

    Returns
    -------
    HotSchedule

    Raises
    ------
    InputError
        More than one heat, a plant without what is needed, or no constants of flow.

    Examples
    --------
    >>> steel = {"C": .05, "Si": .4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": .05}
    >>> s = hot_schedule(steel, "data/plant.csv", exit_mm=3)
    >>> len(s.passes), s.load < 1
    (13, True)
    """
    batch, works = one_heat(heat), as_plant(plant)
    kinds = kinds_of(batch, family)
    flow = flow_of(batch, kinds, peak_stress_MPa)[0]
    target = works.get("hot_mill.exit_thickness_min", "mm") if exit_mm is None else float(exit_mm)
    gap = works.gap(*NEEDS) or flow.gap
    if not np.isfinite(target):
        gap = gap or works.gap("hot_mill.exit_thickness_min")
    if gap:
        raise InputError("plant or steel", "complete for a pass schedule", said(gap))
    if not 0 < target < works.get("hot_mill.entry_thickness", "mm"):
        raise InputError("exit_mm", "thinner than the slab and above 0", target)
    share, passes = loads([flow], kinds, works, pd.Series(target, batch.index))
    count = passes["exit_mm"].shape[1]
    frame = pd.DataFrame({k: v[0] for k, v in passes.items()},
                         pd.RangeIndex(1, count + 1, name="pass"))  # fmt: skip
    notes = [
        f"constants of flow: {flow.name} ({flow.status})",
        "peak stress and highest speed in every pass: an upper bound of the force",
        "temperature falls evenly from the furnace to the last pass, no heat balance: measure",
    ]
    return HotSchedule(batch.index[0], frame, float(share[0]), flow,
                       tuple(notes + ([flow.doubt] if flow.doubt else [])))  # fmt: skip


def reheat_range(kinds: pd.Series) -> pd.DataFrame:
    """Return the hot-working window of each family: `start_min_c start_max_c finish_min_c
    finish_max_c status note`; NaN and '' where there is none."""
    known = _windows()
    names = [k if k in known.index else k.partition(", ")[0] for k in kinds]
    ranges = known.reindex(names).set_axis(kinds.index)
    return ranges.fillna({"status": "", "note": ""})


@cache
def _windows() -> pd.DataFrame:
    rows = process_table("hot_work_windows").set_index("grade_or_family")
    return rows.reindex([*_WINDOW.values()]).set_axis([*_WINDOW])


def loads(flows: list[Flow], kinds: pd.Series, plant: Plant, exit_mm: pd.Series) -> tuple:
    """Return the share of the mill that each heat needs, and its passes as arrays (heat, pass)."""
    limits = tuple((name, plant.get(name, unit)) for name, unit in NEEDS.items())
    by_heat = [_load(f, k, limits, float(x)) for f, k, x in zip(flows, kinds, exit_mm, strict=True)]
    share = np.array([s for s, _ in by_heat])
    return share, {k: np.stack([passes[k] for _, passes in by_heat]) for k in _COLUMNS}


# Heats of one kind of steel have the same passes, whatever else they hold.
@lru_cache(maxsize=256)
def _load(flow: Flow, kind: str, limits: tuple, exit_mm: float) -> tuple[float, dict]:
    limit = dict(limits)
    window = reheat_range(pd.Series([kind])).iloc[0]
    start = np.fmin(window["start_max_c"], limit["reheating.temperature_max"])
    finish = np.fmax(window["finish_min_c"], limit["hot_mill.finish_temperature_min"])
    celsius = np.linspace(start, finish, max(int(limit["hot_mill.passes_max"]), 1))
    share = 1.0
    for grid in (_SHARES, *_FINER):
        tried = share * grid
        thick = _walk(tried, flow, celsius, limit)[:, -1]
        known = np.isfinite(thick).all()
        log = np.interp(np.log(exit_mm), np.log(thick[::-1]), np.log(tried[::-1]))
        share = np.exp(log) if known else np.nan
    thick = _walk(np.array([share]), flow, celsius, limit)[0]
    entry, leave = thick[:-1], thick[1:]
    rate, stress, done, bitten = _trial(entry, leave, flow, celsius, limit)
    values = (entry, leave, 100.0 * (1.0 - leave / entry), celsius, rate, stress, done.force_MN,
              done.torque_kNm, bitten)  # fmt: skip
    return float(share), dict(zip(_COLUMNS, values, strict=True))


def _walk(shares: np.ndarray, flow: Flow, temperature: np.ndarray, limit: dict) -> np.ndarray:
    """Roll down with each share: thickness (share, pass), the slab first."""
    thick = [np.full(shares.shape, limit["hot_mill.entry_thickness"])]
    for celsius in temperature:
        entry = thick[-1][:, None]
        _, _, done, bitten = _trial(entry, entry * (1.0 - _REDUCTIONS), flow, celsius, limit)
        load = np.maximum(done.force_MN / limit["hot_mill.force_max"], bitten)
        load = np.maximum(load, done.torque_kNm / limit["hot_mill.torque_max"])
        thick.append(thick[-1] * (1.0 - _largest(load, shares)))
    return np.stack(thick, axis=-1)


def _trial(entry, leave, flow: Flow, celsius, limit: dict) -> tuple:
    """Return strain rate, stress, force and torque, and the share of the bite of passes."""
    radius, friction = limit["hot_mill.roll_radius"], limit["hot_mill.friction"]
    rate = pass_strain_rate(radius, entry, leave, limit["hot_mill.speed_max"])
    stress = flow.stress(celsius, rate)
    done = roll(limit["hot_mill.width_max"], radius, entry, leave, stress, friction)
    return rate, stress, done, (entry - leave) / (friction**2 * radius)


def _largest(load: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Return the largest reduction whose load is within the share, between grid points linear."""
    over, each = load > share[:, None], np.arange(len(share))
    at = np.clip(np.where(over.any(axis=1), over.argmax(axis=1), load.shape[1] - 1), 1, None)
    low, high = load[each, at - 1], load[each, at]
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.clip((share - low) / (high - low), 0.0, 1.0)
    return _REDUCTIONS[at - 1] + part * (_REDUCTIONS[at] - _REDUCTIONS[at - 1])
