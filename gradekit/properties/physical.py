"""Physical properties of each family, as lists of stainless steels give them."""

from __future__ import annotations

from functools import cache

import pandas as pd

from gradekit.core.aliases import HeatsLike
from gradekit.core.sources import REFERENCE
from gradekit.families.kinds import kinds_of
from gradekit.heats.batch import as_batch


def physical_properties(heats: HeatsLike) -> pd.DataFrame:
    """Return density, expansion, modulus, conductivity, heat capacity and magnetism by family.

    Parameters
    ----------
    heats : anything `as_batch` takes
        Compositions in wt%; they only say which family it is.

    Returns
    -------
    DataFrame, one row a heat
        `kind`; `density_kg_m3`, `expansion_1e6_per_k` (20 to 100 °C), `modulus_gpa`,
        `conductivity_w_mk`, `resistivity_uohm_m`, `heat_capacity_j_kgk` at room temperature;
        `magnetic` in words; `status`, `source`, `note` (the grade whose figures they are). NaN
        where a family has no figures.

    Raises
    ------
    InputError
        Heats that cannot be read (see `as_batch`).

    Notes
    -----
    EN 10088-1, from memory: rounded figures of one grade a family, no forecast for a composition.

    Examples
    --------
    >>> steel = {"C": 0.02, "Si": 0.4, "Mn": 1.6, "Cr": 22.4, "Ni": 5.7, "Mo": 3.1, "N": 0.17}
    >>> physical_properties(steel)[["kind", "density_kg_m3", "magnetic"]].values.tolist()
    [['duplex, standard', 7800.0, 'yes']]
    """
    batch = as_batch(heats)
    kinds = kinds_of(batch)
    figures = physical_figures(kinds)
    return figures.assign(kind=kinds)[["kind", *figures.columns]]


def physical_figures(kinds: pd.Series) -> pd.DataFrame:
    """Return the figures of each kind of steel, or else of its family; NaN where there are none."""
    table = _table()
    named = kinds.where(kinds.isin(table.index), kinds.str.partition(", ")[0])
    return table.reindex(named).set_axis(kinds.index)


@cache
def _table() -> pd.DataFrame:
    path = REFERENCE / "service" / "physical_by_family.csv"
    return pd.read_csv(path, index_col="kind").astype({"density_kg_m3": float})
