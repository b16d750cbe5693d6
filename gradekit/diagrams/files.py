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
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any, NamedTuple

import numpy as np

from gradekit.core.errors import InputError, nearest, one_of, said
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
    return _checked(read_json(path), _Place(f"'{path.name}'"))


class _Place:
    """Where in a file one is; makes the one error of it."""

    def __init__(self, where: str):
        self.where = where

    def at(self, key: str | int) -> _Place:
        return _Place(f"{self.where}[{key}]" if isinstance(key, int) else f"{self.where}, {key}")

    def refuse(self, must_be: str, got: Any, close: str | None = None) -> InputError:
        return InputError(self.where, must_be, got, close)

    def take(self, raw: Mapping, key: str, kind: type | tuple, must_be: str, **default: Any) -> Any:
        if key not in raw:
            if default:
                return default["default"]
            close = nearest(key, [k for k in raw if isinstance(k, str)])
            raise self.at(key).refuse(must_be, said("nothing"), close and f"found '{close}'")
        value = raw[key]
        wrong = not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool)
        if wrong or (isinstance(value, float) and not np.isfinite(value)):
            raise self.at(key).refuse(must_be, value)
        return value

    def number(self, raw: Mapping, key: str) -> float:
        return float(self.take(raw, key, (int, float), "a number"))


def _checked(raw: Any, place: _Place) -> DiagramData:
    if not isinstance(raw, dict):
        raise place.refuse("one JSON object", raw)
    unknown = [k for k in raw if k not in _KEYS and k not in _OPTIONAL]
    if unknown:
        close = nearest(unknown[0], (*_KEYS, *_OPTIONAL))
        raise place.refuse(f"an object with the keys {' '.join(_KEYS)}", unknown[0], close)
    texts = {key: place.take(raw, key, str, "a text") for key in _TEXTS}
    if texts["status"] not in STATUSES:
        close = nearest(texts["status"], STATUSES)
        raise place.at("status").refuse(", ".join(STATUSES), texts["status"], close)
    sources = place.take(raw, "source", list, "a list of sources")
    if not sources or not all(isinstance(s, str) and s for s in sources):
        raise place.at("source").refuse("a list of at least one source", sources)
    x, y = (_axis(place.take(raw, k, dict, "an axis"), place.at(k)) for k in ("x", "y"))
    scale = place.take(raw, "scale", dict, '{"low", "high", "open_end"}')
    low, high = (place.at("scale").number(scale, k) for k in ("low", "high"))
    if not low < high:
        raise place.at("scale").refuse("low below high", [low, high])
    tolerance = place.take(raw, "tolerance", dict, '{"words", "bands"}')
    place.at("tolerance").take(tolerance, "words", str, "the tolerance in words")
    notes = place.take(raw, "notes", list, "a list of texts", default=[])
    return DiagramData(
        **texts,
        source=tuple(sources),
        x=x,
        y=y,
        low=low,
        high=high,
        open_end=place.at("scale").take(scale, "open_end", bool, "true or false", default=False),
        error=_bands(tolerance, place.at("tolerance")),
        tolerance=tolerance,
        regions=_regions(raw, place, x, y),
        iso_lines=_iso_lines(raw, place),
        notes=tuple(notes),
        closed_form=_closed_form(raw, place, x, y, low, high),
        check=_check(raw, place),
    )


def _axis(raw: Mapping, place: _Place) -> Axis:
    axis = Axis(
        place.take(raw, "relation", str, "the name of a relation"),
        place.number(raw, "low"),
        place.number(raw, "high"),
    )
    if not axis.low < axis.high:
        raise place.refuse("low below high", [axis.low, axis.high])
    return axis


def _bands(raw: Mapping, place: _Place) -> Bands:
    steps = place.take(raw, "bands", list, "[upper end, tolerance] pairs")
    pairs = _points(steps, place.at("bands"), 1, "[upper end, tolerance] pairs with rising ends")
    if (np.diff(pairs[:, 0]) <= 0).any() or (pairs[:, 1] <= 0).any():
        raise place.at("bands").refuse("rising ends and tolerances above 0", steps)
    relative = place.take(raw, "relative_above", (int, float), "a number", default=0.0)
    return Bands(tuple((float(a), float(b)) for a, b in pairs), float(relative))


def _points(raw: Any, place: _Place, least: int, must_be: str) -> np.ndarray:
    try:
        points = np.array(raw, dtype=float)
    except (TypeError, ValueError):
        raise place.refuse(must_be, raw) from None
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < least:
        raise place.refuse(must_be, raw)
    if not np.isfinite(points).all():
        raise place.refuse(f"{must_be}, all of them numbers", raw)
    return points


