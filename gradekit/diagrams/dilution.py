"""What a weld becomes: two parents and a filler mixed, along a line across a diagram."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from numbers import Integral, Real
from typing import TypeGuard

import numpy as np
import pandas as pd

from gradekit.core.aliases import Cell, HeatsLike
from gradekit.core.errors import InputError, said
from gradekit.core.markup import panel, small, table
from gradekit.diagrams.constitution import Diagram, diagram
from gradekit.diagrams.placement import Placement
from gradekit.heats.batch import one_heat


def _is_number(value: Cell) -> TypeGuard[float]:
    return isinstance(value, Real) and not isinstance(value, bool) and value == value


def _share(value: Cell, what: str) -> float:
    if not (_is_number(value) and 0 <= value <= 1):
        raise InputError(what, "a fraction from 0 to 1", value)
    return float(value)


def _whole(value: Cell, what: str, least: int) -> int:
    if not isinstance(value, Integral) or isinstance(value, bool) or value < least:
        raise InputError(what, f"a whole number of at least {least}", value)
    return int(value)


def _metals(named: Mapping[str, HeatsLike]) -> pd.DataFrame:
    """Return a row a metal, with the elements of any of them; what is not told as NaN."""
    rows = [one_heat(heat, what).iloc[0] for what, heat in named.items()]
    elements = list(dict.fromkeys(e for row in rows for e in row.index))
    return pd.DataFrame([row.reindex(elements).to_numpy() for row in rows], columns=elements)


def _mixed(metals: pd.DataFrame, shares: list[np.ndarray], index: pd.Index) -> pd.DataFrame:
    """Weighted sums of metals; an element unknown in one of them is unknown in the mixture."""
    parts = [
        # nothing of a metal adds nothing, even where its content is unknown
        np.where(share[:, None] == 0, 0.0, share[:, None] * contents)
        for share, contents in zip(shares, metals.to_numpy(), strict=True)
    ]
    return pd.DataFrame(np.sum(parts, axis=0), index, metals.columns)


def _layers(metals: pd.DataFrame, dilution: float, layers: int) -> pd.DataFrame:
    """Stack layers of the second metal on the first."""
    dilution, layers = _share(dilution, "dilution"), _whole(layers, "layers", 1)
    left = dilution ** np.arange(1, layers + 1)  # what is left of the base in each layer
    index = pd.Index([f"layer {n}" for n in range(1, layers + 1)], name="layer")
    return _mixed(metals, [left, 1 - left], index)


@dataclass(frozen=True, eq=False)
class Weld:
    """A weld from no dilution (pure filler) to full dilution (no filler).

    Attributes
    ----------
    line : DataFrame, shape (steps, elements)
        Composition along the line, wt%, indexed by dilution (fraction of parent metal).
    diagram : Diagram
    """

    line: pd.DataFrame
    diagram: Diagram
    _metals: pd.DataFrame  # first parent, second parent, filler
    _share: float

    @cached_property
    def placed(self) -> Placement:
        """x, y, region, value and flag along the line."""
        return self.diagram.locate(self.line)

    def at(self, dilution: float) -> pd.DataFrame:
        """Return the weld metal at one dilution (a fraction), a batch of one heat, wt%."""
        fraction = np.array([_share(dilution, "dilution")])
        return _weld_metal(self._metals, fraction, self._share)

    def layers(self, dilution: float = 0.3, layers: int = 3) -> pd.DataFrame:
        """Return the metal of layers of the filler on the first parent, as `buttering` does.

        Parameters
        ----------
        dilution : float
            Fraction of each layer that is molten from below.
        layers : int
            How many; at least 1.

        Returns
        -------
        DataFrame, shape (layers, elements), wt%
            With the elements of the weld, unknown where the parent or the filler is.

        Raises
        ------
        InputError
            A dilution outside 0 to 1, no layer.

        Examples
        --------
        >>> joint = weld({"Cr": 0.0, "Ni": 0.0}, {"Cr": 18.0, "Ni": 8.0}, {"Cr": 23.0, "Ni": 13.0})
        >>> joint.layers(0.3, 2)["Cr"].round(2).tolist()
        [16.1, 20.93]
        """
        return _layers(self._metals.iloc[[0, 2]], dilution, layers)

    def keeps(self, low: float = 3.0, high: float = 8.0) -> tuple[float, float] | None:
        """Return the widest range of dilution whose ferrite stays between two values.

        What lies outside the chart does not count: the diagram says nothing there.

        Parameters
        ----------
        low, high : float
            In the unit of the diagram (FN or %).

        Returns
        -------
        (float, float) or None
            Fractions of parent metal; None where no dilution does.

        Raises
        ------
        InputError
            A limit that is no number, or the lower one above the higher.
        """
        for what, limit in (("lowest ferrite", low), ("highest ferrite", high)):
            if not _is_number(limit):
                raise InputError(what, "a number", limit)
        if low > high:
            raise InputError(
                "limits of ferrite", "the lower one first", said(f"{low:g} to {high:g}"),
                f"keeps({high:g}, {low:g})",
            )  # fmt: skip
        values = self.placed["value"].to_numpy(dtype=float)
        return self._longest(self._charted & (values >= low) & (values <= high))

    @cached_property
    def _charted(self) -> np.ndarray:
        return (self.placed["region"] != "").to_numpy()

    @cached_property
    def on_chart(self) -> tuple[float, float] | None:
        """The range of dilution, as fractions, whose welds lie on the chart; None if none does."""
        return self._longest(self._charted)

    def _longest(self, good: np.ndarray) -> tuple[float, float] | None:
        """Return the ends of the longest run of good steps."""
        if not good.any():
            return None
        edges = np.flatnonzero(np.diff(np.r_[0, good.astype(int), 0]))
        first, last = max(edges.reshape(-1, 2), key=lambda run: run[1] - run[0])
        steps = self.line.index.to_numpy(dtype=float)
        return float(steps[first]), float(steps[last - 1])

    def _repr_html_(self) -> str:
        kept = self.keeps()
        unit = self.diagram.data.unit
        words = (
            "no dilution keeps 3 to 8"
            if kept is None
            else f"3 to 8 from {100 * kept[0]:.0f} to {100 * kept[1]:.0f} % dilution"
        )
        some = self.placed.iloc[:: max(1, len(self.line) // 10)].copy()
        some.index = pd.Index([f"{100 * d:.0f} %" for d in some.index], name="dilution")
        shown = some[["x", "y", "region", "value"]]
        note = f"{self.diagram.title}: {self.diagram.caution}"
        return panel(
            table(shown, f"Weld metal along the dilution line, value in {unit}"),
            small(note),
            lead=f"Ferrite ({unit}): {words}",
        )


def _weld_metal(metals: pd.DataFrame, dilution: np.ndarray, share: float) -> pd.DataFrame:
    """Mix two parents and a filler."""
    shares = [dilution * share, dilution * (1 - share), 1 - dilution]
    return _mixed(metals, shares, pd.Index(np.round(dilution, 6), name="dilution"))


def weld(
    parent: HeatsLike,
    other: HeatsLike,
    filler: HeatsLike,
    *,
    share: float = 0.5,
    on: str | Diagram = "wrc_1992",
    steps: int = 101,
) -> Weld:
    """Mix two parents and a filler over every dilution.

    Parameters
    ----------
    parent, other, filler : anything `as_batch` takes, one heat each
        wt%. For one parent give it twice.
    share : float
        Fraction of the molten parent metal that comes from `parent`.
    on : str or Diagram
    steps : int
        Points along the line.

    Returns
    -------
    Weld
        `.line`, `.placed`, `.on_chart`, `.keeps(low, high)`, `.at(dilution)`,
        `.layers(dilution, layers)`.
        Mixing is by mass, which is exact; losses and pick-up in the arc are left out. The ferrite
        carries the tolerance of the diagram, a reconstruction.

    Raises
    ------
    InputError
        More than one heat a part, a share outside 0 to 1, fewer than 2 steps, no such diagram.

    Examples
    --------
    >>> carbon = {"C": .18, "Mn": 1.1, "Si": .3, "Cr": .05, "Ni": .05, "N": .005, "Mo": 0}
    >>> plate = {"C": .04, "Mn": 1.4, "Si": .4, "Cr": 18.1, "Ni": 8.2, "N": .05, "Mo": .2}
    >>> wire = {"C": .015, "Mn": 1.6, "Si": .5, "Cr": 23.5, "Ni": 13.0, "N": .06, "Mo": .1}
    >>> w = weld(carbon, plate, wire)
    >>> round(float(w.at(0.3)["Cr"].iloc[0]), 3)
    19.172
    """
    share = _share(share, "share of the first parent")
    steps = _whole(steps, "steps", 2)
    metals = _metals({"first parent": parent, "second parent": other, "filler": filler})
    chosen = on if isinstance(on, Diagram) else diagram(on)
    return Weld(_weld_metal(metals, np.linspace(0.0, 1.0, steps), share), chosen, metals, share)


def buttering(
    base: HeatsLike, filler: HeatsLike, *, dilution: float = 0.3, layers: int = 3
) -> pd.DataFrame:
    """Return the metal of successive layers, each diluted by the one below.

    Parameters
    ----------
    base, filler : anything `as_batch` takes, one heat each, wt%
    dilution : float
        Fraction of each layer that is molten from below.
    layers : int

    Returns
    -------
    DataFrame, shape (layers, elements), wt%

    Raises
    ------
    InputError
        More than one heat a part, a dilution outside 0 to 1, no layer.

    Examples
    --------
    >>> metal = buttering({"Cr": 0.0, "Ni": 0.0}, {"Cr": 23.0, "Ni": 13.0}, layers=2)
    >>> metal["Cr"].round(2).tolist()
    [16.1, 20.93]
    """
    return _layers(_metals({"base metal": base, "filler": filler}), dilution, layers)
