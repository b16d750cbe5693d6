"""Tables that the declarations are compared with: read apart, no part of the library."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

__all__ = ["reading"]


def reading(name: str, *, as_text: bool = False) -> pd.DataFrame:
    """Return one table of this folder; an empty cell of a text column is ''."""
    table = pd.read_csv(Path(__file__).with_name(f"{name}.csv"), dtype=str if as_text else None)
    words = table.columns[[not pd.api.types.is_numeric_dtype(t) for t in table.dtypes]]
    return table.assign(**{c: table[c].fillna("") for c in words})
