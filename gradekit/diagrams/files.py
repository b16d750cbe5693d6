"""The file format of constitution diagrams: read, checked, nothing drawn or placed.

One JSON object a diagram; a file of the user has the same keys as those in `reference/diagrams`:

- `name title quantity unit use status provenance source`: texts; `source` is a list of keys of the
  bibliography, or of references in words; `status` is an evidence word.
- `x`, `y`: `{"relation", "low", "high"}`, the equivalent on the axis and the ends of the chart.
- `scale`: `{"low", "high", "open_end"}`, the ends of the reading; with an open end a value may lie
  beyond the last line.
- `closed_form` (may be left out): `{"algebra", "inverse", "parameters"}`. `algebra` gives the value
  from `x`, `y`; `inverse` gives `y` from `x`, `value`; both in the language of
  `gradekit.core.formula` with the named parameters. Without it the reading goes between the
  iso-lines.
- `tolerance`: `{"words", "bands"}` and optionally `relative_above`, `places`, `hold_out`,
  `second_look`. `bands` are [upper end, ± in the unit] pairs; above the last but one the larger of
  the band and `relative_above` x value counts.
- `regions`: `{"label", "words", "polygon"}`, corners in order, neighbours sharing theirs exactly;
  `"iso_lines_drawn": false` where the chart prints no lines.
- `iso_lines`: `{"value", "points"}` with x rising along the line.
- `notes`: texts (may be left out).
- `check` (may be left out): `{"composition", "value", "kind"}` and optionally `tolerance`, as of a
  `gradekit.relations.Check`; the reading `ferrite_<name>` is held to it, or else to a point of an
  iso-line.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any, NamedTuple

import numpy as np

from gradekit.core.errors import NOTHING, InputError, nearest, one_of, said
from gradekit.core.files import as_path
from gradekit.core.formula import Formula
from gradekit.core.json_text import read_json
from gradekit.core.sources import REFERENCE, STATUSES
from gradekit.diagrams.iso_lines import inverse_between, value_between
from gradekit.relations.declaration import Bands, Check

_FOLDER = REFERENCE / "diagrams"
_TEXTS = ("name", "title", "quantity", "unit", "use", "status", "provenance")
_KEYS = (*_TEXTS, "source", "x", "y", "scale", "tolerance", "regions", "iso_lines")
_OPTIONAL = ("closed_form", "notes", "check")


class Axis(NamedTuple):
    """One axis: the relation along it and the ends of the chart."""

    relation: str
    low: float
    high: float


class Region(NamedTuple):
    """One field of the chart."""

    label: str
    words: str
    polygon: np.ndarray
    iso_lines_drawn: bool = True


class IsoLine(NamedTuple):
    """A line of equal reading."""

    value: float
    points: np.ndarray


@dataclass(frozen=True, eq=False)
class DiagramData:
    """What a diagram file says, checked."""

    name: str
    title: str
    quantity: str
    unit: str
    use: str
    status: str
    provenance: str
    source: tuple[str, ...]
    x: Axis
    y: Axis
    low: float
    high: float
    open_end: bool
    error: Bands
    tolerance: Mapping[str, Any]
    regions: tuple[Region, ...]
    iso_lines: tuple[IsoLine, ...]
    notes: tuple[str, ...]
    closed_form: Mapping[str, Any] | None
    check: Check | None

    @cached_property
    def value_algebra(self) -> str:
        """The reading as a formula of `x` and `y`: the closed form, or between the iso-lines."""
        if self.closed_form is None:
            return value_between(self.iso_lines)
        return self._with_parameters("algebra")

    @cached_property
    def inverse_algebra(self) -> str:
        """The y of a reading as a formula of `x` and `value`."""
        if self.closed_form is None:
            return inverse_between(self.iso_lines)
        return self._with_parameters("inverse")

    @property
    def ends(self) -> tuple[float, float]:
        """Ends of what can be read: of the scale, or the outermost lines without a closed form."""
        if self.closed_form is None:
            return self.iso_lines[0].value, self.iso_lines[-1].value
        return self.low, self.high

    def _with_parameters(self, key: str) -> str:
        assert self.closed_form is not None
        set_first = "".join(f"{k} = {v!r}; " for k, v in self.closed_form["parameters"].items())
        return set_first + self.closed_form[key]


def shipped_names() -> tuple[str, ...]:
    """Return the names of the diagrams that come with the library."""
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.json")))


@cache
def shipped(name: str) -> DiagramData:
    """Return what the library's own file says about a diagram."""
    known = shipped_names()
    one_of("diagram", name, known, f"one of {', '.join(known)}")
    return read_diagram(_FOLDER / f"{name}.json")


