"""The pickling bath judged: what it holds, which steel it attacks, which scale it leaves.

Mixed acid burns deeply, poisons and gives off toxic nitrogen oxides; the cautions of `CAUTIONS`
stand beside every row on the bath.
"""

from __future__ import annotations

import numpy as np

from gradekit.families.kinds import MANGANESE
from gradekit.relations.groups import AUSTENITIC, DUPLEX, FERRITIC, STAYS_AUSTENITE, TURNS
from gradekit.works.step import Lot
from gradekit.works.tables import rule

CAUTIONS = (
    "Hydrofluoric acid burns deeply and poisons the whole body even when dilute: trained staff, "
    "full protection, calcium gluconate at hand, medical help at once.",
    "Nitric acid baths give off toxic nitrogen oxides: scrub and ventilate; acid into water, never "
    "water into acid; no organics, cyanide, hypochlorite.",
    "Waste liquor holds fluoride, nitrate, chromium and nickel: treated and discharged under "
    "permit only. The rules of the plant and its licensed engineers decide.",
    "High-strength martensitic and cold-worked steel can crack from hydrogen after pickling.",
)
# wt% Cr from which mixed acid does not over-pickle: plain ferritic steel, and with bound carbon;
# wt% Ni below which manganese steel is over-pickled. Trade practice, memory.
_PLAIN_CR, _BOUND_CR, _LOW_NI = 20.0, 16.0, 6.0


def bath(lot: Lot) -> None:
    """Judge what the bath holds, and each heat against it."""
    # Ferritic steel rich in chromium, or bound and above 12Cr, is pickled as austenitic steel is.
    ferritic = lot.of(*FERRITIC)
    enough = np.where(ferritic.is_of("ferritic"), _PLAIN_CR, _BOUND_CR)
    bright = ferritic.where(ferritic.amount("Cr") >= enough)
    straight = lot.of(*FERRITIC, *TURNS).but(bright)
    mixed = lot.of(*AUSTENITIC, *DUPLEX, *STAYS_AUSTENITE, *FERRITIC).but(straight)
    for part, check, name, unit, key, words in (
        (lot, "electrolytic pickle before the acid", "sodium_sulphate", "g/l", "pickle_sulphate",
         "neutral sodium sulphate loosens the chromium-rich scale; chromate in the bath is "
         "poisonous"),
        (mixed, "nitric acid of the mixed bath", "nitric_acid", "g/l", "pickle_nitric", ""),
        (mixed, "hydrofluoric acid of the mixed bath", "hydrofluoric_acid", "g/l",
         "pickle_hydrofluoric", "hydrofluoric acid: see the cautions of this step"),
        (mixed, "temperature of the mixed bath", "temperature", "C", "pickle_temperature", ""),
        (mixed, "longest time in the mixed bath", "time_max", "s", "pickle_time", ""),
    ):  # fmt: skip
        band = rule(key)
        part.judge(
            check, lot.plant.line(f"pickling.{name}", unit), low=band,
            high=None if key == "pickle_time" else band, beyond="caution", reason=words,
        )  # fmt: skip
    straight.state(
        "bath", "caution",
        "mixed acid attacks 12 to 17 % chromium and sensitised steel (over-pickling): sulphuric "
        "acid 8 to 12 % with 2 % salt at 65 to 77 °C is what is published, or a short dilute mixed "
        "bath; never mixed acid for hardened high-carbon steel", "pickling practice", "verified",
    )  # fmt: skip
    manganese = lot.of(*MANGANESE)
    manganese.where(manganese.amount("Ni") < _LOW_NI).state(
        "over-pickling", "caution",
        "low nickel with high manganese over-pickles: short times, watch the weight loss",
        "plant practice", "memory",
    )  # fmt: skip
    for element, key in (("Si", "pickle_silicon"), ("Mo", "pickle_molybdenum")):
        if element in lot.heats:
            lot.judge(
                f"{element} against slow pickling", lot.content(element), high=rule(key),
                beyond="caution",
                beyond_reason="scale dissolves slowly: shot blast, electrolytic sulphate first",
            )  # fmt: skip
