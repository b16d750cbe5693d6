"""Nitrogen and hydrogen: what the melt dissolves, what casts without pores, what a change buys.

The limit for nitrogen is a working rule (a share of the solubility at the liquidus of the steel, by
the phase that solidifies first), built on a handful of published cases and no theory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, HeatsLike
from gradekit.core.errors import InputError
from gradekit.core.flags import Flag
from gradekit.core.markup import details, items, number, panel, table
from gradekit.heats.batch import as_batch
from gradekit.heats.columns import amount, column
from gradekit.relations.declaration import Percent
from gradekit.relations.evaluate import Result, evaluate_batch
from gradekit.relations.topics import CATALOGUE
from gradekit.relations.topics.works import AUSTENITE_FIRST, FERRITE_FIRST, SWITCH_FAST, SWITCH_SLOW
from gradekit.works.row import short
from gradekit.works.step import Lot
from gradekit.works.tables import rule

STEP = "nitrogen and gas"
CAUTIONS = (
    "Nitrogen above what casts makes blow holes and boils in the mould; melting or casting under "
    "pressure falls under the rules for pressure vessels.",
    "Nitrogen and argon asphyxiate without warning: measure the oxygen of the air, control entry.",
    "Hydrogen comes with damp scrap, lime and alloys, and water under molten steel explodes.",
)
CONDITIONS = {"hydrogen_ppm": "hydrogen measured in the melt, ppm by mass"}
TAPPING = 1600.0
_PREFERRED, _LIQUIDUS = "n_solubility_recommended", "liquidus_aymard_extended"
_RULE = "n_castable_by_mode"
_COLDEST = CATALOGUE[_PREFERRED].ranges["temperature_C"][0]
# Shares of the solubility at which pores were seen in slabs of 16-18Cr steel above 0.2 N.
_PORED_SPREAD = 0.2
_PORES = "published slabs with pores (16-18Cr, over 0.2 N) lie at 0.57 to 0.77 of the solubility"
_MOVES = ("Cr", "Mn", "Ni", "Mo", "Si", "Cu", "C")
_PRESSURE = "caster.pressure"
_OUT = int(Flag.BELOW_RANGE | Flag.ABOVE_RANGE)


@dataclass(frozen=True)
class Nitrogen:
    """What is known of the nitrogen of a batch.

    Attributes
    ----------
    melt : Result
        Solubility by every published set at 1600 °C, wt%.
    castable : DataFrame, one row a heat
        `first`: the phase that solidifies first by the Hammar-Svensson ratio, 'undecided' between
        1.43 and 1.55; `low`, `high`: castable nitrogen, wt%, with the factor of that phase (both
        factors where undecided) over the sets in their range; `N` and `margin` to `low`.
    gradient : DataFrame, shape (heats, elements)
        What one wt% more of an element changes in the castable nitrogen, wt%, the mode staying.
    pressure : DataFrame
        Pressure that holds a bubble back, atm, at fractions solid; see
        `pressure_against_bubbles`.
    """

    melt: Result
    castable: pd.DataFrame
    gradient: pd.DataFrame
    pressure: pd.DataFrame

    @property
    def words(self) -> str:
        """Which heats cast without pores, in one sentence."""
        margin = self.castable["margin"]
        if len(margin) > 1:
            return f"{int((margin >= 0).sum())} of {len(margin)} heats cast without pores"
        low, own = (number(float(self.castable[c].iloc[0]), 3) for c in ("low", "N"))
        sound = "casts without pores" if margin.iloc[0] >= 0 else "may not cast without pores"
        return f"{margin.index[0]} {sound}: {own} wt% N, {low} wt% is castable"

    def _repr_html_(self) -> str:
        wt = dict.fromkeys(["low", "high", "N", "margin"], "wt%")
        return panel(
            table(self.castable, "Nitrogen that casts without pores (working rule)", units=wt),
            details("What 1 wt% more of an element buys", table(self.gradient, "wt% N", digits=2)),
            details("Solubility of the melt",
                    table(self.melt.values, "At 1600 °C and this pressure, wt%")),
            details("Pressure that holds bubbles back while it solidifies",
                    table(self.pressure, "atm (from memory)", digits=3)),
            details("Cautions", items(CAUTIONS)),
            lead=self.words,
        )  # fmt: skip


def nitrogen(heats: HeatsLike, pressure_atm: float = 1.0) -> Nitrogen:
    """Say how much nitrogen a steel takes as a melt and as a casting, and what a change buys.

    Parameters
    ----------
    heats : anything `as_batch` takes
    pressure_atm : float
        Over the melt and over the mould.

    Returns
    -------
    Nitrogen

    Raises
    ------
    InputError
        A pressure that is not above 0.

    Examples
    --------
    >>> lean = {"C": 0.05, "Si": 0.4, "Mn": 7.0, "Cr": 17.0, "Ni": 4.0, "N": 0.18}
    >>> n = nitrogen(lean)
    >>> n.castable["first"].iloc[0], n.castable["low"].round(2).tolist()
    ('ferrite', [0.29])
    """
    batch = as_batch(heats)
    if not pressure_atm > 0:
        raise InputError("pressure_atm", "a pressure above 0", pressure_atm)
    castable = _castable(batch, pressure_atm)[0]
    return Nitrogen(
        melt=_solubility(batch, TAPPING, pressure_atm),
        castable=castable,
        gradient=_gradient(batch, castable["first"], pressure_atm),
        pressure=pressure_against_bubbles(batch),
    )


def pressure_against_bubbles(
    heats: HeatsLike, fraction_solid: tuple[float, ...] = (0.3, 0.6, 0.9)
) -> pd.DataFrame:
    """Return the pressure that keeps nitrogen in the liquid between the dendrites, atm.

    The liquid holds N/(1 - (1 - k) f) at the fraction solid f, k being nitrogen in solid over
    nitrogen in liquid (0.3 for ferrite, 0.5 to 0.6 for austenite, from memory). Air, the liquid
    above and the surface tension of a small bubble give the pressure; the size of the bubble is
    not known, so no verdict rests on this.

    Returns
    -------
    DataFrame
        One column a phase and fraction solid.

    Examples
    --------
    >>> p = pressure_against_bubbles({"C": 0.05, "Mn": 1.3, "Cr": 18, "Ni": 8, "N": 0.1}, (0.5,))
    >>> p.round(2).iloc[0].to_dict()
    {'ferrite, 0.5 solid': 0.34, 'austenite, 0.5 solid': 0.24}
    """
    batch = as_batch(heats)
    liquidus = evaluate_batch(batch, _LIQUIDUS).values[_LIQUIDUS].to_numpy()
    most = _at_liquidus(batch, liquidus, 1.0).values[_PREFERRED]
    pressures = {}
    for phase in ("ferrite", "austenite"):
        k = rule(f"partition_{phase}")
        for solid in fraction_solid:
            if not 0 <= solid < 1:
                raise InputError("fraction_solid", "from 0 up and below 1", solid)
            liquid = column(batch, "N") / (1.0 - (1.0 - k.middle) * solid)
            pressures[f"{phase}, {solid:g} solid"] = (liquid / most) ** 2
    return pd.DataFrame(pressures)


def checks(lot: Lot) -> None:
    """Judge nitrogen and hydrogen of each heat; see `gradekit.works.step`."""
    place = lot.plant.line(_PRESSURE, "atm")
    castable, forms, doubts = _castable(lot.heats, place.value)
    first, gains = castable["first"], _gradient(lot.heats, castable["first"], place.value)
    # Where slabs with pores are published, the factor is no better known than they lie apart.
    unsure = np.where(lot["Cr"].between(16, 18.5), _PORED_SPREAD, 0.0)
    known = cast(Percent, CATALOGUE[_PREFERRED].error).size / 100.0
    lot.judge(
        "nitrogen that casts without pores", castable["low"], low=lot["N"], forms=forms,
        unit="wt%", status="heuristic", error=forms.min(axis=1) * np.hypot(known, unsure),
        doubts=doubts, gap=lot.unknown("C", "Cr", "Ni", "N", otherwise=place.gap),
        source=f"{_RULE} ({short(*CATALOGUE[_RULE].source)})",
        reason=[f"{_first_words(p)}, at {place.value:g} atm; {_PORES}" for p in first],
        beyond_reason=[_buys(gain, p) for gain, p in zip(gains.to_numpy(), first, strict=True)],
    )  # fmt: skip
    _hydrogen(lot)


def _solubility(batch: pd.DataFrame, temperature_C: Given, pressure_atm: float) -> Result:
    return evaluate_batch(
        batch, "nitrogen solubility", temperature_C=temperature_C, pN2_atm=pressure_atm
    )


def _at_liquidus(batch: pd.DataFrame, liquidus: np.ndarray, pressure_atm: float) -> Result:
    """Return the solubility by every set at the liquidus; what titanium and aluminium hold is bound
    as nitride and buys no room."""
    unbound = batch.assign(**{e: 0.0 for e in ("Ti", "Al") if e in batch})
    return _solubility(unbound, liquidus, pressure_atm)


def _castable(
    batch: pd.DataFrame, pressure_atm: float
) -> tuple[pd.DataFrame, pd.DataFrame, list[str]]:
    """Return the table of `Nitrogen.castable`, the same by set and factor, and doubts in words.

    A set whose contents are out of range takes no part, but the preferred one does and is spoken
    of. That the liquidus lies below the range of all sets is spoken of too.
    """
    result = evaluate_batch(batch, ["cr_ni_ratio_hammar", _LIQUIDUS])
    ratio, liquidus = result.values.to_numpy().T
    sets = _at_liquidus(batch, liquidus, pressure_atm)
    warm = _solubility(batch, TAPPING, pressure_atm)
    outside, preferred = (warm.flags.to_numpy() & _OUT) != 0, sets.names == _PREFERRED
    usable = np.where(outside & ~preferred, np.nan, sets.values)
    # Of a steel that the ratio was not made for it is not believed that austenite comes first.
    other = (result.flags["cr_ni_ratio_hammar"] & int(Flag.OTHER_FAMILY)).to_numpy() != 0
    ferrite, austenite = (ratio > SWITCH_SLOW) | other, ratio <= SWITCH_FAST
    known = np.where(np.isnan(ratio), np.nan, 1.0)
    low = np.where(ferrite, FERRITE_FIRST, AUSTENITE_FIRST) * known
    high = np.where(ferrite & austenite, AUSTENITE_FIRST, np.nan) * known
    forms = pd.DataFrame(
        np.hstack([usable * low[:, None], usable * high[:, None]]),
        index=batch.index,
        columns=[f"{name} {end}" for end in ("low", "high") for name in sets.names],
    )
    first = np.select(
        [np.isnan(ratio), ferrite & austenite, ferrite],
        ["not assessed", "undecided", "ferrite"],
        "austenite",
    )
    shown = forms[f"{_PREFERRED} low"]
    castable = pd.DataFrame(
        {
            "first": first,
            "ratio": ratio,
            "low": shown,
            "high": forms.max(axis=1),
            "N": column(batch, "N"),
            "margin": shown - column(batch, "N"),
        },
        index=batch.index,
    )
    cold = f"solubility extrapolated below {_COLDEST:.0f} °C"
    doubts = [
        "; ".join(filter(None, [warm.words(h, _PREFERRED) if o else "", cold if c else ""]))
        for h, o, c in zip(batch.index, outside[:, preferred].any(axis=1), liquidus < _COLDEST,
                           strict=True)
    ]  # fmt: skip
    return castable, forms, doubts


def _gradient(batch: pd.DataFrame, first: pd.Series, pressure_atm: float) -> pd.DataFrame:
    """Return how the castable nitrogen moves with each element, the mode staying."""
    share = {"austenite": AUSTENITE_FIRST, "ferrite": FERRITE_FIRST, "undecided": FERRITE_FIRST}
    step, moves = 0.01, np.array(_MOVES)
    relation, liquidus = CATALOGUE[_PREFERRED], CATALOGUE[_LIQUIDUS]
    contents = {e: amount(batch, e) for e in {*relation.elements, *liquidus.elements}}

    def moved(by: float) -> np.ndarray:
        near = {e: x + by * (moves == e)[:, None] for e, x in contents.items()}
        given = {"temperature_C": liquidus.value(near), "pN2_atm": pressure_atm}
        return relation.value({**near, "Ti": 0.0, "Al": 0.0, **given})

    slope = (moved(step) - moved(-step)) / (2.0 * step)
    factor = np.array([share.get(phase, np.nan) for phase in first])
    return pd.DataFrame((factor * slope).T, index=batch.index, columns=list(_MOVES))


def _first_words(first: str) -> str:
    share, what = {"ferrite": FERRITE_FIRST, "austenite": AUSTENITE_FIRST}, "of the solubility at "
    if first in share:
        return f"{first} solidifies first, {share[first]:g} {what}the liquidus"
    return (
        f"the first phase is undecided: {FERRITE_FIRST:g} {what}the liquidus if it is ferrite, "
        f"{AUSTENITE_FIRST:g} if austenite"
    )


def _buys(gains: np.ndarray, first: str) -> str:
    words = [
        f"{e} {'+' if g > 0 else '−'}{number(abs(g), 2)}"
        for e, g in zip(_MOVES, gains, strict=True)
    ]
    turn = ""
    if first != "austenite":
        more = 100.0 * (AUSTENITE_FIRST / FERRITE_FIRST - 1.0)
        turn = f"; austenite first would buy {more:.0f} %, and manganese for nickel helps"
    return f"pores are to be expected; 1 wt% more buys, in wt% N: {', '.join(words)}{turn}"


def _hydrogen(lot: Lot) -> None:
    check, limit, name = "hydrogen", rule("hydrogen"), "h_solubility_1963"
    result = lot.evaluate(name, temperature_C=TAPPING, pH2_atm=1.0)
    words = [
        f"{limit.high:g} ppm is in balance with {number(p, 2)} atm hydrogen at {TAPPING:.0f} °C"
        for p in (limit.most * 1e-4 / result.values[name]) ** 2
    ]
    measured = "hydrogen_ppm"
    if measured not in lot.conditions:
        reasons = [f"{measured}, as measured in the melt, is not given; {w}" for w in words]
        lot.state(check, "not assessed", reasons, limit.source, unit="ppm")
        return
    lot.judge(
        check, lot.condition(measured), high=limit, beyond="caution", reason=words,
        beyond_reason="dry the charge, the lime and the alloys; stir with argon",
    )  # fmt: skip
