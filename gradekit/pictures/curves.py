"""Charts that several results share: what makes up a value, and curves."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from gradekit.core.errors import NOTHING, InputError, said
from gradekit.core.markup import number
from gradekit.pictures.canvas import FOOT, beside, sheet, shorten
from gradekit.pictures.figure import Figure
from gradekit.pictures.style import INK, QUIET, WIDTH, style_of, text_size

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Straight and wide: dots and dense lines make a picture of hundreds of kB.
_HATCHES = ("", "//", "\\\\", "xx", "--", "++")
_DASHES = ("solid", (0, (6, 2)), (0, (2, 2)), (0, (8, 2, 2, 2)), (0, (4, 1, 1, 1)), (0, (1, 3)))
_LABEL, _END = 40, 28  # most letters of the name of a row, of a curve


def bars(
    parts: pd.DataFrame | pd.Series | Mapping,
    *,
    title: str = "",
    unit: str = "",
    foot: str = "",
    width: int = WIDTH,
) -> Figure:
    """Draw what each term contributes to a value.

    Parameters
    ----------
    parts : DataFrame of `gk.explain`, Series, or mapping of a name to one of these
        With several, the bars of one term stand together, told apart by colour and hatching.
    title, unit, foot : str
        By default the relation and unit that `gk.explain` left with its table.
    width : int
        Pixels.

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        Tables that are none of `gk.explain`, or nothing but zeros.

    Examples
    --------
    >>> bars(pd.Series({"Cr": 18.2, "16 N": 0.9}), title="PREN").title
    'PREN'
    """
    sets = dict(parts) if isinstance(parts, Mapping) else {"": parts}
    if not sets:
        raise InputError("contributions", "at least one table", NOTHING)
    first = next(iter(sets.values()))
    about = getattr(first, "attrs", {})
    title = title or f"What makes up {about.get('title', 'the value')}"
    unit = unit or about.get("unit", "")
    unit = "" if unit == "1" else unit  # a plain number
    table = pd.concat({name: _contributions(one) for name, one in sets.items()}, axis=1)
    table = table[(table.fillna(0) != 0).any(axis=1)]  # a term of nothing only takes room
    if table.empty:
        raise InputError("contributions", "at least one that is not 0", NOTHING)
    sums = {str(name): f"{number(float(table[name].sum()), 4)} {unit}".strip() for name in table}
    together = ", ".join(f"{name} {text}".strip() for name, text in sums.items())
    foot = f"Together: {together}. {foot}".strip()
    axis = ["contribution", *([unit] if unit else [])]
    names = [str(n) for n in sets]
    thick = 0.8 / len(names)
    with sheet(
        width, int(len(table) * (14 + 14 * len(names))) + 8, title, foot, right=30, grid="x",
        xlabel=", ".join(axis), legend=names, hatches=_HATCHES,
        rows=[shorten(term(str(t)), _LABEL) for t in table.index],
    ) as (figure, axes):  # fmt: skip
        at = np.arange(len(table))
        for k, name in enumerate(table):
            sizes = table[name].to_numpy(dtype=float)
            colour, _ = style_of(k)
            where = at + (k - (len(names) - 1) / 2) * thick
            axes.barh(
                where, sizes, thick * 0.86, color=colour, hatch=_HATCHES[k % len(_HATCHES)],
                edgecolor="white", lw=0,
            )  # fmt: skip
            for y, size in zip(where, sizes, strict=True):
                if np.isfinite(size):
                    side = 1 if size >= 0 else -1
                    beside(
                        axes, number(size, 3), (size, y), (4 * side, 0), va="center",
                        ha="left" if side > 0 else "right", fontsize=FOOT,
                    )  # fmt: skip
        axes.axvline(0, color=INK, lw=1)
        axes.margins(x=0.13)
    words = ". ".join(
        f"{name}: ".removeprefix(": ")
        + ", ".join(
            f"{term(str(t))} {number(v, 3)}" for t, v in table[name].items() if np.isfinite(v)
        )
        for name in table
    )
    return Figure(figure, title, f"C{', '.join(axis)[1:]}: {words}. {foot}")


@cache
def term(text: str) -> str:
    """Return a term of a formula as one reads it.

    Examples
    --------
    >>> term("-(13.7 * Cr)"), term("30*C"), term("551")
    ('−13.7 Cr', '30 C', 'constant')
    """
    text = re.sub(r"^-\((.*)\)$", r"−\1", text)
    text = re.sub(r"(?<=[\d)]) ?\* ?(?=[A-Za-z(])", " ", text).replace("**", "^")
    if re.fullmatch(r"[−-]?[\d.]+", text):
        text = "constant"
    return text.replace("-", "−") if text[:1] == "-" else text


def _contributions(one: pd.DataFrame | pd.Series | Mapping) -> pd.Series:
    if isinstance(one, pd.DataFrame):
        if "contribution" not in one:
            raise InputError("contributions", "a table with 'contribution'", list(one.columns))
        one = one["contribution"]
    try:
        return pd.Series(one, dtype=float)
    except (TypeError, ValueError):
        raise InputError("contributions", "a table of gk.explain or a Series", one) from None


def lines(
    x: ArrayLike,
    curves: Mapping[str, ArrayLike],
    *,
    xlabel: str,
    ylabel: str,
    title: str = "",
    bands: Mapping[str, tuple[ArrayLike, ArrayLike]] | None = None,
    levels: Mapping[str, float] | None = None,
    foot: str = "",
    width: int = WIDTH,
    height: int = 340,
) -> Figure:
    """Draw curves, named at their ends.

    Parameters
    ----------
    x : array-like, shape (n,)
    curves : mapping of name to array-like, shape (n,)
    xlabel, ylabel : str
        With their unit.
    bands : mapping of the name of a curve to (low, high), optional
    levels : mapping of name to y, optional
        Limits, drawn as lines across.
    title, foot : str
    width, height : int
        Pixels.

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        A curve that has not one value for each `x`.

    Examples
    --------
    >>> f = lines([0, 1], {"PREN": [18, 34]}, xlabel="N, wt%", ylabel="PREN")
    >>> f.description
    'N, wt% from 0 to 1. PREN from 18 to 34.'
    """
    x = np.asarray(x, dtype=float)
    arrays = {name: np.asarray(y, dtype=float) for name, y in curves.items()}
    for name, y in arrays.items():
        if y.shape != x.shape:
            raise InputError(f"curve '{name}'", f"{len(x)} values", said(f"{y.shape}"))
    with sheet(
        width, height, title, foot, xlabel=xlabel, ylabel=ylabel, left=66,
        right=room_for_ends(arrays) + 18,
    ) as (figure, axes):  # fmt: skip
        for name, (low, high) in (bands or {}).items():
            k = list(arrays).index(name)
            axes.fill_between(x, low, high, color=style_of(k)[0], alpha=0.14, lw=0)
        for k, y in enumerate(arrays.values()):
            axes.plot(x, y, color=style_of(k)[0], ls=_DASHES[k % len(_DASHES)])
        for name, level in (levels or {}).items():
            axes.axhline(level, color=QUIET, lw=1.2, ls=(0, (5, 3)))
            at = ("axes fraction", "data")
            beside(axes, name, (0, level), (4, 3), xycoords=at, fontsize=FOOT, color=QUIET)
        axes.set(xlim=(np.nanmin(x), np.nanmax(x)))
        end_names(axes, arrays, height)
    words = " ".join(
        f"{name} from {number(float(y[0]), 3)} to {number(float(y[-1]), 3)}."
        for name, y in arrays.items()
    )
    text = f"{xlabel} from {x[0]:g} to {x[-1]:g}. {words}" + (f" {foot}" if foot else "")
    return Figure(figure, title or ylabel, text)


def room_for_ends(names: Iterable[str]) -> int:
    """Return the pixels that the longest of the names takes at the end of its curve."""
    return int(max((text_size(shorten(name, _END), 11)[0] for name in names), default=0))


def end_names(
    axes: Axes, curves: Mapping[str, np.ndarray], height: int, shapes: bool = False
) -> None:
    """Write each name at the right end of its curve, pushed apart where they would meet.

    With `shapes`, the mark of the curve stands before its name.
    """
    from matplotlib.transforms import ScaledTranslation

    low, high = axes.get_ylim()
    ends: list[tuple[float, int, str]] = []
    for k, (name, y) in enumerate(curves.items()):
        seen = np.flatnonzero(np.isfinite(y))
        if seen.size:
            ends.append((float(np.clip((y[seen[-1]] - low) / (high - low), 0, 1)), k, name))
    places = _apart([e[0] for e in sorted(ends)], 14.0 / height)
    past = axes.transAxes + ScaledTranslation(10 / 72, 0, axes.figure.dpi_scale_trans)
    for place, (_, k, name) in zip(places, sorted(ends), strict=True):
        colour, marker = style_of(k)
        if shapes:
            axes.plot(
                1, place, marker=marker, ms=7, mfc=colour, mec="white", mew=0.7, ls="none",
                transform=past, clip_on=False,
            )  # fmt: skip
        beside(
            axes, shorten(name, _END), (1, place), (18 if shapes else 6, 0), color=colour,
            xycoords="axes fraction", va="center", fontsize=11,
        )  # fmt: skip


def _apart(places: Iterable[float], least: float) -> list[float]:
    """Push rising places apart by at least so much, moving each as little as needed."""
    groups: list[list[float]] = []
    for place in places:
        groups.append([place])
        while len(groups) > 1:
            upper, lower = groups[-1], groups[-2]
            reach = (len(upper) + len(lower)) / 2 * least
            if np.mean(upper) - np.mean(lower) >= reach:
                break
            groups[-2:] = [lower + upper]
    out: list[float] = []
    for group in groups:
        middle = float(np.mean(group))
        out += [middle + (i - (len(group) - 1) / 2) * least for i in range(len(group))]
    return out
