"""Cold rolling and temper judged: forces, martensite, magnetism, temper, delayed cracking."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given
from gradekit.core.errors import InputError, nearest, one_of, said
from gradekit.core.markup import details, items, panel, table
from gradekit.families.kinds import (
    CONDITION,
    MANGANESE,
    kinds_of,
    words_each,
)
from gradekit.heats.columns import amount, column, each_heat
from gradekit.relations.groups import AUSTENITIC, DUPLEX, FERRITIC, STAYS_AUSTENITE, TURNS, those_of
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
from gradekit.works.rolling import equivalent_strain, roll
from gradekit.works.row import Row
from gradekit.works.step import judge, said_rows, unassessed
from gradekit.works.tables import as_numbers, process_table, rule

STEP = "cold rolling and temper"
CONDITIONS = CONDITION | {
    "hot_band_mm": "thickness of the hot strip, mm; else the thinnest that the works rolls",
    "cold_reduction_pct": "cold reduction without an anneal between, %; else of the plant",
    "strip_temperature_C": "temperature of the strip in the cold mill, °C; else of the plant",
    "grain_size_astm": "grain size number, ASTM",
    "temper": "temper asked for, as '1/2_hard' or '+C850'",
    "martensite_max_pct": "largest martensite that the strip may have, where magnetism matters, %",
}
_TABLE = "strip_rules"
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
        units = {"entry_mm": "mm", "exit_mm": "mm", "reduction_pct": "%", "stress_MPa": "MPa",
                 "force_MN": "MN", "torque_kNm": "kN m", "radius_mm": "mm",
                 "heating_C": "°C"}  # fmt: skip
        shown = table(self.passes.round(3), "Cold rolling", units=units)
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
    most = strain_of(rule("pass_reduction", _TABLE).high)
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
    share = rule("pass_heat", _TABLE).least
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


def checks(
    heats: pd.DataFrame,
    plant: Plant,
    *,
    family: Given = None,
    hot_band_mm: Given = None,
    cold_reduction_pct: Given = None,
    strip_temperature_C: Given = None,
    grain_size_astm: Given = None,
    temper: Given = None,
    martensite_max_pct: Given = None,
) -> list[Row]:
    """Judge what the cold mill does with each heat; see `gradekit.works.step`."""
    kinds = kinds_of(heats, family)

    def told(value, name, default):
        return pd.Series(default, heats.index) if value is None else each_heat(value, heats, name)

    band = told(hot_band_mm, "hot_band_mm", plant.get(_BAND, "mm"))
    usual, cool = plant.get("cold_mill.reduction", "%"), plant.get(_COOL, "C")
    reduction = told(cold_reduction_pct, "cold_reduction_pct", usual)
    unsaid = cold_reduction_pct is None and np.isnan(usual)
    missing = "cold_reduction_pct is not given" if unsaid else ""
    rows = _mill(heats, plant, kinds, band, reduction, missing)
    part = those_of(kinds, "austenitic")
    stable = those_of(kinds, *AUSTENITIC).difference(part, sort=False)
    rows += said_rows(
        STEP, "martensite after cold rolling", stable, "ok", "so much nickel keeps it austenite in "
        "any cold work; the forms of Md30 are for leaner steel", "trade practice", "memory",
    )  # fmt: skip
    if len(part):
        forms = md30_forms(heats.loc[part], None if grain_size_astm is None else
                           each_heat(grain_size_astm, heats, "grain_size_astm")[part])  # fmt: skip
        at = told(strip_temperature_C, "strip_temperature_C", cool)[part]
        unsaid = strip_temperature_C is None and np.isnan(cool)
        cold = "strip_temperature_C is not given" if unsaid else ""
        most = told(martensite_max_pct, "martensite_max_pct", np.nan)[part]
        gap = "; ".join(filter(None, [missing, cold]))
        untried = pd.Series([k in MANGANESE for k in kinds[part]], part)
        untried &= amount(heats.loc[part], "Ni") < CATALOGUE[MD30_FORMS[0]].ranges["Ni"][0]
        rows += _martensite(
            forms, untried, reduction[part], at, most, gap, martensite_max_pct is None
        )
        rows += _cracking(forms, kinds[part], untried)
    magnetic = those_of(kinds, *DUPLEX, *FERRITIC, *TURNS)
    rows += said_rows(
        STEP, "magnetism", magnetic,
        "ok" if martensite_max_pct is None else "stop",
        "magnetic in every state; cold rolling does not change it", "family of the steel",
        "heuristic",
    )  # fmt: skip
    rows += unassessed(
        STEP, "magnetism", those_of(kinds, *STAYS_AUSTENITE), "austenite after the solution "
        "anneal; a semi-austenitic steel holds some ferrite and turns when conditioned or cold "
        "rolled: weigh samples on a magnet balance",
    )  # fmt: skip
    rows += unassessed(
        STEP, "delayed cracking", those_of(kinds, *TURNS, *STAYS_AUSTENITE), "no source for it; "
        "high-strength steel can crack from hydrogen: test, and see the cautions",
    )  # fmt: skip
    return rows + _temper(heats, plant, kinds, temper)


def _mill(heats, plant: Plant, kinds, band, reduction, missing: str) -> list[Row]:
    rows = judge(
        STEP, "thickness into the cold mill", band, high=plant.get(_THICK, "mm"), unit="mm",
        source=plant.cite(_THICK), status="", gap=plant.gap(_THICK) or
        band.isna().map({True: "hot_band_mm is not given", False: ""}),
    )  # fmt: skip
    rows += judge(
        STEP, "cold reduction", reduction, high=plant.get(_MOST, "%"), unit="%",
        source=plant.cite(_MOST), status="", gap=missing or plant.gap(_MOST),
        beyond_reason="an anneal between is needed",
    )  # fmt: skip
    leave = band * (1.0 - reduction / 100.0)
    rows += judge(
        STEP, "thickness out of the cold mill", leave, low=plant.get(_THIN, "mm"), unit="mm",
        source=plant.cite(_THIN), status="", gap=missing or plant.gap(_THIN),
    )  # fmt: skip
    curves = {kind: curve for kind in dict.fromkeys(kinds) if (curve := hardening_curve(kind))}
    have = np.array([kind in curves for kind in kinds], dtype=bool)
    part = heats.index[have]
    rows += unassessed(
        STEP, "roll force", heats.index[~have], "no hardening curve of this family is at hand; "
        "needed: a tensile curve", unit="MN",
    )  # fmt: skip
    if not len(part):
        return rows
    gap = missing or plant.gap(_FORCE, _RADIUS, _WIDTH, _MU)
    sizes = list(zip(band[part], leave[part], kinds[part], strict=True))
    met = {abk: _within(plant, *abk) for abk in set(sizes) if not gap and 0 < abk[1] < abk[0]}
    heaviest = pd.DataFrame([met.get(abk, (np.nan, np.nan, np.nan)) for abk in sizes], part,
                         ["force", "heating", "passes"])  # fmt: skip
    drawn = [_CURVE.format(curves[kind]["grade"]) for kind in kinds[part]]
    rows += judge(
        STEP, "roll force", heaviest["force"], high=plant.get(_FORCE, "MN"), unit="MN", gap=gap,
        source=f"hardening curves; flattened roll; {plant.cite(_FORCE)}", status="memory",
        beyond="caution",
        reason=[f"{n:.0f} passes of equal strain, {words}" if np.isfinite(n) else ""
                for n, words in zip(heaviest["passes"], drawn, strict=True)],
        beyond_reason="lighter passes do not help any more: smaller rolls, or an anneal between",
    )  # fmt: skip
    return rows + judge(
        STEP, "heating by the heaviest pass", heaviest["heating"], unit="°C",
        high=plant.get(_WARM, "C"), gap=gap or plant.gap(_WARM),
        source=f"hardening curves; {plant.cite(_WARM)}", status="memory",
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


def _martensite(forms, untried, reduction, at, most, missing: str, free: bool) -> list[Row]:
    strain = strain_of(reduction)
    share = pd.DataFrame(
        {n: 100.0 * martensite(strain, at, forms[n]) for n in forms}, index=forms.index
    )
    shown = "md30_nohara_1977" if forms["md30_nohara_1977"].notna().all() else "md30_angel_1954"
    spread = [f"{a:.0f} to {b:.0f} % over the forms of Md30" if np.isfinite(a) else ""
              for a, b in zip(share.min(axis=1), share.max(axis=1), strict=True)]  # fmt: skip
    rows = []
    other = [_NO_FORM if no else "" for no in untried]
    if free and not missing:
        spread = [f"{w}; no limit given (martensite_max_pct)" for w in spread]
    rows += judge(
        STEP, "martensite after cold rolling", share[shown], unit="%", forms=None if free else
        share, high=None if free else most, gap=missing, beyond="caution",
        source=f"working rule on {shown}", status="heuristic", reason=spread,
        doubts=other if free else "", near="" if free else other,
        beyond_reason="magnetic and hard: roll warmer, less, or raise Ni, Mn, N, Cu",
    )  # fmt: skip
    return rows


def _cracking(forms: pd.DataFrame, kinds: pd.Series, untried: pd.Series) -> list[Row]:
    limit = rule("lean_md30", _TABLE)
    rows = []
    for kind, group in kinds.groupby(kinds):
        part = forms.loc[group.index]
        lean = kind in MANGANESE
        rows += judge(
            STEP, "delayed cracking", part["md30_angel_1954"], high=limit.high if lean else None,
            unit="°C", beyond="caution", forms=part if lean else None,
            source=f"{limit.source}; forms of Md30", status="conflicting",
            near=[_NO_FORM if no else "" for no in untried[group.index]],
            reason="Md30; lean austenitic sheet of a patent has it below -10 °C, with a ferrite "
            "number of 5.6 to 11" if lean else "no limit is published for this family; a deep-"
            "drawing test decides",
            beyond_reason="drawn parts may crack days later: test cups, less hydrogen, stabler "
            "austenite",
        )  # fmt: skip
    return rows


# 18-8 steel is what every form of Md30 was made from.
_NO_FORM = (
    "no form of Md30 was made from steel with so much manganese and so little nickel: even the "
    "sign is open, so draw cups and weigh them on a magnet balance"
)


def _temper(heats, plant: Plant, kinds, temper: Given) -> list[Row]:
    check = "reduction that the temper needs"
    if temper is None:
        return unassessed(STEP, check, heats.index, "temper is not given", unit="%")
    asked = words_each(temper, heats, "temper")
    tables = process_table("temper_levels")
    known = list(dict.fromkeys(tables["temper"]))
    for word in set(asked) - {""}:
        one_of("temper", word, known)
    rows: list[Row] = []
    nickel = column(heats, "Ni")
    for heat, word in asked.items():
        alone = heats.index[heats.index == heat]
        if not word or kinds[heat] != "austenitic, Cr-Ni":
            rows += unassessed(
                STEP, check, alone, "temper is not given" if not word else "reductions are known "
                "for 301 and 304 only; needed: a rolling trial", unit="%",
            )  # fmt: skip
            continue
        # 301 is the leaner of the two: below 7.5 Ni its reductions serve.
        like = "301" if nickel[heat] < 7.5 else "304"
        own = tables[(_grades(tables).isin([like, ""])) & (tables["temper"] == word)]
        trade = process_table("temper_reductions")
        trade = trade[(_grades(trade) == like) & (trade["temper"] == word)]
        if own.empty:
            rows += unassessed(STEP, check, alone, f"no {word} for {like}", unit="%")
            continue
        row = own.iloc[0]
        proof = float(row["rp02_min_mpa"])
        curve = float(reduction_for(proof)) if np.isfinite(proof) and like == "304" else np.nan
        value = float(trade["reduction_max_pct"].iloc[0]) if len(trade) else curve
        said_so = f"{row['standard']} asks Rp0.2 {proof:.0f} MPa" if np.isfinite(proof) else (
            f"{row['standard']} asks Rm {row['rm_min_mpa']:.0f} MPa")  # fmt: skip
        rows += judge(
            STEP, check, pd.Series(value, alone), high=plant.get(_MOST, "%"), unit="%",
            gap=plant.gap(_MOST) or ("" if np.isfinite(value) else f"{said_so}; no reduction is "
                                     "known for it"),
            source=f"trade practice for {like}; {row['standard']}", status="memory",
            reason=said_so + (f"; by the hardening curve {curve:.0f} %" if np.isfinite(curve) else
                              ""),
        )  # fmt: skip
    return rows
