"""A works' own table of tests, whatever its headers are called, under the names used here."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.core.aliases import TableLike
from gradekit.core.errors import InputError, one_of
from gradekit.heats.certificates.headers import column_element
from gradekit.properties.fit.source import numbers, table_of
from gradekit.properties.fit.table import contents_in_table
from gradekit.properties.fit.units import unit_of

_TEXTS = frozenset({"heat", "grade", "laboratory", "note"})


def lab_tests(
    source: TableLike, columns: Mapping[str, str] | None = None, target: str = "proof_strength_MPa"
) -> pd.DataFrame:
    """Return a table of tests with columns named as they are here and contents in wt%.

    Parameters
    ----------
    source : DataFrame, or path of a CSV or XLSX file
        A row a specimen, with the analysis of its heat; decimal commas, units in headers and
        elements in other languages are understood as in a table of heats.
    columns : mapping of a name here to the header in the table, optional
        Such as {'heat': 'Schmelze', 'proof_strength_MPa': 'Rp0,2 MPa'}.
    target : str
        The test result by whose column the header is known.

    Returns
    -------
    DataFrame, a row a specimen
        The named columns, texts as they stand and results as numbers; then the other columns of
        the table, and the contents in wt%.

    Raises
    ------
    InputError
        No such file or column, a result that is no number, no column of an element.

    Examples
    --------
    >>> table = pd.DataFrame({"Schmelze": ["7", "8"], "Rp0,2 MPa": ["312", "305,5"],
    ...                       "Chrom": ["17,2", "17,4"], "N ppm": [180, 200]})
    >>> lab_tests(table, {"heat": "Schmelze", "proof_strength_MPa": "Rp0,2 MPa"}).round(3)
      heat  proof_strength_MPa    Cr      N
    0    7               312.0  17.2  0.018
    1    8               305.5  17.4  0.020
    """
    named = dict(columns or {})
    if not all(isinstance(text, str) for pair in named.items() for text in pair):
        raise InputError("columns", "headers by name, as {'heat': 'Schmelze'}", columns)
    frame = table_of(source, named.get(target, target))
    for name, header in named.items():
        one_of(f"test_columns, {name}", header, frame.columns, "a column of the table of tests")
    contents = contents_in_table(frame, np.ones(len(frame), dtype=bool), [])
    headers = {header: name for name, header in named.items()}
    told = {}
    for header in frame.columns:
        name = headers.get(header, header)
        if name in contents or (header not in headers and column_element(header)):
            continue
        told[name] = frame[header]
        if name in _TEXTS:
            continue
        try:
            told[name] = pd.Series(numbers(frame[header], header, unit_of(header)), frame.index)
        except InputError:
            if header in headers or name == target:
                raise  # a result that is no number; a column of notes is none either
    return pd.DataFrame(told, index=frame.index).join(contents)
