"""Properties for which a published relation is the best support there is."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from gradekit.estimating.frame import normal
from gradekit.evaluate import Result, evaluate, spread
from gradekit.flags import Flag
from gradekit.judgements import judged, measured_error
from gradekit.relations import CATALOGUE
from gradekit.route.families import AUSTENITIC, DUPLEX, families

__all__ = ["by_relation", "density", "md30"]

_DUPLEX_DENSITY, _FERRITIC_DENSITY = 7.8, 7.7  # g/cm³, family constants, memory


def by_relation(name: str) -> Callable:
    """An estimate by a published relation, with the error found on measured heats."""

    def make(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
        result = evaluate(batch, name)
        found = judged()[name]
        values = result.values[name].to_numpy() - found["bias"]
        half = normal(level) * measured_error(name)
        at = {float(q): v for q, v in found["quantiles"].items()}
        half = max(half, at.get(level, 0.0))
        frame = pd.DataFrame(
            {"value": values, "low": values - half, "high": values + half}, index=batch.index
        )
        frame["flag"] = result.flags[name].to_numpy().astype(np.uint16)
        frame["basis"] = (
            f"{name} ({CATALOGUE[name].status}), less its bias of {found['bias']:.2g}; measured: "
            f"rmse {found['rmse']:.2g} {found['unit']} on {found['heats']} heats "
            f"({found['table']}), {found['rmse_by_group']:.2g} with each of {found['groups']} "
            "sources counted once; the bias is of the same heats"
        )
        steel = families(batch).to_numpy()
        wrong = _unfit(quantity, steel)
        frame.loc[wrong, "flag"] |= np.uint16(Flag.NO_SUPPORT)
        frame.loc[wrong, "basis"] = "no measured support for this family; " + frame["basis"]
        return frame

    return make


def _unfit(quantity: str, steel: np.ndarray) -> np.ndarray:
    if quantity == "martensite_start":
        return steel != "martensitic"
    return ~np.isin(steel, (*AUSTENITIC, *DUPLEX)) | (steel == "Cr-Mn-N austenitic")


def md30(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Estimate Md30 by one published form, with the spread of all."""
    size = given.get("grain_size_astm", np.full(len(batch), 8.0))
    result: Result = spread(batch, "Md30", grain_size_astm=size)
    main = "md30_nohara_1977"
    value = result.values[main].to_numpy()
    z = normal(level)
    own = z * float(CATALOGUE[main].error)
    table_ = result.spread
    frame = pd.DataFrame(
        {
            "value": value,
            "low": np.fmin(value - own, table_["low"].to_numpy()),
            "high": np.fmax(value + own, table_["high"].to_numpy()),
        },
        index=batch.index,
    )
    frame["flag"] = result.flags[main].to_numpy().astype(np.uint16)
    assumed = "" if "grain_size_astm" in given else ", grain size ASTM 8 assumed"
    frame["basis"] = (
        f"{main}{assumed}; the interval spans all {len(result.relations)} published forms and the "
        "trade's error of the first; no table of measured Md30 is at hand"
    )
    return frame


def density(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Estimate density by a published form, or by the constant of the family."""
    name = "density_dyson_1970"
    result = evaluate(batch, name)
    steel = families(batch).to_numpy()
    austenitic = np.isin(steel, AUSTENITIC)
    constant = np.where(np.isin(steel, DUPLEX), _DUPLEX_DENSITY, _FERRITIC_DENSITY)
    value = np.where(austenitic, result.values[name].to_numpy(), constant)
    half = normal(level) * float(CATALOGUE[name].error)
    frame = pd.DataFrame(
        {"value": value, "low": value - half, "high": value + half}, index=batch.index
    )
    frame["flag"] = np.where(
        austenitic, result.flags[name].to_numpy(), np.uint16(Flag.NO_SUPPORT)
    ).astype(np.uint16)
    basis = CATALOGUE[name].error_basis
    frame["basis"] = np.where(
        austenitic, f"{name} ({CATALOGUE[name].status}); {basis}", "family constant, memory"
    )
    return frame
