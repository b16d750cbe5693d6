"""What steel each heat is, as a table: family, structure, doubt, and the votes behind them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.families.kinds import families, subs
from gradekit.heats.batch import as_batch
from gradekit.relations.groups import AUSTENITIC, FERRITIC, HARDENABLE
from gradekit.relations.steels import (
    LIMITS,
    VOTES,
    Votes,
    duplex_votes,
    retention,
    votes_of,
)

__all__ = ["family"]

# Room temperature, the slope of the martensite fraction below Ms (memory), and the error of Ms, °C.
_ROOM, _SLOPE, _MS_ERROR = 20.0, 0.011, 49.0
_NEAR = 0.6  # mean vote of Ms and Md30 within which a wrong vote would turn the answer


def family(heats: object, known: object = None, told: str = "") -> pd.DataFrame:
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
    doubt = _doubts(v, own)
    ferrite, martensite = _bands(v, kinds, sub, doubt)
    frame = pd.DataFrame(
        {
            "family": kinds,
            "structure": _structure(kinds, sub, ferrite, martensite),
            "sub": sub,
            "doubt": doubt,
            "reason": _reasons(v, own),
        },
        index=batch.index,
    )
    if known is not None:
        by = told or "told by the user"
        other = (kinds != own).to_numpy()
        frame["reason"] = np.where(
            other, f"{by}; by composition " + own.where(own != "", "not known"), by
        )
        frame["doubt"] = np.where(other & (own != "").to_numpy(), own + ": by composition", "")
    for name, (low, high) in (("ferrite", ferrite), ("martensite", martensite)):
        frame[f"{name}_low"], frame[f"{name}_high"] = low, high
    return frame.assign(**{name: v[short] for short, name in VOTES.items()})


def _mask(kinds: pd.Series, *names: str) -> np.ndarray:
    return kinds.isin(names).to_numpy()


def _doubts(v: Votes, kinds: pd.Series) -> pd.Series:
    """Return the rival family of each heat and what would decide, '' where there is none."""
    austenite, near = v["austenite"], np.abs(retention(v)) < _NEAR
    said, asked = duplex_votes(v)
    twofold = _mask(kinds, "duplex", "austenitic") & (v["Cr"] >= 17.0)
    split = twofold & (said > 0) & (said < asked)
    close = twofold & (v["weld"] > 14.0) & (v["weld"] < 40.0) & (v["annealed"] < 34.0)
    duplex = _mask(kinds, "duplex")
    sample = "the ferrite of an annealed sample decides"
    copper = (v["Cu"] >= 1.0) & (v["Ni"] >= 3.0) & _mask(kinds, "nickel martensitic")
    without = (v["Nb"] < 0.1) & (v["Al"] < 0.6) & (v["Ti"] < 0.85)
    harder = (austenite >= LIMITS["partly"]) & _mask(kinds, "ferritic")
    softer = (austenite < 90.0) & (v["C"] >= LIMITS["hard_carbon"]) & _mask(kinds, "martensitic")
    rich = (v["Ni"] >= 14.0) & (v["Ni"] < 16.0) & (v["Mo"] >= 3.5) & _mask(kinds, "austenitic")
    turning = near & _mask(kinds, "austenitic", "nickel martensitic")
    unknown = v["no N"] & _mask(kinds, *AUSTENITIC, "duplex") & (v["Ni"] < 7.0)
    chosen = np.select(
        [
            np.abs(v["Cr"] - LIMITS["stainless"]) < 0.15,
            duplex & split,
            split,
            duplex & close,
            close,
            turning & _mask(kinds, "austenitic"),
            turning,
            copper & without,
            _mask(kinds, "precipitation-hardening") & without,
            harder,
            softer,
            rich,
            unknown,
        ],
        [
            "not stainless: chromium is at the border; the tolerance of the analysis decides",
            f"austenitic: the votes on ferrite disagree; {sample}",
            f"duplex: the votes on ferrite disagree; {sample}",
            f"austenitic: the votes on ferrite are near their limits; {sample}",
            f"duplex: the votes on ferrite are near their limits; {sample}",
            "nickel martensitic: Ms and Md30 are near room temperature; whether an annealed sample "
            "is magnetic decides",
            "austenitic: Ms and Md30 are near room temperature; whether an annealed sample is "
            "magnetic decides",
            "precipitation-hardening: copper without niobium; hardness after 1 h at 480 °C decides",
            "nickel martensitic: copper without niobium; hardness after 1 h at 480 °C decides",
            "ferritic-martensitic: it forms austenite on heating; hardness after a quench decides",
            "ferritic: part of it stays ferrite on heating; hardness after a quench decides",
            "superaustenitic: near it in nickel and molybdenum",
            "nitrogen is not reported and taken as usual for such a steel",
        ],
        "",
    )  # fmt: skip
    return pd.Series(chosen, index=kinds.index, dtype=object)


def _reasons(v: Votes, kinds: pd.Series) -> pd.Series:
    said, asked = duplex_votes(v)
    by = np.select(
        [v["Al"] >= 0.6, v["Ti"] >= 0.85, v["Nb"] >= 0.1],
        ["aluminium", "titanium", "copper with niobium"],
        "copper",
    )
    ferritic = v["austenite"] < LIMITS["ferritic"]
    words = {
        "not stainless": "less than 10.5 % chromium",
        "nickel alloy": "as much nickel as iron",
        "duplex": np.where(
            said == asked,
            "every vote on ferrite says that about half stays ferrite",
            "most votes on ferrite say that about half stays ferrite",
        ),
        "precipitation-hardening": np.char.add(by.astype("U24"), " hardens it"),
        "superferritic": "chromium and molybdenum with next to no carbon and nitrogen",
        "stabilised ferritic": "titanium, niobium or zirconium binds carbon and nitrogen",
        "ferritic": np.where(
            ferritic,
            "it stays ferrite on heating, most of it",
            "its carbon is too low for more than a soft martensite",
        ),
        "ferritic-martensitic": "low carbon, and it forms much austenite on heating",
        "martensitic": "it forms austenite on heating, which turns on cooling",
        "nickel martensitic": "nickel makes austenite on heating, which turns on cooling",
        "heat-resisting Fe-Ni-Cr": "the austenite of much nickel, without molybdenum",
        "superaustenitic": "the austenite of much nickel with molybdenum",
        "austenitic": np.where(
            said == 0,
            "austenite stays on cooling; no vote on ferrite says that half stays ferrite",
            "austenite stays on cooling; few votes on ferrite say that half stays ferrite",
        ),
        "": "chromium is not reported",
    }
    masks = [_mask(kinds, name) for name in words]
    chosen = np.select(masks, [np.asarray(text, dtype=object) for text in words.values()], "")
    return pd.Series(chosen, index=kinds.index, dtype=object)


def _bands(v: Votes, kinds: pd.Series, sub: pd.Series, doubt: pd.Series) -> tuple:
    """Return (low, high) of ferrite and of martensite, % after the usual anneal or quench."""
    austenitic = _mask(kinds, *AUSTENITIC) | _mask(sub, "austenitic", "semi-austenitic")
    duplex, ferritic = _mask(kinds, "duplex"), _mask(kinds, *FERRITIC)
    partly, hard = _mask(kinds, "ferritic-martensitic"), _mask(kinds, "martensitic")
    unsure = doubt.str.contains("votes on ferrite").to_numpy()
    speaks = (v["Mn"] >= 4.0) & (v["Ni"] < 4.0)
    manganese = np.where(speaks, v["manganese"], v["weld"])
    weld, annealed = np.clip(v["weld"], 0, 100), np.clip(v["annealed"], 0, 100)
    formed = np.clip(v["austenite"], 0.0, 100.0)
    rest = 100.0 - formed
    loose = np.where(_mask(kinds, "ferritic") & (formed > 10.0), 5.0, 0.0)
    manganese = np.minimum(manganese, 100.0)
    forms = (weld, annealed, manganese)
    lowest, highest = np.minimum.reduce(forms), np.maximum.reduce(forms)
    ferrite = (
        np.select(
            [duplex & unsure, duplex, ferritic, partly],
            [lowest, annealed - 6.0, 100.0 - loose, rest],
            0.0,
        ),
        np.select(
            [duplex & unsure, duplex, austenitic & unsure, austenitic, ferritic, partly, hard],
            [highest, annealed + 12.0, highest, np.maximum(weld, manganese), 100.0, rest + 40.0,
             rest + 5.0],
            np.minimum(weld, 25.0),
        ),
    )  # fmt: skip
    cold = (
        100.0 * (1.0 - np.exp(-_SLOPE * np.maximum(v["ms"] + error - _ROOM, 0.0)))
        for error in (-_MS_ERROR, _MS_ERROR)
    )
    few, many = cold
    turning = (_mask(kinds, *HARDENABLE) & ~austenitic) | (np.abs(retention(v)) < _NEAR)
    known = (kinds != "").to_numpy() & ~_mask(kinds, "not stainless", "nickel alloy")
    ends = [duplex, ferritic, partly, hard, turning]
    martensite = (
        np.select(ends, [0.0, 0.0, formed - 40.0, formed - 5.0, few], 0.0),
        np.select(ends, [0.0, loose, formed, 100.0, many], 0.0),
    )
    return tuple(
        tuple(np.where(known, np.round(np.clip(end, 0.0, 100.0)), np.nan) for end in band)
        for band in (ferrite, martensite)
    )


def _structure(kinds: pd.Series, sub: pd.Series, ferrite: tuple, martensite: tuple) -> np.ndarray:
    austenitic = _mask(kinds, *AUSTENITIC) | _mask(sub, "austenitic") & ~_mask(kinds, "duplex")
    return np.select(
        [
            _mask(kinds, "duplex"),
            _mask(sub, "semi-austenitic"),
            austenitic & (ferrite[1] > 15.0),
            austenitic & (martensite[1] > 15.0),
            austenitic,
            _mask(kinds, *FERRITIC),
            _mask(kinds, "ferritic-martensitic"),
            _mask(kinds, *HARDENABLE) & (ferrite[1] > 22.0),
            _mask(kinds, *HARDENABLE),
        ],
        ["austenite + ferrite", "austenite + martensite", "austenite with ferrite",
         "austenite with martensite", "austenite", "ferrite", "ferrite + martensite",
         "martensite + ferrite", "martensite"],
        "",
    )  # fmt: skip
