"""The card of a fit: all of it as plain data, and back."""

from __future__ import annotations

import json
import os
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from gradekit.errors import InputError, said
from gradekit.relation import Check

if TYPE_CHECKING:
    from gradekit.relation import Linear

__all__ = ["card_of", "parts_of"]

_SIGN = "fitted property, 1"
_TABLES = ("scores", "held_out", "learning", "leakage")
_PLAIN = (
    "name", "title", "quantity", "unit", "family", "domain", "note", "kind", "intercept",
    "scatter", "between", "freedom", "furthest", "error", "error_basis", "verdict",
)  # fmt: skip
_LISTS = ("source", "remarks", "essential")


def card_of(fit: Linear) -> dict:
    """Return everything about a fit as plain data, to be written as JSON."""
    return {
        "card": _SIGN,
        **{key: getattr(fit, key) for key in _PLAIN},
        **{key: list(getattr(fit, key) or ()) for key in _LISTS},
        "terms": dict(fit.terms),
        "covariance": fit.covariance.tolist(),
        "ranges": {name: list(span) for name, span in fit.ranges.items()},
        "check": {
            "composition": dict(fit.check.composition),
            "conditions": dict(fit.check.conditions),
            "value": fit.check.value,
        },
        "together": [list(pair) for pair in fit.together],
        "counts": dict(fit.counts),
        **{
            key: json.loads(getattr(fit, key).to_json(orient="split", double_precision=12))
            for key in _TABLES
        },
    }


def parts_of(card: object, kind: type) -> dict:
    """Return the arguments with which a class of fits makes the fit of a card.

    Parameters
    ----------
    card : path of a JSON file, or what `card_of` returns
    kind : dataclass

    Raises
    ------
    InputError
        Where it is no such card, or a part of it is missing.
    """
    if isinstance(card, (str, os.PathLike)):
        try:
            card = json.loads(Path(card).read_text("utf-8"))
        except (OSError, ValueError) as error:
            raise InputError("card", "a JSON file that save() wrote", said(str(error))) from None
    if not isinstance(card, dict) or card.get("card") != _SIGN:
        raise InputError("card", "what save() of a fitted property wrote", card)
    known = {f.name for f in fields(kind)}
    gone = [k for k in (*_PLAIN, *_LISTS, *_TABLES, "terms", "covariance", "ranges", "check",
                        "together", "counts") if k not in card]  # fmt: skip
    strange = [k for k in card if k not in known and k != "card"]
    if gone or strange:
        found = said(", ".join([f"no '{k}'" for k in gone] + [f"a '{k}'" for k in strange]))
        raise InputError("card", "whole, as save() of a fitted property wrote it", found)
    data = {k: v for k, v in card.items() if k != "card"}
    for key in _TABLES:
        data[key] = pd.DataFrame(**data[key])
    for key in ("scores", "leakage"):
        data[key].index.name = "candidate"
    data["held_out"]["group"] = data["held_out"]["group"].astype(str)
    data |= {key: tuple(data[key]) for key in _LISTS}
    return data | {
        "together": tuple(tuple(pair) for pair in data["together"]),
        "covariance": np.array(data["covariance"], dtype=float),
        "ranges": {name: tuple(span) for name, span in data["ranges"].items()},
        "check": Check(**data["check"], tolerance=tolerance_of(data["check"]["value"])),
        "status": "fitted by the user",
        "fitted": True,
    }


def tolerance_of(value: float) -> float:
    """Return how near a fit must come to its own value, through a card too."""
    return 1e-6 * abs(value) + 1e-9
