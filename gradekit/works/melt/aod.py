"""The blow of one heat worked out: gas by gas, with oxygen, silicon, lime and slag."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike, Label
from gradekit.core.errors import InputError, said
from gradekit.core.markup import details, items, number, panel, table
from gradekit.heats.batch import one_heat
from gradekit.relations.evaluate import evaluate_batch
from gradekit.relations.topics import CATALOGUE
from gradekit.works.melt.blow import Blow, blow
from gradekit.works.melt.carbon import PREFERRED, in_balance, least_burnt
from gradekit.works.melt.ladder import HOTTEST, VESSEL_PRESSURE, blow_down, gas_steps
from gradekit.works.plant import Plant, PlantLike, as_plant
from gradekit.works.tables import rule

CAUTIONS = (
    "Oxygen blowing and the reduction that follows are violent: slopping, carbon monoxide and "
    "exploding waste gas call for interlocks and qualified operators.",
    "Argon and nitrogen asphyxiate without warning in pits, vessels and ladles, carbon monoxide "
    "poisons: measure the oxygen of the air, control every entry.",
    "Ferrosilicon that got damp gives off hydrogen, and phosphine and arsine with it; wet lime or "
    "alloy on molten steel explodes: keep dry, preheat.",
    "The figures are estimates; the procedures of the plant and its licensed engineers decide.",
)
# Nitrogen sets hold up to 1700 °C; a hotter vessel is judged there.
_NITROGEN_TOP = float(CATALOGUE["n_solubility_recommended"].ranges["temperature_C"][1] or np.inf)


@dataclass(frozen=True)
class Refining:
    """What the converter does with one heat.

    Attributes
    ----------
    heat : str
    path : DataFrame, one row a step of the gas ladder
        `pCO_atm`; `carbon_from`, `carbon_to` (wt%, what the trade blows down to with that gas);
        `temperature_C` at which this carbon is reached with the chromium of the heat, by the
        preferred form, with `lowest` and `highest` of all forms; `chromium_burnt`, the least that
        burns at the hottest bath, kg/t; `nitrogen_pct` that the steel tends to if the inert gas is
        nitrogen; `inert gas`, in words.
    band : DataFrame, index temperature °C, a column a form
        Carbon in equilibrium with the chromium of the heat at the lowest CO pressure, wt%.
    blow : Blow
        Oxygen, ferrosilicon, lime, slag and the balance.
    chromium_lost : tuple of float
        kg/t, least and most, at the yields of the trade.
    notes : tuple of str
    """

    heat: Label
    path: pd.DataFrame
    band: pd.DataFrame
    blow: Blow
    chromium_lost: tuple[float, float]
    notes: tuple[str, ...]

    @property
    def words(self) -> str:
        """The blow in one sentence."""
        low, high = self.chromium_lost
        end = number(float(self.path["carbon_to"].iloc[-1]), 3)
        return (
            f"{self.heat}: blown to {end} % C with {len(self.path)} gases; {low:.0f} to {high:.0f} "
            "kg/t of chromium lost at the yields of the trade"
        )

    def _repr_html_(self) -> str:
        ends = zip(self.path["lowest"], self.path["highest"], strict=True)
        shown = self.path.drop(columns=["lowest", "highest"]).assign(
            forms=[f"{low:.0f} to {high:.0f}" for low, high in ends]
        )
        units = {"pCO_atm": "atm", "carbon_from": "wt%", "carbon_to": "wt%", "nitrogen_pct": "wt%"}
        units |= {"chromium_burnt": "kg/t, least", "temperature_C": "°C", "forms": "°C"}
        return panel(
            table(shown, f"Blowing heat {self.heat} down", units=units, wide=["inert gas"]),
            details("Needs of the converter", table(self.blow.needs, "For a tonne of bath")),
            details("Notes and cautions", items((*self.notes, *self.blow.notes, *CAUTIONS))),
            lead=self.words,
        )


def refine(
    heat: HeatsLike,
    plant: PlantLike | None = None,
    *,
    carbon_start: float | None = None,
    silicon_start: float = 0.25,
    oxidised: dict[str, float] | None = None,
    basicity: float | None = None,
    reductant_use: float = 0.88,
    alloy_use: float | None = None,
) -> Refining:
    """Work out the blow of one heat.

    Parameters
    ----------
    heat : anything `as_batch` takes, one heat
        The aim, wt%; C and Cr are needed.
    plant : Plant, path or table
        Gives the gas ladder, the vessel's pressure and temperature, and, where not given here,
        the carbon at the start and the basicity.
    carbon_start, silicon_start : float
        Of the bath, wt%; the default silicon and `reductant_use` are those of the worked example.
    oxidised : mapping, optional
        kg/t of Cr, Mn, Fe burnt with the carbon; by default the figures of a worked example for
        304 (25 Cr, 3 Mn), which your own balance should replace.
    basicity : float, optional
        Lime to silica.
    reductant_use, alloy_use : float
        See `gradekit.works.melt.blow.blow`.

    Returns
    -------
    Refining

    Raises
    ------
    InputError
        More than one heat, no carbon or chromium, or a plant without what is needed.

    Examples
    --------
    >>> heat = {"C": 0.04, "Si": 0.4, "Mn": 1.3, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
    >>> r = refine(heat, "data/plant.csv")
    >>> round(r.blow.oxygen_Nm3, 1), r.path["carbon_to"].tolist()
    (24.3, [0.3, 0.125, 0.04, 0.04])
    """
    batch, works = one_heat(heat), as_plant(plant)
    aim = {e: float(x) for e, x in batch.iloc[0].items()}
    for element in ("C", "Cr"):
        if not aim.get(element, np.nan) > 0:
            raise InputError(f"{element} of the heat", "a content above 0", aim.get(element))
    carbon_start = _given(carbon_start, works, "converter.bath_carbon_start", "wt%")
    basicity = _given(basicity, works, "converter.basicity", "1")
    gap = works.gap(HOTTEST, VESSEL_PRESSURE)
    ladder = gas_steps(works)
    if gap or ladder.empty:
        raise InputError("plant", "a table with the gas ladder, temperature and pressure of the "
                         "converter", said(gap or "no gas ladder"))  # fmt: skip
    if carbon_start <= aim["C"]:
        raise InputError("carbon_start", f"above the aim of {aim['C']:g} wt%", carbon_start)
    blown = _blow_of(
        {"C": carbon_start, "Si": silicon_start, **(oxidised or _oxidised())},
        aim["C"], aim.get("Si", 0.0), basicity, reductant_use, alloy_use,
    )  # fmt: skip
    hottest = works.get(HOTTEST, "C")
    grid = np.arange(1500.0, max(hottest, 1700.0) + 41.0, 10.0)
    repeated = pd.DataFrame([aim] * len(grid), index=pd.Index(grid, name="temperature_C"))
    kept = rule("chromium_yield")
    least, most = sorted(aim["Cr"] * 10.0 * (1.0 - y / 100.0) for y in (kept.least, kept.most))
    slag = rule("chromium_slag_ratio").least * aim["Cr"] * blown.slag / 100.0
    return Refining(
        heat=batch.index[0],
        path=_path(batch, works, ladder, carbon_start, hottest),
        band=in_balance(repeated, "C", temperature_C=grid, pCO_atm=float(ladder["pCO_atm"].min())),
        blow=blown,
        chromium_lost=(least, most),
        notes=(
            f"{least:.1f} to {most:.1f} kg/t chromium is lost at yields of {kept.high:g} to "
            f"{kept.low:g} % (memory); equilibrium alone would leave {slag:.2f} kg/t in the slag",
            "kg chromium and manganese burnt: "
            + ("as given" if oxidised else "as in a worked example for 304, not of this heat"),
            "how fast nitrogen is washed out has no source: the gas column says only what the "
            "steel tends to",
        ),
    )


def _path(batch, plant: Plant, ladder: pd.DataFrame, start: float, hottest: float) -> pd.DataFrame:
    aim, pressure = batch.iloc[0], plant.get(VESSEL_PRESSURE, "atm")
    wanted = float(aim.get("N", np.nan))
    path = blow_down(aim["C"], ladder, start)
    each = pd.DataFrame([aim] * len(path), index=path.index)
    needed = in_balance(each.assign(C=path["carbon_to"]), "temperature_C", pCO_atm=path["pCO_atm"])
    inert = (pressure - path["pCO_atm"]).clip(lower=0.0)
    tends = evaluate_batch(
        each, "n_solubility_recommended", temperature_C=min(hottest, _NITROGEN_TOP), pN2_atm=inert
    ).values["n_solubility_recommended"]  # fmt: skip
    words = [
        _gas_words(a, b, n, wanted)
        for a, b, n in zip(path["carbon_from"], path["carbon_to"], tends, strict=True)
    ]
    burnt = least_burnt(
        {e: np.array([content]) for e, content in aim.items()},
        path["carbon_from"].to_numpy()[None], path["carbon_to"].to_numpy()[None],
        path["oxygen_to_inert"].to_numpy(), np.full(len(path), pressure), hottest,
    )  # fmt: skip
    return path.assign(
        temperature_C=needed[PREFERRED],
        lowest=needed.min(axis=1),
        highest=needed.max(axis=1),
        chromium_burnt=burnt[PREFERRED][0],
        nitrogen_pct=tends,
        **{"inert gas": words},
    )


def _gas_words(before: float, after: float, tends: float, wanted: float) -> str:
    if after >= before:
        return "not needed, the carbon is there"
    if np.isnan(wanted) or np.isnan(tends):
        return "not known: no nitrogen aim"
    if tends <= wanted:
        return "nitrogen: it stays below the aim"
    share = (wanted / tends) ** 2
    return f"argon, or argon with {100 * share:.0f} % nitrogen, to stay at the aim"


def slag_share(basicity: float) -> float:
    """Slag over metal of the worked example for 304, at another basicity."""
    return _blow_of({"C": 1.5, "Si": 0.25, **_oxidised()}, 0.04, 0.4, basicity).slag / 1000.0


def _oxidised() -> dict[str, float]:
    return {"Cr": rule("oxidised_chromium").least, "Mn": rule("oxidised_manganese").least}


def _blow_of(
    start: dict, carbon: float, silicon: float, basicity: float, use: float = 0.88,
    alloy_use: float | None = None,
) -> Blow:  # fmt: skip
    burnt = {e: kg for e, kg in start.items() if e not in ("C", "Si")}
    burnt |= {"C": 10.0 * (start["C"] - carbon), "Si": 10.0 * start["Si"]}
    silicon = 10.0 * float(np.nan_to_num(silicon))
    return blow(
        burnt, silicon_wanted=silicon, basicity=basicity, reductant_use=use, alloy_use=alloy_use
    )


def _given(value: float | None, plant: Plant, name: str, unit: str) -> float:
    figure = plant.get(name, unit) if value is None else float(value)
    if not np.isfinite(figure):
        raise InputError(name.partition(".")[2], f"given, or {name} in the plant table", value)
    return figure
