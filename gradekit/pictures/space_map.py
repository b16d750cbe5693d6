"""A map of a screened space: where a brief can be kept, how dear it is there, what closes it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike
from gradekit.core.errors import InputError
from gradekit.core.markup import number
from gradekit.design.result import Design
from gradekit.design.screen.answer import Screening
from gradekit.heats.batch import as_batch
from gradekit.pictures.canvas import GROUND, beside, sheet
from gradekit.pictures.figure import Figure
from gradekit.pictures.style import COLOURS, INK, WIDTH

# Grey fields of constraints that close the map, light enough for letters.
_FIELDS = ("#e9edf1", "#dbe2e9", "#f1ece2", "#e6efe6", "#efe6ef", "#e2ecf1")


def space_map(
    screening: Screening,
    across: str,
    up: str,
    design: Design | None = None,
    heats: HeatsLike | None = None,
    width: int = WIDTH,
) -> Figure:
    """Draw where in two elements a brief can be kept, and what closes it on each side.

    Parameters
    ----------
    screening : Screening
        From `gk.screen` with this pair among its `maps`.
    across, up : elements
    design : Design, optional
        The optimum of `gk.design_grade`, marked.
    heats : anything `as_batch` takes, optional
        Heats of the works, as dots.
    width : int

    Returns
    -------
    Figure
        Coloured by the least objective over all other elements; each grey field is named after the
        constraint that most compositions there break.

    Raises
    ------
    InputError
        Anything but a screening, or a pair that it did not map.

    Examples
    --------
    >>> from gradekit.design.brief import Brief
    >>> from gradekit.design.screen.run import screen
    >>> brief = Brief({"Cr": (0, 30), "Mo": (0, 5)}, {"Cr + 3.3*Mo": (20, None)}, minimise="Cr")
    >>> found = screen({"Cr": (16, 22, 1), "Mo": (0, 2, 0.5)}, brief, maps=[("Cr", "Mo")])
    >>> space_map(found, "Cr", "Mo").title
    'What the brief leaves of Cr and Mo'
    """
    if not isinstance(screening, Screening):
        raise InputError("screening to draw", "what gk.screen(...) returned", screening)
    table = screening.map(across, up)
    least, closed = (
        table.pivot(index=up, columns=across, values=c) for c in ("least", "closed by")
    )
    x, y = least.columns.to_numpy(float), least.index.to_numpy(float)
    names = [n for n in closed.stack().value_counts().index if n]
    key = screening.objectives[0]
    kept = int((table["kept"] > 0).sum())
    words = (
        f"{kept} of {len(table)} pairs of {across} and {up} leave room for the brief; "
        f"closed by {', '.join(names) or 'nothing'}."
    )
    foot = (
        f"Colour: the least {key} over all other elements of the space. Grey: no composition keeps "
        "the brief; the name is the constraint that most of them break."
    )
    title = f"What the brief leaves of {across} and {up}"
    grid: dict[str, Any] = {"shading": "nearest", "rasterized": True}
    with sheet(
        width, 380, title, foot, xlabel=f"{across}, wt%", ylabel=f"{up}, wt%", right=70, grid=""
    ) as (figure, axes):
        for at, name in enumerate(names):
            mask = np.where(closed.to_numpy() == name, 1.0, np.nan)
            axes.pcolormesh(x, y, mask, cmap=_plain(_FIELDS[at % len(_FIELDS)]), **grid)
        if kept:
            shown = axes.pcolormesh(x, y, least.to_numpy(float), cmap="viridis_r", **grid)
            bar = figure.colorbar(shown, ax=axes, pad=0.02, fraction=0.05)
            if bar.solids is not None:
                bar.solids.set_rasterized(True)
            bar.set_label(f"least {key}" if len(key) < 24 else "least objective")
        for name in names:
            rows, columns = np.nonzero(closed.to_numpy() == name)
            if len(rows) < 0.02 * closed.size:
                continue
            middle = np.argmin((rows - rows.mean()) ** 2 + (columns - columns.mean()) ** 2)
            right, top = columns[middle] / len(x), rows[middle] / len(y)
            axes.annotate(name, (x[columns[middle]], y[rows[middle]]),
                          ha=_inward(right, 0.25, "left", "center", "right"),
                          va=_inward(top, 0.08, "bottom", "center", "top"),
                          color=INK, fontsize=10, annotation_clip=True,
                          bbox=GROUND)  # fmt: skip
        if heats is not None:
            batch = as_batch(heats)
            inside = pd.DataFrame(batch).reindex(columns=[across, up]).dropna()
            axes.plot(inside[across], inside[up], "o", ms=3.5, color=INK, alpha=0.6)
        if design is not None and design.feasible:
            here = float(design.aim[across]), float(design.aim[up])
            axes.plot(*here, marker="D", ms=9, mfc=COLOURS[1], mec="white", ls="")
            beside(axes, "aim", here, (9, 0), color=INK, va="center", fontweight="bold",
                   bbox=GROUND)  # fmt: skip
            words += (
                f" The aim lies at {number(here[0], 3)} {across} and {number(here[1], 3)} {up}."
            )
        axes.set(xlim=(x[0], x[-1]), ylim=(y[0], y[-1]))
    return Figure(figure, title, words)


def _inward(share: float, edge: float, low: str, middle: str, high: str) -> Any:
    """Return the side on which a name at this share of an axis is held, so that it stays inside."""
    return low if share < edge else high if share > 1 - edge else middle


def _plain(colour: str) -> Any:
    from matplotlib.colors import ListedColormap

    return ListedColormap([colour])
