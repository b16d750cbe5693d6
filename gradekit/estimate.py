"""The best supported estimate of a property, with an interval and what it rests on."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pandas as pd

from gradekit.composition import as_batch
from gradekit.conformal import check_level
from gradekit.errors import InputError, nearest
from gradekit.evaluate import Result, evaluate, spread
from gradekit.flags import Flag
from gradekit.html import panel, table
from gradekit.judgements import judged
from gradekit.models import Card, card, kind_of_steel, local_scale
from gradekit.relations import CATALOGUE
from gradekit.route.families import AUSTENITIC, DUPLEX, families

__all__ = ["QUANTITIES", "Estimate", "estimate"]

COLUMNS = ["value", "low", "high", "basis", "flag"]
# What else an estimate may be told, with its unit in the name.
_CONDITIONS = (
    "temperature_C", "solution_temperature_C", "grain_size_um", "grain_size_astm",
    "delta_ferrite_pct",
)  # fmt: skip
# Composition range of the measured steels, wt%: outside it the family has no measured support.
_MEASURED = {"Mn": (0.0, 2.5), "N": (0.0, 0.12)}
# Annealed 12-18Cr ferritic sheet: no composition form exists; from memory, MPa.
_FERRITIC_PROOF = (315.0, 40.0)
_TRADE_PROOF = 30.0  # MPa, one sigma of the published strength forms, trade judgement
_DUPLEX_DENSITY, _FERRITIC_DENSITY = 7.8, 7.7  # g/cm³, family constants, memory


class Estimate(pd.DataFrame):
    """`value low high basis flag` for each heat; says in a page what it rests on."""

    _metadata = ("quantity", "unit", "level")

    @property
    def _constructor(self) -> type:
        return pd.DataFrame

    def words(self, heat: object) -> str:
        """Say the flag of one heat in words."""
        return Flag(int(self.at[heat, "flag"])).words()

    def _repr_html_(self) -> str:
        shown = pd.DataFrame(self)
        shown["flag"] = [Flag(int(f)).words() for f in shown["flag"]]
        units = {c: self.unit for c in ("value", "low", "high")}
        caption = f"{self.quantity.replace('_', ' ')}, interval at {100 * self.level:g} %"
        return panel(table(shown, caption, units=units, wide=["basis", "flag"], digits=3))


def estimate(heats: object, quantity: str, level: float = 0.90, **conditions: object) -> Estimate:
    """Estimate a property of annealed steel with an honest interval.

    Parameters
    ----------
    heats : anything `as_batch` takes
    quantity : str
        One of `QUANTITIES`.
    level : float
        Share of new heats that shall lie inside, 0.5 to 0.975.
    **conditions
        `temperature_C` (test temperature, 20 by default), `solution_temperature_C`,
        `grain_size_um`, `grain_size_astm`, `delta_ferrite_pct`; one value, or one a heat.

    Returns
    -------
    DataFrame
        `value`, `low`, `high` in the unit of the quantity, `basis` in words, `flag` bits. Where
        no measured heats support the family, the flag is NO_SUPPORT and the basis names the
        published relation and the trade's error, or says that there is nothing.

    Raises
    ------
    InputError
        Unknown quantity, condition or level.

    Examples
    --------
    >>> heat = {"C": .05, "Si": .5, "Mn": 1.4, "Cr": 18.2, "Ni": 8.6, "Mo": .2, "N": .05}
    >>> e = estimate(heat, "proof_strength")
    >>> bool(e.low.iloc[0] < e.value.iloc[0] < e.high.iloc[0])
    True
    """
    if quantity not in QUANTITIES:
        raise InputError(
            "quantity", ", ".join(QUANTITIES), quantity, nearest(str(quantity), QUANTITIES)
        )
    check_level(level)
    for name in conditions:
        if name not in _CONDITIONS:
            raise InputError("condition", ", ".join(_CONDITIONS), name, nearest(name, _CONDITIONS))
    batch = as_batch(heats)
    given = {k: _column(k, v, batch) for k, v in conditions.items() if v is not None}
    unit, make = QUANTITIES[quantity]
    frame = make(batch, quantity, level, given)
    result = Estimate(frame[COLUMNS])
    result.quantity, result.unit, result.level = quantity, unit, level
    return result


def _column(name: str, value: object, batch: pd.DataFrame) -> np.ndarray:
    if isinstance(value, pd.Series):
        value = value.reindex(batch.index)
    try:
        array = np.asarray(value, dtype=float)
        return np.broadcast_to(array, len(batch)).copy()
    except (TypeError, ValueError):
        raise InputError(name, f"a number, or one for each of {len(batch)} heats", value) from None


def _empty(batch: pd.DataFrame, basis: str) -> pd.DataFrame:
    frame = pd.DataFrame(index=batch.index, columns=COLUMNS)
    frame[["value", "low", "high"]] = np.nan
    frame["basis"] = basis
    frame["flag"] = np.full(len(batch), int(Flag.NO_SUPPORT), dtype=np.uint16)
    return frame.astype({"value": float, "low": float, "high": float})


def _normal(level: float) -> float:
    """How many standard errors each side a level asks for."""
    from statistics import NormalDist

    return NormalDist().inv_cdf(0.5 + level / 2.0)


@cache
def _support_words(quantity: str) -> str:
    data = card(quantity).data
    score = data["held_out"]
    return (
        f"measured: {data['heats']} heats ({data['source']}); whole heats held out: mean error "
        f"{score['mae']:.3g} {data['unit']}, bias {score['bias']:.2g}"
    )


def _tensile(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    annealed, plain = card(quantity), card(f"{quantity}_by_composition")
    table_ = pd.DataFrame(index=batch.index, columns=annealed.features, dtype=float)
    for feature in annealed.features:
        if feature in batch:
            table_[feature] = batch[feature].to_numpy()
        elif feature in given:
            table_[feature] = given[feature]
    table_["temperature_C"] = given.get("temperature_C", np.full(len(batch), 20.0))
    told = table_["solution_temperature_C"].notna().to_numpy()
    frame = pd.DataFrame(index=batch.index, columns=COLUMNS)
    frame["flag"] = np.zeros(len(batch), dtype=np.uint16)
    frame = frame.astype({"value": float, "low": float, "high": float, "basis": object})
    for model, rows in ((annealed, told), (plain, ~told)):
        if rows.any():
            name = quantity if model is annealed else f"{quantity}_by_composition"
            frame.loc[rows, COLUMNS] = _by_card(model, name, table_[rows], level)[COLUMNS]
    frame["flag"] = frame["flag"].astype(np.uint16)
    no_test = table_["temperature_C"].isna().to_numpy()
    frame.loc[no_test, ["value", "low", "high"]] = np.nan
    frame.loc[no_test, "flag"] |= np.uint16(Flag.CONDITION_MISSING)
    known = table_[["C", "Cr", "Ni"]].notna().all(axis=1).to_numpy()
    frame.loc[~known, ["value", "low", "high"]] = np.nan
    frame.loc[~known, "flag"] |= np.uint16(Flag.MISSING)
    steel = families(batch).to_numpy()
    outside = np.zeros(len(batch), dtype=bool)
    for element, (_, high) in _MEASURED.items():
        if element in batch:
            outside |= np.nan_to_num(batch[element].to_numpy()) > high
    unsupported = known & (~np.isin(steel, AUSTENITIC) | outside)
    if unsupported.any():
        other = _unmeasured(batch[unsupported], quantity, level, _some(given, unsupported))
        frame = pd.concat([frame[~unsupported], other]).reindex(batch.index)
    return frame


def _by_card(model: Card, name: str, columns: pd.DataFrame, level: float) -> pd.DataFrame:
    x = model.table(columns)
    value = model.predict(x)
    bits, wider = model.flags(x)
    scale = local_scale(
        model.data["scale"], columns["temperature_C"].to_numpy(), kind_of_steel(columns)
    )
    half = model.quantile(level) * scale * wider
    frame = pd.DataFrame(
        {"value": value, "low": np.maximum(value - half, 0.0), "high": value + half},
        index=columns.index,
    )
    without = name.endswith("_by_composition")
    frame["basis"] = _support_words(name) + ("; solution temperature not told" if without else "")
    frame["flag"] = bits
    return frame


def _some(given: dict, mask: np.ndarray) -> dict:
    return {k: v[mask] for k, v in given.items()}


def _unmeasured(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Duplex, ferritic, martensitic and Cr-Mn-N steel: a published form, or nothing."""
    frame = _empty(batch, "no measured support, and no published relation for this family")
    hot = given.get("temperature_C", np.full(len(batch), 20.0)) > 40
    if hot.any():
        frame["basis"] = "no measured support for this family above room temperature"
        if not hot.all():
            cold = _unmeasured(batch[~hot], quantity, level, _some(given, ~hot))
            frame = pd.concat([frame[hot], cold]).reindex(batch.index)
        return frame
    if quantity == "elongation":
        return frame
    z = _normal(level)
    steel = families(batch).to_numpy()
    name = "yield_nordberg_2004" if quantity == "proof_strength" else "uts_nordberg_2004"
    for_form = np.isin(steel, (*AUSTENITIC, *DUPLEX))
    needed = {"grain_size_um": given.get("grain_size_um"), "delta_ferrite_pct": None}
    ferrite = np.where(np.isin(steel, DUPLEX), np.nan, 0.0)
    needed["delta_ferrite_pct"] = given.get("delta_ferrite_pct", ferrite)
    if for_form.any() and needed["grain_size_um"] is not None:
        result = evaluate(batch, name, **needed)
        values = result.values[name].to_numpy()
        ok = for_form & np.isfinite(values)
        frame.loc[ok, "value"] = values[ok]
        frame.loc[ok, "low"] = values[ok] - z * _TRADE_PROOF
        frame.loc[ok, "high"] = values[ok] + z * _TRADE_PROOF
        words = f"no measured support; {name} ({CATALOGUE[name].status}), trade error "
        frame.loc[ok, "basis"] = f"{words}{_TRADE_PROOF:g} MPa at one sigma"
        frame.loc[ok, "flag"] |= result.flags[name].to_numpy()[ok].astype(np.uint16)
    lacking = for_form & frame["value"].isna().to_numpy()
    frame.loc[lacking, "basis"] = (
        f"no measured support; {name} needs grain_size_um and, for duplex steel, delta_ferrite_pct"
    )
    if quantity == "proof_strength":
        ferritic = np.char.find(steel.astype(str), "ferritic") >= 0
        middle, sigma = _FERRITIC_PROOF
        frame.loc[ferritic, ["value", "low", "high"]] = (
            middle, middle - z * sigma, middle + z * sigma,
        )  # fmt: skip
        frame.loc[ferritic, "basis"] = (
            "no measured support; annealed 12-18Cr ferritic sheet 300 to 330 MPa, memory, whatever "
            "the composition"
        )
    return frame


