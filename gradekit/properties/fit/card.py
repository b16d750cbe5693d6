"""The card of a fit: all of it as plain data, and back."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
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
_PLAIN = (
    "name", "title", "quantity", "unit", "domain", "note", "kind", "scatter", "between",
    "freedom", "furthest", "error", "error_basis", "verdict",
)  # fmt: skip
_OWN = {  # what each form of relation has of its own
    "linear": ("intercept", "terms"),
    "function": ("algebra", "uses", "recalibrates", "bias", "slope"),
}
_LISTS = ("families", "source", "remarks", "essential")


def card_of(fit: Fit) -> dict:
    """Return everything about a fit as plain data, to be written as JSON."""
    return {
        "card": _SIGN,
        **{key: getattr(fit, key) for key in _PLAIN},
        **{key: list(getattr(fit, key) or ()) for key in _LISTS},
        **{key: _plain(getattr(fit, key)) for key in _OWN[fit.form]},
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


def _plain(value: Any) -> Any:
    return dict(value) if isinstance(value, Mapping) else value


def read_card(card: PathLike | Mapping[str, Any]) -> dict:
    """Return the plain data of a card.

    Parameters
    ----------
    card : path of a JSON file, or what `card_of` returns

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
    known = {
        "card", *_PLAIN, *_LISTS, *_TABLES, *_OWN[form_in(card)],
        "covariance", "ranges", "check", "together", "counts",
    }  # fmt: skip
    wrong = [f"no '{k}'" for k in sorted(known - set(card))]
    wrong += [f"a '{k}'" for k in sorted(set(card) - known)]
    if wrong:
        got = said(", ".join(wrong))
        raise InputError("card", "whole, as save() of a fitted property wrote it", got)
    return card


def form_in(card: Mapping) -> str:
    """Return the form of the relation in a card."""
    return "function" if "algebra" in card else "linear"


def card_parts(card: Mapping) -> dict:
    """Return the arguments with which the fit of a card is made again."""
    data = {k: v for k, v in card.items() if k != "card"}
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
