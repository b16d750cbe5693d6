"""Properties for which a published relation is the best support there is."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.flags import OUT, Flag
from gradekit.families.kinds import families
from gradekit.properties.estimate.frame import (
    Estimator,
    estimates,
    in_parts,
    normal,
    some,
    trade_error,
    withhold,
)
from gradekit.properties.physical import physical_properties
from gradekit.relations.evaluate import evaluate, spread
from gradekit.relations.groups import AUSTENITIC
from gradekit.relations.judgements import judged_errors, measured_error, measured_words
from gradekit.relations.leading import ms_form
from gradekit.relations.topics import CATALOGUE

_ABSOLUTE_ZERO = -273.15  # °C


def by_relation(name: str) -> Estimator:
    """An estimate by a published relation, with the error found on measured heats."""

    def make(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
        result = evaluate(batch, name)
        value, flags = result.column(name)
        judged = judged_errors()[name]
        own, less = judged.get("by_family"), ""
        if own:
            value = value - [own.get(f, judged)["bias"] for f in families(batch)]
            less = ", less its bias on the family, which is of the same heats"
        basis = f"{name} ({CATALOGUE[name].status}){less}; {measured_words(name)}"
        frame = estimates(batch, value, _half(name, level), basis, flags)
        beyond = ((flags & OUT) != 0) & np.isfinite(value)
        words = [f"not known: {name}: {result.words(h, name)}" for h in frame.index[beyond]]
        withhold(frame, beyond, words)
        if CATALOGUE[name].unit == "°C":
            _withhold_impossible(frame)
        _withhold_other(frame, name)
        return frame

    return make


def martensite_start(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """An estimate by the form of Ms that holds for each heat."""

    def make(form: str, rows: np.ndarray) -> pd.DataFrame:
        return by_relation(form)(batch[rows], quantity, level, some(given, rows))

    return in_parts(batch, ms_form(batch).to_numpy(), make)


def _half(name: str, level: float) -> float:
    """Return half the interval: never narrower at a higher level, nor than the scatter asks."""
    quantiles = {float(q): v for q, v in judged_errors()[name]["quantiles"].items()}
    held = [v for q, v in quantiles.items() if q >= level - 1e-9]
    return max(normal(level) * measured_error(name), min(held, default=max(quantiles.values())))


def _withhold_impossible(frame: pd.DataFrame) -> None:
    """Withhold temperatures below absolute zero: the form says that it never happens."""
    never = frame["value"] < _ABSOLUTE_ZERO
    words = "calculated below absolute zero: never reached; " + frame["basis"]
    withhold(frame, never, words[never], Flag.UNDEFINED)
    frame["low"] = frame["low"].clip(lower=_ABSOLUTE_ZERO)


def _withhold_other(frame: pd.DataFrame, what: str) -> None:
    """Take away what was made from steels of another family; it answers for none but its own."""
    other = (frame["flag"] & int(Flag.OTHER_FAMILY)) != 0
    words = f"not known: {what} was made from steels of another family"
    withhold(frame, other, words)


def md30(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Estimate Md30 by one published form, with the spread of all."""
    size = given.get("grain_size_astm", np.full(len(batch), 8.0))
    result = spread(batch, "Md30", grain_size_astm=size)
    main = "md30_nohara_1977"
    assumed = "" if "grain_size_astm" in given else ", grain size ASTM 8 assumed"
    basis = (
        f"{main}{assumed}; the interval spans all {len(result.relations)} published forms and the "
        "trade's error of the first; no table of measured Md30 is at hand"
    )
    value, flags = result.column(main)
    frame = estimates(batch, value, normal(level) * trade_error(main), basis, flags)
    least, most = result.spread["low of all"], result.spread["high of all"]
    frame["low"], frame["high"] = np.fmin(frame["low"], least), np.fmax(frame["high"], most)
    _withhold_impossible(frame)
    _withhold_other(frame, "every form of Md30")
    # Outside the contents that every form was made from even the sign is open.
    outside = ((result.flags & OUT) != 0).all(axis=1) & frame["value"].notna()
    words = (
        "not known: no form of Md30 was made from such steel, and outside their range they read "
        + least.map("{:.0f}".format) + " to " + most.map("{:.0f}".format)
        + " °C; weigh drawn cups on a magnet balance"
    )  # fmt: skip
    withhold(frame, outside, words[outside])
    return frame


def density(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Estimate density by a published form, or by the constant of the family."""
    name = "density_dyson_1970"
    steel = families(batch).to_numpy()
    austenitic = np.isin(steel, AUSTENITIC)
    constant = physical_properties(batch)["density_kg_m3"].to_numpy() / 1000.0
    value, flags = evaluate(batch, name).column(name)
    basis = np.select(
        [austenitic, np.isfinite(constant)],
        [f"{name} ({CATALOGUE[name].status}); {CATALOGUE[name].error_basis}",
         "of the family, EN 10088-1 (memory)"],
        "no density at hand for this family",
    )  # fmt: skip
    lacking = np.where(steel == "", Flag.NO_SUPPORT | Flag.MISSING, Flag.NO_SUPPORT)
    return estimates(
        batch, np.where(austenitic, value, constant), normal(level) * trade_error(name), basis,
        np.where(austenitic, flags, lacking),
    )  # fmt: skip