def read_diagram(path: str | os.PathLike) -> DiagramData:
    """Read and check a diagram file.

    Raises
    ------
    InputError
        Naming the file, the place in it, what must stand there and what does.
    """
    path = as_path(path)
    return _checked(_Part(f"'{path.name}'", read_json(path)))


class _Part:
    """What stands at one place of a file, with that place; makes the one error of it."""

    def __init__(self, where: str, value: Any = None):
        self.where, self.value = where, value

    def at(self, key: str | int, value: Any = None) -> _Part:
        place = f"[{key}]" if isinstance(key, int) else f", {key}"
        return _Part(self.where + place, value)

    def refuse(self, must_be: str, got: Any, close: str | None = None) -> InputError:
        return InputError(self.where, must_be, got, close)

    def part(self, key: str, kind: type | tuple, must_be: str, **default: Any) -> _Part:
        """Return what stands under a key; a `default` where nothing does."""
        if key not in self.value:
            if default:
                return self.at(key, default["default"])
            close = nearest(key, [k for k in self.value if isinstance(k, str)])
            raise self.at(key).refuse(must_be, NOTHING, close and f"found '{close}'")
        value = self.value[key]
        wrong = not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool)
        if wrong or (isinstance(value, float) and not np.isfinite(value)):
            raise self.at(key).refuse(must_be, value)
        return self.at(key, value)

    def take(self, key: str, kind: type | tuple, must_be: str, **default: Any) -> Any:
        return self.part(key, kind, must_be, **default).value

    def number(self, key: str, **default: Any) -> float:
        return float(self.take(key, (int, float), "a number", **default))

    def numbers(self, key: str, must_be: str, **default: Any) -> dict[str, float]:
        """Return a mapping of names to numbers."""
        part = self.part(key, dict, must_be, **default)
        return {name: part.number(name) for name in part.value}

    def span(self) -> tuple[float, float]:
        """Return `low` and `high`, refused where they are not in this order."""
        low, high = self.number("low"), self.number("high")
        if not low < high:
            raise self.refuse("low below high", [low, high])
        return low, high

    def points(self, key: str, least: int, must_be: str) -> np.ndarray:
        """Return pairs of numbers, shape (at least `least`, 2)."""
        part = self.part(key, list, must_be)
        try:
            points = np.array(part.value, dtype=float)
        except (TypeError, ValueError):
            raise part.refuse(must_be, part.value) from None
        if points.ndim != 2 or points.shape[1] != 2 or len(points) < least:
            raise part.refuse(must_be, part.value)
        if not np.isfinite(points).all():
            raise part.refuse(f"{must_be}, all of them numbers", part.value)
        return points

    def each(self, key: str, what: str, form: str) -> Iterator[_Part]:
        """Yield the objects of a list."""
        part = self.part(key, list, f"a list of {what}")
        for i, one in enumerate(part.value):
            if not isinstance(one, dict):
                raise part.at(i).refuse(form, one)
            yield part.at(i, one)


def _checked(file: _Part) -> DiagramData:
    if not isinstance(file.value, dict):
        raise file.refuse("one JSON object", file.value)
    for key in file.value:
        known = f"an object with the keys {' '.join(_KEYS)}"
        one_of(file.where, key, (*_KEYS, *_OPTIONAL), known)
    texts = {key: file.take(key, str, "a text") for key in _TEXTS}
    one_of(file.at("status").where, texts["status"], STATUSES)
    sources = file.take("source", list, "a list of sources")
    if not sources or not all(isinstance(s, str) and s for s in sources):
        raise file.at("source").refuse("a list of at least one source", sources)
    axes = [file.part(key, dict, "an axis") for key in ("x", "y")]
    x, y = (Axis(a.take("relation", str, "the name of a relation"), *a.span()) for a in axes)
    scale = file.part("scale", dict, '{"low", "high", "open_end"}')
    low, high = scale.span()
    tolerance = file.part("tolerance", dict, '{"words", "bands"}')
    tolerance.take("words", str, "the tolerance in words")
    return DiagramData(
        **texts,
        source=tuple(sources),
        x=x,
        y=y,
        low=low,
        high=high,
        open_end=scale.take("open_end", bool, "true or false", default=False),
        error=_bands(tolerance),
        tolerance=tolerance.value,
        regions=_regions(file, x, y),
        iso_lines=_iso_lines(file),
        notes=tuple(file.take("notes", list, "a list of texts", default=[])),
        closed_form=_closed_form(file, x, y, low, high),
        check=_check(file),
    )


