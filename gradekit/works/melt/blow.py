"""Oxygen, silicon for reduction, lime and slag of the converter, as an exact balance.

All amounts are kg for a tonne of bath at the start of the blow. Atoms are counted with standard
atomic weights, so each element that goes in comes out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from gradekit.core.elements import atomic_masses
from gradekit.core.errors import InputError
from gradekit.core.markup import details, items, panel, table

#: Volume of a kmol of ideal gas at 0 °C and 1 atm, m³.
MOLAR_VOLUME = 22.414
# Oxygen atoms for each atom that burns.
_OXIDE = {"C": 1.0, "Si": 2.0, "Cr": 1.5, "Mn": 1.0, "Fe": 1.0, "Al": 1.5, "Ti": 2.0}


def oxygen_per_kg(element: str) -> float:
    """Return the oxygen that burns a kg of an element, m³ (0 °C, 1 atm).

    Examples
    --------
    >>> [round(oxygen_per_kg(e), 3) for e in "C Si Cr Mn Fe Al Ti".split()]
    [0.933, 0.798, 0.323, 0.204, 0.201, 0.623, 0.468]
    """
    return MOLAR_VOLUME * _OXIDE[_known(element)] / 2.0 / atomic_masses()[element]


def reductant_per_kg(element: str, by: str = "Si") -> float:
    """Return the kg of silicon (or aluminium) that takes the oxygen from a kg of an element.

    Examples
    --------
    >>> [round(reductant_per_kg(e), 3) for e in ("Cr", "Mn", "Fe")]
    [0.405, 0.256, 0.251]
    >>> round(reductant_per_kg("Cr", by="Al"), 3)
    0.519
    """
    mass = atomic_masses()
    return _OXIDE[_known(element)] / _OXIDE[_known(by)] * mass[by] / mass[element]


def oxide_per_kg(element: str) -> float:
    """Return the kg of oxide that a kg of an element makes.

    Examples
    --------
    >>> round(oxide_per_kg("Si"), 3)
    2.139
    """
    mass = atomic_masses()
    return 1.0 + _OXIDE[_known(element)] * mass["O"] / mass[element]


@dataclass(frozen=True)
class Blow:
    """What a blow and its reduction take, kg for a tonne of bath.

    Attributes
    ----------
    oxygen_Nm3 : float
        m³ at 0 °C and 1 atm.
    ferrosilicon_reduction, ferrosilicon_alloy : float
        For the reduction, and for the silicon of the steel.
    silica, lime, slag : float
        `slag` counts silica, lime and the oxides that were left.
    streams : DataFrame, shape (streams, elements)
        What goes in counts positive, what comes out negative; every column sums to 0.
    notes : tuple of str
    """

    oxygen_Nm3: float
    ferrosilicon_reduction: float
    ferrosilicon_alloy: float
    silica: float
    lime: float
    slag: float
    streams: pd.DataFrame
    notes: tuple[str, ...]

    @property
    def ferrosilicon(self) -> float:
        """All ferrosilicon, kg."""
        return self.ferrosilicon_reduction + self.ferrosilicon_alloy

    @property
    def needs(self) -> pd.DataFrame:
        """Amounts in one table."""
        rows = [
            ("oxygen", self.oxygen_Nm3, "Nm³/t"),
            ("ferrosilicon for reduction", self.ferrosilicon_reduction, "kg/t"),
            ("ferrosilicon for the silicon of the steel", self.ferrosilicon_alloy, "kg/t"),
            ("ferrosilicon", self.ferrosilicon, "kg/t"),
            ("silica formed", self.silica, "kg/t"),
            ("lime", self.lime, "kg/t"),
            ("slag", self.slag, "kg/t"),
        ]
        return pd.DataFrame(rows, columns=["what", "amount", "unit"]).set_index("what")

    def _repr_html_(self) -> str:
        shown = table(self.needs, "Needs of the converter, for a tonne of bath")
        lead = (
            f"A tonne takes {self.oxygen_Nm3:.0f} Nm³ of oxygen, {self.ferrosilicon:.0f} kg of "
            f"ferrosilicon and {self.lime:.0f} kg of lime, and leaves {self.slag:.0f} kg of slag"
        )
        return panel(shown, details("Notes", items(self.notes)), lead=lead)


def blow(
    burnt: Mapping[str, float],
    *,
    silicon_wanted: float = 0.0,
    basicity: float = 1.7,
    reductant_use: float = 0.88,
    alloy_use: float | None = None,
    ferrosilicon_si: float = 75.0,
    left_in_slag: Mapping[str, float] | None = None,
) -> Blow:
    """Compute what a blow with reduction takes.

    Parameters
    ----------
    burnt : mapping of element to kg
        What the oxygen burns, for a tonne of bath: C, Si, Cr, Mn, Fe, Al, Ti. Chromium, manganese
        and iron are reduced again.
    silicon_wanted : float
        Silicon of the finished steel, kg.
    basicity : float
        CaO to SiO2 by mass.
    reductant_use : float
        Share of the ferrosilicon's silicon that reduces, 0 to 1.
    alloy_use : float, optional
        Share of it that stays in the steel where it is meant to; by default `reductant_use`.
    ferrosilicon_si : float
        wt% Si of the ferrosilicon; the rest counts as iron.
    left_in_slag : mapping of element to kg, optional
        Burnt metal that is not reduced again.

    Returns
    -------
    Blow

    Raises
    ------
    InputError
        An unknown element, a negative amount, more left than burnt, a share outside 0 to 1.

    Examples
    --------
    A worked example for 304; the 12 % of silicon that does not reduce burns too:

    >>> b = blow({"C": 14.6, "Si": 2.5, "Cr": 25, "Mn": 3}, silicon_wanted=4)
    >>> round(b.oxygen_Nm3, 1), round(b.ferrosilicon, 1), round(b.silica, 1), round(b.lime, 1)
    (24.3, 22.6, 33.0, 56.1)
    """
    left = dict(left_in_slag or {})
    alloy_use = reductant_use if alloy_use is None else alloy_use
    _check(burnt, left, reductant_use, alloy_use, silicon_wanted, basicity, ferrosilicon_si)
    mass = atomic_masses()
    reduced = {e: burnt[e] - left.get(e, 0.0) for e in ("Cr", "Mn", "Fe") if e in burnt}
    useful = sum(kg * reductant_per_kg(e) for e, kg in reduced.items())
    share = ferrosilicon_si / 100.0
    for_reduction = useful / (share * reductant_use)
    for_alloy = silicon_wanted / (share * alloy_use)
    astray = (for_reduction + for_alloy) * share - useful - silicon_wanted
    oxygen = sum(kg * (oxide_per_kg(e) - 1.0) for e, kg in burnt.items())
    silicon_burnt = burnt.get("Si", 0.0) + useful + astray
    silica = silicon_burnt * oxide_per_kg("Si")
    lime = basicity * silica
    calcium = mass["Ca"] / (mass["Ca"] + mass["O"])
    # what stays burnt besides carbon and silicon
    kept = {e: kg - reduced.get(e, 0.0) for e, kg in burnt.items() if e not in ("C", "Si")}
    oxides = sum(kg * oxide_per_kg(e) for e, kg in kept.items())
    streams: dict[str, dict[str, float]] = {
        "burnt from the bath": dict(burnt),
        "oxygen blown": {"O": oxygen},
        "oxygen of air and slag": {"O": astray * (oxide_per_kg("Si") - 1.0)},
        "ferrosilicon": {
            "Si": (for_reduction + for_alloy) * share,
            "Fe": (for_reduction + for_alloy) * (1.0 - share),
        },
        "lime": {"Ca": lime * calcium, "O": lime * (1.0 - calcium)},
        "gas: CO": _oxide("C", burnt.get("C", 0.0)),
        "slag: SiO2": _oxide("Si", silicon_burnt),
        "slag: CaO": {"Ca": -lime * calcium, "O": -lime * (1.0 - calcium)},
        "slag: oxides left": {
            **{e: -kg for e, kg in kept.items() if kg},
            "O": sum(kept.values()) - oxides,
        },
        "steel: reduced metal": {e: -kg for e, kg in reduced.items()},
        "steel: silicon and iron of ferrosilicon": {
            "Si": -silicon_wanted,
            "Fe": -(for_reduction + for_alloy) * (1.0 - share),
        },
    }
    frame = pd.DataFrame.from_dict(streams, orient="index").fillna(0.0)
    notes = [
        f"{astray:.1f} kg/t of silicon neither reduces nor alloys: air and slag burn it, which "
        f"makes {astray * oxide_per_kg('Si'):.1f} kg/t of the silica",
        "lime is counted as pure CaO, ferrosilicon as silicon and iron",
    ]
    return Blow(
        oxygen_Nm3=sum(kg * oxygen_per_kg(e) for e, kg in burnt.items()),
        ferrosilicon_reduction=for_reduction,
        ferrosilicon_alloy=for_alloy,
        silica=silica,
        lime=lime,
        slag=silica + lime + oxides,
        streams=frame,
        notes=tuple(notes),
    )


def _oxide(element: str, kg: float) -> dict[str, float]:
    return {element: -kg, "O": -kg * (oxide_per_kg(element) - 1.0)}


def _known(element: str) -> str:
    if element not in _OXIDE:
        raise InputError("element that burns", ", ".join(_OXIDE), element)
    return element


def _check(burnt, left, reductant_use, alloy_use, silicon_wanted, basicity, ferrosilicon_si):
    for e, kg in {**burnt, **left}.items():
        _known(e)
        if not kg >= 0:
            raise InputError(f"kg of {e}", "a number from 0 up", kg)
    for e, kg in left.items():
        if e not in ("Cr", "Mn", "Fe") or kg > burnt.get(e, 0.0):
            raise InputError(f"kg of {e} left in the slag", "at most what was burnt of it", kg)
    for what, x in (("reductant_use", reductant_use), ("alloy_use", alloy_use)):
        if not 0 < x <= 1:
            raise InputError(what, "a share above 0 and at most 1", x)
    if not silicon_wanted >= 0 or not basicity > 0:
        raise InputError("silicon_wanted and basicity", "numbers from 0 up",
                         (silicon_wanted, basicity))  # fmt: skip
    if not 0 < ferrosilicon_si <= 100:
        raise InputError("ferrosilicon_si", "wt% above 0 and at most 100", ferrosilicon_si)