def _by_relation(name: str) -> Callable:
    """An estimate by a published relation, with the error found on measured heats."""

    def make(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
        result = evaluate(batch, name)
        found = judged()[name]
        values = result.values[name].to_numpy() - found["bias"]
        half = _normal(level) * max(found["rmse"], found["rmse_by_group"])
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


def _md30(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    size = given.get("grain_size_astm", np.full(len(batch), 8.0))
    result: Result = spread(batch, "Md30", grain_size_astm=size)
    main = "md30_nohara_1977"
    value = result.values[main].to_numpy()
    z = _normal(level)
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


def _density(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    name = "density_dyson_1970"
    result = evaluate(batch, name)
    steel = families(batch).to_numpy()
    austenitic = np.isin(steel, AUSTENITIC)
    constant = np.where(np.isin(steel, DUPLEX), _DUPLEX_DENSITY, _FERRITIC_DENSITY)
    value = np.where(austenitic, result.values[name].to_numpy(), constant)
    half = _normal(level) * float(CATALOGUE[name].error)
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


def _hardness(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    strength = _tensile(batch, "tensile_strength", level, given)
    frame = strength.copy()
    # annealed austenitic steel: Rm is about 3.5 HV, from memory
    frame[["value", "low", "high"]] = strength[["value", "low", "high"]] / 3.5
    frame["flag"] = frame["flag"].to_numpy().astype(np.uint16) | np.uint16(Flag.NO_SUPPORT)
    frame["basis"] = "no measured support; tensile strength / 3.5 (memory); " + frame["basis"]
    return frame


#: Quantities with unit and how each is estimated.
QUANTITIES: dict[str, tuple[str, Callable]] = {
    "proof_strength": ("MPa", _tensile),
    "tensile_strength": ("MPa", _tensile),
    "elongation": ("%", _tensile),
    "pitting_temperature": ("°C", _by_relation("cpt_g48")),
    "crevice_temperature": ("°C", _by_relation("cct_g48")),
    "md30": ("°C", _md30),
    "martensite_start": ("°C", _by_relation("ms_self_1984")),
    "hardness": ("HV", _hardness),
    "density": ("g/cm³", _density),
}
