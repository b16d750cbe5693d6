"""A service in words and figures: what the part is, where it stands, what touches it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from gradekit.core.errors import InputError, one_of, said
from gradekit.service.exposure import Atmosphere

#: Accepted words of each field that takes a word.
CHOICES: dict[str, tuple[str, ...]] = {
    "form": (
        "cold rolled strip",
        "hot rolled strip",
        "plate",
        "bar",
        "tube",
        "wire",
        "spring strip",
        "casting",
    ),
    "water": ("none", "supply or natural water", "heat exchanger", "seawater"),
    "contact": (
        "immersed",
        "flowing",
        "splashed and drying",
        "rinsed and dried",
        "atmosphere",
        "dry heat",
    ),
    "forming": ("none", "bending", "deep drawing", "stretching", "machining"),
    "gas": ("air", "carburising or nitriding", "sulphurous"),
    "magnetism": ("any", "non-magnetic", "magnetic"),
    "skin_contact": ("none", "prolonged contact", "pierced posts"),
}

# Of common salt 36 g dissolve in 100 g of water at room temperature, of which 61 % is chloride:
# 193 g in a litre of 1.20 kg.
_MOST_CHLORIDE = 200_000
_KINDS = {"bool": bool, "str": str, "Atmosphere": Atmosphere}
#: What a field must be that is no choice and no number, by its name or its type.
_MUST_BE = {
    "temper": "a code such as +C1150",
    "finish": "a code such as '2B'",
    "bool": "True or False",
    "str": "text",
    "Atmosphere": "a gk.service.Atmosphere(...)",
}
CRITICAL_C = 374.0  # of water: above it there is no liquid


@dataclass(frozen=True, kw_only=True)
class Service:
    """What is asked of the steel.

    Parameters
    ----------
    form : str
        Product form, one of `CHOICES["form"]`.
    thickness_mm : float
    temper : str
        Code of a cold-worked state, such as '+C1150' (least Rm, MPa); '' for annealed.
    welded, annealed : bool
        Welded; and solution annealed (ferritic steel: annealed, martensitic: tempered) after it.
    atmosphere : Atmosphere, optional
    water : str
        One of `CHOICES["water"]`.
    chloride_mg_l, free_chlorine_mg_l : float, optional
        Of the water; chloride at most 200 000 mg/l: a saturated brine holds about 190 000.
    water_temperature_C : float
        At most 374 °C. Above 100 °C it is water under pressure.
    contact : str
        How the medium touches the steel, one of `CHOICES["contact"]`: standing water lays down
        deposits, flowing water does not, what dries concentrates; in the atmosphere none stands.
    crevices, oxygen_free : bool
        Gaps, deposits or gaskets in the water (a heat exchanger always has them); a closed circuit
        without dissolved oxygen.
    chemicals : str
        Acids, alkalis and cleaning media in words; they are never assessed from composition.
    temperature_max_C, temperature_min_C : float, optional
        Metal temperature in air at its highest, and at its lowest, which is not above it.
    hot_hours : float, optional
        How long the metal is at its highest temperature in all, hours; None for years.
    gas : str
        What the hot metal stands in, one of `CHOICES["gas"]`.
    forming, magnetism, skin_contact : str
        One of `CHOICES`.
    finish : str, optional
        Code of EN 10088-2, such as '2B'.
    food_contact, pressure, sour, load_bearing : bool
        Where a code or an authority decides.
    chosen_for, case : str
        What the present grade was chosen for, in words; the sender's own reference of the question.
    question : str
        The customer's question, in the customer's words.

    Examples
    --------
    >>> Service(form="plate", thickness_mm=10, welded=True).thickness_mm
    10
    """

    form: str = "cold rolled strip"
    thickness_mm: float = 1.5
    temper: str = ""
    welded: bool = False
    annealed: bool = False
    atmosphere: Atmosphere | None = None
    water: str = "none"
    chloride_mg_l: float | None = None
    free_chlorine_mg_l: float | None = None
    water_temperature_C: float = 20.0
    contact: str = "immersed"
    crevices: bool = True
    oxygen_free: bool = False
    chemicals: str = ""
    temperature_max_C: float | None = None
    temperature_min_C: float | None = None
    hot_hours: float | None = None
    gas: str = "air"
    forming: str = "none"
    magnetism: str = "any"
    finish: str | None = None
    skin_contact: str = "none"
    food_contact: bool = False
    pressure: bool = False
    sour: bool = False
    load_bearing: bool = False
    chosen_for: str = ""
    case: str = ""
    question: str = ""

    def __post_init__(self) -> None:
        for field in fields(self):
            name, given = field.name, getattr(self, field.name)
            kind, _, may_be_none = str(field.type).partition(" | ")
            if name in CHOICES:
                one_of(name, given, CHOICES[name])
            elif given is None and may_be_none:
                continue
            elif name.endswith("_C"):
                if not (_is_number(given) and -273.15 < given < 2000):
                    raise InputError(name, "a temperature in °C", given)
            elif kind == "float":
                if not (_is_number(given) and given >= 0):
                    raise InputError(name, "a number, not negative", given)
            elif not isinstance(given, _KINDS[kind]):
                raise InputError(name, _MUST_BE.get(name) or _MUST_BE[kind], given)
        if not re.fullmatch(r"(\+C(P?)\d{3,4})?", self.temper):
            raise InputError("temper", _MUST_BE["temper"], self.temper)
        if (self.chloride_mg_l or 0) > _MOST_CHLORIDE:
            brine = "a brine saturated with common salt holds about 190000"
            most = f"at most {_MOST_CHLORIDE} mg/l; {brine}"
            raise InputError("chloride_mg_l", most, said(f"{self.chloride_mg_l:.10g}"))
        if self.water_temperature_C > CRITICAL_C:
            most = f"at most {CRITICAL_C:g} °C, above which no water is liquid at any pressure"
            raise InputError("water_temperature_C", most, said(f"{self.water_temperature_C:g}"))
        hot, cold = self.temperature_max_C, self.temperature_min_C
        if hot is not None and cold is not None and hot < cold:
            must_be = f"not below the coldest, {cold:g} °C"
            raise InputError("temperature_max_C", must_be, said(f"{hot:g}"))
        if self.thickness_mm == 0:
            raise InputError("thickness_mm", "above 0", 0)

    @property
    def dry_heat(self) -> bool:
        """Whether the steel only has to stand heat, and nothing wets it."""
        return self.contact == "dry heat" and not self.wetted

    @property
    def nothing_wets(self) -> bool:
        """Whether pitting cannot start: dry heat, or metal too hot for any liquid water."""
        too_hot = (self.temperature_max_C or 0.0) > CRITICAL_C
        return self.dry_heat or (too_hot and not self.wetted)

    @property
    def wetted(self) -> bool:
        """Whether a water, a place in the air or a chemical is named that wets it."""
        return self.water != "none" or self.atmosphere is not None or bool(self.chemicals)

    @property
    def stressed(self) -> bool:
        """Whether the part is said to be under stress, applied or left by making it."""
        made = self.welded or self.forming != "none" or bool(self.temper)
        return made or self.load_bearing or self.pressure

    def changed(self, **changes: Any) -> Service:
        """Return the service with some answers changed."""
        _refuse_unknown(changes)
        return replace(self, **changes)

    def as_dict(self) -> dict:
        """Return what differs from the default, to reproduce the answer."""
        changed = _differences(self, Service())
        if self.atmosphere is not None:
            changed["atmosphere"] = _differences(self.atmosphere, Atmosphere())
        return changed

    @classmethod
    def from_dict(cls, data: Mapping) -> Service:
        """Return the service that `as_dict` gave, and refuse what it cannot have given.

        Examples
        --------
        >>> asked = Service(welded=True, atmosphere=Atmosphere(indoors=True))
        >>> Service.from_dict(asked.as_dict()) == asked
        True
        """
        if not isinstance(data, Mapping):
            raise InputError("service", "a mapping of its fields", data)
        _refuse_unknown(data)
        given, place = dict(data), data.get("atmosphere")
        if place is not None:
            own = [f.name for f in fields(Atmosphere)]
            if not isinstance(place, Mapping) or not set(place) <= set(own):
                raise InputError("atmosphere", f"a mapping of {', '.join(own)}", place)
            given["atmosphere"] = Atmosphere(**place)
        return cls(**given)


def _refuse_unknown(names: Iterable[str]) -> None:
    known = [f.name for f in fields(Service)]
    for name in names:
        one_of("field of a service", name, known)


def _differences(given: Service | Atmosphere, plain: Service | Atmosphere) -> dict:
    names = (f.name for f in fields(given))
    return {n: value for n in names if (value := getattr(given, n)) != getattr(plain, n)}


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and value == value
