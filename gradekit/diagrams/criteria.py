"""Published limits on how a steel solidifies, each bound to the equivalents it was found with."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError
from gradekit.core.sources import REFERENCE, cited

MODES = ("A", "AF", "FA", "F")
_TITLES = {
    "schaeffler_switch": "Schaeffler ratio, first phase",
    "schaeffler_bands": "Schaeffler ratio, four modes",
    "hammar_slow": "Hammar-Svensson ratio, slow growth (ingot, casting)",
    "hammar_fast": "Hammar-Svensson ratio, fast arc welding",
    "hammar_bands": "Hammar-Svensson ratio, working set of four modes",
}


class Band(NamedTuple):
    """A stretch of a ratio, lower < ratio <= upper, and the modes it stands for."""

    modes: tuple[str, ...]
    lower: float
    upper: float
    meaning: str
    status: str
    source: str

    @property
    def word(self) -> str:
        return " or ".join(self.modes)


@dataclass(frozen=True)
class Criterion:
    """Limits of one ratio of equivalents, inseparable from it."""

    name: str
    title: str
    relation: str
    bands: tuple[Band, ...]

    def band(self, ratio: float) -> Band | None:
        """Return the band of a value of `relation`."""
        return next((b for b in self.bands if b.lower < ratio <= b.upper), None)


@cache
def limits() -> pd.DataFrame:
    """Return the table of limits as it is kept, its ends as numbers."""
    text = pd.read_csv(
        REFERENCE / "solidification_limits.csv", dtype=str, keep_default_na=False
    ).set_index("id")
    for end in ("lower", "upper"):
        text[end] = pd.to_numeric(text[end].replace("", np.nan))
    return text


def solidification_limits() -> pd.DataFrame:
    """Return every published limit on solidification and hot cracking that the library knows.

    Returns
    -------
    DataFrame, indexed by id
        `criterion modes quantity equivalents relation given lower upper meaning status source`.
        `relation` is what the limit belongs to; it is empty where the source does not state its
        equivalents, and such a limit is shown, never applied.

    Examples
    --------
    >>> limits = solidification_limits()
    >>> limits.loc["s10", "relation"], limits.loc["s2", "status"]
    ('', 'verified')
    """
    out = limits().copy()
    out["source"] = [cited(s) for s in out["source"]]
    return out


@cache
def criteria() -> tuple[Criterion, ...]:
    """Return the criteria for the mode, each with the one ratio it holds for."""
    rows = limits().query("criterion != ''").fillna({"lower": -np.inf, "upper": np.inf})
    rows["modes"] = rows["modes"].str.split().map(tuple)
    made = []
    for name, own in rows.groupby("criterion", sort=False):
        relation, *others = own["relation"].unique()
        if others:
            raise InputError(f"criterion '{name}'", "of one ratio", sorted([relation, *others]))
        bands = own[list(Band._fields)].itertuples(index=False)
        made.append(Criterion(name, _TITLES[name], relation, tuple(map(Band._make, bands))))
    return tuple(made)
