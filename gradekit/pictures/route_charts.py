"""Pictures of the route: a row a step, nitrogen against manganese, the blow, the cold mill."""

from __future__ import annotations

import os
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError, said
from gradekit.core.files import write_whole
from gradekit.core.markup import escape, number, picture, verdict
from gradekit.core.verdicts import VERDICTS, worst
from gradekit.heats.batch import as_batch
from gradekit.pictures.canvas import sheet
from gradekit.pictures.figure import Figure
from gradekit.pictures.style import COLOURS, INK, QUIET, WIDTH, styled, text_size
from gradekit.relations.evaluate import evaluate
from gradekit.works.cold.martensite import martensite, md30_forms, strain_of
from gradekit.works.melt.aod import Refining
from gradekit.works.walk import STEPS, Route

__all__ = ["RouteChart", "aod_path", "cold_map", "deciding", "nitrogen_map", "route_chart"]

_FILL = {"ok": "#0b8a6f", "caution": "#c1571a", "stop": "#7d2a62", "not assessed": "#8a939c"}
_LINE = 17
# Below this width the words stand under the bars.
_NARROW = 700
_SHOWN = ("verdict", "check", "value", "limit", "unit", "margin", "share", "reason")
_STEP_ROOM, _HALF = 180, 70


class RouteChart:
    """The route of one heat or of several, as a picture made of text and bars.

    Attributes
    ----------
    svg : str
    rows : DataFrame
        What is drawn: `heat step verdict check value limit unit margin share counts partly`; the
        last is true of a step that is ok in what is assessed, less than half of it.
    """

    def __init__(self, rows: pd.DataFrame, width: int = 900):
        self.rows = rows
        self.svg = _svg(rows, width)

    def save(self, path: str | os.PathLike) -> Path:
        """Write the picture as SVG, whole or not at all."""
        path = Path(path)
        if path.suffix.lower() != ".svg":
            raise InputError(f"ending of '{path.name}'", "svg", path.suffix.lstrip("."))
        return write_whole(path, self.svg)

    def _repr_html_(self) -> str:
        return picture(self.svg)

    def __repr__(self) -> str:
        return "Route chart\n" + "\n".join(_words(self.rows))


def route_chart(route: object, width: int = 900) -> RouteChart:
    """Draw a route: a row a step, with the check that decides it and its margin.

    Parameters
    ----------
    route : Route, or the table of `assess_route`
        Several heats stand one below the other in each step.
    width : int
        Pixels.

    Returns
    -------
    RouteChart
        The bar goes from the limit: to the right is room left, to the left beyond the limit; its
        length is margin/(value + margin). Verdicts are words and signs.

    Raises
    ------
    InputError
        Anything but a walked route or its table.

    Examples
    --------
    >>> from gradekit.works.walk import walk_route
    >>> chart = route_chart(walk_route({"C": .05, "Si": .4, "Cr": 18.2, "Ni": 8.1, "N": .05}))
    >>> chart.svg.count("<text") > 8
    True
    """
    rows = route.table if isinstance(route, Route) else route
    if not isinstance(rows, pd.DataFrame) or not {"step", "heat", "margin"} <= set(rows):
        raise InputError("route to draw", "what gk.walk_route(...) returned", route)
    return RouteChart(deciding(rows), width)


def deciding(rows: pd.DataFrame) -> pd.DataFrame:
    """Return one row a heat and step: the worst check, of equals the one with least room."""
    rows = rows.assign(share=_share(rows))
    known = [s.STEP for s in STEPS]
    groups: dict[tuple, list[dict]] = {}
    for row in rows.to_dict("records"):
        groups.setdefault((row["step"], row["heat"]), []).append(row)
    found = []
    for (step, heat), own in groups.items():
        verdicts = [row["verdict"] for row in own]
        state = worst(verdicts, assessed=True)
        # a share that is not known is no reason to be shown first
        pick = min(
            (row for row in own if row["verdict"] == state),
            key=lambda row: (row["share"] != row["share"], row["share"]),
        )
        counts = Counter(verdicts)
        said_so = ", ".join(f"{counts[v]} {v}" for v in VERDICTS if v in counts)
        shown = {name: pick[name] for name in _SHOWN}
        partly = state == "ok" and 2 * counts["not assessed"] > len(own)
        found.append({"heat": heat, "step": step, "counts": said_so, "partly": partly, **shown})
    found.sort(key=lambda row: known.index(row["step"]) if row["step"] in known else len(known))
    return pd.DataFrame(found)


