"""Finish and service surface judged: route, roughness, pitting, coast, welds, stabilisation.

Pickled, ground and welded surfaces release chromium(VI), nickel and dust; extraction and the
exposure limits of the place apply. Food contact and skin contact are proved on the article.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pandas as pd

from gradekit.core.aliases import Numbers
from gradekit.core.errors import InputError, nearest
from gradekit.core.sources import weakest
from gradekit.families.kinds import CONDITION
from gradekit.relations.groups import AUSTENITIC, FERRITIC
from gradekit.works.anneal.cooling import nose_time
from gradekit.works.step import Lot
from gradekit.works.tables import process_table, rule

STEP = "finishing and service surface"
CONDITIONS = CONDITION | {
    "finish": "code of the finish, EN or ASTM, as '2B' or 'No.4'",
    "ra_max_um": "largest roughness Ra that the product may have, µm",
    "cpt_needed_C": "critical pitting temperature needed in 6 % ferric chloride, °C",
    "coast_km": "distance of the place of use from the surf, km",
    "weld_mm": "thickness at welds that are not annealed, mm",
}
# The line of the plant table without which finishes cannot be made there.
_NEEDS = {
    "skin_pass.elongation_max": ("2B", "2F"),
    "bright_anneal.temperature_max": ("2R",),
    "cold_mill.force_max": ("2H",),
    "pickling.nitric_acid": ("1D", "2D"),
    "pickling.shot_blast": ("1E", "2E"),
    "polishing.grit_1": ("1G/2G",),
    "polishing.grit_2": ("1J/2J",),
    "polishing.grit_4": ("1K/2K",),
}
_ROUGH = 1.0  # µm Ra; a ground finish above it counts as rough


def checks(lot: Lot) -> None:
    """Judge finish and surface of each heat; see `gradekit.works.step`."""
    coarse = pd.Series(np.nan, lot.index)
    asked = lot.word("finish")
    if asked is None:
        needed = "finish is not given: its code, as '2B'"
        lot.state("finish and its roughness", "not assessed", needed)
    else:
        for code in sorted(set(asked)):
            part, row = lot.where(asked == code), _finish(code)
            coarse[part.index] = row["ra_max_um"]
            _made(part, row)
            _rough(part, row)
    _pitting(lot, coarse)
    _coast(lot, coarse)
    lot.judge(
        "passivity", lot.content("Cr"), low=rule("chromium_passive"),
        reason="chromium that makes steel stainless; scale, heat tint and embedded iron are taken "
        "off by pickling, nitric acid alone passivates and does not pickle",
        beyond_reason="no stainless steel",
    )  # fmt: skip
    _weld(lot)


def finish(code: str) -> pd.Series:
    """Return what a finish code means: route, roughness, other codes, status.

    Parameters
    ----------
    code : str
        EN, ASTM or old DIN code, as '2B', 'No.2B' or 'IIIc'.

    Returns
    -------
    Series
        `en_code astm_code old_code route ra_min_um ra_max_um status note`; EN 10088-2 codes the
        route, not the roughness.

    Raises
    ------
    InputError
        A code that is not known, with the nearest one.

    Examples
    --------
    >>> row = finish("No.2B")
    >>> row["en_code"], row["ra_max_um"]
    ('2B', 0.5)
    """
    return _finish(str(code)).copy()


def weld_carbon(thickness_mm: Numbers) -> np.ndarray:
    """Return the most carbon that needs no anneal after welding, wt% (memory).

    Examples
    --------
    >>> weld_carbon([1.5, 4, 6, 10]).tolist()
    [0.08, 0.06, 0.05, 0.03]
    """
    rows = process_table("weld_carbon")
    ends = rows["thickness_max_mm"].dropna().to_numpy(dtype=float)
    thick = np.asarray(thickness_mm, dtype=float)
    limit = rows["carbon_max_pct"].to_numpy(dtype=float)[np.searchsorted(ends, thick)]
    return np.where(np.isnan(thick), np.nan, limit)


@lru_cache(maxsize=64)
def _finish(code: str) -> pd.Series:
    rows = process_table("finishes")
    plain = code.strip().lower().replace(" ", "")
    columns = ("en_code", "astm_code", "old_code")
    named = [
        plain in {n.lower() for c in columns for n in (row[c], *row[c].split("/")) if n}
        for _, row in rows.iterrows()
    ]
    routes = rows[named]
    if len(routes):
        # One code may stand for several finishes: all of their roughness, and the weaker source.
        row = routes.iloc[-1].copy()
        row["ra_min_um"] = float(routes["ra_min_um"].min())
        row["ra_max_um"] = float(routes["ra_max_um"].max())
        row["status"] = weakest(*routes["status"])
        row["route"] = " or ".join(dict.fromkeys(routes["route"]))
        return row
    known = [n for c in columns[:2] for n in rows[c] if n]
    raise InputError("finish", ", ".join(dict.fromkeys(known)), code, nearest(code, known))


def _made(lot: Lot, row: pd.Series) -> None:
    code = row["en_code"] or row["astm_code"]
    line = next((line for line, codes in _NEEDS.items() if code in codes), "")
    source, verdict = "finish codes", "not assessed"
    if row["astm_code"] in ("No.7", "No.8") or not line:
        words = f"{code} ({row['route']}): the plant table has no line that says so"
    elif gap := lot.plant.gap(line):
        words = f"{code}: {row['route']}; {gap}"
    else:
        words, verdict = f"{code}: {row['route']}", "ok"
        source = f"finish codes; {lot.plant.cite(line)}"
    lot.state("finish can be made", verdict, words, source, row["status"])


def _rough(lot: Lot, row: pd.Series) -> None:
    low, high, most = row["ra_min_um"], row["ra_max_um"], lot.condition("ra_max_um")
    usual = f"Ra {low:g} to {high:g} µm"
    ungiven = f"{usual}; {most.gap}" if most.gap else ""
    lot.judge(
        "roughness of the finish", high, high=most, unit="µm", beyond="caution",
        source="finish codes", status=row["status"],
        gap=ungiven if np.isfinite(high) else "the code has no roughness",
        reason=f"{usual} in the trade; the code fixes the route, not the roughness"
        + (f"; {row['note']}" if row["note"] else ""),
        beyond_reason="agree the roughness with the order, or take a finer finish",
    )  # fmt: skip


def _pitting(lot: Lot, coarse: pd.Series) -> None:
    lost, result = rule("rough_ground"), lot.evaluate("cpt_g48")
    lot.judge(
        "pitting temperature of the surface",
        result.values["cpt_g48"] - lost.least * (coarse > _ROUGH),
        low=lot.condition("cpt_needed_C"), unit="°C", status="memory", beyond="caution",
        source=f"cpt_g48; {lost.source}", error=result.standard_error["cpt_g48"],
        reason=[f"less {lost.low:g} °C for the rough surface ({lost.note})" if r > _ROUGH else
                "smooth surface, as tested; ranking inside one family, not a service temperature"
                if np.isfinite(r) else "surface not known: as tested" for r in coarse],
        beyond_reason="finer finish, more Cr, Mo, N, or another grade",
    )  # fmt: skip


def _coast(lot: Lot, coarse: pd.Series) -> None:
    check, reach, coast = "tea staining near the coast", rule("tea_staining"), "coast_km"
    if coast not in lot.conditions:
        lot.state(check, "not assessed", f"{coast} is not given", unit="km")
        return
    lot.judge(
        check, lot.condition(coast), low=reach, beyond="caution",
        reason=[f"reaches {reach.low:g} km from the surf, {reach.high:g} km where it blows hard"
                + (f"; Ra up to {r:g} µm holds salt" if r > 0.5 else "") for r in coarse],
        beyond_reason="smooth, clean-cut finish, washing, more molybdenum",
    )  # fmt: skip


def _weld(lot: Lot) -> None:
    part = lot.of(*AUSTENITIC)
    if part:
        carbon, margin, weld = part["C"], _stabilised(part), part.condition("weld_mm")
        part.judge(
            "carbon for welds without an anneal", part.content("C"),
            high=np.where(margin > 0, np.inf, weld_carbon(weld.value)), source="trade practice",
            status="memory", beyond="caution", gap=weld.gap,
            reason=[("stabilised; " if m > 0 else "") + (
                f"sensitised after {t:.0f} s at the worst temperature (18Cr-9Ni, factor 2)"
                if np.isfinite(t) else "the nose times end at 0.08 % C")
                for m, t in zip(margin, nose_time(carbon), strict=True)],
            beyond_reason="low carbon, a stabilised grade, or an anneal after welding; test by "
            "A262 or ISO 3651-2",
        )  # fmt: skip
    _stabilised_weld(lot.of("stabilised ferritic", "superferritic"))
    _plain_weld(lot.of("ferritic"))
    if lean := lot.of("duplex, lean"):
        lean.relation(
            "nitride beside welds of lean duplex", "n_margin_lean_duplex_us9212412", low=0.0,
            beyond="caution", reason="claim of a patent on the weld zone",
            beyond_reason="nitride takes chromium beside a weld: less nitrogen, nickel, a filler",
        )  # fmt: skip
    lot.but(part, lot.of(*FERRITIC)).state(
        "sensitisation of welds", "not assessed", "no rule of composition for this family is at "
        "hand; needed: a corrosion test of the weld procedure",
    )  # fmt: skip


def _stabilised(lot: Lot) -> np.ndarray:
    """Return the margin of titanium over 5 (C + N), the stricter of two published rules, or of
    niobium over 10 C, whichever is larger, wt%."""
    c, n, ti, nb = (lot.amount(e) for e in ("C", "N", "Ti", "Nb"))
    return np.maximum(ti - 5.0 * (c + n), nb - 10.0 * c)


def _stabilised_weld(lot: Lot) -> None:
    if not lot:
        return
    lot.relation(
        "stabilisation of welds", "stabilisation_margin_us4119765", low=0.0, beyond="caution",
        reason="titanium and niobium against C + N",
        beyond_reason="chromium carbide and nitride in the weld: more Ti or Nb, less C + N",
    )  # fmt: skip
    lot.judge(
        "Ti and Nb over C + N, best corrosion",
        (lot.amount("Ti") + lot.amount("Nb")) / (lot["C"] + lot["N"]),
        low=rule("stab_ferritic_best"), beyond="ok", gap=lot.unknown("C", "N"),
        beyond_reason="what standards ask is less and is judged above; this is where pitting "
        "was best, and titanium alone streaks the surface",
    )  # fmt: skip


def _plain_weld(lot: Lot) -> None:
    """Unstabilised ferritic steel: the C + N that its weld bears, by chromium and molybdenum."""
    if not lot:
        return
    cr, mo = lot.amount("Cr"), lot.amount("Mo")
    most, like = np.full(len(lot), np.nan), np.full(len(lot), "", dtype=object)
    for row in process_table("weld_interstitials").itertuples():
        fits = (cr >= row.chromium_min_pct) & (cr <= row.chromium_max_pct)
        fits &= mo >= row.molybdenum_min_pct
        most[fits], like[fits] = row.c_plus_n_max_pct, f"figure for {row.steel}"
    lot.judge(
        "C + N of unstabilised welds", lot["C"] + lot["N"], high=most, unit="wt%",
        beyond="caution", source="trade practice", status="memory", reason=like,
        gap=[gap or ("no figure for this chromium" if np.isnan(x) else "")
             for gap, x in zip(lot.unknown("C", "N"), most, strict=True)],
        beyond_reason="the weld is attacked between grains: stabilise, or anneal",
    )  # fmt: skip
