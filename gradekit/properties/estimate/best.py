"""The best supported estimate of a property, with an interval and what it rests on."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.core import grain
from gradekit.core.aliases import Given, HeatsLike, Label
from gradekit.core.errors import InputError, nearest, one_of, said
from gradekit.core.flags import Flag
from gradekit.core.markup import details, number, panel, table
from gradekit.families.kinds import words_each
from gradekit.heats.batch import as_batch
from gradekit.heats.notes import bounded
from gradekit.properties.conformal import check_level
from gradekit.properties.estimate.frame import Estimator
from gradekit.properties.estimate.published import by_relation, density, martensite_start, md30
from gradekit.properties.estimate.tensile import hardness, tensile
from gradekit.properties.estimate.unmeasured import PRODUCTS
from gradekit.relations.steels import with_family

_GRAIN = ("grain_size_um", "grain_size_astm")
# What else a strength may be told, with its unit in the name.
_STRENGTH = ("temperature_C", "solution_temperature_C", *_GRAIN, "delta_ferrite_pct")


class Estimate(pd.DataFrame):
    """`value low high basis flag` for each heat; says in a page what it rests on."""

    _metadata = ("quantity", "unit", "level")

    @property
    def _constructor(self) -> type:
        return pd.DataFrame

    def words(self, heat: Label) -> str:
        """Say the flag of one heat in words."""
        return Flag(int(self.at[heat, "flag"])).words()

    def _repr_html_(self) -> str:
        shown = pd.DataFrame(self)
        shown["flag"] = [Flag(int(f)).words() for f in shown["flag"]]
        units = {c: self.unit for c in ("value", "low", "high")}
        name = self.quantity.replace("_", " ")
        caption = f"{name.capitalize()}, interval at {100 * self.level:g} %"
        lead = f"{name.capitalize()} of {len(shown)} heats"
        if len(shown) == 1:
            value, low, high = (number(shown[c].iloc[0], 3) for c in ("value", "low", "high"))
            lead = f"{name.capitalize()} of {shown.index[0]}: {value} {self.unit}"
            lead += f", {low} to {high} for {100 * self.level:g} % of such heats"
        return panel(
            table(shown.drop(columns="basis"), caption, units=units, wide=["flag"], digits=3),
            details("What it rests on", table(shown[["basis"]], "Basis", wide=["basis"])),
            lead=lead,
        )


def estimate(
    heats: HeatsLike,
    quantity: str,
    level: float = 0.90,
    *,
    family: str | Mapping | pd.Series | None = None,
    product: str | Mapping | pd.Series | None = None,
    **conditions: Given,
) -> Estimate:
    """Estimate a property of annealed steel with an honest interval.

    Parameters
    ----------
    heats : anything `as_batch` takes
    quantity : str
        One of `QUANTITIES`.
    level : float
        Share of new heats that shall lie inside, 0.5 to 0.99.
    family : str, or a Series or mapping with one a heat, optional
        What the user knows of the steel, as `gk.family` names it; else its votes tell.
    product : 'strip' or 'plate', or a Series or mapping with one a heat, optional
        Of a strength: the grain that is usual for it stands in where no grain size is told, of
        steel that no measured heats support. Plate of duplex steel stands some 90 MPa below strip.
    **conditions
        Of a strength, elongation and hardness: `temperature_C` (test temperature, 20 by
        default), `solution_temperature_C`, `grain_size_um` or `grain_size_astm`,
        `delta_ferrite_pct`; of Md30 the grain size; one value, or one a heat.

    Returns
    -------
    DataFrame
        `value`, `low`, `high` in the unit of the quantity, `basis` in words, `flag` bits. Where
        no measured heats support the family, the flag is NO_SUPPORT and the basis names the
        published relation and the trade's error; where there is none either, it says 'not known'
        and names the nearest minimum of a standard.

    Raises
    ------
    InputError
        Unknown quantity, family, condition or level; a grain size told twice or not above zero; a
        Series of conditions for other heats.

    Examples
    --------
    >>> heat = {"C": .05, "Si": .5, "Mn": 1.4, "Cr": 18.2, "Ni": 8.6, "Mo": .2, "N": .05}
    >>> e = estimate(heat, "proof_strength")
    >>> bool(e.low.iloc[0] < e.value.iloc[0] < e.high.iloc[0])
    True
    """
    # The catalogue writes its quantities with spaces: either way is the same wish.
    quantity = str(quantity).strip().lower().replace(" ", "_")
    one_of("quantity", quantity, QUANTITIES)
    check_level(level)
    unit, make, known = QUANTITIES[quantity]
    for name in conditions:
        one_of("condition", name, known, "" if known else f"none: {quantity} takes no condition")
    batch = as_batch(heats)
    if family is not None:
        batch = with_family(batch, family)
    given = {k: _column(k, v, batch) for k, v in conditions.items() if v is not None}
    if product is not None:
        given["product"] = _products(product, batch, quantity)
    result = Estimate(make(batch, quantity, level, _grains(given)))
    # what stands at the upper end of a reported bound
    bound = np.any([np.zeros(len(batch), dtype=bool), *bounded(batch).values()], axis=0)
    result.loc[bound & result["value"].notna(), "flag"] |= np.uint16(Flag.BOUND)
    result.quantity, result.unit, result.level = quantity, unit, level
    return result


def _products(product: str | Mapping | pd.Series, batch: pd.DataFrame, quantity: str) -> np.ndarray:
    """Return the form of product of each heat, '' where it is not told."""
    if not {*_GRAIN} < {*QUANTITIES[quantity][2]}:
        raise InputError("product", f"left out: {quantity} takes no form of product", product)
    words = words_each(product, batch, "product").to_numpy()
    for word in {*words} - {"", *PRODUCTS}:
        raise InputError("product", " or ".join(PRODUCTS), word, nearest(word, PRODUCTS))
    return words


def _grains(given: dict) -> dict:
    """Return the conditions with the grain size in both measures, told in one."""
    if all(name in given for name in _GRAIN):
        raise InputError("grain size", f"told once, as {' or '.join(_GRAIN)}", said("both"))
    if "grain_size_um" in given:
        if (given["grain_size_um"] <= 0).any():
            worst = float(np.nanmin(given["grain_size_um"]))
            raise InputError("grain_size_um", "above 0 µm", worst)
        return given | {"grain_size_astm": grain.grain_number(given["grain_size_um"])}
    if "grain_size_astm" in given:
        return given | {"grain_size_um": grain.intercept_um(given["grain_size_astm"])}
    return given


def _column(name: str, value: Given, batch: pd.DataFrame) -> np.ndarray:
    if isinstance(value, pd.Series):
        if value.reindex(batch.index).isna().all() and value.notna().any():
            names = ", ".join(map(str, value.index[:3]))
            raise InputError(name, f"a Series by heat, as {batch.index[0]!r}", said(f"{names}"))
        value = value.reindex(batch.index)
    try:
        array = np.asarray(value, dtype=float)
        return np.broadcast_to(array, len(batch)).copy()
    except (TypeError, ValueError):
        raise InputError(name, f"a number, or one for each of {len(batch)} heats", value) from None


#: Quantities with unit, how each is estimated, and the conditions that it may be told.
QUANTITIES: dict[str, tuple[str, Estimator, tuple[str, ...]]] = {
    "proof_strength": ("MPa", tensile, _STRENGTH),
    "tensile_strength": ("MPa", tensile, _STRENGTH),
    "elongation": ("%", tensile, _STRENGTH),
    "pitting_temperature": ("°C", by_relation("cpt_g48"), ()),
    "crevice_temperature": ("°C", by_relation("cct_g48"), ()),
    "md30": ("°C", md30, _GRAIN),
    "martensite_start": ("°C", martensite_start, ()),
    "hardness": ("HV", hardness, _STRENGTH),
    "density": ("g/cm³", density, ()),
}