def nitrogen_map(
    heat: object, prices: object = None, *, manganese: tuple = (0.0, 12.0), width: int = WIDTH
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
    'At 1.40 % Mn up to 0.170 % N casts; the heat has 0.050 %.'
    """
    batch = _one(heat)
    try:
        low, high = map(float, manganese)
    except (TypeError, ValueError):
        raise InputError("manganese", "a lower and a higher content, wt%", manganese) from None
    if not 0 <= low < high <= 100:
        raise InputError("manganese", "a lower and a higher content, wt%", manganese)
    grid = np.linspace(low, high, 61)
    line = evaluate(_along(batch, "Mn", grid), "n_castable_by_mode").values["n_castable_by_mode"]
    castable = line.to_numpy()
    if not np.isfinite(castable).any():
        raise InputError("heat", "complete enough for the castable nitrogen", said("no value"))
    top = float(np.ceil(np.nanmax(castable) * 1.25 * 20) / 20)
    here = float(batch["Mn"].iloc[0]), float(batch["N"].iloc[0])
    foot = (
        "Castable: 0.95 of the solubility at 1500 °C and 1 atm where austenite solidifies first, "
        "0.70 where ferrite does; a working rule, not published. Nickel, chromium and the rest as "
        "in the heat; iron is the balance."
    )
    with styled():
        figure, axes = sheet(width, 340, f"Nitrogen that casts, heat {batch.index[0]}", foot)
        axes.fill_between(grid, 0, castable, color="#e3eef6", lw=0)
        axes.plot(grid, castable, color=COLOURS[0], lw=2.4)
        axes.annotate("pores above", (grid[20], castable[20]), (0, 9), color=COLOURS[0],
                      ha="right", textcoords="offset points", fontsize=11.5)  # fmt: skip
        if prices is not None:
            _cost_lines(axes, batch, prices, grid, top)
        axes.plot(*here, marker="D", ms=8, color=COLOURS[1], ls="")
        axes.annotate(str(batch.index[0]), here, (8, -3), textcoords="offset points",
                      color=COLOURS[1], fontweight="bold",
                      bbox={"fc": "white", "ec": "none", "pad": 1, "alpha": 0.8})  # fmt: skip
        axes.set(xlim=manganese, ylim=(0, top), xlabel="Mn, wt%", ylabel="N, wt%")
        words = (f"At {here[0]:.2f} % Mn up to {np.interp(here[0], grid, castable):.3f} % N casts; "
                 f"the heat has {here[1]:.3f} %.")  # fmt: skip
    return Figure(figure, f"Nitrogen map of {batch.index[0]}", words)


def aod_path(refining: Refining, width: int = WIDTH) -> Figure:
    """Draw the blow: carbon at the end of each gas against the temperature that keeps chromium.

    Parameters
    ----------
    refining : Refining
        From `gk.refine`.
    width : int

    Returns
    -------
    Figure
        Carbon (wt%, logarithmic) against temperature (°C).

    Raises
    ------
    InputError
        Anything but the result of `gk.refine`.

    Examples
    --------
    >>> from gradekit.works.melt.aod import refine
    >>> heat = {"C": 0.04, "Si": 0.4, "Mn": 1.3, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
    >>> aod_path(refine(heat, "data/plant.csv")).title
    'Blow of heat 1'
    """
    if not isinstance(refining, Refining):
        raise InputError("blow to draw", "what gk.refine(...) returned", refining)
    path, band = refining.path, refining.band
    foot = (
        "Band: carbon in equilibrium with the chromium of the heat at the last gas, between the "
        "published forms. Bars: temperature that each gas needs for its carbon with all chromium "
        "kept, lowest to highest form; in a cooler vessel at least so much chromium "
        "burns. All from memory."
    )
    with styled():
        figure, axes = sheet(width, 340, f"Blowing heat {refining.heat}", foot, right=60)
        axes.fill_between(band.index, band.min(axis=1), band.max(axis=1), color="#e3eef6", lw=0)
        for name in band:
            axes.plot(band.index, band[name], color=COLOURS[0], lw=0.9)
        low, high = path["lowest"], path["highest"]
        carbon = path["carbon_to"]
        axes.hlines(carbon, low, high, color=COLOURS[1], lw=2)
        axes.plot(path["temperature_C"], carbon, "s-", color=COLOURS[1], ms=7)
        for step, row in path.iterrows():
            words = f"{step}: {row['pCO_atm']:.2f} atm CO, ≥ {row['chromium_burnt']:.1f} kg/t Cr"
            axes.annotate(words, (row["highest"], row["carbon_to"]), (7, -4), fontsize=10.5,
                          textcoords="offset points")  # fmt: skip
        # so wide that the longest words find room beside the hottest mark
        box, least = axes.get_window_extent(), 1500.0
        longest = max(text_size(text.get_text(), 10.5)[0] for text in axes.texts)
        free = width - 7 - box.x0 - 7 - longest
        fits = least + (float(high.max()) - least) * box.width / max(free, 1.0)
        hottest = max(float(high.max()), float(band.index.max()))
        axes.set(yscale="log", xlabel="temperature, °C", ylabel="C, wt%",
                 xlim=(least, max(hottest + 150, fits)))  # fmt: skip
        axes.yaxis.set_major_formatter(lambda v, _: f"{v:g}")
        axes.set_yticks([0.02, 0.03, 0.05, 0.1, 0.2, 0.3, 0.5])
        axes.yaxis.set_minor_formatter(lambda v, _: "")
        words = "; ".join(f"step {i} to {c:g} % C at {t:.0f} °C" for i, c, t in zip(
            path.index, carbon, path["temperature_C"], strict=True))  # fmt: skip
    return Figure(figure, f"Blow of {refining.heat}", words)


def cold_map(
    heat: object, *, grain_size_astm: float | None = None, relation: str = "md30_angel_1954",
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
        More than one heat, or a form of Md30 that has no value for this heat.

    Examples
    --------
    >>> heat = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05, "Mo": 0.2}
    >>> cold_map(heat).description
    'After 50 % reduction 93 % at 20 °C and 10 % at 100 °C.'
    """
    batch = _one(heat)
    forms = md30_forms(batch, grain_size_astm).iloc[0].dropna()
    if relation not in forms:
        raise InputError("relation", ", ".join(forms.index), relation)
    reduction, celsius = np.linspace(2, 80, 40), np.linspace(-20, 150, 35)
    x, y = np.meshgrid(reduction, celsius)

    def share(md30: float) -> np.ndarray:
        return 100.0 * martensite(strain_of(x), y, md30)

    foot = (
        f"Lines by {relation}, Md30 {forms[relation]:.0f} °C; dashed: 10 % by the extreme forms, "
        f"Md30 {forms.min():.0f} and {forms.max():.0f} °C. The kinetics are a working rule of this "
        "library that meets the definition of Md30; the strip heats in each pass, 30 to 60 °C."
    )
    with styled():
        figure, axes = sheet(
            width, 340, f"Martensite in cold-rolled strip, heat {batch.index[0]}", foot
        )
        axes.contourf(
            x, y, share(forms[relation]), levels=(0, 1, 10, 30, 50, 80, 100),
            colors=("#ffffff", "#eef4f8", "#dce9f3", "#c6dcec", "#aecce3", "#93b9d6"),
        )  # fmt: skip
        lines = axes.contour(x, y, share(forms[relation]), levels=(1, 10, 30, 50, 80),
                             colors=INK, linewidths=1.2)  # fmt: skip
        axes.clabel(lines, fmt="%g %%", fontsize=10.5)
        for end in (forms.min(), forms.max()):
            axes.contour(x, y, share(end), levels=(10,), colors=COLOURS[1], linewidths=1.5,
                         linestyles="dashed")  # fmt: skip
        axes.set(xlabel="reduction of thickness, %", ylabel="strip temperature, °C")
        at = [100 * float(martensite(strain_of(50), t, forms[relation])) for t in (20, 100)]
        words = f"After 50 % reduction {at[0]:.0f} % at 20 °C and {at[1]:.0f} % at 100 °C."
    return Figure(figure, f"Cold-rolling map of {batch.index[0]}", words)


def _cost_lines(axes, batch: pd.DataFrame, prices: object, grid: np.ndarray, top: float) -> None:
    from gradekit.design.prices import Prices, read_prices

    book = prices if isinstance(prices, Prices) else read_prices(prices)
    content = np.linspace(0, top, 31)
    x, y = np.meshgrid(grid, content)
    many = pd.concat([batch] * x.size, ignore_index=True).assign(Mn=x.ravel(), N=y.ravel())
    cost = evaluate(many, [book.cost]).values.iloc[:, 0].to_numpy().reshape(x.shape)
    lines = axes.contour(x, y, cost, levels=7, colors=QUIET, linewidths=0.9, linestyles="dotted")
    note = ", invented" if book.invented else ""
    axes.clabel(lines, fmt=lambda v: f"{v:.0f}", fontsize=9.5)
    axes.text(0.99, 0.02, f"dotted: alloy cost, {book.unit}{note}", transform=axes.transAxes,
              ha="right", fontsize=10.5, color=QUIET)  # fmt: skip


def _one(heat: object) -> pd.DataFrame:
    batch = as_batch(heat)
    if len(batch) != 1:
        raise InputError("heat", "one heat", said(f"{len(batch)} heats"))
    return batch


def _along(batch: pd.DataFrame, element: str, grid: np.ndarray) -> pd.DataFrame:
    return pd.concat([batch] * len(grid), ignore_index=True).assign(**{element: grid})


def _share(rows: pd.DataFrame) -> pd.Series:
    margin = rows["margin"].astype(float)
    share = margin / (rows["value"].abs() + margin.abs())
    return share.where(np.isfinite(margin), np.sign(margin)).where(margin.notna())


def _words(rows: pd.DataFrame) -> list[str]:
    return [f"{r.step}, {r.heat}: {r.verdict}; {r.check}" for r in rows.itertuples()]


def _svg(rows: pd.DataFrame, width: int) -> str:
    several = rows["heat"].nunique() > 1
    narrow = width < _NARROW
    zero = width - _HALF - 8 if narrow else _STEP_ROOM + 118 + _HALF
    text = 20 if narrow else zero + _HALF + 14
    room = max(20, int((width - text) / 7.0))
    ends = zero - _HALF - 16 - max(text_size(_plain(verdict(v)), 12)[0] for v in rows["verdict"])
    crowded = narrow and max(8 + text_size(s, 12.5)[0] for s in rows["step"]) > ends
    lead = _LINE if crowded else 0  # the name of a step has a line of its own
    parts, y = [], 42
    parts.append(f'<text x="{zero}" y="16" text-anchor="middle" fill="{QUIET}">limit</text>'
                 f'<text x="{zero - 6}" y="32" text-anchor="end" fill="{QUIET}">beyond</text>'
                 f'<text x="{zero + 6}" y="32" fill="{QUIET}">room left</text>')  # fmt: skip
    top = y - 4
    for number_, (step, group) in enumerate(rows.groupby("step", sort=False)):
        height = lead + len(group) * (2 * _LINE + 4) + 6
        if number_ % 2 == 0:
            parts.append(f'<rect x="0" y="{y - 3}" width="{width}" height="{height}" '
                         'fill="#f4f6f8"/>')  # fmt: skip
        parts.append(f'<text x="8" y="{y + 14}" font-weight="bold">{escape(step)}</text>')
        y += lead
        for row in group.itertuples():
            parts.append(_row(row, y, zero, text, room, several, narrow))
            y += 2 * _LINE + 4
        y += 6
    parts.insert(1, f'<path d="M{zero} {top}V{y}" stroke="{INK}" stroke-width="1.2"/>')
    title = "Route of " + ", ".join(map(str, dict.fromkeys(rows["heat"])))
    words = escape(f"{title}. " + "; ".join(_words(rows)))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {y + 4}" role="img" '
        f'aria-label="{words}" style="width:100%;max-width:{width}px;height:auto;display:block" '
        f'font-family="DejaVu Sans,Verdana,sans-serif" font-size="12" fill="{INK}">'
        f'<rect width="{width}" height="{y + 4}" fill="white"/>{"".join(parts)}</svg>'
    )


def _row(row, y: int, zero: int, text: int, room: int, several: bool,
         narrow: bool) -> str:  # fmt: skip
    colour = _FILL[row.verdict]
    sign = f"{verdict(row.verdict)}{' in part' if row.partly else ''}"
    name = escape(_cut(str(row.heat), 26))
    who = f'<text x="20" y="{y + 30}" fill="{QUIET}">{name}</text>' if several else ""
    bar = ""
    if np.isfinite(row.share):
        long = row.share * _HALF
        left = zero + min(long, 0.0)
        bar = (f'<rect x="{left:.1f}" y="{y + 4}" width="{max(abs(long), 1.5):.1f}" height="14" '
               f'fill="{colour}"/>')  # fmt: skip
    unit = "" if row.unit == "1" else f" {row.unit}"
    value = f"{number(row.value, 4)}{unit}" if np.isfinite(row.value) else "no value"
    limit = f" against {row.limit}{unit}" if row.limit else ""
    first = _cut(f"{row.check}: {value}{limit}", room)
    below = _cut(row.counts if np.isfinite(row.value) else row.reason, room)
    if narrow:
        words = _cut(f"{row.heat}: {first}", room) if several else first
        lines = f'<text x="{text}" y="{y + 30}">{escape(words)}</text>'
        who = ""
    else:
        lines = (f'<text x="{text}" y="{y + 14}">{escape(first)}</text><text x="{text}" '
                 f'y="{y + 30}" fill="{QUIET}" font-size="11">{escape(below)}</text>')  # fmt: skip
    return (
        f'<text x="{zero - _HALF - 8}" y="{y + 15}" text-anchor="end" fill="{colour}" '
        f'font-weight="bold">{escape(_plain(sign))}</text>{who}{bar}{lines}'
    )


def _plain(marked: object) -> str:
    """Return a verdict as text, whatever markup the table would put round it."""
    return re.sub(r"<[^>]+>", "", str(marked))


def _cut(words: str, room: int) -> str:
    return words if len(words) <= room else f"{words[: room - 1]}…"