def _regions(raw: Mapping, place: _Place, x: Axis, y: Axis) -> tuple[Region, ...]:
    regions = []
    for i, one in enumerate(place.take(raw, "regions", list, "a list of regions")):
        at = place.at("regions").at(i)
        if not isinstance(one, dict):
            raise at.refuse('{"label", "words", "polygon"}', one)
        corners = one.get("polygon")
        polygon = _points(corners, at.at("polygon"), 3, "at least three [x, y] corners")
        if (polygon[0] == polygon[-1]).all():
            polygon = polygon[:-1]
        outside = (polygon < (x.low, y.low)) | (polygon > (x.high, y.high))
        if outside.any():
            corner = polygon[outside.any(axis=1)][0].tolist()
            raise at.at("polygon").refuse(
                f"inside the chart, x {x.low:g} to {x.high:g}, y {y.low:g} to {y.high:g}", corner
            )
        regions.append(
            Region(
                at.take(one, "label", str, "a text"),
                at.take(one, "words", str, "a text", default=""),
                polygon,
                at.take(one, "iso_lines_drawn", bool, "true or false", default=True),
            )
        )
    if not regions:
        raise place.at("regions").refuse("at least one region", said("nothing"))
    labels = [region.label for region in regions]
    if len(set(labels)) < len(labels):
        twice = next(label for label in labels if labels.count(label) > 1)
        raise place.at("regions").refuse("each label once", twice)
    return tuple(regions)


def _iso_lines(raw: Mapping, place: _Place) -> tuple[IsoLine, ...]:
    lines = []
    for i, one in enumerate(place.take(raw, "iso_lines", list, "a list of lines")):
        at = place.at("iso_lines").at(i)
        if not isinstance(one, dict):
            raise at.refuse('{"value", "points"}', one)
        points = _points(one.get("points"), at.at("points"), 2, "at least two [x, y] points")
        if (np.diff(points[:, 0]) <= 0).any():
            raise at.at("points").refuse("points with x rising along the line", points.tolist())
        lines.append(IsoLine(at.number(one, "value"), points))
    values = [line.value for line in lines]
    if len(values) < 2 or len(set(values)) < len(values):
        raise place.at("iso_lines").refuse("two or more lines of different values", values)
    return tuple(sorted(lines, key=lambda line: line.value))


def _closed_form(
    raw: Mapping, place: _Place, x: Axis, y: Axis, low: float, high: float
) -> Mapping[str, Any] | None:
    form = place.take(raw, "closed_form", (dict, type(None)), "a closed form", default=None)
    if form is None:
        return None
    place = place.at("closed_form")
    parameters = place.take(form, "parameters", dict, "named numbers", default={})
    space: dict[str, Any] = {
        name: np.float64(place.at("parameters").number(parameters, name)) for name in parameters
    }
    forward = _formula(form, "algebra", ("x", "y", *parameters), place)
    back = _formula(form, "inverse", ("x", "value", *parameters), place)
    gx, gy = (a.ravel() for a in np.meshgrid(np.linspace(*x[1:], 25), np.linspace(*y[1:], 25)))
    with np.errstate(all="ignore"):
        value = np.broadcast_to(forward.on(space | {"x": gx, "y": gy}), gx.shape)
        again = np.broadcast_to(back.on(space | {"x": gx, "value": value}), gx.shape)
    within = (value > low) & (value < high)
    away = np.abs(again - gy)[within]
    if not within.any() or not (away <= 1e-6 * (y.high - y.low)).all():
        got = said(f"off by {away.max():.3g}" if within.any() else "no value on the scale")
        raise place.refuse("a form whose inverse gives y back inside the chart", got)
    return {
        "algebra": form["algebra"],
        "inverse": form["inverse"],
        "parameters": {k: float(v) for k, v in space.items()},
    }


def _formula(form: Mapping, key: str, known: tuple[str, ...], place: _Place) -> Formula:
    formula = Formula(place.take(form, key, str, "algebra"))
    for name in formula.names:
        if name not in known:
            raise place.at(key).refuse(f"algebra in {', '.join(known)}", name, nearest(name, known))
    return formula


def _check(raw: Mapping, place: _Place) -> Check | None:
    one = place.take(raw, "check", (dict, type(None)), "a check", default=None)
    if one is None:
        return None
    place = place.at("check")
    contents = place.take(one, "composition", dict, "a mapping of element to wt%")
    return Check(
        {e: place.at("composition").number(contents, e) for e in contents},
        place.number(one, "value"),
        place.take(one, "kind", str, "'printed', 'measured' or 'arithmetic'"),
        tolerance=place.number(one, "tolerance") if "tolerance" in one else None,
    )
