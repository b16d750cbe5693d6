"""What the works asks of a composition, as relations, so that a design can be held to it.

Nothing here is published: each relation only sets a published one against a limit of the trade.
The coefficients stay where they were declared.
"""

from gradekit.relations.declaration import Check
from gradekit.relations.topics._catalogue import CATALOGUE
from gradekit.relations.topics._checks import AUSTENITIC

#: Share of the solubility at 1500 °C that casts without pores, by the phase that solidifies first.
FERRITE_FIRST, AUSTENITE_FIRST = 0.70, 0.95
#: Hammar-Svensson ratio where the mode turns: slow growth (ingot, casting), fast growth (weld).
SWITCH_SLOW, SWITCH_FAST = 1.43, 1.55
#: °C above the liquidus at which titanium nitride in the melt becomes a nuisance.
TIN_ALLOWANCE = 40

_FACTOR = (
    f"{AUSTENITE_FIRST} - ({AUSTENITE_FIRST} - {FERRITE_FIRST:.2f})"
    f"*(min(max(cr_ni_ratio_hammar, {SWITCH_SLOW}), {SWITCH_FAST}) - {SWITCH_SLOW})"
    f"/({SWITCH_FAST} - {SWITCH_SLOW})"
)
_CASTABLE = (
    f"temperature_C = 1773 - 273.15; pN2_atm = 1; factor = {_FACTOR}; "
    "factor*n_solubility_recommended"
)
_SOLUBILITY = CATALOGUE["n_solubility_recommended"]
_COMMON = dict(
    unit="wt%",
    state="route",
    status="heuristic",
    source=("ridolfi_tassa_2003", "suutala_1983", *_SOLUBILITY.source),
    domain="open mould at 1 atm; no value for pressure casting",
    ranges={e: r for e, r in _SOLUBILITY.ranges.items() if e in _SOLUBILITY.elements},
    error_basis="none: 8 % for the solubility, none known for the factor",
)
# A ratio between the two ends of the switch, so that every number of the formula is felt.
_BETWEEN = AUSTENITIC | {"Ni": 12.7}

CATALOGUE.function(
    "n_castable_by_mode",
    "Largest nitrogen that casts without pores, factor by solidification mode",
    _CASTABLE,
    quantity="castable nitrogen",
    check=Check(_BETWEEN, 0.2627277),
    note=(
        "n_castable_heuristic with the factor taken from the Hammar-Svensson ratio: 0.95 below "
        "1.43, 0.70 above 1.55; between, where the mode is undecided, on a straight line"
    ),
    **_COMMON,
)
CATALOGUE.function(
    "n_margin_castable",
    "Room below the largest nitrogen that casts without pores",
    f"{_CASTABLE} - N",
    quantity="castable nitrogen margin",
    check=Check(_BETWEEN, 0.1497277),
    note="n_castable_by_mode less the nitrogen of the steel; below 0 pores are to be expected",
    **_COMMON,
)
CATALOGUE.function(
    "tin_margin_casting",
    "Room below the temperature at which TiN clogs",
    f"liquidus_aymard_extended + {TIN_ALLOWANCE} - tin_onset_inoue_1998",
    quantity="TiN margin",
    unit="°C",
    state="route",
    status="memory",
    source=("inoue_1998", *CATALOGUE["liquidus_aymard_extended"].source),
    domain="titanium-bearing steel",
    essential=("Ti", "N"),
    error_basis="none",
    check=Check(AUSTENITIC | {"N": 0.015, "Ti": 0.25}, -212.9409),
    note="below 0 clogging of nozzles and crusts in the mould are to be expected",
)
