"""What a weld becomes: two parents and a filler mixed, along a line across a diagram."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from numbers import Integral, Real

import numpy as np
import pandas as pd

from gradekit.core.aliases import Cell, HeatsLike
from gradekit.core.errors import InputError, said
from gradekit.core.markup import panel, small, table
from gradekit.diagrams.constitution import Diagram, diagram
from gradekit.diagrams.placement import Placement
from gradekit.heats.batch import one_heat


def _is_number(value: Cell) -> bool:
    return isinstance(value, Real) and not isinstance(value, bool) and value == value


def _share(value: Cell, what: str) -> float:
    if not (isinstance(value, Real) and _is_number(value) and 0 <= float(value) <= 1):
        raise InputError(what, "a fraction from 0 to 1", value)
    return float(value)


def _whole(value: Cell, what: str, least: int) -> int:
    if not isinstance(value, Integral) or isinstance(value, bool) or value < least:
        raise InputError(what, f"a whole number of at least {least}", value)
    return int(value)


def _side_by_side(*heats: pd.Series) -> tuple[list[str], np.ndarray]:
    """Return the elements of any of the heats, and the contents, shape (heats, elements)."""
    elements = list(dict.fromkeys(e for heat in heats for e in heat.index))
    return elements, np.array([heat.reindex(elements).to_numpy() for heat in heats])


def _mixed(shares: list[np.ndarray], contents: np.ndarray) -> np.ndarray:
    """Weighted sums of heats; an element unknown in one of them is unknown in the mixture."""
    return np.sum(
        [
            # nothing of a heat adds nothing, even where its content is unknown
            np.where(share[:, None] == 0, 0.0, share[:, None] * heat)
            for share, heat in zip(shares, contents, strict=True)
        ],
        axis=0,
    )


def _layers(
    elements: list[str], contents: np.ndarray, dilution: float, layers: int
) -> pd.DataFrame:
    """Stack layers, given the contents of the base and of the filler."""
    dilution, layers = _share(dilution, "dilution"), _whole(layers, "layers", 1)
    left = dilution ** np.arange(1, layers + 1)  # what is left of the base in each layer
    index = pd.Index([f"layer {n}" for n in range(1, layers + 1)], name="layer")
    return pd.DataFrame(_mixed([left, 1 - left], contents), index=index, columns=elements)


@dataclass(frozen=True, eq=False)
class Weld:
    """A weld from no dilution (pure filler) to full dilution (no filler).

    Attributes
    ----------
    line : DataFrame, shape (steps, elements)
        Composition along the line, wt%, indexed by dilution (fraction of parent metal).
    diagram : Diagram
    """

    parents: tuple[pd.Series, pd.Series]
    filler: pd.Series
    share: float
    line: pd.DataFrame
    diagram: Diagram

    @cached_property
    def placed(self) -> Placement:
        """x, y, region, value and flag along the line."""
        return self.diagram.locate(self.line)

    @cached_property
    def _contents(self) -> tuple[list[str], np.ndarray]:
        return _side_by_side(*self.parents, self.filler)

    def at(self, dilution: float) -> pd.DataFrame:
        """Return the weld metal at one dilution (a fraction), a batch of one heat, wt%."""
        fraction = np.array([_share(dilution, "dilution")])
        return _weld_metal(*self._contents, fraction, self.share)

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
        elements, (first, _, filler) = self._contents
        return _layers(elements, np.array([first, filler]), dilution, layers)

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


def _weld_metal(
    elements: list[str], contents: np.ndarray, dilution: np.ndarray, share: float
) -> pd.DataFrame:
    """Mix two parents and a filler; contents of shape (3, elements)."""
    mixed = _mixed([dilution * share, dilution * (1 - share), 1 - dilution], contents)
    return pd.DataFrame(mixed, pd.Index(np.round(dilution, 6), name="dilution"), elements)


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
    pair = (one_heat(parent, "first parent").iloc[0], one_heat(other, "second parent").iloc[0])
    wire = one_heat(filler, "filler").iloc[0]
    chosen = on if isinstance(on, Diagram) else diagram(on)
    contents = _side_by_side(*pair, wire)
    line = _weld_metal(*contents, np.linspace(0.0, 1.0, steps), share)
    return Weld(pair, wire, share, line, chosen)


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
    elements, contents = _side_by_side(
        one_heat(base, "base metal").iloc[0], one_heat(filler, "filler").iloc[0]
    )
    return _layers(elements, contents, dilution, layers)
