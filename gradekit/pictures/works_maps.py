"""Pictures of the works: nitrogen against manganese, the blow, the cold mill."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike
from gradekit.core.errors import InputError, said
from gradekit.core.flags import Flag
from gradekit.design.prices import PricesLike, read_prices
from gradekit.heats.batch import one_heat
from gradekit.pictures.canvas import FOOT, GROUND, beside, label_ground, sheet
from gradekit.pictures.figure import Figure
from gradekit.pictures.style import COLOURS, INK, QUIET, WIDTH
from gradekit.relations.evaluate import evaluate
from gradekit.relations.topics import CATALOGUE
from gradekit.works.cold.martensite import martensite, md30_forms, strain_of
from gradekit.works.melt.aod import Refining


def nitrogen_map(
    heat: HeatsLike,
    prices: PricesLike | None = None,
    *,
    manganese: tuple = (0.0, 12.0),
    width: int = WIDTH,
) -> Figure:
    """Draw nitrogen against manganese, the rest of the heat kept: what casts, and what it costs.

    Parameters
    ----------
    heat : anything `as_batch` takes, one heat
    prices : path or Prices, optional
        Gives lines of equal alloy cost.
    manganese : pair of float
        wt%.
    width : int

    Returns
    -------
    Figure
        Below the line castable without pores at 1 atm (a working rule on published solubility).

    Raises
    ------
    InputError
        More than one heat, contents missing that the castable nitrogen needs, prices that
        cannot be read, a span of manganese with nothing in it.

    Examples
    --------
    >>> heat = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
    >>> nitrogen_map(heat).description
    'At 1.40 % Mn up to 0.200 % N casts; the heat has 0.050 %.'
    """
    batch = one_heat(heat)
    try:
        low, high = map(float, manganese)
    except (TypeError, ValueError):
        low = high = np.nan
    if not 0 <= low < high <= 100:
        raise InputError("manganese", "a lower and a higher content, wt%", manganese)
    grid = np.linspace(low, high, 61)
    line = evaluate(_along(batch, "Mn", grid), "n_castable_by_mode")
    castable = line.values["n_castable_by_mode"].to_numpy()
    if not np.isfinite(castable).any():
        why = line.words(line.heats.index[0], "n_castable_by_mode")
        raise InputError("heat", "complete enough for the castable nitrogen", said(why))
    top = float(np.ceil(np.nanmax(castable) * 1.25 * 20) / 20)
    here = float(batch["Mn"].iloc[0]), float(batch["N"].iloc[0])
    foot = (
        f"Castable: {CATALOGUE['n_castable_by_mode'].note.partition('. ')[0]}; a working rule, not "
        "published. Nickel, chromium and the rest as in the heat; iron is the balance."
    )
    with sheet(
        width, 340, f"Nitrogen that casts, heat {batch.index[0]}", foot,
        xlabel="Mn, wt%", ylabel="N, wt%", grid="",
    ) as (figure, axes):  # fmt: skip
        axes.fill_between(grid, 0, castable, color="#e3eef6", lw=0)
        axes.plot(grid, castable, color=COLOURS[0], lw=2.4)
        beside(axes, "pores above", (grid[20], castable[20]), (0, 9), color=COLOURS[0], ha="right",
               fontsize=11.5)  # fmt: skip
        if prices is not None:
            _cost_lines(axes, batch, prices, grid, top)
        axes.plot(*here, marker="D", ms=8, color=COLOURS[1], ls="")
        beside(axes, batch.index[0], here, (8, -3), color=COLOURS[1], fontweight="bold",
               bbox=GROUND)  # fmt: skip
        axes.set(xlim=manganese, ylim=(0, top))
    words = (
        f"At {here[0]:.2f} % Mn up to {np.interp(here[0], grid, castable):.3f} % N casts; "
        f"the heat has {here[1]:.3f} %."
    )
    return Figure(figure, f"Nitrogen map of {batch.index[0]}", words)


def aod_path(refining: Refining, width: int = WIDTH) -> Figure:
    """Draw the blow: carbon at the end of each gas against the temperature that keeps chromium.

    Parameters
    ----------
    refining : Refining
        From `gk.works.refine`.
    width : int

    Returns
    -------
    Figure
        Carbon (wt%, logarithmic) against temperature (°C).

    Raises
    ------
    InputError
        Anything but the result of `gk.works.refine`.

    Examples
    --------
    >>> from gradekit.works.melt.aod import refine
    >>> heat = {"C": 0.04, "Si": 0.4, "Mn": 1.3, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
    >>> aod_path(refine(heat, "data/plant.csv")).title
    'Blow of heat 1'
    """
    if not isinstance(refining, Refining):
        raise InputError("blow to draw", "what gk.works.refine(...) returned", refining)
    path, band = refining.path, refining.band
    foot = (
        "Band: carbon in equilibrium with the chromium of the heat at the last gas, between the "
        "published forms. Bars: temperature that each gas needs for its carbon with all chromium "
        "kept, lowest to highest form; a cooler vessel burns at least the chromium stated. "
    )
    foot += "; ".join(
        f"{step}: {row['pCO_atm']:.2f} atm CO, ≥ {row['chromium_burnt']:.1f} kg/t Cr"
        for step, row in path.iterrows()
    )
    foot += ". All from memory."
    with sheet(
        width, 340, f"Blow of {refining.heat}", foot, xlabel="temperature, °C", ylabel="C, wt%",
        right=60, grid="",
    ) as (figure, axes):  # fmt: skip
        axes.fill_between(band.index, band.min(axis=1), band.max(axis=1), color="#e3eef6", lw=0)
        for name in band:
            axes.plot(band.index, band[name], color=COLOURS[0], lw=0.9)
        low, high = path["lowest"], path["highest"]
        carbon = path["carbon_to"]
        axes.hlines(carbon, low, high, color=COLOURS[1], lw=2)
        axes.plot(path["temperature_C"], carbon, "s-", color=COLOURS[1], ms=7)
        for step, row in path.iterrows():
            beside(axes, step, (row["temperature_C"], row["carbon_to"]), (0, 8), ha="center",
                   color=COLOURS[1], fontweight="bold", bbox=label_ground("white"))  # fmt: skip
        hottest = max(float(high.max()), float(band.index.max()))
        axes.set(yscale="log", xlim=(1500.0, hottest + 30))
        axes.yaxis.set_major_formatter(lambda v, _: f"{v:g}")
        axes.set_yticks([0.02, 0.03, 0.05, 0.1, 0.2, 0.3, 0.5])
        axes.yaxis.set_minor_formatter(lambda v, _: "")
    words = "; ".join(
        f"step {i} to {c:g} % C at {t:.0f} °C"
        for i, c, t in path[["carbon_to", "temperature_C"]].itertuples()
    )
    return Figure(figure, f"Blow of {refining.heat}", words)


def cold_map(
    heat: HeatsLike, *, grain_size_astm: float | None = None, relation: str = "md30_angel_1954",
    width: int = WIDTH,
) -> Figure:  # fmt: skip
    """Draw the martensite that cold rolling makes, against reduction and strip temperature.

    Parameters
    ----------
    heat : anything `as_batch` takes, one heat
    grain_size_astm : float, optional
        For the form that asks for it.
    relation : str
        Form of Md30 the lines are drawn by; the dashed pair is 10 % by the two extreme forms.
    width : int

    Returns
    -------
    Figure
        Lines of equal martensite (%) over reduction of thickness (%) and strip temperature (°C).

    Raises
    ------
    InputError
        More than one heat, a steel of a family that Md30 says nothing of, or a form of it that has
        no value for this heat.

    Examples
    --------
    >>> heat = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05, "Mo": 0.2}
    >>> cold_map(heat).description
    'After 50 % reduction 93 % at 20 °C and 10 % at 100 °C.'
    """
    batch = one_heat(heat)
    forms = md30_forms(batch, grain_size_astm).iloc[0].dropna()
    if relation not in forms:
        raise InputError("relation", ", ".join(forms.index), relation)
    asked = evaluate(batch, relation, **_grain(relation, grain_size_astm))
    if int(asked.flags.iloc[0, 0]) & int(Flag.OTHER_FAMILY):
        kind = said(str(asked.families.iloc[0]))
        raise InputError(f"heat '{batch.index[0]}'", f"of a steel that {relation} holds for", kind)
    reduction, celsius = np.linspace(2, 80, 40), np.linspace(-20, 150, 35)
    x, y = np.meshgrid(reduction, celsius)

    def share(md30: float) -> np.ndarray:
        return 100.0 * martensite(strain_of(x), y, md30)

    foot = (
        f"Lines by {relation}, Md30 {forms[relation]:.0f} °C; dashed: 10 % by the extreme forms, "
        f"Md30 {forms.min():.0f} and {forms.max():.0f} °C. The kinetics are a working rule of this "
        "library that meets the definition of Md30; the strip heats in each pass, 30 to 60 °C."
    )
    with sheet(
        width, 340, f"Martensite in cold-rolled strip, heat {batch.index[0]}", foot,
        xlabel="reduction of thickness, %", ylabel="strip temperature, °C", grid="",
    ) as (figure, axes):  # fmt: skip
        axes.contourf(
            x, y, share(forms[relation]), levels=(0, 1, 10, 30, 50, 80, 100),
            colors=("#ffffff", "#eef4f8", "#dce9f3", "#c6dcec", "#aecce3", "#93b9d6"),
        )  # fmt: skip
        lines = axes.contour(x, y, share(forms[relation]), levels=(1, 10, 30, 50, 80),
                             colors=INK, linewidths=1.2)  # fmt: skip
        axes.clabel(lines, fmt="%g %%", fontsize=10.5)
        for end in {forms.min(), forms.max()} - {forms[relation]}:  # whose own lines are there
            axes.contour(x, y, share(end), levels=(10,), colors=COLOURS[1], linewidths=1.5,
                         linestyles="dashed")  # fmt: skip
    at = [100 * float(martensite(strain_of(50), t, forms[relation])) for t in (20, 100)]
    words = f"After 50 % reduction {at[0]:.0f} % at 20 °C and {at[1]:.0f} % at 100 °C."
    return Figure(figure, f"Cold-rolling map of {batch.index[0]}", words)


def _grain(relation: str, grain_size_astm: float | None) -> dict[str, float | None]:
    asks = "grain_size_astm" in CATALOGUE[relation].conditions
    return {"grain_size_astm": grain_size_astm} if asks else {}


def _cost_lines(
    axes, batch: pd.DataFrame, prices: PricesLike, grid: np.ndarray, top: float
) -> None:
    book = read_prices(prices)
    content = np.linspace(0, top, 31)
    x, y = np.meshgrid(grid, content)
    many = pd.concat([batch] * x.size, ignore_index=True).assign(Mn=x.ravel(), N=y.ravel())
    cost = evaluate(many, [book.cost]).values.iloc[:, 0].to_numpy().reshape(x.shape)
    lines = axes.contour(x, y, cost, levels=7, colors=QUIET, linewidths=0.9, linestyles="dotted")
    note = ", invented" if book.invented else ""
    for level, pieces in zip(lines.levels, lines.allsegs, strict=True):
        if ends := [piece[piece[:, 1].argmax()] for piece in pieces if len(piece)]:
            beside(axes, f"{level:.0f}", max(ends, key=lambda end: end[1]), (0, -6), ha="center",
                   va="top", fontsize=9.5, color=QUIET, bbox=label_ground("white"))  # fmt: skip
    axes.text(0.99, 0.02, f"dotted: alloy cost, {book.unit}{note}", transform=axes.transAxes,
              ha="right", fontsize=FOOT, color=QUIET)  # fmt: skip


def _along(batch: pd.DataFrame, element: str, grid: np.ndarray) -> pd.DataFrame:
    return pd.concat([batch] * len(grid), ignore_index=True).assign(**{element: grid})