def _bands(tolerance: _Part) -> Bands:
    pairs = tolerance.points("bands", 1, "[upper end, tolerance] pairs")
    if (np.diff(pairs[:, 0]) <= 0).any() or (pairs[:, 1] <= 0).any():
        steps = tolerance.value["bands"]
        raise tolerance.at("bands").refuse("rising ends and tolerances above 0", steps)
    steps = tuple((end, size) for end, size in pairs.tolist())
    return Bands(steps, tolerance.number("relative_above", default=0.0))


def _regions(file: _Part, x: Axis, y: Axis) -> tuple[Region, ...]:
    regions: dict[str, Region] = {}
    for one in file.each("regions", "regions", '{"label", "words", "polygon"}'):
        polygon = one.points("polygon", 3, "at least three [x, y] corners")
        if (polygon[0] == polygon[-1]).all():
            polygon = polygon[:-1]
        outside = ((polygon < (x.low, y.low)) | (polygon > (x.high, y.high))).any(axis=1)
        if outside.any():
            raise one.at("polygon").refuse(
                f"inside the chart, x {x.low:g} to {x.high:g}, y {y.low:g} to {y.high:g}",
                polygon[outside][0].tolist(),
            )
        label = one.take("label", str, "a text")
        if label in regions:
            raise file.at("regions").refuse("each label once", label)
        regions[label] = Region(
            label,
            one.take("words", str, "a text", default=""),
            polygon,
            one.take("iso_lines_drawn", bool, "true or false", default=True),
        )
    if not regions:
        raise file.at("regions").refuse("at least one region", NOTHING)
    return tuple(regions.values())


def _iso_lines(file: _Part) -> tuple[IsoLine, ...]:
    lines = []
    for one in file.each("iso_lines", "lines", '{"value", "points"}'):
        points = one.points("points", 2, "at least two [x, y] points")
        if (np.diff(points[:, 0]) <= 0).any():
            raise one.at("points").refuse("points with x rising along the line", points.tolist())
        lines.append(IsoLine(one.number("value"), points))
    values = [line.value for line in lines]
    if len(values) < 2 or len(set(values)) < len(values):
        raise file.at("iso_lines").refuse("two or more lines of different values", values)
    return tuple(sorted(lines, key=lambda line: line.value))


def _closed_form(
    file: _Part, x: Axis, y: Axis, low: float, high: float
) -> Mapping[str, Any] | None:
    form = file.part("closed_form", (dict, type(None)), "a closed form", default=None)
    if form.value is None:
        return None
    parameters = form.numbers("parameters", "named numbers", default={})
    forward = _formula(form, "algebra", ("x", "y", *parameters))
    back = _formula(form, "inverse", ("x", "value", *parameters))
    # numpy's own numbers, by which a formula divides without raising
    space: dict[str, Any] = {name: np.float64(v) for name, v in parameters.items()}
    gx, gy = (a.ravel() for a in np.meshgrid(np.linspace(*x[1:], 25), np.linspace(*y[1:], 25)))
    with np.errstate(all="ignore"):
        value = np.broadcast_to(forward.on(space | {"x": gx, "y": gy}), gx.shape)
        again = np.broadcast_to(back.on(space | {"x": gx, "value": value}), gx.shape)
    within = (value > low) & (value < high)
    away = np.abs(again - gy)[within]
    if not within.any() or not (away <= 1e-6 * (y.high - y.low)).all():
        got = said(f"off by {away.max():.3g}" if within.any() else "no value on the scale")
        raise form.refuse("a form whose inverse gives y back inside the chart", got)
    return {"algebra": forward.text, "inverse": back.text, "parameters": parameters}


def _formula(form: _Part, key: str, known: tuple[str, ...]) -> Formula:
    formula = Formula(form.take(key, str, "algebra"))
    for name in formula.names:
        one_of(form.at(key).where, name, known, f"algebra in {', '.join(known)}")
    return formula


def _check(file: _Part) -> Check | None:
    check = file.part("check", (dict, type(None)), "a check", default=None)
    if check.value is None:
        return None
    return Check(
        check.numbers("composition", "a mapping of element to wt%"),
        check.number("value"),
        check.take("kind", str, "'printed', 'measured' or 'arithmetic'"),
        tolerance=check.number("tolerance") if "tolerance" in check.value else None,
    )
