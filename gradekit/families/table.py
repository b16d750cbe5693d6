"""What steel each heat is, as a table: family, structure, doubt, and the votes behind them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, HeatsLike
from gradekit.families.kinds import Members, families, first_true, subs
from gradekit.heats.batch import as_batch
from gradekit.relations.groups import AUSTENITIC, FAMILIES, FERRITIC, HARDENABLE
from gradekit.relations.steels import FAMILY_LIMITS, VOTES, Votes, votes_of
from gradekit.relations.topics import CATALOGUE

# Room temperature, the slope of the martensite fraction below Ms (memory), and the error of Ms, °C.
_ROOM, _SLOPE, _MS_ERROR = 20.0, 0.011, 49.0
# Low-carbon martensite of nickel steel is done within 100 to 150 °C below Ms: 17Cr-4Ni-4Cu from 132
# to 32 °C by its maker, 13Cr-4Ni from 290 to about 150 °C (memory).
_LATH = (0.03, 0.045)
_NEAR = 0.6  # mean vote of Ms and Md30 within which a wrong vote would turn the answer


def family_told(heats: HeatsLike, known: Given = None, told: str = "") -> pd.DataFrame:
    """Say what steel each heat is, one row a heat; see `gk.family`.

    Parameters
    ----------
    heats : anything `as_batch` takes
    known : str, or a Series or mapping with one a heat, optional
        What the user knows, which wins.
    told : str
        Where that comes from, in words.
    """
    batch = as_batch(heats)
    own, v = families(batch), votes_of(batch)
    kinds = own if known is None else families(batch, known)
    sub = subs(batch, kinds)
    of, of_own, of_sub = Members(kinds), Members(own), Members(sub)
    doubts, reasons = _doubts(v, of_own), _reasons(v, of_own)
    if known is not None:
        other, by = (kinds != own).to_numpy(), told or "told by the user"
        rival = own.where(own != "", "not known")
        reasons = np.where(other, f"{by}; by composition " + rival, by)
        doubts = np.where(other & (own != "").to_numpy(), own + ": by composition", "")
    ferrite, martensite = _bands(v, of, of_sub, pd.Series(doubts, batch.index))
    ends = {name: (CATALOGUE[name].floor, CATALOGUE[name].ceiling) for name in VOTES.values()}
    columns = {
        "family": kinds,
        "structure": _structure(of, of_sub, ferrite[1], martensite[1]),
        "sub": sub,
        "doubt": doubts,
        "reason": reasons,
        "ferrite_low": ferrite[0],
        "ferrite_high": ferrite[1],
        "martensite_low": martensite[0],
        "martensite_high": martensite[1],
        **{name: np.clip(v[short], *ends[name]) for short, name in VOTES.items()},
    }
    return pd.DataFrame(columns, index=batch.index)


def rivals(batch: pd.DataFrame) -> pd.Series:
    """Return the family that each heat of a clean batch may be instead, '' where none is near.

    Examples
    --------
    >>> rivals(pd.DataFrame({"C": [.07], "Cr": [16.9], "Ni": [7.2], "N": [.02]})).tolist()
    ['austenitic']
    """
    doubts = pd.Series(_doubts(votes_of(batch), Members(families(batch))), batch.index)
    first = doubts.str.partition(": ")[0]
    return first.where(first.isin(FAMILIES), "")


def _doubts(v: Votes, of: Members) -> np.ndarray:
    """Return the rival family of each heat and what would decide, '' where there is none."""
    near = np.abs(v.part("retention")) < _NEAR
    said, asked = v.part("said"), v.part("asked")
    duplex, austenitic, nickel = of("duplex"), of("austenitic"), of("nickel martensitic")
    twofold = (duplex | austenitic) & (v["Cr"] >= 17.0)
    split = twofold & (said > 0) & (said < asked)
    close = twofold & (v["weld"] > 14.0) & (v["weld"] < 40.0) & (v["annealed"] < 34.0)
    bare = (v["Nb"] < 0.1) & (v["Al"] < 0.6) & (v["Ti"] < 0.85)
    copper = bare & (v["Cu"] >= 1.0) & (v["Ni"] >= 3.0)
    sample = "the ferrite of an annealed sample decides"
    magnet = "Ms and Md30 are near room temperature; whether an annealed sample is magnetic decides"
    aged = "copper without niobium; hardness after 1 h at 480 °C decides"
    quench = "hardness after a quench decides"
    return first_true({
        "not stainless: chromium is at the border; the tolerance of the analysis decides":
            np.abs(v["Cr"] - FAMILY_LIMITS["stainless"]) < 0.15,
        f"austenitic: the votes on ferrite disagree; {sample}": duplex & split,
        f"duplex: the votes on ferrite disagree; {sample}": split,
        f"austenitic: the votes on ferrite are near their limits; {sample}": duplex & close,
        f"duplex: the votes on ferrite are near their limits; {sample}": close,
        f"nickel martensitic: {magnet}": austenitic & near,
        f"austenitic: {magnet}": nickel & near,
        f"precipitation-hardening: {aged}": nickel & copper,
        f"nickel martensitic: {aged}": of("precipitation-hardening") & bare,
        f"ferritic-martensitic: it forms austenite on heating; {quench}":
            of("ferritic") & (v["austenite"] >= FAMILY_LIMITS["partly"]),
        f"ferritic: part of it stays ferrite on heating; {quench}":
            of("martensitic") & (v["C"] >= FAMILY_LIMITS["hard_carbon"]) & (v["austenite"] < 90.0),
        "superaustenitic: near it in nickel and molybdenum":
            austenitic & (v["Ni"] >= 14.0) & (v["Ni"] < 16.0) & (v["Mo"] >= 3.5),
        "nickel is not reported and taken as none": v["no Ni"] & ~of(""),
        "nitrogen is not reported and taken as usual for such a steel":
            v["no N"] & of(*AUSTENITIC, "duplex") & (v["Ni"] < 7.0),
    })  # fmt: skip


def _reasons(v: Votes, of: Members) -> np.ndarray:
    said, asked = v.part("said"), v.part("asked")
    hardens, austenitic = of("precipitation-hardening"), of("austenitic")
    half = "that about half stays ferrite"
    return first_true({
        "chromium is not reported": of(""),
        "less than 10.5 % chromium": of("not stainless"),
        "as much nickel as iron": of("nickel alloy"),
        f"every vote says {half}": of("duplex") & (said == asked),
        f"most votes say {half}": of("duplex"),
        "aluminium hardens it": hardens & (v["Al"] >= 0.6),
        "titanium hardens it": hardens & (v["Ti"] >= 0.85),
        "copper with niobium hardens it": hardens & (v["Nb"] >= 0.1),
        "copper hardens it": hardens,
        "chromium and molybdenum with next to no carbon and nitrogen": of("superferritic"),
        "titanium, niobium or zirconium binds carbon and nitrogen": of("stabilised ferritic"),
        "most of it stays ferrite on heating": of("ferritic") & v.part("ferritic"),
        "its carbon is too low for more than a soft martensite": of("ferritic"),
        "low carbon, and it forms much austenite on heating": of("ferritic-martensitic"),
        "it forms austenite on heating, which turns on cooling": of("martensitic"),
        "nickel makes austenite on heating, which turns on cooling": of("nickel martensitic"),
        "the austenite of much nickel, without molybdenum": of("heat-resisting Fe-Ni-Cr"),
        "the austenite of much nickel with molybdenum": of("superaustenitic"),
        f"austenite stays on cooling; no vote says {half}": austenitic & (said == 0),
        f"austenite stays on cooling; few votes say {half}": austenitic,
    })  # fmt: skip


def _bands(v: Votes, of: Members, sub: Members, doubt: pd.Series) -> tuple:
    """Return (low, high) of ferrite and of martensite, % after the usual anneal or quench."""
    austenitic = of(*AUSTENITIC) | (of("precipitation-hardening") & ~sub("martensitic"))
    duplex, ferritic, partly = of("duplex"), of(*FERRITIC), of("ferritic-martensitic")
    hard, unsure = of("martensitic"), doubt.str.contains("votes on ferrite").to_numpy()
    annealed, weld, formed = (np.clip(v[k], 0.0, 100.0) for k in ("annealed", "weld", "austenite"))
    manganese = np.where(v.part("speaks"), np.minimum(v["manganese"], 100.0), weld)
    rest, forms = 100.0 - formed, (weld, annealed, manganese)
    highest = np.maximum.reduce(forms)
    # the form reads low by this at the anneal: `ferrite_duplex_anchored`
    duplex_ferrite = annealed + 5.0
    loose = np.where(of("ferritic") & (formed > 10.0), 5.0, 0.0)
    near = np.abs(v.part("retention")) < _NEAR
    lath = of("nickel martensitic", "precipitation-hardening") & ~austenitic & (v["C"] <= 0.08)
    lath &= ~(near & ~of("precipitation-hardening"))
    few, many = (
        100.0 * (1.0 - np.exp(-np.where(lath, s, _SLOPE) * np.maximum(v["ms"] + e - _ROOM, 0.0)))
        for s, e in zip(_LATH, (-_MS_ERROR, _MS_ERROR), strict=True)
    )
    turning = (of(*HARDENABLE) & ~austenitic) | near
    of_steel = ~of("", "not stainless", "nickel alloy")

    def band(masks: list, ends: list, otherwise: np.ndarray | float) -> np.ndarray:
        share = np.clip(np.select(masks, ends, otherwise), 0.0, 100.0)
        return np.where(of_steel, np.round(share), np.nan)

    two = [duplex & unsure, duplex, ferritic, partly]
    ends = [duplex, ferritic, partly, hard, turning]
    return (
        (
            band(two, [np.minimum.reduce(forms), duplex_ferrite - 8.0, 100.0 - loose, rest], 0.0),
            band(
                [*two, hard, austenitic & unsure, austenitic],
                [highest, duplex_ferrite + 8.0, 100.0, rest + 40.0, rest + 5.0, highest,
                 np.maximum(weld, manganese)],
                np.minimum(weld, 25.0),
            ) + np.where(sub("semi-austenitic"), 15.0, 0.0),  # no vote counts aluminium
        ),
        (
            band(ends, [0.0, 0.0, formed - 40.0, formed - 5.0, few], 0.0),
            band(ends, [0.0, loose, formed, 100.0, many], 0.0),
        ),
    )  # fmt: skip


def _structure(
    of: Members, sub: Members, ferrite: np.ndarray, martensite: np.ndarray
) -> np.ndarray:
    austenitic = of(*AUSTENITIC) | (of("precipitation-hardening") & sub("austenitic"))
    return first_true({
        "austenite + ferrite": of("duplex"),
        "austenite + martensite": sub("semi-austenitic"),
        "austenite with ferrite": austenitic & (ferrite > 15.0),
        "austenite with martensite": austenitic & (martensite > 15.0),
        "austenite": austenitic,
        "ferrite": of(*FERRITIC),
        "ferrite + martensite": of("ferritic-martensitic"),
        "martensite + ferrite": of(*HARDENABLE) & (ferrite > 22.0),
        "martensite": of(*HARDENABLE),
    })  # fmt: skip
