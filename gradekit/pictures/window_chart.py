"""The windows of several steels as boxes on a constitution diagram."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from xml.etree.ElementTree import Element

import pandas as pd

from gradekit.diagrams.constitution import diagram as named
from gradekit.pictures.canvas import shorten
from gradekit.pictures.draw import draw
from gradekit.pictures.style import COLOURS, styled

_AXES = ("C", "Si", "Mn", "Cr", "Ni", "Mo", "N", "Cu", "Nb")
_DASHES = ("-", (0, (5, 3)), (0, (1.5, 2)), (0, (7, 2, 1.5, 2)))


def windows_chart(
    diagram: str, steels: Sequence[tuple[str, Mapping, Mapping]], width: int = 560
) -> Element:
    """Draw each steel as a box from its leanest to its richest end, with a mark in the middle.

    Parameters
    ----------
    diagram : str
        Name of a diagram of the library.
    steels : (name, least, most)
        Contents in wt%; what is not limited counts as 0.
    width : int
        Pixels.

    Returns
    -------
    Element
    """
    from matplotlib.patches import Rectangle

    chart = named(diagram)
    elements = sorted({*_AXES, *(e for _, least, most in steels for e in (*least, *most))})
    low = pd.DataFrame([{e: a.get(e, 0.0) for e in elements} for _, a, _ in steels])
    high = pd.DataFrame([{e: b.get(e, a.get(e, 0.0)) for e in elements} for _, a, b in steels])
    corners = [chart.locate(ends)[["x", "y"]].to_numpy() for ends in (low, high)]
    names = [shorten(name, 22) for name, _, _ in steels]
    middle = (low + high) / 2.0
    middle.index = [f"{n} ({i})" if names.count(n) > 1 else n for i, n in enumerate(names)]
    figure = draw(
        diagram, middle, group=list(middle.index), names=True, title=chart.title, width=width
    )
    axes = figure.canvas.axes[0]
    ends = axes.get_xlim(), axes.get_ylim()
    with styled():
        for k, ((x0, y0), (x1, y1)) in enumerate(zip(*corners, strict=True)):
            box = Rectangle(
                (x0, y0), x1 - x0, y1 - y0, fill=False, lw=1.8, zorder=4,
                ec=COLOURS[k % len(COLOURS)], ls=_DASHES[k % len(_DASHES)],
            )  # fmt: skip
            axes.add_patch(box)
        axes.set(xlim=ends[0], ylim=ends[1])
    return figure.tree
