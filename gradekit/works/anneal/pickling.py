"""The pickling bath judged: what it holds, which steel it attacks, which scale it leaves.

Mixed acid burns deeply, poisons and gives off toxic nitrogen oxides; the cautions of `CAUTIONS`
stand beside every row on the bath.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.families.kinds import MANGANESE
from gradekit.heats.columns import amount, column, unknown
from gradekit.relations.groups import AUSTENITIC, DUPLEX, FERRITIC, STAYS_AUSTENITE, TURNS, those_of
from gradekit.works.plant import Plant
from gradekit.works.row import Row
from gradekit.works.step import judge, said_rows
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
_TABLE = "strip_rules"
# wt% Cr from which mixed acid does not over-pickle: plain ferritic steel, and with bound carbon;
# wt% Ni below which manganese steel is over-pickled. Trade practice, memory.
_PLAIN_CR, _BOUND_CR, _LOW_NI = 20.0, 16.0, 6.0
_HYDROGEN = "hydrofluoric acid: see the cautions of this step"


def bath(step: str, heats: pd.DataFrame, plant: Plant, kinds: pd.Series) -> list[Row]:
    """Judge what the bath holds, and each heat against it."""
    rows = []
    # Ferritic steel rich in chromium, or bound and above 12Cr, is pickled as austenitic steel is.
    ferritic = those_of(kinds, *FERRITIC)
    plain = those_of(kinds[ferritic], "ferritic")
    enough = np.where(ferritic.isin(plain), _PLAIN_CR, _BOUND_CR)
    bright = ferritic[amount(heats.loc[ferritic], "Cr") >= enough]
    mixed = those_of(kinds, *AUSTENITIC, *DUPLEX, *STAYS_AUSTENITE).union(bright, sort=False)
    salt, band = "pickling.sodium_sulphate", rule("pickle_sulphate", _TABLE)
    rows += judge(
        step, "electrolytic pickle before the acid", pd.Series(plant.get(salt, "g/l"), heats.index),
        low=band.low, high=band.high, unit="g/l", beyond="caution", gap=plant.gap(salt),
        source=f"{band.source}; {plant.cite(salt)}", status=band.status,
        reason="neutral sodium sulphate loosens the chromium-rich scale; chromate in the bath is "
        "poisonous",
    )  # fmt: skip
    for check, name, unit, key in (
        ("nitric acid of the mixed bath", "pickling.nitric_acid", "g/l", "pickle_nitric"),
        ("hydrofluoric acid of the mixed bath", "pickling.hydrofluoric_acid", "g/l",
         "pickle_hydrofluoric"),
        ("temperature of the mixed bath", "pickling.temperature", "C", "pickle_temperature"),
        ("longest time in the mixed bath", "pickling.time_max", "s", "pickle_time"),
    ):  # fmt: skip
        band = rule(key, _TABLE)
        high = None if key == "pickle_time" else band.high
        if len(mixed):
            rows += judge(
                step, check, pd.Series(plant.get(name, unit), mixed), low=band.low, high=high,
                unit="°C" if unit == "C" else unit, beyond="caution", gap=plant.gap(name),
                source=f"{band.source}; {plant.cite(name)}", status=band.status,
                reason=_HYDROGEN if key == "pickle_hydrofluoric" else "",
            )  # fmt: skip
    straight = those_of(kinds, *FERRITIC, *TURNS).difference(bright, sort=False)
    rows += said_rows(
        step, "bath", straight, "caution",
        "mixed acid attacks 12 to 17 % chromium and sensitised steel (over-pickling): sulphuric "
        "acid 8 to 12 % with 2 % salt at 65 to 77 °C is what is published, or a short dilute mixed "
        "bath; never mixed acid for hardened high-carbon steel", "pickling practice", "verified",
    )  # fmt: skip
    lean = those_of(kinds, *MANGANESE)
    lean = lean[amount(heats.loc[lean], "Ni") < _LOW_NI]
    rows += said_rows(
        step, "over-pickling", lean, "caution",
        "low nickel with high manganese over-pickles: short times, watch the weight loss",
        "plant practice", "memory",
    )  # fmt: skip
    for element, key in (("Si", "pickle_silicon"), ("Mo", "pickle_molybdenum")):
        limit = rule(key, _TABLE)
        if element in heats:
            rows += judge(
                step, f"{element} against slow pickling", column(heats, element), high=limit.high,
                unit="wt%", beyond="caution", source=limit.source, status=limit.status,
                gap=unknown(heats, element),
                beyond_reason="scale dissolves slowly: shot blast, electrolytic sulphate first",
            )  # fmt: skip
    return rows
