"""Cold rolling and temper judged: forces, martensite, magnetism, temper, delayed cracking."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError, nearest, one_of, said
from gradekit.core.markup import details, items, panel, table
from gradekit.families.kinds import CONDITION, MANGANESE
from gradekit.relations.groups import AUSTENITIC, DUPLEX, FERRITIC, STAYS_AUSTENITE, TURNS
from gradekit.relations.topics import CATALOGUE
from gradekit.works.cold.martensite import (
    MD30_FORMS,
    hardened,
    hardening_curve,
    martensite,
    md30_forms,
    reduction_for,
    strain_of,
)
from gradekit.works.plant import Plant, PlantLike, as_plant
from gradekit.works.rolling import PASS_UNITS, equivalent_strain, roll
from gradekit.works.step import Lot
from gradekit.works.tables import Cited, as_numbers, process_table, rule

STEP = "cold rolling and temper"
CONDITIONS = CONDITION | {
    "hot_band_mm": "thickness of the hot strip, mm; else the thinnest that the works rolls",
    "cold_reduction_pct": "cold reduction without an anneal between, %; else of the plant",
    "strip_temperature_C": "temperature of the strip in the cold mill, °C; else of the plant",
    "grain_size_astm": "grain size number, ASTM",
    "temper": "temper asked for, as '1/2_hard' or '+C850'",
    "martensite_max_pct": "largest martensite that the strip may have, where magnetism matters, %",
}
_FORCE, _RADIUS, _WIDTH, _MU = (
    f"cold_mill.{k}" for k in ("force_max", "roll_radius", "width_max", "friction")
)
_THICK, _THIN, _MOST, _WARM = (
    f"cold_mill.{k}"
    for k in ("entry_thickness_max", "exit_thickness_min", "reduction_max", "strip_temperature_max")
)
_COOL = "cold_mill.strip_temperature"
_BAND = "hot_mill.exit_thickness_min"
_CURVE = "hardening curve of annealed {}"
# Beyond so many a mill turns to an anneal.
_MOST_PASSES = 14
# J/(m³ K) of austenitic steel at room temperature: 7900 kg/m³ and 500 J/(kg K), EN 10088-1.
_HEAT = 7900.0 * 500.0


@dataclass(frozen=True)
class ColdSchedule:
    """Passes of equal strain from one thickness to another.

    Attributes
    ----------
    passes : DataFrame, one row a pass
        `entry_mm exit_mm reduction_pct stress_MPa force_MN torque_kNm radius_mm heating_C`.
    notes : tuple of str
    """

    passes: pd.DataFrame
    notes: tuple[str, ...]

    @property
    def words(self) -> str:
        """The schedule in one sentence."""
        most = self.passes["force_MN"].max()
        return f"{len(self.passes)} passes, force up to {most:.1f} MN"

    def __repr__(self) -> str:
        return f"ColdSchedule: {self.words}"

    def _repr_html_(self) -> str:
        shown = table(self.passes.round(3), "Cold rolling", units=PASS_UNITS)
        return panel(shown, details("Notes", items(self.notes)), lead=self.words)


def cold_schedule(
    plant: PlantLike,
    entry_mm: float,
    exit_mm: float,
    *,
    passes: int | None = None,
    kind: str = "austenitic",
) -> ColdSchedule:
    """Lay out passes of equal strain for annealed strip.

    Parameters
    ----------
    plant : Plant, path or table
        Roll radius, width and friction of the cold mill are needed.
    entry_mm, exit_mm : float
    passes : int, optional
        By default so many that none takes more than 20 %.
    kind : str
        Kind of steel whose curve holds, as 'duplex, lean'; by default 304.

    Returns
    -------
    ColdSchedule
        Flow stress of the annealed steel: force, torque, flattened radius, heating of each pass.

    Raises
    ------
    InputError
        A plant without what the mill needs, an exit that is not thinner than the entry, no
        pass, a kind of steel without a curve.

    Examples
    --------
    >>> one = cold_schedule("data/plant.csv", 3.0, 2.4).passes.iloc[0]
    >>> one.round(1)[["stress_MPa", "force_MN", "radius_mm"]].tolist()
    [510.6, 5.1, 69.0]
    """
    works = as_plant(plant)
    if gap := works.gap(_RADIUS, _WIDTH, _MU):
        raise InputError("plant", "complete for cold rolling", said(gap))
    as_numbers(entry_mm=entry_mm, exit_mm=exit_mm)
    if not 0 < exit_mm < entry_mm:
        raise InputError("exit_mm", f"above 0 and below {entry_mm:g}", exit_mm)
    curve, known = hardening_curve(kind), process_table("hardening")["kind"].tolist()
    if curve is None:
        raise InputError("kind", ", ".join(known), kind, nearest(kind, known))
    count = _lightest(entry_mm, exit_mm) if passes is None else int(passes)
    if count < 1:
        raise InputError("passes", "1 or more", passes)
    index = pd.RangeIndex(1, count + 1, name="pass")
    frame = pd.DataFrame(_passes(works, entry_mm, exit_mm, count, kind), index)
    stronger = "steel that makes martensite or starts stronger takes more force"
    drawn = f"{_CURVE.format(curve['grade'])} ({curve['status']})"
    return ColdSchedule(frame, (f"{drawn}: {stronger}", "no tension in the strip"))


def _lightest(entry_mm: float, exit_mm: float) -> int:
    """Return how many passes of equal strain keep each within the largest usual reduction."""
    most = strain_of(rule("pass_reduction").high)
    return max(1, int(np.ceil(np.log(entry_mm / exit_mm) / most - 1e-9)))


def _passes(
    works: Plant, entry_mm: float, exit_mm: float, count: int, kind: str
) -> dict[str, np.ndarray]:
    """Return what `ColdSchedule.passes` holds."""
    at = entry_mm * np.exp(-np.log(entry_mm / exit_mm) * np.arange(count + 1) / count)
    entry, leave = at[:-1], at[1:]
    # The mean stress of a pass is that at the middle of its plane-strain equivalent strain.
    stress = hardened(0.5 * (equivalent_strain(entry_mm, entry) +
                             equivalent_strain(entry_mm, leave)), kind)  # fmt: skip
    done = roll(works.get(_WIDTH, "mm"), works.get(_RADIUS, "mm"), entry, leave, stress,
                works.get(_MU, "1"))  # fmt: skip
    share = rule("pass_heat").least
    heating = share * 1e6 * stress * equivalent_strain(entry, leave) / _HEAT
    return {
        "entry_mm": entry, "exit_mm": leave, "reduction_pct": 100 * (1 - leave / entry),
        "stress_MPa": stress, "force_MN": done.force_MN, "torque_kNm": done.torque_kNm,
        "radius_mm": done.radius_mm, "heating_C": heating,
    }  # fmt: skip


def tempers(grade: str = "") -> pd.DataFrame:
    """Return the published tempers, of a grade or (with '') those that hold for any."""
    rows = process_table("temper_levels")
    return rows[_grades(rows) == grade].set_index("temper")


def checks(lot: Lot) -> None:
    """Judge what the cold mill does with each heat; see `gradekit.works.step`."""
    plant = lot.plant
    reduction = lot.condition("cold_reduction_pct", plant.get("cold_mill.reduction", "%"))
    _mill(lot, reduction)
    check, part = "martensite after cold rolling", lot.of("austenitic")
    lot.of(*AUSTENITIC).but(part).state(
        check, "ok", "so much nickel keeps it austenite in any cold work; the forms of Md30 are "
        "for leaner steel", "trade practice", "memory",
    )  # fmt: skip
    if part:
        forms = md30_forms(part.heats, part.condition("grain_size_astm").value
                           if "grain_size_astm" in lot.conditions else None)  # fmt: skip
        lean = part.is_of(*MANGANESE)
        untried = lean & (part.amount("Ni") < CATALOGUE[MD30_FORMS[0]].ranges["Ni"][0])
        near = np.where(untried, _NO_FORM, "")
        _martensite(part, check, forms, reduction, near)
        _cracking(part, forms, lean, near)
    lot.of(*DUPLEX, *FERRITIC, *TURNS).state(
        "magnetism", "stop" if "martensite_max_pct" in lot.conditions else "ok",
        "magnetic in every state; cold rolling does not change it", "family of the steel",
        "heuristic",
    )  # fmt: skip
    lot.of(*STAYS_AUSTENITE).state(
        "magnetism", "not assessed", "austenite after the solution anneal; a semi-austenitic steel "
        "holds some ferrite and turns when conditioned or cold rolled: weigh samples on a magnet "
        "balance",
    )  # fmt: skip
    lot.of(*TURNS, *STAYS_AUSTENITE).state(
        "delayed cracking", "not assessed", "no source for it; high-strength steel can crack from "
        "hydrogen: test, and see the cautions",
    )  # fmt: skip
    _temper(lot)


def _mill(lot: Lot, reduction: Cited) -> None:
    plant = lot.plant
    band = lot.condition("hot_band_mm", plant.get(_BAND, "mm")).value
    lot.judge(
        "thickness into the cold mill", band, high=plant.line(_THICK, "mm"),
        gap=np.where(band.isna(), "hot_band_mm is not given", ""),
    )  # fmt: skip
    lot.judge("cold reduction", reduction, high=plant.line(_MOST, "%"),
              beyond_reason="an anneal between is needed")  # fmt: skip
    leave = band * (1.0 - reduction.value / 100.0)
    lot.judge("thickness out of the cold mill", leave, low=plant.line(_THIN, "mm"),
              gap=reduction.gap)  # fmt: skip
    drawn = {kind: _CURVE.format(curve["grade"]) for kind in dict.fromkeys(lot.kinds)
             if (curve := hardening_curve(kind))}  # fmt: skip
    have = np.array([kind in drawn for kind in lot.kinds], dtype=bool)
    lot.where(~have).state(
        "roll force", "not assessed", "no hardening curve of this family is at hand; needed: a "
        "tensile curve", unit="MN",
    )  # fmt: skip
    part, gap = lot.where(have), reduction.gap or plant.gap(_FORCE, _RADIUS, _WIDTH, _MU)
    sizes = list(zip(band[have], leave[have], part.kinds, strict=True))
    met = {abk: _within(plant, *abk) for abk in set(sizes) if not gap and 0 < abk[1] < abk[0]}
    heaviest = pd.DataFrame([met.get(abk, (np.nan, np.nan, np.nan)) for abk in sizes], part.index,
                         ["force", "heating", "passes"])  # fmt: skip
    part.judge(
        "roll force", heaviest["force"], high=plant.line(_FORCE, "MN"), gap=gap,
        source="hardening curves; flattened roll", status="memory", beyond="caution",
        reason=[f"{n:.0f} passes of equal strain, {drawn[kind]}" if np.isfinite(n) else ""
                for n, kind in zip(heaviest["passes"], part.kinds, strict=True)],
        beyond_reason="lighter passes do not help any more: smaller rolls, or an anneal between",
    )  # fmt: skip
    part.judge(
        "heating by the heaviest pass", heaviest["heating"], high=plant.line(_WARM, "C"), gap=gap,
        source="hardening curves", status="memory",
        reason="rise in one pass against the warmest strip; the coolant takes most of it",
    )  # fmt: skip


def _within(plant: Plant, entry_mm: float, exit_mm: float, kind: str) -> tuple[float, float, int]:
    """Return force, heating and count of the fewest passes that the mill has the force for, or of
    the most that are tried."""
    limit, count = plant.get(_FORCE, "MN"), _lightest(entry_mm, exit_mm)
    while True:
        passes = _passes(plant, entry_mm, exit_mm, count, kind)
        force = np.nanmax(passes["force_MN"])
        if force <= limit or count >= _MOST_PASSES:
            return force, passes["heating_C"].max(), count
        count += 1


def _grades(rows: pd.DataFrame) -> pd.Series:
    """Return grade numbers as text; a column of numbers with holes is read as floats."""
    return rows["grade"].map(lambda g: "" if g == "" or pd.isna(g) else f"{float(g):.0f}")


def _martensite(
    lot: Lot, check: str, forms: pd.DataFrame, reduction: Cited, untried: np.ndarray
) -> None:
    at = lot.condition("strip_temperature_C", lot.plant.get(_COOL, "C"))
    most = lot.condition("martensite_max_pct")
    gap = "; ".join(filter(None, [reduction.gap, at.gap]))
    strain = strain_of(reduction.value[lot.index])
    share = pd.DataFrame(
        {n: 100.0 * martensite(strain, at.value, forms[n]) for n in forms}, index=forms.index
    )
    shown = "md30_nohara_1977" if forms["md30_nohara_1977"].notna().all() else "md30_angel_1954"
    free = bool(most.gap)
    unlimited = "; no limit given (martensite_max_pct)" if free and not gap else ""
    lot.judge(
        check, share[shown], unit="%", forms=None if free else share,
        high=None if free else most, gap=gap, beyond="caution",
        source=f"working rule on {shown}", status="heuristic",
        reason=[f"{a:.0f} to {b:.0f} % over the forms of Md30{unlimited}" if free and np.isfinite(a)
                else "" for a, b in zip(share.min(axis=1), share.max(axis=1), strict=True)],
        doubts=untried if free else "", near="" if free else untried,
        beyond_reason="magnetic and hard: roll warmer, less, or raise Ni, Mn, N, Cu",
    )  # fmt: skip


def _cracking(lot: Lot, forms: pd.DataFrame, lean: np.ndarray, untried: np.ndarray) -> None:
    limit = rule("lean_md30")
    lot.judge(
        "delayed cracking", forms["md30_angel_1954"],
        high=[limit.high if own else None for own in lean], unit="°C", beyond="caution",
        forms=forms, source=f"{limit.source}; forms of Md30", status="conflicting",
        near=untried,
        reason=np.where(lean, "Md30; lean austenitic sheet of a patent has it below -10 °C, with a "
                        "ferrite number of 5.6 to 11", "no limit is published for this family; a "
                        "deep-drawing test decides"),
        beyond_reason="drawn parts may crack days later: test cups, less hydrogen, stabler "
        "austenite",
    )  # fmt: skip


# 18-8 steel is what every form of Md30 was made from.
_NO_FORM = (
    "no form of Md30 was made from steel with so much manganese and so little nickel: even the "
    "sign is open, so draw cups and weigh them on a magnet balance"
)


def _temper(lot: Lot) -> None:
    check, asked = "reduction that the temper needs", lot.word("temper")
    if asked is None:
        lot.state(check, "not assessed", "temper is not given", unit="%")
        return
    known = list(dict.fromkeys(process_table("temper_levels")["temper"]))
    for word in set(asked) - {""}:
        one_of("temper", word, known)
    plain = (lot.kinds == "austenitic, Cr-Ni").to_numpy()
    lot.where(asked == "").state(check, "not assessed", "temper is not given", unit="%")
    lot.where((asked != "") & ~plain).state(
        check, "not assessed", "reductions are known for 301 and 304 only; needed: a rolling trial",
        unit="%",
    )  # fmt: skip
    # 301 is the leaner of the two: below 7.5 Ni its reductions serve.
    like = np.where(lot["Ni"] < 7.5, "301", "304")
    for grade, word in product(("301", "304"), sorted({*asked[plain]} - {""})):
        _reduction(lot.where(plain & (asked == word) & (like == grade)), check, grade, word)


def _reduction(lot: Lot, check: str, grade: str, temper: str) -> None:
    levels, trade = process_table("temper_levels"), process_table("temper_reductions")
    own = levels[_grades(levels).isin([grade, ""]) & (levels["temper"] == temper)]
    trade = trade[(_grades(trade) == grade) & (trade["temper"] == temper)]
    if own.empty:
        lot.state(check, "not assessed", f"no {temper} for {grade}", unit="%")
        return
    row = own.iloc[0]
    proof = float(row["rp02_min_mpa"])
    curve = float(reduction_for(proof)) if grade == "304" else np.nan
    value = float(trade["reduction_max_pct"].iloc[0]) if len(trade) else curve
    strength = f"Rp0.2 {proof:.0f}" if np.isfinite(proof) else f"Rm {row['rm_min_mpa']:.0f}"
    asks = f"{row['standard']} asks {strength} MPa"
    lot.judge(
        check, value, high=lot.plant.line(_MOST, "%"),
        gap="" if np.isfinite(value) else f"{asks}; no reduction is known for it",
        source=f"trade practice for {grade}; {row['standard']}", status="memory",
        reason=asks + (f"; by the hardening curve {curve:.0f} %" if np.isfinite(curve) else ""),
    )  # fmt: skip
