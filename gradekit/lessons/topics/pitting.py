"""The pitting index: what counts in it, and what it does not say."""

from __future__ import annotations

import numpy as np

from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.forms.amounts import compute, mental_estimate
from gradekit.lessons.forms.choices import change, effect, find_mistake, outcome
from gradekit.lessons.forms.designs import design
from gradekit.lessons.forms.orders import rank
from gradekit.lessons.slips import linear, value
from gradekit.lessons.template import form, on_topic

_INDEX, _OTHER = "pren_16n", "pren_30n"
_KINDS = ("18Cr-8Ni", "CrNiMo", "duplex", "CrMnNi")


@form("reason")
def _swapped(rng: np.random.Generator) -> Exercise | None:
    """Molybdenum taken out and nitrogen put in, judged by one of two indices."""
    heat, index = steel(rng, "CrNiMo"), str(rng.choice([_INDEX, _OTHER]))
    less, more = 0.3, float(rng.choice([0.03, 0.05, 0.09]))
    after = heat | {"Mo": round(heat["Mo"] - less, 3), "N": round(heat["N"] + more, 3)}
    factors = linear(index).terms
    gain, loss = factors["N"] * more, factors["Mo"] * less
    sums = (
        f"{factors['N']:g} × {more:g} = {gain:.2f} against {factors['Mo']:g} × {less:g} = "
        f"{loss:.2f}"
    )
    return outcome(
        rng, f"{less:g} % molybdenum is taken out of this steel and {more:g} % nitrogen put in.",
        f"the pitting index {'with 16N' if index == _INDEX else 'with 30N'}",
        {"the steel": heat}, (value(heat, index), value(after, index)), "", 0.05,
        rises=(f"what nitrogen brings outweighs what molybdenum takes, {sums}",
               "the index counts nitrogen alone"),
        falls=(f"what molybdenum takes outweighs what nitrogen brings, {sums}",
               "the index does not count nitrogen"),
        stays="both work against chlorides, so one makes good for the other", relations=(index,),
    )  # fmt: skip


PITTING_TEMPLATES = on_topic(
    "pitting index",
    compute("pitting sum", _INDEX, ["CrNiMo"], 0.02),
    rank("pitting order", _INDEX, _KINDS, 0.4, by=("Cr", "Mo", "N", "Ni")),
    _swapped("pitting swap"),
    change("pitting change", _INDEX, ["CrNiMo"], None,
           [("Mo", 0.4), ("Mo", 0.2), ("N", 0.04), ("N", 0.06), ("Cr", 0.8), ("Ni", 2.0),
            ("Cr", 1.1), ("Cu", 1.0), ("Mn", 1.0)], 0.05),
    find_mistake("pitting mistake", _INDEX, ["CrNiMo", "duplex"], 0.2),
    mental_estimate("pitting estimate", _INDEX, ["CrNiMo", "duplex"], 0.6),
    effect("pitting effect", [_INDEX, _OTHER, "pren_27n"], _KINDS,
           {"Mo": (0.2, 0.9), "N": (0.02, 0.09), "Ni": (0.5, 2.0), "Cu": (0.5, 2.0)}),
    design("pitting design", "CrNiMo",
           [(_INDEX, (25.0, 27.0), None), ("ferrite_delong_1973", (2.0, 4.0), (8.0, 10.0))],
           {"Cr": (16.5, 19.0, 0.1), "Mo": (2.0, 3.0, 0.1), "Ni": (9.0, 15.0, 0.1)}),
)  # fmt: skip
