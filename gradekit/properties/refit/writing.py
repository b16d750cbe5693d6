"""How a card is written: rounded numbers, a line a tree, the same bytes each time."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
from numpy.typing import ArrayLike


def short_number(value: float, digits: int = 5) -> float:
    """Return a number with so many digits."""
    return float(f"{value:.{digits}g}")


def shorts(values: ArrayLike, digits: int = 5) -> Any:
    """Return an array as lists of such numbers; one number as itself."""
    array = np.asarray(values, dtype=float)
    if array.ndim == 0:
        return short_number(float(array), digits)
    return [shorts(v, digits) for v in array]


def as_text(data: dict) -> str:
    """Return the text of a card: one line a tree, keys in their order."""
    trees = data.get("trees")
    text = json.dumps({k: v for k, v in data.items() if k != "trees"}, indent=1, ensure_ascii=False)
    if trees is None:
        return text + "\n"
    lines = ",\n".join(json.dumps(t, separators=(",", ":")) for t in trees)
    return f'{text[:-2]},\n "trees": [\n{lines}\n]}}\n'
