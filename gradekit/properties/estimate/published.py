"""Properties for which a published relation is the best support there is."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

import numpy as np
import pandas as pd

from gradekit.core.flags import OUT, Flag
from gradekit.families.kinds import families, kinds_of
from gradekit.properties.estimate.frame import normal
from gradekit.properties.physical import physical_of_kind
from gradekit.relations.evaluate import Result, evaluate, spread
from gradekit.relations.groups import AUSTENITIC
from gradekit.relations.judgements import judged_errors, measured_error, measured_words
from gradekit.relations.leading import ms_form
from gradekit.relations.topics import CATALOGUE

_ABSOLUTE_ZERO = -273.15  # °C


def by_relation(name: str) -> Callable:
    """An estimate by a published relation, with the error found on measured heats."""

    def make(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
        result = evaluate(batch, name)
        judged = judged_errors()[name]
        steel = families(batch).to_numpy()
        own = judged.get("by_family")
        values = result.values[name].to_numpy().copy()
        if own:
            values -= [own.get(f, judged)["bias"] for f in steel]
        half = _half(name, level)
        frame = pd.DataFrame(
            {"value": values, "low": values - half, "high": values + half}, index=batch.index
        )
        frame["flag"] = result.flags[name].to_numpy().astype(np.uint16)
        less = ", less its bias on the family, which is of the same heats" if own else ""
        frame["basis"] = f"{name} ({CATALOGUE[name].status}){less}; {measured_words(name)}"
        beyond = ((frame["flag"].to_numpy() & OUT) != 0) & frame["value"].notna().to_numpy()
        for heat in frame.index[beyond]:
            frame.at[heat, "basis"] = f"not known: {name}: {result.words(heat, name)}"
        frame.loc[beyond, ["value", "low", "high"]] = np.nan
        frame.loc[beyond, "flag"] |= np.uint16(Flag.NO_SUPPORT)
        frame = _physical(frame) if CATALOGUE[name].unit == "°C" else frame
        return withheld(frame, name)

    return make


def martensite_start(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """An estimate by the form of Ms that holds for each heat."""
    form = ms_form(batch)
    parts = [
        by_relation(name)(batch[(form == name).to_numpy()], quantity, level, given)
        for name in dict.fromkeys(form)
    ]
    return pd.concat(parts).loc[batch.index] if len(parts) > 1 else parts[0]


def _half(name: str, level: float) -> float:
    """Return half the interval: never narrower at a higher level, nor than the scatter asks."""
    quantiles = {float(q): v for q, v in judged_errors()[name]["quantiles"].items()}
    held = [v for q, v in quantiles.items() if q >= level - 1e-9]
    return max(normal(level) * measured_error(name), min(held, default=max(quantiles.values())))


def _physical(frame: pd.DataFrame) -> pd.DataFrame:
    """Withhold temperatures below absolute zero: the form says that it never happens."""
    frame = frame.copy()
    never = (frame["value"] < _ABSOLUTE_ZERO).to_numpy()
    frame.loc[never, ["value", "low", "high"]] = np.nan
    frame.loc[never, "flag"] |= np.uint16(Flag.UNDEFINED)
    frame.loc[never, "basis"] = "calculated below absolute zero: never reached; " + frame["basis"]
    frame["low"] = frame["low"].clip(lower=_ABSOLUTE_ZERO)
    return frame


def withheld(frame: pd.DataFrame, what: str) -> pd.DataFrame:
    """Take away what was made from steels of another family; it answers for none but its own."""
    other = (frame["flag"].to_numpy() & int(Flag.OTHER_FAMILY)).astype(bool)
    frame.loc[other, ["value", "low", "high"]] = np.nan
    frame.loc[other, "flag"] |= np.uint16(Flag.NO_SUPPORT)
    frame.loc[other, "basis"] = f"not known: {what} was made from steels of another family"
    return frame


def md30(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Estimate Md30 by one published form, with the spread of all."""
    size = given.get("grain_size_astm", np.full(len(batch), 8.0))
    result: Result = spread(batch, "Md30", grain_size_astm=size)
    main = "md30_nohara_1977"
    value = result.values[main].to_numpy()
    z = normal(level)
    own = z * float(cast(float, CATALOGUE[main].error))
    table_ = result.spread
    frame = pd.DataFrame(
        {
            "value": value,
            "low": np.fmin(value - own, table_["low of all"].to_numpy()),
            "high": np.fmax(value + own, table_["high of all"].to_numpy()),
        },
        index=batch.index,
    )
    frame["flag"] = result.flags[main].to_numpy().astype(np.uint16)
    assumed = "" if "grain_size_astm" in given else ", grain size ASTM 8 assumed"
    frame["basis"] = (
        f"{main}{assumed}; the interval spans all {len(result.relations)} published forms and the "
        "trade's error of the first; no table of measured Md30 is at hand"
    )
    frame = withheld(_physical(frame), "every form of Md30")
    # Outside the contents that every form was made from even the sign is open.
    bits = result.flags[[r.name for r in result.relations]].to_numpy()
    outside = ((bits & OUT) != 0).all(axis=1) & frame["value"].notna().to_numpy()
    words = (
        "not known: no form of Md30 was made from such steel, and outside their range they read "
        + table_["low of all"].map("{:.0f}".format) + " to "
        + table_["high of all"].map("{:.0f}".format) + " °C; weigh drawn cups on a magnet balance"
    )  # fmt: skip
    frame.loc[outside, "basis"] = words[outside]
    frame.loc[outside, ["value", "low", "high"]] = np.nan
    frame.loc[outside, "flag"] |= np.uint16(Flag.NO_SUPPORT)
    return frame


def density(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Estimate density by a published form, or by the constant of the family."""
    name = "density_dyson_1970"
    result = evaluate(batch, name)
    steel = families(batch).to_numpy()
    austenitic = np.isin(steel, AUSTENITIC)
    constant = np.array([physical_of_kind(k)["density_kg_m3"] for k in kinds_of(batch)]) / 1000.0
    value = np.where(austenitic, result.values[name].to_numpy(), constant)
    half = normal(level) * float(cast(float, CATALOGUE[name].error))
    frame = pd.DataFrame(
        {"value": value, "low": value - half, "high": value + half}, index=batch.index
    )
    lacking = np.where(steel == "", np.uint16(Flag.NO_SUPPORT | Flag.MISSING), Flag.NO_SUPPORT)
    frame["flag"] = np.where(austenitic, result.flags[name].to_numpy(), lacking).astype(np.uint16)
    basis = CATALOGUE[name].error_basis
    frame["basis"] = np.select(
        [austenitic, np.isfinite(constant)],
        [f"{name} ({CATALOGUE[name].status}); {basis}", "of the family, EN 10088-1 (memory)"],
        "no density at hand for this family",
    )
    return frame
