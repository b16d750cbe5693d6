"""A service in words and figures: what the part is, where it stands, what touches it."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields

from gradekit.errors import InputError, nearest
from gradekit.service.exposure import Atmosphere

__all__ = ["CHOICES", "Service"]

#: Accepted words of each field that takes a word.
CHOICES: dict[str, tuple[str, ...]] = {
    "form": ("cold rolled strip", "hot rolled strip", "plate", "bar"),
    "water": ("none", "supply or natural water", "heat exchanger", "seawater"),
    "forming": ("none", "bending", "deep drawing"),
    "magnetism": ("any", "non-magnetic", "magnetic"),
    "skin_contact": ("none", "prolonged contact", "pierced posts"),
}


@dataclass(frozen=True, kw_only=True)
class Service:
    """What is asked of the steel.

    Parameters
    ----------
    form : str
        Product form, one of `CHOICES["form"]`.
    thickness_mm : float
    welded : bool
        Welded without a later anneal.
    atmosphere : Atmosphere, optional
    water : str
        One of `CHOICES["water"]`.
    chloride_mg_l, free_chlorine_mg_l : float, optional
    water_temperature_C : float
    chemicals : str
        Acids, alkalis and cleaning media in words; they are never assessed from composition.
    temperature_max_C, temperature_min_C : float, optional
        Metal temperature in air at its highest, and at its lowest.
    forming, magnetism, skin_contact : str
        One of `CHOICES`.
    finish : str, optional
        Code of EN 10088-2, such as '2B'.
    food_contact, pressure, sour, load_bearing : bool
        Where a code or an authority decides.
    question : str
        The customer's question, in his words.

    Examples
    --------
    >>> Service(form="plate", thickness_mm=10, welded=True).thickness_mm
    10
    """

    form: str = "cold rolled strip"
    thickness_mm: float = 1.5
    welded: bool = False
    atmosphere: Atmosphere | None = None
    water: str = "none"
    chloride_mg_l: float | None = None
    free_chlorine_mg_l: float | None = None
    water_temperature_C: float = 20.0
    chemicals: str = ""
    temperature_max_C: float | None = None
    temperature_min_C: float | None = None
    forming: str = "none"
    magnetism: str = "any"
    finish: str | None = None
    skin_contact: str = "none"
    food_contact: bool = False
    pressure: bool = False
    sour: bool = False
    load_bearing: bool = False
    question: str = ""

    def __post_init__(self) -> None:
        for name, words in CHOICES.items():
            given = getattr(self, name)
            if given not in words:
                raise InputError(name, ", ".join(words), given, nearest(str(given), words))
        for name in ("thickness_mm", "chloride_mg_l", "free_chlorine_mg_l"):
            given = getattr(self, name)
            if given is not None and not (_is_number(given) and given >= 0):
                raise InputError(name, "a number, not negative", given)
        for name in ("water_temperature_C", "temperature_max_C", "temperature_min_C"):
            given = getattr(self, name)
            if given is not None and not (_is_number(given) and -273.15 < given < 2000):
                raise InputError(name, "a temperature in °C", given)
        if self.thickness_mm == 0:
            raise InputError("thickness_mm", "above 0", 0)

    def changed(self, **changes: object) -> Service:
        """Return the service with some answers changed."""
        known = [f.name for f in fields(self)]
        for name in changes:
            if name not in known:
                raise InputError("field of a service", ", ".join(known), name, nearest(name, known))
        return Service(**{n: changes.get(n, getattr(self, n)) for n in known})

    def as_dict(self) -> dict:
        """Return what differs from the default, to reproduce the answer."""
        return {k: v for k, v in asdict(self).items() if v != getattr(Service(), k, None)}


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and value == value
