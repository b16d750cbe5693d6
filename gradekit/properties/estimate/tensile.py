"""Strength and elongation: by a card inside the measured family, else by a published form."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.flags import Flag
from gradekit.families.kinds import families
from gradekit.properties.estimate.cards import Card, kind_of_steel, local_scale, model_card
from gradekit.properties.estimate.frame import estimates, in_parts, normal, some, withhold
from gradekit.properties.estimate.published_shift import INPUTS
from gradekit.properties.estimate.unmeasured import ROOM, WARM, unmeasured
from gradekit.relations.groups import AUSTENITIC
from gradekit.relations.topics import CATALOGUE
from gradekit.standards.minima import minimum_words

# Families of the measured heats: 304, 316, 321, 347 and Alloy 800.
_MEASURED = ("austenitic", "heat-resisting Fe-Ni-Cr")
# Highest contents of the measured steels, with some room, wt%: above, nothing measured supports.
_MOST_MN, _MOST_N = 2.5, 0.12
# What the trees take at its typical value where it is not told.
_COUNTED = ("Si", "Mn", "P", "S", "Mo", "Nb", "Ti")
# Tensile strength = shift + ratio x HV, from memory: annealed austenitic steel, and all other (from
# HV 130 to 580). The standard error of the ratio is a judgement.
_SOFT, _HARD, _RATIO_ERROR = (0.0, 3.5), (-99.8, 3.734), 0.2


def tensile(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Estimate proof strength, tensile strength or elongation."""
    names = (quantity, f"{quantity}_by_composition")
    columns = _columns(batch, given, {i for name in names for i in model_card(name).inputs})
    cards = np.where(columns["solution_temperature_C"].notna(), *names)
    frame = in_parts(batch, cards, lambda name, rows: _by_card(name, columns[rows], level))
    withhold(frame, columns["temperature_C"].isna(), None, Flag.CONDITION_MISSING)
    unknown = columns[["C", "Cr", "Ni"]].isna().any(axis=1).to_numpy()
    withhold(frame, unknown, None, Flag.MISSING)
    other_steel = ~np.isin(families(batch).to_numpy(), _MEASURED)
    other_steel |= columns["Mn"].to_numpy() > _MOST_MN
    rich = columns["N"].to_numpy() > _MOST_N
    outside = ~unknown & (other_steel | rich)
    if outside.any():
        other = unmeasured(batch[outside], quantity, level, some(given, outside))
        only_rich = ~other_steel[outside]
        other[only_rich] = _not_surer(other[only_rich], frame[outside][only_rich])
        frame = pd.concat([frame[~outside], other]).reindex(batch.index)
    _withhold_far(frame, batch, quantity, columns["temperature_C"].to_numpy() <= WARM)
    return frame


def _withhold_far(
    frame: pd.DataFrame, batch: pd.DataFrame, quantity: str, room: np.ndarray
) -> None:
    """Take away what is so far from the measured heats that the interval would begin at nothing."""
    lost = room & (frame["low"] <= 0.0).to_numpy()
    if not lost.any():
        return
    least = minimum_words(batch[lost], families(batch[lost]).to_numpy(), quantity)
    ends, told = frame.loc[lost, "high"].map("{:.0f}".format), frame.loc[lost, "basis"]
    withhold(frame, lost, [
        f"not known: so far from the measured heats that the interval would reach from 0 to {end}; "
        + "".join(f"{part}; " for part in basis.split("; ") if ", measured " in part) + words
        for end, basis, words in zip(ends, told, least, strict=True)
    ])  # fmt: skip


def _not_surer(other: pd.DataFrame, inside: pd.DataFrame) -> pd.DataFrame:
    """Widen what nothing measured supports to what the measured heats would leave open there."""
    half = (inside["high"] - inside["value"]).fillna(0.0)
    other = other.copy()
    other["low"] = np.minimum(other["low"], (other["value"] - half).clip(lower=0.0))
    other["high"] = np.maximum(other["high"], other["value"] + half)
    return other


