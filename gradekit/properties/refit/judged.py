"""Published relations on measured heats that their authors did not see."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from gradekit.families.kinds import families
from gradekit.properties.conformal import Conformal
from gradekit.properties.refit.trees import DATE, ELEMENTS, LEVELS, read_tensile
from gradekit.properties.refit.writing import short_number
from gradekit.relations.evaluate import evaluate
from gradekit.relations.topics import CATALOGUE

JUDGED_TENSILE = {
    "yield_nordberg_2004": "YS02_MPa",
    "yield_irvine_1969": "YS02_MPa",
    "yield_irvine_1969_const41": "YS02_MPa",
    "uts_nordberg_2004": "UTS_MPa",
}


# Fewer heats of a family than these say nothing of it.
_FEW = 4


def judge_relations(folder: Path) -> dict:
    """Compare published relations with the measured tables; bias is calculated minus measured."""
    judgements: dict[str, dict] = {}
    tensile = read_tensile(folder)
    room = tensile[(tensile["temperature_C"] < 35) & tensile["grain_size_um"].notna()]
    for name, column in JUDGED_TENSILE.items():
        batch = room[ELEMENTS].reset_index(drop=True)
        result = evaluate(
            batch, name, grain_size_um=room["grain_size_um"].to_numpy(), delta_ferrite_pct=0.0
        )
        error = result.values.iloc[:, 0].to_numpy() - room[column].to_numpy()
        judgements[name] = _judgement(error, room["heat_id"], "MPa", "annealed austenitic, 20 °C")
    pitting = pd.read_csv(folder / "pitting_crevice_temperature.csv")
    # one scale only: FeCl3 by G48 or its forerunner; MTI tests and NaCl are others
    pitting = pitting[pitting["censored"].isna() & pitting["test"].str.startswith("G48-type")]
    pitting = pitting[pitting["solution"].str.contains("FeCl3")]
    for name in CATALOGUE.quantities()["critical pitting temperature"]:
        _judge_corrosion(judgements, name, pitting[pitting["test"].str.contains("CPT")])
    for name in CATALOGUE.quantities()["critical crevice temperature"]:
        _judge_corrosion(judgements, name, pitting[pitting["test"].str.contains("CCT")])
    ms = pd.read_csv(folder / "ms_temperature.csv")
    ms = ms[ms["flag"].isna() & (ms["C"] <= 0.3) & ms["Cr"].between(10.5, 19)]
    elements = [c for c in ms if c in ELEMENTS or c == "W"]
    for name in CATALOGUE.quantities()["Ms"]:
        values = evaluate(ms[elements].reset_index(drop=True), name).values.iloc[:, 0].to_numpy()
        heats = pd.Series(np.arange(len(ms)))
        judgements[name] = _judgement(
            values - ms["Ms_C"].to_numpy(), heats, "°C", "11 to 18Cr steels, C up to 0.3"
        )
    return {
        "schema": 1,
        "what": "published relations on measured heats; bias is calculated minus measured",
        "command": "python -m gradekit.properties.refit FOLDER",
        "date": DATE,
        "relations": {k: v for k, v in judgements.items() if v},
    }


def _judge_corrosion(judgements: dict, name: str, rows: pd.DataFrame) -> None:
    if "nacl" in name or "g150" in name or "jargelius" in name or name.endswith("ni_base"):
        return  # another test, or another kind of alloy: never mixed
    elements = [c for c in rows if c in ELEMENTS or c == "W"]
    batch = rows[elements].astype(float).reset_index(drop=True)
    # a blank nitrogen is not known, so relations that need it have no value there
    values = evaluate(batch, name).values.iloc[:, 0].to_numpy()
    error = values - rows["value"].to_numpy(dtype=float)
    early = rows["test"].str.contains("pre-standard").to_numpy() & np.isfinite(values)
    said = f"FeCl3 immersion, {int(early.sum())} of them by the forerunner of G48 in 10 % FeCl3"
    judgements[name] = _judgement(error, rows["source"], "°C", said)
    if judgements[name]:
        steel = families(batch.fillna(0.0)).to_numpy()
        judgements[name]["by_family"] = {
            family: {"bias": short_number(e.mean(), 3), "scatter": short_number(e.std(ddof=1), 3),
                     "heats": len(e)}
            for family in dict.fromkeys(steel)
            if len(e := error[(steel == family) & np.isfinite(error)]) >= _FEW
        }  # fmt: skip


def _judgement(error: np.ndarray, groups: pd.Series, unit: str, table: str) -> dict:
    good = np.isfinite(error)
    if good.sum() < 8:
        return {}
    e = error[good]
    # each publication (or heat) once: a table of one large publication must not promise for others
    by_group = pd.Series((e - e.mean()) ** 2).groupby(np.asarray(groups)[good]).mean()
    return {
        "rmse_by_group": short_number(np.sqrt(by_group.mean()), 3),
        "bias": short_number(e.mean(), 3),
        "mae": short_number(np.abs(e).mean(), 3),
        "rmse": short_number(np.sqrt((e**2).mean()), 3),
        "heats": int(good.sum()),
        "groups": int(pd.Series(np.asarray(groups))[good].nunique()),
        "unit": unit,
        "table": table,
        "quantiles": _quantiles(np.abs(e)),
    }


def _quantiles(error: np.ndarray) -> dict[str, float]:
    """Return the error that a share of new heats stays below, as far as so many can promise."""
    conformal = Conformal.of(error, np.arange(len(error)))
    promised = [q for q in LEVELS if q <= conformal.heats / (conformal.heats + 1)]
    return {f"{q:g}": short_number(conformal.at(q), 3) for q in promised}
