"""The catalogue that the topic modules fill."""

from gradekit.relations.collection import Catalogue
from gradekit.relations.judgements import judged_errors, measured_error, measured_words

#: What the beginning of a name stands for, with its unit, where several relations give it.
QUANTITIES = {
    "cr_eq": "chromium equivalent, wt%",
    "ni_eq": "nickel equivalent, wt%",
    "cr_ni_ratio": "Creq/Nieq ratio, 1",
    "ferrite": "ferrite, %",
    "ferrite_increment": "ferrite increment, %",
    "fn": "ferrite number, FN",
    "liquidus": "liquidus, °C",
    "solidus": "solidus, °C",
    "n_solubility": "nitrogen solubility, wt%",
    "c_eq": "equilibrium carbon, wt%",
    "tin_onset": "TiN onset, °C",
    "pren": "pitting resistance equivalent, 1",
    "cpt": "critical pitting temperature, °C",
    "cct": "critical crevice temperature, °C",
    "epit": "pitting potential, mV SCE",
    "phi": "ageing parameter, 1",
    "log_cvsat": "saturation impact energy, log10 J/cm²",
    "md30": "Md30, °C",
    "ms": "Ms, °C",
    "ac1": "Ac1, °C",
    "sfe": "stacking fault energy, mJ/m²",
    "yield": "proof strength, MPa",
    "uts": "tensile strength, MPa",
}
CATALOGUE = Catalogue(
    QUANTITIES,
    {name: (measured_error(name), measured_words(name)) for name in judged_errors()},
)
