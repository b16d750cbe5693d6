"""The card of a fit: all of it as plain data, and back."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import PathLike
from gradekit.core.errors import InputError, said
from gradekit.properties.fit.property import Fit
from gradekit.relations.declaration import Check

_SIGN = "fitted property, 1"
_TABLES = ("scores", "held_out", "learning", "leakage", "influence", "robust")
_LISTS = ("families", "source", "remarks", "essential")
# What a card does not hold, for it is the same in every fit.
_SAME = ("status", "state", "floor", "ceiling", "fitted")


def card_of(fit: Fit) -> dict:
    """Return everything about a fit as plain data, to be written as JSON."""
    return {"card": _SIGN} | {name: _plain(getattr(fit, name)) for name in _kept(type(fit))}


def _kept(kind: type[Fit]) -> list[str]:
    return [f.name for f in fields(kind) if f.name not in _SAME]


def _plain(value: Any) -> Any:
    if isinstance(value, pd.DataFrame):
        return json.loads(value.to_json(orient="split", double_precision=12))
    if isinstance(value, Check):
        return {k: _plain(getattr(value, k)) for k in ("composition", "conditions", "value")}
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, Mapping):
        return {k: _plain(v) for k, v in value.items()}
    return [_plain(v) for v in value] if isinstance(value, (tuple, list)) else value


def read_card(card: PathLike | Mapping[str, Any]) -> dict:
    """Return the plain data of a card.

    Parameters
    ----------
    card : path of a JSON file, or what `card_of` returns

    Raises
    ------
    InputError
        Where it is no such card.
    """
    if isinstance(card, (str, os.PathLike)):
        try:
            card = json.loads(Path(card).read_text("utf-8"))
        except (OSError, ValueError) as error:
            raise InputError("card", "a JSON file that save() wrote", said(str(error))) from None
    if not isinstance(card, dict) or card.get("card") != _SIGN:
        raise InputError("card", "what save() of a fitted property wrote", card)
    return card


def card_parts(card: Mapping, kind: type[Fit]) -> dict:
    """Return the arguments with which the fit of a card is made again.

    Raises
    ------
    InputError
        Where a part of it is missing.
    """
    data, known = {k: v for k, v in card.items() if k != "card"}, set(_kept(kind))
    wrong = [f"no '{k}'" for k in sorted(known - set(data))]
    wrong += [f"a '{k}'" for k in sorted(set(data) - known)]
    if wrong:
        got = said(", ".join(wrong))
        raise InputError("card", "whole, as save() of a fitted property wrote it", got)
    for key in _TABLES:
        data[key] = pd.DataFrame(**data[key])
    for key in ("scores", "leakage"):
        data[key].index.name = "candidate"
    data["robust"].index.name = "term"
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
