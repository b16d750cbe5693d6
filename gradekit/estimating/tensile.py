"""Strength and elongation: by a card inside the measured family, else by a published form."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.estimating.frame import empty, normal, some
from gradekit.evaluate import evaluate
from gradekit.flags import Flag
from gradekit.models import Card, kind_of_steel, local_scale, model_card
from gradekit.published_shift import INPUTS
from gradekit.relations import CATALOGUE
from gradekit.route.families import AUSTENITIC, DUPLEX, families

__all__ = ["hardness", "tensile"]

# Highest contents of the measured steels, with some room, wt%: above, nothing measured supports.
_MEASURED = {"Mn": 2.5, "N": 0.12}
# Annealed 12-18Cr ferritic sheet: no composition form exists; from memory, MPa.
_FERRITIC_PROOF = (315.0, 40.0)
_TRADE_PROOF = 30.0  # MPa, one sigma of the published strength forms, trade judgement
_ROOM, _WARM = 20.0, 40.0  # °C; above the second, what holds at room temperature says nothing
# Annealed austenitic steel: MPa per HV, from memory, and its standard error, a judgement.
_STRENGTH_TO_HARDNESS, _RATIO_ERROR = 3.5, 0.2


def tensile(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Estimate proof strength, tensile strength or elongation."""
    names = (quantity, f"{quantity}_by_composition")
    columns = _columns(batch, given, {i for name in names for i in model_card(name).inputs})
    told = columns["solution_temperature_C"].notna().to_numpy()
    parts = [
        _by_card(name, columns[rows], level)
        for name, rows in zip(names, (told, ~told), strict=True)
        if rows.any()
    ]
    frame = pd.concat(parts).reindex(batch.index)
    for without, flag in (
        (columns["temperature_C"].isna(), Flag.CONDITION_MISSING),
        (columns[["C", "Cr", "Ni"]].isna().any(axis=1), Flag.MISSING),
    ):
        frame.loc[without, ["value", "low", "high"]] = np.nan
        frame.loc[without, "flag"] |= np.uint16(flag)
    outside = ~np.isin(families(batch).to_numpy(), AUSTENITIC)
    for element, high in _MEASURED.items():
        outside |= np.nan_to_num(columns[element].to_numpy()) > high
    outside &= columns[["C", "Cr", "Ni"]].notna().all(axis=1).to_numpy()
    if outside.any():
        other = _unmeasured(batch[outside], quantity, level, some(given, outside))
        frame = pd.concat([frame[~outside], other]).reindex(batch.index)
    return frame


def _columns(batch: pd.DataFrame, given: dict, inputs: set[str]) -> pd.DataFrame:
    """Return all that the heats and the conditions tell, what is not told as NaN."""
    columns = pd.DataFrame(np.nan, index=batch.index, columns=sorted(inputs | set(INPUTS)))
    for name in columns:
        if name in batch:
            columns[name] = batch[name].to_numpy(dtype=float)
        elif name in given:
            columns[name] = given[name]
    if "temperature_C" not in given:
        columns["temperature_C"] = _ROOM
    return columns


def _by_card(name: str, columns: pd.DataFrame, level: float) -> pd.DataFrame:
    card = model_card(name)
    value = card.predict(columns)
    bits, wider = card.flags(columns)
    scale = local_scale(
        card.data["scale"], columns["temperature_C"].to_numpy(), kind_of_steel(columns)
    )
    half = card.quantile(level) * scale * wider
    return pd.DataFrame(
        {
            "value": value,
            "low": np.maximum(value - half, 0.0),
            "high": value + half,
            "basis": _basis(card, columns),
            "flag": bits,
        },
        index=columns.index,
    )


def _basis(card: Card, columns: pd.DataFrame) -> np.ndarray:
    data, score = card.data, card.data["held_out"]
    words = (
        f"measured: {data['heats']} heats ({data['source']}); whole heats held out: mean error "
        f"{score['mae']:.3g} {data['unit']}, {score['mae_room']:.3g} at room temperature, bias "
        f"{score['bias']:.2g}"
    )
    if "solution_temperature_C" not in card.features:
        words += "; solution temperature not told"
    basis = np.full(len(columns), words, dtype=object)
    if data["shift"]:
        relation = data["shift"]["relation"]
        by = f" by {relation} ({CATALOGUE[relation].status})"
        for name, said in zip(INPUTS, ("nitrogen", "grain size"), strict=True):
            told = columns[name].notna().to_numpy()
            middle = data["shift"]["reference"][name]
            basis = basis + np.where(
                told, f"; effect of {said}{by}", f"; {said} not told, {middle:g} taken"
            )
    return basis + card.outside(columns)


def _unmeasured(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Duplex, ferritic, martensitic and Cr-Mn-N steel: a published form, or nothing."""
    frame = empty(batch, "no measured support, and no published relation for this family")
    hot = given.get("temperature_C", np.full(len(batch), _ROOM)) > _WARM
    if hot.any():
        frame["basis"] = "no measured support for this family above room temperature"
        if not hot.all():
            cold = _unmeasured(batch[~hot], quantity, level, some(given, ~hot))
            frame = pd.concat([frame[hot], cold]).reindex(batch.index)
        return frame
    if quantity == "elongation":
        return frame
    z = normal(level)
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
        sigma = max(_TRADE_PROOF, float(CATALOGUE[name].error))
        frame.loc[ok, "low"] = values[ok] - z * sigma
        frame.loc[ok, "high"] = values[ok] + z * sigma
        words = f"no measured support; {name} ({CATALOGUE[name].status}), trade error "
        frame.loc[ok, "basis"] = f"{words}{sigma:g} MPa at one sigma"
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


def hardness(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Estimate Vickers hardness at room temperature from the estimate of tensile strength."""
    frame = tensile(batch, "tensile_strength", level, given)
    strength = frame["value"].copy()
    half = np.hypot(
        frame["high"] - strength, normal(level) * _RATIO_ERROR / _STRENGTH_TO_HARDNESS * strength
    )
    frame["value"] = strength / _STRENGTH_TO_HARDNESS
    frame["low"] = (strength - half).clip(lower=0.0) / _STRENGTH_TO_HARDNESS
    frame["high"] = (strength + half) / _STRENGTH_TO_HARDNESS
    frame["flag"] = frame["flag"].to_numpy().astype(np.uint16) | np.uint16(Flag.NO_SUPPORT)
    frame["basis"] = (
        f"no measured support; tensile strength / {_STRENGTH_TO_HARDNESS:g} (memory, taken to "
        f"± {_RATIO_ERROR:g} at one sigma); " + frame["basis"]
    )
    hot = given.get("temperature_C", np.full(len(batch), _ROOM)) > _WARM
    frame.loc[hot, ["value", "low", "high"]] = np.nan
    frame.loc[hot, "basis"] = "no measured support, and no published relation for hot hardness"
    return frame
