"""Strength where no measured heats lend support: a published form with its error, or nothing."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.flags import OUT, Flag
from gradekit.families.kinds import families
from gradekit.heats.columns import amount
from gradekit.properties.estimate.frame import (
    ENDS,
    empty,
    estimates,
    in_parts,
    normal,
    some,
    trade_error,
)
from gradekit.relations.evaluate import evaluate
from gradekit.relations.groups import AUSTENITIC, DUPLEX
from gradekit.relations.judgements import judged_errors
from gradekit.relations.topics import CATALOGUE
from gradekit.standards.minima import minimum_words

_HOT = "not known: no measured support for this family above room temperature"
ROOM, WARM = 20.0, 40.0  # °C; above the second, what holds at room temperature says nothing
_FORMS = {"proof_strength": "yield_nordberg_2004", "tensile_strength": "uts_nordberg_2004"}
_FERRITE, _ANNEAL = "ferrite_duplex_anchored", 1080.0  # °C, in the middle of its check
#: Forms of product that are told apart.
PRODUCTS = ("strip", "plate")
# Usual grain of annealed products, µm: a heuristic for who does not tell the own.
_GRAIN = {"austenitic": {"strip": 30.0, "plate": 60.0}, "duplex": {"strip": 10.0, "plate": 60.0}}
_TRADE = 30.0  # MPa, one sigma of the published strength forms, trade judgement
# wt% N up to which the figure of 6Mo sheet is told; 1.4565 with 0.46 stands 100 MPa higher.
_RICH_N = 0.3
# MPa that hot-rolled plate of duplex steel stands below cold-rolled strip, from memory.
_PLATE = 90.0
# Annealed ferritic sheet up to so much Cr: no composition form exists; data sheets from memory, MPa
# with one sigma: 409 and its like, 444 with molybdenum, 430, 439 and 441.
_FERRITIC_CR = 19.0
_FERRITIC = {
    "with 11 to 13Cr and titanium 230 to 260": (245.0, 25.0),
    "with 1.5 Mo or more 340 to 380": (355.0, 35.0),
    "with 12 to 18Cr 300 to 330": (315.0, 40.0),
}


def unmeasured(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    """Estimate duplex, ferritic, martensitic, Cr-Mn-N and nitrogen-rich steel."""
    hot = given.get("temperature_C", np.full(len(batch), ROOM)) > WARM

    def make(is_hot: bool, rows: np.ndarray) -> pd.DataFrame:
        own = some(given, rows)
        return empty(batch[rows], _HOT) if is_hot else _at_room(batch[rows], quantity, level, own)

    return in_parts(batch, hot, make)


def _at_room(batch: pd.DataFrame, quantity: str, level: float, given: dict) -> pd.DataFrame:
    steel = families(batch).to_numpy()
    frame = empty(batch, "")
    if quantity in _FORMS:
        for kind, members in (("austenitic", AUSTENITIC), ("duplex", DUPLEX)):
            rows = np.isin(steel, members)
            if rows.any():
                form = _by_form(batch[rows], quantity, kind, level, some(given, rows))
                frame.loc[rows, form.columns] = form
        # a form outside its own range answers no more
        most = CATALOGUE[_FORMS[quantity]].ranges["Mo"][1]
        beyond = np.isin(steel, AUSTENITIC) & (amount(batch, "Mo") > most)
        sheet = amount(batch, "N") < _RICH_N
        frame.loc[beyond, "basis"] = (
            f"no measured support, and {_FORMS[quantity]} ends at {most:g} Mo, above which it adds "
            "without limit"
        )
        frame.loc[beyond & sheet, "basis"] += (
            "; sheet of 6Mo steel stands at 310 to 340 MPa proof strength (memory)"
        )
        frame.loc[(frame["flag"].to_numpy(int) & OUT) > 0, ENDS] = np.nan
    if quantity == "proof_strength":
        chromium = amount(batch, "Cr")
        left = np.isin(steel, ("ferritic", "stabilised ferritic"))
        left &= (chromium <= _FERRITIC_CR) & (amount(batch, "Al") < 0.5)
        soft = (steel == "stabilised ferritic") & (chromium < 13.0)
        kinds = (soft, amount(batch, "Mo") >= 1.5, True)
        for (words, (middle, sigma)), kind in zip(_FERRITIC.items(), kinds, strict=True):
            rows, half = left & kind, normal(level) * sigma
            frame.loc[rows, ENDS] = (middle, middle - half, middle + half)
            frame.loc[rows, "basis"] = (
                f"no measured support; annealed ferritic sheet {words} MPa, memory, whatever else "
                "it holds"
            )
            left &= ~rows
    blank = frame["value"].isna().to_numpy()
    if blank.any():
        least = minimum_words(batch[blank], steel[blank], quantity)
        none = "not known: no measured support and no relation of such steel"
        leads = [words if "Mo, above" in words else none for words in frame.loc[blank, "basis"]]
        frame.loc[blank, "basis"] = [f"{a}; {b}" for a, b in zip(leads, least, strict=True)]
    return frame.astype({"flag": np.uint16})


def _by_form(
    batch: pd.DataFrame, quantity: str, kind: str, level: float, given: dict
) -> pd.DataFrame:
    name, blank = _FORMS[quantity], np.full(len(batch), np.nan)
    form = given.get("product", np.full(len(batch), ""))
    size = given.get("grain_size_um", blank)
    told = np.isfinite(size)
    usual = np.where(form == "plate", _GRAIN[kind]["plate"], _GRAIN[kind]["strip"])
    words = [
        ""
        if known
        else f"; grain size not told, {g:g} µm {f'of {p} ' if p else ''}taken "
        "(heuristic), half to twice allowed for"
        for known, g, p in zip(told, usual, form, strict=True)
    ]
    size_words, grain = np.array(words, dtype=object), np.where(told, size, usual)
    ferrite, ferrite_words = _ferrite(kind, batch, given)
    finer, middle, coarser = (
        evaluate(batch, name, grain_size_um=grain * k, delta_ferrite_pct=ferrite).column(name)
        for k in (0.5, 1.0, 2.0)
    )
    value, flags = middle
    unsure = np.where(told, 0.0, np.abs(finer[0] - coarser[0]) / 2.0)
    judged = judged_errors()[name]
    sigma = max(_TRADE, trade_error(name))
    measured = f"on annealed austenitic heats it reads {judged['bias']:+.2g} MPa"
    if kind == "austenitic":
        value = value - judged["bias"]
        sigma = max(_TRADE, judged["rmse_by_group"])
        measured += ", taken off"
    half = np.hypot(normal(level) * sigma, unsure)
    frame = estimates(batch, value, half, "", flags | int(Flag.NO_SUPPORT))
    if kind == "duplex" and quantity == "proof_strength":
        open_form = ~told & (form == "")
        frame["low"] -= np.where(open_form, _PLATE, 0.0)
        strip = f"; of strip: plate stands about {_PLATE:g} MPa lower (memory)"
        size_words = size_words + np.where(open_form, strip, "").astype(object)
    frame["low"] = frame["low"].clip(lower=0.0)
    frame["basis"] = (
        f"no measured support; {name} ({CATALOGUE[name].status}), trade error {sigma:.3g} MPa at "
        f"one sigma; {measured}" + size_words + ferrite_words
    )
    return frame


def _ferrite(kind: str, batch: pd.DataFrame, given: dict) -> tuple[np.ndarray, str | np.ndarray]:
    if kind == "austenitic":
        return given.get("delta_ferrite_pct", np.zeros(len(batch))), ""
    blank = np.full(len(batch), np.nan)
    told = given.get("delta_ferrite_pct", blank)
    anneal = given.get("solution_temperature_C", blank)
    anneal = np.where(np.isfinite(anneal), anneal, _ANNEAL)
    form, _ = evaluate(batch, _FERRITE, temperature_C=anneal).column(_FERRITE)
    words = [
        "" if np.isfinite(known)
        else f"; ferrite {f:.0f} % by {_FERRITE} ({CATALOGUE[_FERRITE].status}) at {t:g} °C"
        for known, f, t in zip(told, form, anneal, strict=True)
    ]  # fmt: skip
    return np.where(np.isfinite(told), told, form), np.array(words, dtype=object)
