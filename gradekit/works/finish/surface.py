"""Finish and service surface judged: route, roughness, pitting, coast, welds, stabilisation.

Pickled, ground and welded surfaces release chromium(VI), nickel and dust; extraction and the
exposure limits of the place apply. Food contact and skin contact are proved on the article.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, Numbers
from gradekit.core.errors import InputError, nearest
from gradekit.core.sources import weakest
from gradekit.families.kinds import (
    CONDITION,
    kinds_of,
    words_each,
)
from gradekit.heats.columns import amount, column, each_heat, unknown
from gradekit.relations.evaluate import evaluate_batch
from gradekit.relations.groups import AUSTENITIC, FERRITIC, those_of
from gradekit.works.anneal.cooling import nose_time
from gradekit.works.plant import Plant
from gradekit.works.row import Row
from gradekit.works.step import judge, judge_relation, unassessed
from gradekit.works.tables import process_table, rule

STEP = "finishing and service surface"
CONDITIONS = CONDITION | {
    "finish": "code of the finish, EN or ASTM, as '2B' or 'No.4'",
    "ra_max_um": "largest roughness Ra that the product may have, µm",
    "cpt_needed_C": "critical pitting temperature needed in 6 % ferric chloride, °C",
    "coast_km": "distance of the place of use from the surf, km",
    "weld_mm": "thickness at welds that are not annealed, mm",
}
_TABLE = "strip_rules"
# Lines of the plant table without which a finish cannot be made there.
_NEEDS = {
    "2B": ("skin_pass.elongation_max",),
    "2R": ("bright_anneal.temperature_max",),
    "2H": ("cold_mill.force_max",),
    "2D": ("pickling.nitric_acid",),
    "1D": ("pickling.nitric_acid",),
    "2E": ("pickling.shot_blast",),
    "1E": ("pickling.shot_blast",),
    "1G/2G": ("polishing.grit_1",),
    "1J/2J": ("polishing.grit_2",),
    "1K/2K": ("polishing.grit_4",),
    "2F": ("skin_pass.elongation_max",),
}
_ROUGH = 1.0  # µm Ra; a ground finish above it counts as rough


def checks(
    heats: pd.DataFrame,
    plant: Plant,
    *,
    family: Given = None,
    finish: Given = None,
    ra_max_um: Given = None,
    cpt_needed_C: Given = None,
    coast_km: Given = None,
    weld_mm: Given = None,
) -> list[Row]:
    """Judge finish and surface of each heat; see `gradekit.works.step`."""
    kinds = kinds_of(heats, family)
    rows = []
    if finish is None:
        needed = "finish is not given: its code, as '2B'"
        rows += unassessed(STEP, "finish and its roughness", heats.index, needed)
        coarse = pd.Series(np.nan, heats.index)
    else:
        asked = words_each(finish, heats, "finish")
        coarse = pd.Series(np.nan, heats.index)
        for name, group in asked.groupby(asked):
            i = group.index
            row = _finish(name)
            coarse[i] = row["ra_max_um"]
            rows += _made(i, row, plant)
            rows += _rough(i, row, None if ra_max_um is None else
                           each_heat(ra_max_um, heats, "ra_max_um")[i])  # fmt: skip
    rows += _pitting(heats, coarse, cpt_needed_C)
    rows += _coast(heats, coarse, coast_km)
    rows += _passive(heats)
    return rows + _weld(heats, kinds, weld_mm)


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


def _made(heats: pd.Index, row: pd.Series, plant: Plant) -> list[Row]:
    code = row["en_code"] or row["astm_code"]
    check = "finish can be made"
    names = _NEEDS.get(code)
    if row["astm_code"] in ("No.7", "No.8") or names is None:
        needed = f"{code} ({row['route']}): the plant table has no line that says so"
        return unassessed(STEP, check, heats, needed, source="finish codes", status=row["status"])
    gap = plant.gap(*names)
    words = f"{code}: {row['route']}"
    if gap:
        return unassessed(STEP, check, heats, f"{words}; {gap}", source="finish codes",
                          status=row["status"])  # fmt: skip
    nan = float("nan")
    source = f"finish codes; {plant.cite(*names)}"
    return [Row(h, STEP, check, nan, "", "1", nan, "ok", words, source, row["status"])
            for h in heats]  # fmt: skip


def _rough(heats: pd.Index, row: pd.Series, most: pd.Series | None) -> list[Row]:
    none = "" if np.isfinite(row["ra_max_um"]) else "the code has no roughness"
    low, high = row["ra_min_um"], row["ra_max_um"]
    return judge(
        STEP, "roughness of the finish", pd.Series(high, heats), high=most, unit="µm",
        beyond="caution", source="finish codes", status=row["status"],
        gap=none or ("" if most is not None else f"Ra {low:g} to {high:g} µm; ra_max_um is not "
                     "given"),
        reason=f"Ra {low:g} to {high:g} µm in the trade; the code fixes the route, not the "
        "roughness" + (f"; {row['note']}" if row["note"] else ""),
        beyond_reason="agree the roughness with the order, or take a finer finish",
    )  # fmt: skip


def _pitting(heats: pd.DataFrame, coarse: pd.Series, needed: Given) -> list[Row]:
    lost = rule("rough_ground", _TABLE)
    result = evaluate_batch(heats, "cpt_g48")
    value = result.values["cpt_g48"] - lost.low * (coarse > _ROUGH)
    reason = [f"less {lost.low:g} °C for the rough surface ({lost.note})" if r > _ROUGH else
              "smooth surface, as tested; ranking inside one family, not a service temperature"
              if np.isfinite(r) else "surface not known: as tested" for r in coarse]  # fmt: skip
    return judge(
        STEP, "pitting temperature of the surface", value, unit="°C", status="memory",
        low=None if needed is None else each_heat(needed, heats, "cpt_needed_C"),
        gap="cpt_needed_C is not given" if needed is None else "", beyond="caution",
        source=f"cpt_g48; {lost.source}", error=result.standard_error["cpt_g48"],
        reason=reason, beyond_reason="finer finish, more Cr, Mo, N, or another grade",
    )  # fmt: skip


def _coast(heats: pd.DataFrame, coarse: pd.Series, coast: Given) -> list[Row]:
    check, reach = "tea staining near the coast", rule("tea_staining", _TABLE)
    if coast is None:
        return unassessed(STEP, check, heats.index, "coast_km is not given", unit="km")
    return judge(
        STEP, check, each_heat(coast, heats, "coast_km"), low=reach.low, unit="km",
        beyond="caution", source=reach.source, status=reach.status,
        reason=[f"reaches {reach.low:g} km from the surf, {reach.high:g} km where it blows hard"
                + (f"; Ra up to {r:g} µm holds salt" if r > 0.5 else "") for r in coarse],
        beyond_reason="smooth, clean-cut finish, washing, more molybdenum",
    )  # fmt: skip


def _passive(heats: pd.DataFrame) -> list[Row]:
    least = rule("chromium_passive", _TABLE)
    return judge(
        STEP, "passivity", column(heats, "Cr"), low=least.low, unit="wt%",
        source=least.source, status=least.status, gap=unknown(heats, "Cr"),
        reason="chromium that makes steel stainless; scale, heat tint and embedded iron are taken "
        "off by pickling, nitric acid alone passivates and does not pickle",
        beyond_reason="no stainless steel",
    )  # fmt: skip


def _weld(heats: pd.DataFrame, kinds: pd.Series, weld: Given) -> list[Row]:
    rows: list[Row] = []
    part = those_of(kinds, *AUSTENITIC)
    if len(part):
        carbon = column(heats, "C")[part]
        margin = _stabilised(heats.loc[part])
        untold = "weld_mm is not given" if weld is None else ""
        thick = each_heat(np.nan if weld is None else weld, heats, "weld_mm")[part]
        nose = nose_time(carbon)
        rows += judge(
            STEP, "carbon for welds without an anneal", carbon,
            high=np.where(margin > 0, np.inf, weld_carbon(thick)), unit="wt%",
            source="trade practice", status="memory", beyond="caution",
            gap=unknown(heats.loc[part], "C", otherwise=untold),
            reason=[("stabilised; " if m > 0 else "") + (
                f"sensitised after {t:.0f} s at the worst temperature (18Cr-9Ni, factor 2)"
                if np.isfinite(t) else "the nose times end at 0.08 % C")
                for m, t in zip(margin, nose, strict=True)],
            beyond_reason="low carbon, a stabilised grade, or an anneal after welding; test by "
            "A262 or ISO 3651-2",
        )  # fmt: skip
    part = those_of(kinds, *FERRITIC)
    if len(part):
        rows += _ferritic_weld(heats.loc[part], kinds[part])
    lean, room = those_of(kinds, "duplex, lean"), "n_margin_lean_duplex_us9212412"
    if len(lean):
        rows += judge_relation(
            STEP, "nitride beside welds of lean duplex", evaluate_batch(heats.loc[lean], room),
            room, low=0.0, beyond="caution", reason="claim of a patent on the weld zone",
            beyond_reason="nitride takes chromium beside a weld: less nitrogen, nickel, a filler",
        )  # fmt: skip
    others = heats.index.difference(those_of(kinds, *AUSTENITIC, *FERRITIC), sort=False)
    return rows + unassessed(
        STEP, "sensitisation of welds", others, "no rule of composition for this family is at "
        "hand; needed: a corrosion test of the weld procedure",
    )  # fmt: skip


def _stabilised(heats: pd.DataFrame) -> np.ndarray:
    """Return the margin of titanium over 5 (C + N), the stricter of two published rules, or of
    niobium over 10 C, whichever is larger, wt%."""
    c, n, ti, nb = (amount(heats, e) for e in ("C", "N", "Ti", "Nb"))
    return np.maximum(ti - 5.0 * (c + n), nb - 10.0 * c)


def _ferritic_weld(heats: pd.DataFrame, kinds: pd.Series) -> list[Row]:
    bound = those_of(kinds, "stabilised ferritic", "superferritic")
    rows: list[Row] = []
    if len(bound):
        name = "stabilisation_margin_us4119765"
        rows += judge_relation(
            STEP, "stabilisation of welds", evaluate_batch(heats.loc[bound], name), name, low=0.0,
            beyond="caution", reason="titanium and niobium against C + N",
            beyond_reason="chromium carbide and nitride in the weld: more Ti or Nb, less C + N",
        )  # fmt: skip
        best = rule("stab_ferritic_best", _TABLE)
        steels = heats.loc[bound]
        both = column(steels, "Ti").fillna(0.0) + column(steels, "Nb").fillna(0.0)
        ratio = both / (column(steels, "C") + column(steels, "N"))
        rows += judge(
            STEP, "Ti and Nb over C + N, best corrosion", ratio, low=best.low, unit="1",
            beyond="ok", source=best.source, status=best.status,
            gap=unknown(steels, "C", "N"),
            beyond_reason="what standards ask is less and is judged above; this is where pitting "
            "was best, and titanium alone streaks the surface",
        )  # fmt: skip
    plain = those_of(kinds, "ferritic")
    if len(plain):
        steels = heats.loc[plain]
        table = process_table("weld_interstitials")
        cr, mo = (column(steels, e).fillna(0.0) for e in ("Cr", "Mo"))
        most, like = pd.Series(np.nan, plain), pd.Series("", plain)
        for row in table.itertuples():
            fits = cr.between(row.chromium_min_pct, row.chromium_max_pct) & (
                mo >= row.molybdenum_min_pct
            )
            most, like = most.mask(fits, row.c_plus_n_max_pct), like.mask(fits, row.steel)
        gaps = [
            gap or ("no figure for this chromium" if np.isnan(x) else "")
            for gap, x in zip(unknown(steels, "C", "N"), most, strict=True)
        ]
        rows += judge(
            STEP, "C + N of unstabilised welds", column(steels, "C") + column(steels, "N"),
            high=most, unit="wt%", beyond="caution", source="trade practice", status="memory",
            gap=gaps, reason=[f"figure for {x}" if x else "" for x in like],
            beyond_reason="the weld is attacked between grains: stabilise, or anneal",
        )  # fmt: skip
    return rows
