"""Constitution diagrams: where heats lie, what is read there and how sure that is.

The diagrams shipped are reconstructions from published anchor values, not the printed figures, and
not for code acceptance; the tolerance of the reading stands in every result. The file format is
described in `gradekit.diagrams.files`; a user's own digitised diagram is read by `load_diagram`.
"""

from __future__ import annotations

import os
from functools import cache, cached_property

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike, Numbers
from gradekit.core.errors import InputError, said
from gradekit.core.flags import Flag
from gradekit.core.formula import Formula
from gradekit.core.markup import details, items, panel, small, table
from gradekit.diagrams.files import (
    DiagramData,
    IsoLine,
    Region,
    read_diagram,
    shipped,
    shipped_names,
)
from gradekit.diagrams.placement import Placement, Spot
from gradekit.diagrams.readings import declare
from gradekit.diagrams.subdivision import Boundary, Subdivision
from gradekit.relations.evaluate import Result, evaluate
from gradekit.relations.listing import resolve

_CHUNK = 20_000
# Flags of the equivalents that count for the place; that a range is not stated does not.
FROM_AXES = int(Flag.MISSING | Flag.ASSUMED_ZERO | Flag.BOUND | Flag.BELOW_RANGE | Flag.ABOVE_RANGE)
NOT_FOR_CODE = "not for code acceptance"


