"""What a works names once for all notebooks: its files, its present steel, its brief."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike, Label, PathLike
from gradekit.core.errors import NOTHING, InputError, nearest, one_of
from gradekit.core.grain import intercept_um
from gradekit.core.markup import panel, table
from gradekit.core.reader import content_of, decoded
from gradekit.heats.batch import as_batch
from gradekit.heats.notes import about, bounds
from gradekit.heats.scatter import practices
from gradekit.standards.claims import read_claims
from gradekit.standards.names import found_windows, likely_meant

_NONE = "none named"


#: The inputs that are files, and what each holds.
_FILES = {
    "heats": "heats, a row each",
    "tests": "tests, a row a specimen",
    "law": "the law that invented tests were drawn from",
    "plant": "what the plant can do",
    "prices": "prices of elements",
    "materials": "prices and stock of charge materials",
    "recoveries": "shares of elements kept in melting",
    "questions": "customers at the desk for substitutions",
    "certificate": "a certificate as it was pasted",
    "stock": "grades that are to be had, by form, thickness and finish",
    "sender": "the head of the sheets that are sent, as text",
}


@dataclass(frozen=True)
class Inputs:
    """The inputs of a works; what is not named is None or empty.

    Attributes
    ----------
    heats, tests, law, plant, prices, materials, recoveries, questions, certificate, stock, \