def _columns(batch: pd.DataFrame, given: dict, inputs: set[str]) -> pd.DataFrame:
    """Return all that the heats and the conditions tell, what is not told as NaN."""
    told = {"temperature_C": ROOM} | given | dict(batch.items())
    columns = {name: told.get(name, np.nan) for name in sorted(inputs | {*INPUTS})}
    return pd.DataFrame(columns, batch.index, dtype=float)


def _by_card(name: str, columns: pd.DataFrame, level: float) -> pd.DataFrame:
    card = model_card(name)
    value = card.predict(columns)
    bits, wider = card.flags(columns)
    scale = local_scale(
        card.data["scale"], columns["temperature_C"].to_numpy(), kind_of_steel(columns)
    )
    half = np.hypot(card.quantile(level) * scale * wider, normal(level) * card.far_shift(columns))
    frame = estimates(columns, value, half, _basis(card, columns), bits)
    frame["low"] = frame["low"].clip(lower=0.0)
    return frame


def _basis(card: Card, columns: pd.DataFrame) -> np.ndarray:
    data, score = card.data, card.data["held_out"]
    words = (
        f"measured: {data['heats']} heats ({data['source']}); whole series of heats held out: mean "
        f"error {score['mae']:.3g} {data['unit']}, {score['mae_room']:.3g} at room temperature, "
        f"bias {score['bias']:.2g}"
    )
    words += "; the heats of other laboratories may err more"
    if "solution_temperature_C" not in card.features:
        words += "; solution temperature not told"
    remarks = {
        name: ("", f"; {name} not told, {data['typical'][name]:g} taken") for name in _COUNTED
    }
    if data["shift"]:
        relation, middle = data["shift"]["relation"], data["shift"]["reference"]
        by = f" by {relation} ({CATALOGUE[relation].status})"
        for name, said in (("grain_size_um", "grain size"), ("N", "nitrogen")):
            without = f"; {said} not told, {middle[name]:g} taken"
            remarks = {name: (f"; effect of {said}{by}", without)} | remarks
    # a works leaves out the same contents in every heat: words are joined once a pattern
    missing = columns[list(remarks)].isna().to_numpy()
    patterns, which = np.unique(missing @ (1 << np.arange(len(remarks))), return_inverse=True)
    told = [
        words + "".join(pair[p >> k & 1] for k, pair in enumerate(remarks.values()))
        for p in patterns.tolist()
    ]
    return np.array(told, dtype=object)[which] + card.outside(columns)


def hardness(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Estimate Vickers hardness at room temperature from the estimate of tensile strength."""
    frame = tensile(batch, "tensile_strength", level, given)
    strength = frame["value"].copy()
    austenitic = np.isin(families(batch).to_numpy(), AUSTENITIC)
    shift_, ratio = (np.where(austenitic, a, b) for a, b in zip(_SOFT, _HARD, strict=True))
    error = normal(level) * _RATIO_ERROR * strength / ratio
    half = np.hypot(frame["high"] - strength, error)
    for name, mpa in (("value", strength), ("low", strength - half), ("high", strength + half)):
        frame[name] = ((mpa - shift_) / ratio).clip(lower=0.0)
    frame["flag"] |= np.uint16(Flag.NO_SUPPORT)
    words = (
        f"tensile strength / {_SOFT[1]:g}",
        f"from tensile strength = {_HARD[0]:g} + {_HARD[1]:g} HV",
    )
    frame["basis"] = (
        "no measured support; "
        + pd.Series(np.where(austenitic, *words), batch.index)
        + f" (memory), MPa per HV taken to ± {_RATIO_ERROR:g} at one sigma; "
        + frame["basis"]
    )
    hot = given.get("temperature_C", np.full(len(batch), ROOM)) > WARM
    withhold(frame, hot, "no measured support, and no published relation for hot hardness")
    return frame