class Diagram:
    """A constitution diagram as data: no drawing is needed to place a point.

    Parameters
    ----------
    data : DiagramData

    Attributes
    ----------
    name, title, status, source : str
    axes : (str, str)
        Names of the relations that give x and y.
    tolerance : str
        Of the reading, in words.
    caution : str
        The line that stands with every figure and table of this diagram.
    """

    def __init__(self, data: DiagramData):
        self.data = data
        self.name, self.title = data.name, data.title
        self.status, self.source = data.status, " | ".join(data.source)
        self.tolerance = str(data.tolerance["words"])
        self.caution = f"{data.status.capitalize()}, {self.tolerance}; {NOT_FOR_CODE}"
        self.axes: tuple[str, str] = (data.x.relation, data.y.relation)
        resolve(self.axes)  # refuses an axis that no relation gives
        self._fields = Subdivision(data)
        self.labels: tuple[str, ...] = tuple(r.label for r in data.regions)
        self._labels_or_none = [*self.labels, ""]  # the last one stands for no field

    @property
    def regions(self) -> tuple[Region, ...]:
        """Fields of the chart with label, words and polygon."""
        return self.data.regions

    @cached_property
    def boundaries(self) -> tuple[Boundary, ...]:
        """Lines between neighbouring fields, made from the edges that their polygons share."""
        return self._fields.boundaries()

    @property
    def edges(self) -> tuple[list[float], list[float], float, list[tuple]]:
        """Corners of the chart, the highest y that counts as inside, and the edges to find by.

        An edge is (x, y) of its lower and of its upper end and the field to the right of it.
        """
        fields = self._fields
        edges = [(*a, *b, self.labels[code]) for a, b, code in fields.upward]
        return fields.low.tolist(), fields.high.tolist(), fields.below, edges

    @property
    def iso_lines(self) -> tuple[IsoLine, ...]:
        """Lines of equal reading, by rising value, as (value, points)."""
        return self.data.iso_lines

    def locate(self, heats: HeatsLike) -> Placement:
        """Place heats on the diagram.

        Parameters
        ----------
        heats : anything `as_batch` takes
            Compositions in wt%.

        Returns
        -------
        Placement
            DataFrame indexed by heat: `x`, `y` (equivalents, wt%), `region` ('' outside the
            chart), `value` and `tolerance` (±, unit of the diagram), `flag` (`gradekit.Flag`
            bits). A missing essential element gives NaN and a flag. A reconstruction is not for
            code acceptance.

        Examples
        --------
        >>> heat = {"C": .02, "Cr": 19.5, "Ni": 9.8, "Mo": .2, "N": .06, "Nb": 0, "Cu": .1}
        >>> spot = diagram("wrc_1992").locate(heat)
        >>> spot.loc["heat 1", "region"], round(float(spot.loc["heat 1", "value"]), 1)
        ('FA', 9.3)
        """
        result = self._equivalents(heats)
        return self._table(self._of_result(result), result.heats.index)

    def spots(self, heats: HeatsLike) -> list[Spot]:
        """Return where heats lie as `locate` does, without a table.

        Parameters
        ----------
        heats : anything `as_batch` takes, or a Result
            A result that holds the equivalents (`.axes`) is not evaluated again.

        Returns
        -------
        list of Spot
            `x`, `y` (equivalents, wt%), `value` and `tolerance` (unit of the diagram), `flag`.

        Raises
        ------
        InputError
            Heats that cannot be read, a result without the equivalents.

        Examples
        --------
        >>> heat = {"C": .02, "Cr": 19.5, "Ni": 9.8, "Mo": .2, "N": .06, "Nb": 0, "Cu": .1}
        >>> (spot,) = diagram("wrc_1992").spots(heat)
        >>> spot.region, round(spot.value, 1)
        ('FA', 9.3)
        """
        columns = self._of_result(self._equivalents(heats))
        rows = zip(*(column.tolist() for column in columns), strict=True)
        return [Spot(x, y, self._labels_or_none[code], *rest) for x, y, code, *rest in rows]

    def _equivalents(self, heats: HeatsLike | Result) -> Result:
        return heats if isinstance(heats, Result) else evaluate(heats, self.axes)

    def _of_result(self, result: Result) -> tuple[np.ndarray, ...]:
        (x, y), (of_x, of_y) = zip(*map(result.column, self.axes), strict=True)
        return self._read(x, y, (of_x | of_y) & FROM_AXES)

    def locate_xy(self, x: Numbers, y: Numbers) -> Placement:
        """Place points given by their equivalents.

        Parameters
        ----------
        x, y : array-like
            Chromium and nickel equivalent, wt%, in the definition of this diagram.

        Returns
        -------
        Placement
            As for `locate`. Outside the chart the flag says so; the value is the closed form
            where it is defined there. `Flag.NO_SUPPORT` stands where the chart draws no lines.

        Examples
        --------
        >>> diagram("schaeffler_1949").locate_xy([21.3, 5.0], [11.7, 8.0])["region"].tolist()
        ['A+F', 'M']
        """
        x, y = np.atleast_1d(*_numbers("x and y", x, y))
        if x.ndim != 1:
            raise InputError("x and y", "one-dimensional", said(f"{x.ndim} dimensions"))
        return self._table(self._read(x, y, np.zeros(x.shape, dtype=np.uint16)))

    def _read(self, x: np.ndarray, y: np.ndarray, flag: np.ndarray) -> tuple[np.ndarray, ...]:
        """Return x, y, number of the label, value, tolerance and flag of points with flags."""
        value = np.empty(x.shape)
        code = np.empty(x.shape, dtype=np.int16)
        for start in range(0, len(x), _CHUNK):
            part = slice(start, start + _CHUNK)
            code[part], flags_here = self._fields.find(x[part], y[part])
            value[part], more = self._reading(x[part], y[part])
            flag[part] |= flags_here | more | self._unlined[code[part]]
        code[code < 0] = len(self.labels)
        return x, y, code, value, self.data.error.at(value), flag

    def _table(self, read: tuple[np.ndarray, ...], index: pd.Index | None = None) -> Placement:
        x, y, code, value, tolerance, flag = read
        region = pd.Categorical.from_codes(code, self._labels_or_none, validate=False)
        columns = {"x": x, "y": y, "region": region, "value": value, "tolerance": tolerance}
        frame = Placement({**columns, "flag": flag}, index=index, copy=False)
        frame.diagram = self
        return frame

    def y_at(self, x: Numbers, value: Numbers) -> np.ndarray:
        """Return the y (wt%) at which the diagram reads `value` for given x.

        The exact inverse of the closed form; between iso-lines where there is none. It may lie
        outside the chart.

        Examples
        --------
        >>> d = diagram("wrc_1992")
        >>> y = d.y_at(21.0, 8.0)
        >>> d.locate_xy(21.0, y)["value"].round(9).tolist()
        [8.0]
        """
        x, value = _numbers("x and value", x, value)
        with np.errstate(all="ignore"):
            y = np.asarray(self._inverse.on({"x": x, "value": value}), dtype=float)
            return np.where(np.isfinite(y), y, np.nan)

    @property
    def ends(self) -> tuple[float, float]:
        """Ends of what can be read, in the unit of the reading."""
        return self.data.ends

    @cached_property
    def _value(self) -> Formula:
        return Formula(self.data.value_algebra)

    @cached_property
    def _inverse(self) -> Formula:
        return Formula(self.data.inverse_algebra)

    @cached_property
    def _unlined(self) -> np.ndarray:
        """Flag of each region, and of none at the end: the chart draws no lines in some."""
        drawn = np.array([*(r.iso_lines_drawn for r in self.regions), True])
        return np.where(drawn, np.uint16(0), np.uint16(Flag.NO_SUPPORT))

    def _reading(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the reading, shown at the ends of the scale where it lies beyond, and flags."""
        with np.errstate(all="ignore"):
            value = np.asarray(self._value.on({"x": x, "y": y}), dtype=float)
        given, lost = np.isfinite(x) & np.isfinite(y), ~np.isfinite(value)
        least, most = self.ends
        low, high = value < least, value > most
        flag = np.where(low | high, np.uint16(Flag.CLAMPED), np.uint16(0))
        if self.data.open_end:
            flag |= np.where(high, np.uint16(Flag.ABOVE_RANGE), np.uint16(0))
        flag |= np.where(lost & given, np.uint16(Flag.UNDEFINED), np.uint16(0))
        return np.where(lost, np.nan, np.clip(value, least, most)), flag

    def __repr__(self) -> str:
        return f"Diagram: {self.title} ({self.caution})"

    def _repr_html_(self) -> str:
        rows = pd.DataFrame(
            {"meaning": [r.words for r in self.regions]},
            index=pd.Index([r.label for r in self.regions], name="region"),
        )
        facts = [
            f"x: {self.data.x.relation}, {self.data.x.low:g} to {self.data.x.high:g} wt%",
            f"y: {self.data.y.relation}, {self.data.y.low:g} to {self.data.y.high:g} wt%",
            f"reading: {self.data.quantity} ({self.data.unit}), {self.data.use}",
            *self.data.notes,
            self.data.provenance,
        ]
        shown = table(rows, "Fields", wide=["meaning"])
        lead = f"{self.title}: {self.data.quantity} in {self.data.unit} from the composition"
        made = details("What it is made of", items(facts))
        return panel(shown, small(self.caution), made, lead=lead)


def _numbers(what: str, *given: Numbers) -> tuple[np.ndarray, ...]:
    """Return arrays of one shape."""
    try:
        return np.broadcast_arrays(*(np.asarray(a, dtype=float) for a in given))
    except (TypeError, ValueError) as error:
        raise InputError(what, "numbers of one shape", said(str(error))) from None


def diagram(name: str) -> Diagram:
    """Return a diagram of the library: 'wrc_1992', 'schaeffler_1949', 'delong_1973'.

    All are reconstructions, not the printed figures, and not for code acceptance; `.tolerance`
    says how far a reading may be off.

    Parameters
    ----------
    name : str

    Returns
    -------
    Diagram
        The same object at every call.

    Raises
    ------
    InputError
        Another name, with the nearest one.

    Examples
    --------
    >>> diagram("wrc_1992").caution[:25]
    'Reconstruction, ±3 FN at '
    """
    if not isinstance(name, str):
        raise InputError("diagram", f"one of {', '.join(shipped_names())}", name)
    return _shipped(name)


@cache
def _shipped(name: str) -> Diagram:
    return Diagram(shipped(name))


def load_diagram(path: str | os.PathLike) -> Diagram:
    """Read a diagram of your own, such as one digitised from a licensed figure.

    Parameters
    ----------
    path : path of a JSON file in the format described in `gradekit.diagrams.files`

    Returns
    -------
    Diagram
        Used like those of the library. Without a closed form the reading is interpolated between
        the iso-lines. It is a relation too, `ferrite_<name>`, unless the name is that of a diagram
        of the library.

    Raises
    ------
    InputError
        Naming the place in the file, what must stand there and what does.

    Examples
    --------
    >>> from gradekit.core.sources import REFERENCE
    >>> load_diagram(REFERENCE / "diagrams" / "wrc_1992.json").axes
    ('cr_eq_wrc_1992', 'ni_eq_wrc_1992')
    """
    data = read_diagram(path)
    if data.name not in shipped_names():
        declare(data, replace=True)
    return Diagram(data)