sender : Path or None
        Files.
    name : str
        Of the works, for sentences.
    present_grade : str
    grain_size_astm : float
        Of the delivered product.
    delta_ferrite_pct : float
    order : dict
        What customer and mill ask beside the composition: conditions of `walk_route`.
    trials : dict of name to contents, wt%
        Compositions to be tried by hand.
    brief, trial_brief : dict
        What a `Brief` takes, with `conditions`; the second is that of the trial heats. Without a
        brief the leanest steel of the present grade is asked for.
    test_columns : dict of name to header
        How the table of tests names its columns; see `gk.properties.lab_tests`.
    single : dict of quantity to relation
        One relation in the place of a quantity that the brief limits.
    """

    heats: Path
    tests: Path | None = None
    law: Path | None = None
    plant: Path | None = None
    prices: Path | None = None
    materials: Path | None = None
    recoveries: Path | None = None
    questions: Path | None = None
    certificate: Path | None = None
    stock: Path | None = None
    sender: Path | None = None
    name: str = "your works"
    present_grade: str = ""
    grain_size_astm: float = 8.0
    delta_ferrite_pct: float = 2.0
    order: Mapping[str, Any] = field(default_factory=dict)
    trials: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    brief: Mapping[str, Any] = field(default_factory=dict)
    trial_brief: Mapping[str, Any] = field(default_factory=dict)
    test_columns: Mapping[str, str] = field(default_factory=dict)
    single: Mapping[str, str] = field(default_factory=dict)

    @property
    def conditions(self) -> dict[str, float]:
        """What relations ask beside contents: both measures of the grain size, delta ferrite."""
        grain = round(float(intercept_um(np.array(self.grain_size_astm))), 1)
        return {
            "grain_size_astm": self.grain_size_astm,
            "grain_size_um": grain,
            "delta_ferrite_pct": self.delta_ferrite_pct,
        }

    def need(self, *names: str) -> Inputs:
        """Return the inputs, or refuse in words that one of these is not named.

        Raises
        ------
        InputError
            Which setting is missing.
        """
        for name in names:
            if getattr(self, name) in (None, "", {}):
                what = _FILES.get(name, "what a Brief takes")
                raise InputError(f"works.toml, {name}", f"named for this notebook: {what}", NOTHING)
        return self

    def _repr_html_(self) -> str:
        rows = [(f.name, _shown(getattr(self, f.name)), _FILES.get(f.name, "a setting"))
                for f in fields(self)]  # fmt: skip
        frame = pd.DataFrame(rows, columns=["input", "named", "what"]).set_index("input")
        return panel(table(frame, "Inputs", wide=["named", "what"]), lead=f"Inputs of {self.name}")


_REST = {f.name: f for f in fields(Inputs) if f.name not in _FILES}


def _shown(value: Any) -> str:
    if isinstance(value, Path):
        return value.name
    if isinstance(value, Mapping):
        return ", ".join(map(str, value)) or _NONE
    return _NONE if value in (None, "") else str(value)


def inputs(path: PathLike, **instead: Any) -> Inputs:
    """Return what a works has named for all notebooks in one file of settings.

    Parameters
    ----------
    path : str or path
        A TOML file. Files are looked for beside it; '' means that there is none. In tables a span
        is [low, high] or {min = low}, {max = high}; grades and settings as in `Inputs`.
    **instead
        Settings to be taken in the place of those of the file.

    Returns
    -------
    Inputs

    Raises
    ------
    InputError
        A setting that is not known or of another kind, a file that is not there, a grade that no
        standard here knows, a file that is no TOML.

    Examples
    --------
    >>> import tempfile
    >>> folder = Path(tempfile.mkdtemp())
    >>> _ = (folder / "heats.csv").write_text("heat,Cr\\nA,18.1")
    >>> _ = (folder / "works.toml").write_text('heats = "heats.csv"\\npresent_grade = "304"')
    >>> own = inputs(folder / "works.toml", grain_size_astm=7)
    >>> own.heats.name, own.present_grade, own.tests, own.conditions["grain_size_astm"]
    ('heats.csv', '304', None, 7.0)
    """
    place = Path(path)
    try:
        told = tomllib.loads(decoded(content_of(place, "file of settings"), place.name))
    except tomllib.TOMLDecodeError as error:
        hint = "a path with / in the place of \\" if "\\" in str(error) else None
        raise InputError(place.name, 'TOML, as in: heats = "heats.csv"', str(error), hint) from None
    told |= instead
    known = [*_FILES, *_REST]
    for key in told:
        one_of(f"{place.name}, setting", key, known, f"one of {', '.join(known)}")
    values = {key: _value(told[key], _REST[key].type, f"{place.name}, {key}")
              for key in told if key in _REST}  # fmt: skip
    for key, least, most in (("grain_size_astm", -3, 20), ("delta_ferrite_pct", 0, 100)):
        if not least <= values.get(key, least) <= most:
            raise InputError(f"{place.name}, {key}", f"between {least} and {most}", values[key])
    if (asked := values.get("present_grade")) and found_windows(asked) is None:
        what = f"{place.name}, present_grade"
        raise InputError(what, "a grade that a standard names", asked, likely_meant(asked))
    told.setdefault("heats", "heats.csv")
    files: dict[str, Any] = {key: _existing(place, key, told.get(key)) for key in _FILES}
    own = Inputs(**files, **values)
    if not own.brief and own.present_grade:
        leanest = {"bounds": {}, "within": own.present_grade, "minimise": "nickel"}
        own = replace(own, brief=leanest | {"name": f"the leanest {own.present_grade}"})
    briefs: dict[str, Any] = {
        key: {**told, "conditions": own.conditions | told.get("conditions", {})}
        for key, told in (("brief", own.brief), ("trial_brief", own.trial_brief))
        if told
    }
    return replace(own, **briefs)


def _existing(place: Path, key: str, name: Any) -> Path | None:
    what = f"{place.name}, {key}"
    if name in ("", None):
        if key == "heats":
            raise InputError(what, "the name of a file", NOTHING)
        return None
    if not isinstance(name, (str, Path)):
        raise InputError(what, "the name of a file, or '' for none", name)
    path = place.parent / name
    if not path.is_file():
        there = [p.name for p in place.parent.glob("*") if p.is_file()]
        raise InputError(what, "an existing file", str(name), nearest(str(name), there))
    return path


def _value(value: Any, kind: Any, what: str) -> Any:
    """Return a setting as its kind, spans as (low, high)."""
    kinds: dict = {"float": ((int, float), "a number"), "str": (str, "a text")}
    types, must_be = kinds.get(kind, (Mapping, "a table of settings"))
    if isinstance(value, bool) or not isinstance(value, types):
        raise InputError(what, must_be, value)
    if isinstance(value, Mapping):
        return {key: _spans(inner) for key, inner in value.items()}
    return float(value) if kind == "float" else value


def _spans(value: Any) -> Any:
    if isinstance(value, Mapping):
        if value and set(value) <= {"min", "max"}:
            return (value.get("min"), value.get("max"))
        return {key: _spans(inner) for key, inner in value.items()}
    if isinstance(value, list) and all(isinstance(v, (int, float)) for v in value):
        return tuple(value)
    return value


def present_heats(heats: HeatsLike, grade: str = "") -> pd.DataFrame:
    """Return the heats of the works' present steel.

    Parameters
    ----------
    heats : anything `as_batch` takes
    grade : str, optional
        By any name. The practice most of whose heats claim it is the present steel. Without one,
        or where no heat claims it, the largest practice is.

    Returns
    -------
    DataFrame
        The heats of that practice; `practices` gives its name.

    Raises
    ------
    InputError
        Heats that cannot be read.

    Examples
    --------
    >>> melted = [{"heat": "1", "grade": "A 1.4462", "Cr": 22.4},
    ...           {"heat": "2", "grade": "B 1.4016", "Cr": 16.2},
    ...           {"heat": "3", "grade": "B 1.4016", "Cr": 16.4}]
    >>> list(present_heats(melted, "2205").index), list(present_heats(melted).index)
    (['1'], ['2', '3'])
    """
    batch = as_batch(heats)
    practice = practices(batch)
    asked = {w.en_number or w.uns for w in found_windows(grade) or ()} if grade else set()
    claimed = pd.Series(False, index=batch.index)
    if asked:
        told = about(batch).astype("string").fillna("").agg(" ".join, axis=1)
        known = {text: _claimed(text) for text in told.unique()}
        claimed = told.map(lambda text: bool(known[text] & asked)).astype(bool)
    counted = practice[claimed] if claimed.any() else practice
    named = counted[counted.ne("no grade")]
    chosen = (named if len(named) else counted).value_counts(sort=True).index[0]
    return batch[(practice == chosen).to_numpy()]


def _claimed(text: str) -> set[str]:
    return {w.en_number or w.uns for claim in read_claims(text) for w in claim.windows}


def middle_heat(heats: HeatsLike) -> Label:
    """Return the name of the heat that lies nearest to the middle of all.

    Parameters
    ----------
    heats : anything `as_batch` takes

    Returns
    -------
    str, or what names the heat in the batch
        Distances are counted from the medians, in median absolute deviations, over the elements
        that nine heats of ten report as a figure; of equals the heat that reports most is taken.

    Raises
    ------
    InputError
        Heats that cannot be read.

    Examples
    --------
    >>> three = [("A", 17.8), ("B", 18.1), ("C", 18.6)]
    >>> middle_heat([{"heat": name, "Cr": content} for name, content in three])
    'B'
    """
    batch = as_batch(heats)
    measured = batch.mask(bounds(batch).to_numpy() != "")
    known = measured.loc[:, measured.notna().mean() >= 0.9]
    off = (known - known.median()).abs()
    far = (off / off.median().replace(0, np.nan)).mean(axis=1).fillna(0.0)
    order = pd.DataFrame({"far": far, "blank": batch.isna().sum(axis=1)})
    whole = order[known.notna().all(axis=1)]
    return (whole if len(whole) else order).sort_values(["far", "blank"]).index[0]
