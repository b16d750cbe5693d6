"""What cooling from the anneal makes of a steel: martensite, sigma, open grain boundaries."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd

from gradekit.core.aliases import Numbers
from gradekit.core.flags import Flag
from gradekit.heats.columns import amount, column, unknown
from gradekit.relations.evaluate import evaluate_batch
from gradekit.relations.groups import (
    AUSTENITIC,
    DUPLEX,
    FERRITIC,
    MARTENSITIC,
    TURNS,
    is_of,
    those_of,
)
from gradekit.relations.leading import AC1, AC1_NICKEL, NICKEL_MARTENSITIC, ms_form
from gradekit.relations.topics import CATALOGUE
from gradekit.works.hot.hot_rolling import sigma_rate
from gradekit.works.plant import Plant
from gradekit.works.row import Row
from gradekit.works.step import judge, judge_forms, judge_relation, said_rows
from gradekit.works.tables import process_table, rule

_TABLE = "strip_rules"
_RATE, _BELL = "anneal.cooling_rate", "batch_anneal.temperature_max"
_CHECK_AC1, _CHECK_MS = "Ac1 against the bell furnace", "Ms above room temperature"
_MEANT = {
    "precipitation-hardening, semi-austenitic": "austenite after the solution anneal, as is meant; "
    "conditioning at 760 or 955 °C, deep cooling or cold work turns it",
    "precipitation-hardening, austenitic": "austenite in every state, as is meant: it hardens by "
    "ageing",
}
_DISSOLVES = 0.5  # wt% C of steel that is hardened with little carbide left
_CARBIDE = (
    "carbide stays undissolved when such a steel is hardened: the carbon in solution counts; "
    "measure Ms and retained austenite on hardened samples"
)


def nose_time(carbon_pct: Numbers) -> np.ndarray:
    """Return how long 18Cr-9Ni steel takes to be sensitised at the worst temperature, s.

    Between the tabulated carbon contents on a logarithmic line; a low estimate (the shorter of
    two); NaN above 0.08 wt%, and below 0.02 wt% the time of 0.02.

    Examples
    --------
    >>> nose_time([0.08, 0.05, 0.02]).tolist()
    [30.0, 600.0, 360000.0]
    """
    carbon, (known, logs) = np.asarray(carbon_pct, dtype=float), _noses()
    # Exactly the tabulated figure where the carbon is tabulated.
    times = np.round(np.exp(np.interp(carbon, known, logs)), 6)
    return np.where(carbon <= known.max() + 1e-12, times, np.nan)


@cache
def _noses() -> tuple[np.ndarray, np.ndarray]:
    rows = process_table("sensitisation_nose").sort_values("carbon_pct")
    return rows["carbon_pct"].to_numpy(), np.log(rows["time_min_s"].to_numpy())


def hardening(step: str, heats: pd.DataFrame, plant: Plant, kinds: pd.Series) -> list[Row]:
    """Judge ferritic and martensitic steel: the austenite of the anneal, which turns on cooling."""
    rows: list[Row] = []
    for kind, words in _MEANT.items():
        meant = those_of(kinds, kind)
        rows += said_rows(step, _CHECK_MS, meant, "ok", words, "trade practice", "memory")
    part = those_of(kinds, *FERRITIC, *TURNS)
    if not len(part):
        return rows
    rich = amount(heats.loc[part], "Ni") > NICKEL_MARTENSITIC
    closed = part[~rich]
    # The loop of austenite ends near where there is most of it, so the form speaks of none beyond.
    end = CATALOGUE[AC1[0]].ranges["value"][1]
    ac1 = evaluate_batch(heats.loc[closed], AC1[0])
    own = (ac1.flags[AC1[0]] & int(Flag.OTHER_FAMILY)) == 0
    closed = closed[(own & (ac1.values[AC1[0]] > end)).to_numpy()]
    rows += said_rows(
        step, _CHECK_AC1, closed, "ok",
        f"no austenite forms at any temperature: {AC1[0]} passes {end:g} °C", "family of the steel",
        "memory",
    )  # fmt: skip
    part, rich = part.difference(closed, sort=False), rich[~part.isin(closed)]
    for forms, chosen in ((AC1_NICKEL, part[rich]), (AC1, part[~rich])):
        if len(chosen):
            rows += judge_forms(
                step, _CHECK_AC1,
                evaluate_batch(heats.loc[chosen], list(forms)),
                forms[0], low=plant.get(_BELL, "C"), gap=plant.gap(_BELL),
                # hardenable steel is annealed below Ac1, or cooled slowly, as a matter of course
                beyond=["ok" if is_of(kinds[h], *MARTENSITIC) else "caution" for h in chosen],
                limit_source=plant.cite(_BELL),
                reason="a dilatometer decides" if forms is AC1_NICKEL else "the two assignments "
                "of the coefficients are unsettled: a dilatometer decides",
                beyond_reason="temper at 580 to 620 °C: austenite that forms above turns into "
                "fresh martensite" if forms is AC1_NICKEL else "austenite forms at full heat "
                "and turns into martensite on cooling: hold it below Ac1, or cool a martensitic "
                "steel slowly to 650 °C",
            )  # fmt: skip
    ferritic = those_of(kinds, "ferritic", "stabilised ferritic", "ferritic-martensitic")
    if len(ferritic):
        meant = [is_of(kinds[h], "ferritic-martensitic") for h in ferritic]
        rows += judge_relation(
            step, "austenite on heating", evaluate_batch(heats.loc[ferritic], "austenite_max_17cr"),
            "austenite_max_17cr", high=0.0, beyond=["ok" if m else "caution" for m in meant],
            reason="most, at 1050 to 1100 °C; below 0 means none",
            beyond_reason=["as is meant: low-carbon martensite keeps the grain of welds fine; "
                           "anneal below Ac1" if m else
                           "martensite in hot strip and welds; anneal below Ac1" for m in meant],
        )  # fmt: skip
    hard = those_of(kinds, *TURNS)
    if len(hard):
        lead = ms_form(heats.loc[hard])
        for name in dict.fromkeys(lead):
            chosen = hard[(lead == name).to_numpy()]
            rows += judge_relation(
                step, _CHECK_MS, evaluate_batch(heats.loc[chosen], name), name,
                low=20.0, reason="start of martensite after hardening",
                gap=[_CARBIDE if c > _DISSOLVES else "" for c in amount(heats.loc[chosen], "C")],
                beyond_reason="retained austenite: cool deeper",
            )  # fmt: skip
    return rows


def cooling(step: str, heats: pd.DataFrame, plant: Plant, kinds: pd.Series) -> list[Row]:
    """Judge sigma, open grain boundaries and 475 °C at the cooling rate of the line."""
    rate = plant.get(_RATE, "C/s")
    tungsten = amount(heats, "W")
    rules = [sigma_rate(k, w) for k, w in zip(kinds, tungsten, strict=True)]
    have = np.array([r is not None for r in rules], dtype=bool)
    rows = []
    if have.any():
        i = heats.index[have]
        rows += judge(
            step, "sigma on cooling", pd.Series(rate, i), unit="°C/s",
            low=[r.high for r in rules if r], gap=plant.gap(_RATE),
            source=f"trade practice; {plant.cite(_RATE)}", status="memory",
            reason="cooling rate that keeps sigma below 1 %",
            beyond_reason="more than 2 % sigma is severe: water quench",
        )  # fmt: skip
    i = those_of(kinds, *AUSTENITIC)
    if len(i):
        span = rule("sensitises", _TABLE)
        inside = (span.most - span.least) / rate
        carbon = column(heats, "C")[i]
        gaps = [
            "the times end at 0.08 % C" if c > 0.08 else gap
            for gap, c in zip(unknown(heats.loc[i], "C", otherwise=plant.gap(_RATE)), carbon,
                              strict=True)
        ]  # fmt: skip
        rows += judge(
            step, "sensitisation on cooling", pd.Series(nose_time(carbon), i), low=inside,
            unit="s", source=f"nose times of 18Cr-9Ni, factor 2; {plant.cite(_RATE)}",
            status="memory", gap=gaps,
            reason=f"{inside:.0f} s between {span.high:.0f} and {span.low:.0f} °C; molybdenum and "
            "nitrogen lengthen, nickel, silicon and cold work shorten the time",
            beyond_reason="carbides at grain boundaries: cool quicker, less carbon, stabilise",
        )  # fmt: skip
    i = those_of(kinds[~have], *DUPLEX, *FERRITIC)
    return rows + said_rows(
        step, "475 °C on cooling", i, "ok" if rate >= 1 else "caution",
        f"{550 - 250:.0f} °C of the range pass in {300 / rate:.0f} s; it takes hours" if rate > 0
        else "no cooling rate in the plant table", "review", "verified",
    )  # fmt: skip
