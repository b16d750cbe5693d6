"""The number boxes of elements and conditions: where their sliders end and how they step."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.app.widgets.numbers import Field
from gradekit.core.elements import require_element
from gradekit.relations.declaration import CONDITIONS

# End and step of each slider, wt%; the boxes take what lies beyond.
_REACH = {
    "C": (0.15, 0.005),
    "Si": (2.0, 0.05),
    "Mn": (12.0, 0.1),
    "Cr": (28.0, 0.1),
    "Ni": (24.0, 0.1),
    "Mo": (5.0, 0.05),
    "N": (0.5, 0.005),
    "Cu": (4.0, 0.05),
    "P": (0.1, 0.001),
    "S": (0.05, 0.001),
}
_OTHER = (2.0, 0.01)
_CONDITIONS = {
    "temperature_C": ("temperature, °C", -50.0, 1700.0, 10.0, -273.15),
    "grain_size_um": ("grain size, µm", 2.0, 200.0, 1.0, 0.1),
    "grain_size_astm": ("grain size, ASTM", 0.0, 14.0, 0.5, -3.0),
    "delta_ferrite_pct": ("delta ferrite, %", 0.0, 20.0, 0.5, 0.0),
    "ferrite_vol_pct": ("ferrite, vol%", 0.0, 100.0, 1.0, 0.0),
    "twin_spacing_um": ("twin spacing, µm", 1.0, 100.0, 1.0, 0.1),
    "free_N": ("free N, wt%", 0.0, 0.1, 0.005, 0.0),
    "chloride_M": ("chloride, mol/l", 0.001, 5.0, 0.1, 0.0),
    "pN2_atm": ("N₂, atm", 0.0, 2.0, 0.05, 0.0),
    "pCO_atm": ("CO, atm", 0.0, 1.0, 0.05, 0.0),
    "pH2_atm": ("H₂, atm", 0.0, 1.0, 0.05, 0.0),
    "mode_factor": ("mode factor", 0.7, 0.95, 0.25, 0.0),
}


def element_field(element: str, heats: pd.DataFrame | None = None, optional: bool = True) -> Field:
    """Return the box of an element, wt%.

    Parameters
    ----------
    element : str
    heats : batch, optional
        The slider reaches at least as far as their highest content.
    optional : bool
        Whether the box may be empty, which means 'not known'.

    Examples
    --------
    >>> element_field("Ni").high
    24.0
    """
    high, step = _REACH.get(require_element(element), _OTHER)
    most = heats[element].max() if heats is not None and element in heats else 0.0
    high = max(high, float(np.ceil(np.nan_to_num(most) / step) * step))
    title = f"{element}, wt%" + ("; empty where not known" if optional else "")
    return Field(element, 0.0, high, step, most=100.0, title=title, optional=optional, unit="wt%")


def condition_unit(condition: str) -> str:
    """Return the unit of a condition, '' for a plain number.

    Examples
    --------
    >>> condition_unit("temperature_C"), condition_unit("mode_factor")
    ('°C', '')
    """
    return _CONDITIONS[condition][0].partition(", ")[2]


def condition_field(name: str, optional: bool = True) -> Field:
    """Return the box of a condition; its unit is in its name.

    Examples
    --------
    >>> condition_field("grain_size_astm").step
    0.5
    """
    label, low, high, step, least = _CONDITIONS[name]
    title = CONDITIONS[name] + ("; empty where not known" if optional else "")
    return Field(
        name,
        low,
        high,
        step,
        least,
        title=title,
        optional=optional,
        label=label,
        unit=condition_unit(name),
    )
