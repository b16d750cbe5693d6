"""What cooling from the anneal makes of a steel: martensite, sigma, open grain boundaries."""

from __future__ import annotations

from functools import cache

import numpy as np

from gradekit.core.aliases import Numbers
from gradekit.core.flags import Flag
from gradekit.relations.groups import AUSTENITIC, DUPLEX, FERRITIC, MARTENSITIC, TURNS
from gradekit.relations.leading import AC1, AC1_NICKEL, NICKEL_MARTENSITIC, ms_form
from gradekit.relations.topics import CATALOGUE
from gradekit.works.hot.hot_rolling import judge_sigma
from gradekit.works.step import Lot
from gradekit.works.tables import process_table, rule

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


def hardening(lot: Lot) -> None:
    """Judge ferritic and martensitic steel: the austenite of the anneal, which turns on cooling."""
    for kind, words in _MEANT.items():
        lot.of(kind).state(_CHECK_MS, "ok", words, "trade practice", "memory")
    if part := lot.of(*FERRITIC, *TURNS):
        _ac1(part)
    if ferritic := lot.of("ferritic", "stabilised ferritic", "ferritic-martensitic"):
        meant = ferritic.is_of("ferritic-martensitic")
        ferritic.relation(
            "austenite on heating", "austenite_max_17cr", high=0.0,
            beyond=np.where(meant, "ok", "caution"),
            reason="most, at 1050 to 1100 °C; below 0 means none",
            beyond_reason=np.where(
                meant, "as is meant: low-carbon martensite keeps the grain of welds fine; anneal "
                "below Ac1", "martensite in hot strip and welds; anneal below Ac1"),
        )  # fmt: skip
    if hard := lot.of(*TURNS):
        lead = ms_form(hard.heats)
        for name in dict.fromkeys(lead):
            chosen = hard.where(lead == name)
            chosen.relation(
                _CHECK_MS, name, low=20.0, reason="start of martensite after hardening",
                gap=np.where(chosen.amount("C") > _DISSOLVES, _CARBIDE, ""),
                beyond_reason="retained austenite: cool deeper",
            )  # fmt: skip


def _ac1(lot: Lot) -> None:
    nickel = lot.amount("Ni") > NICKEL_MARTENSITIC
    plain = lot.where(~nickel)
    forms = plain.evaluate(list(AC1))
    # The loop of austenite ends near where there is most of it, so the form speaks of none beyond.
    end = CATALOGUE[AC1[0]].ranges["value"][1]
    own = (forms.flags[AC1[0]] & int(Flag.OTHER_FAMILY)) == 0
    closed = plain.where(own & (forms.values[AC1[0]] > end))
    closed.state(
        _CHECK_AC1, "ok", f"no austenite forms at any temperature: {AC1[0]} passes {end:g} °C",
        "family of the steel", "memory",
    )  # fmt: skip
    for part, form, unsettled, cure in (
        (lot.where(nickel), AC1_NICKEL, "", "temper at 580 to 620 °C: austenite that forms above "
         "turns into fresh martensite"),
        (plain.but(closed), AC1, "the two assignments of the coefficients are unsettled: ",
         "austenite forms at full heat and turns into martensite on cooling: hold it below Ac1, or "
         "cool a martensitic steel slowly to 650 °C"),
    ):  # fmt: skip
        if not part:
            continue
        forms = part.evaluate(list(form))
        part.relation(
            _CHECK_AC1, form[0], forms, forms=forms.values, low=lot.plant.line(_BELL, "C"),
            # hardenable steel is annealed below Ac1, or cooled slowly, as a matter of course
            beyond=np.where(part.is_of(*MARTENSITIC), "ok", "caution"),
            reason=f"{unsettled}a dilatometer decides", beyond_reason=cure,
        )  # fmt: skip


def cooling(lot: Lot) -> None:
    """Judge sigma, open grain boundaries and 475 °C at the cooling rate of the line."""
    line = lot.plant.line(_RATE, "C/s")
    plain = judge_sigma(
        lot, "sigma on cooling", line, reason="cooling rate that keeps sigma below 1 %",
        beyond_reason="more than 2 % sigma is severe: water quench",
    )  # fmt: skip
    rate, span = line.value, rule("sensitises")
    if part := lot.of(*AUSTENITIC):
        inside = (span.most - span.least) / rate
        part.judge(
            "sensitisation on cooling", nose_time(part["C"]), low=inside, unit="s",
            source=f"nose times of 18Cr-9Ni, factor 2; {lot.plant.cite(_RATE)}", status="memory",
            gap=["the times end at 0.08 % C" if c > 0.08 else gap for gap, c in
                 zip(part.unknown("C", otherwise=line.gap), part["C"], strict=True)],
            reason=f"{inside:.0f} s between {span.high:.0f} and {span.low:.0f} °C; molybdenum and "
            "nitrogen lengthen, nickel, silicon and cold work shorten the time",
            beyond_reason="carbides at grain boundaries: cool quicker, less carbon, stabilise",
        )  # fmt: skip
    plain.of(*DUPLEX, *FERRITIC).state(
        "475 °C on cooling", "ok" if rate >= 1 else "caution",
        f"{550 - 250:.0f} °C of the range pass in {300 / rate:.0f} s; it takes hours" if rate > 0
        else "no cooling rate in the plant table", "review", "verified",
    )  # fmt: skip
