"""What the works asks of a composition, as relations, so that a design can be held to it.

Nothing here is published: each relation only sets a published one against a limit of the trade.
The coefficients stay where they were declared.
"""

from gradekit.relations.declaration import Check
from gradekit.relations.topics._catalogue import CATALOGUE
from gradekit.relations.topics._checks import AUSTENITIC

#: Share of the solubility at the liquidus that casts without pores, by the phase that is first.
FERRITE_FIRST, AUSTENITE_FIRST = 0.78, 1.0
#: Hammar-Svensson ratio where the mode turns: slow growth (ingot, casting), fast growth (weld).
SWITCH_SLOW, SWITCH_FAST = 1.43, 1.55
#: °C above the liquidus at which titanium nitride in the melt becomes a nuisance.
TIN_ALLOWANCE = 40

_LIQUIDUS = CATALOGUE["liquidus_aymard_extended"]
_FACTOR = (
    f"{AUSTENITE_FIRST:.1f} - ({AUSTENITE_FIRST:.1f} - {FERRITE_FIRST})"
    f"*(min(max(cr_ni_ratio_hammar, {SWITCH_SLOW}), {SWITCH_FAST}) - {SWITCH_SLOW})"
    f"/({SWITCH_FAST} - {SWITCH_SLOW})"
)
# What titanium and aluminium hold is bound as nitride: it buys no room for nitrogen in solution.
_UNBOUND = "Ti = 0*Ti; Al = 0*Al"
_CASTABLE = (
    f"temperature_C = {_LIQUIDUS.name}; pN2_atm = 1; factor = {_FACTOR}; {_UNBOUND}; "
    "factor*n_solubility_recommended"
)
_SOLUBILITY = CATALOGUE["n_solubility_recommended"]
_ROUTE = CATALOGUE.group(state="route")
_CASTABILITY = _ROUTE.group(
    status="heuristic",
    source=("ridolfi_tassa_2003", "suutala_1983", *_SOLUBILITY.source, *_LIQUIDUS.source),
    # Measured from 1500 °C up, the solubility is carried on to the liquidus of the steels that the
    # factors were tried on: 1324 (1.4652) to 1510 °C (430Ti). Beyond these the rule says nothing.
    domain=(
        "open mould at 1 atm; no value for pressure casting; liquidus 1320 to 1515 °C, solubility "
        "extrapolated below 1500 °C"
    ),
    ranges={e: r for e, r in _SOLUBILITY.ranges.items() if e in _SOLUBILITY.elements}
    | {_LIQUIDUS.name: (1320, 1515)},
    error_basis="none: 8 % for the solubility, none known for the factor",
)
# A ratio between the two ends of the switch, so that every number of the formula is felt.
_BETWEEN = AUSTENITIC | {"Ni": 12.7}

_CASTABILITY.function(
    "n_castable_by_mode",
    "Largest nitrogen that casts without pores, factor by solidification mode",
    _CASTABLE,
    quantity="castable nitrogen, wt%",
    check=Check(_BETWEEN, 0.24981),
    note=(
        "solubility at 1 atm and the steel's own liquidus times 1.0 where austenite is first, 0.78 "
        "where ferrite is (Hammar-Svensson ratio below 1.43, above 1.55; a straight line between). "
        "Accepts 20 of 21 commercial nitrogen grades; the published pore cases of 16-18Cr steel "
        "lie at 0.57 to 0.77 of the solubility, close to it. Ti and Al bring no credit: what they "
        "bind is nitride, and its nitrogen comes back in the mould powder"
    ),
)
_CASTABILITY.function(
    "n_margin_castable",
    "Room below the largest nitrogen that casts without pores",
    f"{_CASTABLE} - N",
    quantity="castable nitrogen margin, wt%",
    check=Check(_BETWEEN, 0.13681),
    note="n_castable_by_mode less the nitrogen of the steel; below 0 pores are to be expected",
)
_ROUTE.function(
    "tin_margin_casting",
    "Room below the temperature at which TiN clogs",
    f"{_LIQUIDUS.name} + {TIN_ALLOWANCE} - tin_onset_inoue_activities",
    quantity="TiN margin, °C",
    status="memory",
    source=(*CATALOGUE["tin_onset_inoue_activities"].source, *_LIQUIDUS.source),
    domain="titanium-bearing steel",
    essential=("Ti", "N", "Cr"),
    error_basis="none",
    check=Check(AUSTENITIC | {"N": 0.015, "Ti": 0.25}, 0.3086639027),
    note=(
        "below 0 clogging of nozzles, clusters and stringers are to be expected; from 40 up "
        "titanium nitride forms while the steel freezes, usual and wanted (fine equiaxed grain)"
    ),
)
