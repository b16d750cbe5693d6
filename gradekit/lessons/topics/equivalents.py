"""The two equivalents: what each element weighs, and in whose sum."""

from __future__ import annotations

from gradekit.lessons.forms.amounts import compute, mental_estimate
from gradekit.lessons.forms.choices import change, effect, find_mistake
from gradekit.lessons.forms.orders import rank
from gradekit.lessons.template import Template
from gradekit.lessons.topics.rise import change_of_one

_CR, _NI = "cr_eq_schaeffler_1949", "ni_eq_schaeffler_1949"
_CHROMIUM_SIDE = (_CR, "cr_eq_wrc_1992", "cr_eq_hammar_1979")
_NICKEL_SIDE = (_NI, "ni_eq_delong_1973", "ni_eq_wrc_1992", "ni_eq_hammar_1979")
_WELDED = ("18Cr-8Ni", "CrNiMo", "CrNiMoNb", "weld metal")

CHROMIUM_TEMPLATES: tuple[Template, ...] = (
    compute("chromium sum", "chromium equivalent", _CR, ["CrNiMoNb"], 0.02, twin=_NI),
    rank("chromium order", "chromium equivalent", _CR,
         ("18Cr-8Ni", "CrNiMo", "CrNiMoNb", "weld metal"), 0.3,
         by=("Cr", "Mo", "cr_eq_wrc_1992", _NI)),
    effect("chromium effect", "chromium equivalent", _CHROMIUM_SIDE, _WELDED,
           {"Si": (0.2, 0.8), "Nb": (0.3, 0.9), "Mn": (0.5, 1.5), "Mo": (0.4, 1.4)}),
    find_mistake("chromium mistake", "chromium equivalent", _CR, ["CrNiMo", "CrNiMoNb"], 0.1),
    mental_estimate("chromium estimate", "chromium equivalent", _CR, _WELDED, 0.4),
    change("chromium change", "chromium equivalent", _CR, ["18Cr-8Ni", "weld metal"],
           None, [("Cr", 0.7), ("Mo", 0.5), ("Mo", 1.0), ("Si", 0.3), ("Si", 0.6), ("Nb", 0.8),
                  ("Ni", 1.5), ("Mn", 1.5)], 0.07),
)  # fmt: skip

NICKEL_TEMPLATES: tuple[Template, ...] = (
    compute("nickel sum", "nickel equivalent", "ni_eq_wrc_1992", ["18Cr-8Ni"], 0.02,
            twin="cr_eq_wrc_1992"),
    rank("nickel order", "nickel equivalent", "ni_eq_wrc_1992",
         ("18Cr-8Ni", "18Cr-8Ni", "weld metal", "CrNiMo"), 0.3,
         by=("Ni", "C", _NI, "cr_eq_wrc_1992")),
    effect("nickel effect", "nickel equivalent", _NICKEL_SIDE, _WELDED,
           {"C": (0.01, 0.05), "N": (0.02, 0.09), "Mn": (0.6, 2.0), "Cu": (0.6, 2.0)}),
    Template("nickel change of one", "nickel equivalent", "compute", change_of_one),
    find_mistake("nickel mistake", "nickel equivalent", "ni_eq_delong_1973", _WELDED, 0.1),
    mental_estimate("nickel estimate", "nickel equivalent", "ni_eq_wrc_1992",
             ["18Cr-8Ni", "CrNiMo", "weld metal"], 0.4),
    change("nickel change", "nickel equivalent", "ni_eq_wrc_1992", ["18Cr-8Ni", "weld metal"],
           None, [("N", 0.05), ("N", 0.02), ("C", 0.01), ("C", 0.02), ("Ni", 0.5), ("Mn", 1.5),
                  ("Cu", 1.0), ("Cr", 1.0)], 0.07),
)  # fmt: skip
