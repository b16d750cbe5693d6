"""Tables too large for memory: dask frames and Parquet data sets, worked on part by part."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd

from gradekit.core.errors import InputError

_INSTALL = 'pip install "gradekit[cluster]"'


def lazy_frame(source: object) -> Any:
    """Return a table that is worked on lazily as a dask frame, None for any other source.

    Parameters
    ----------
    source : object
        A dask DataFrame, or the path of a Parquet file or of a folder of them.

    Raises
    ------
    InputError
        A Parquet data set where dask is not installed.

    Examples
    --------
    >>> lazy_frame({"Cr": 18.2}) is None
    True
    """
    if type(source).__module__.startswith("dask"):
        return source
    if not isinstance(source, (str, os.PathLike)) or "\n" in str(source):
        return None
    path = Path(source)
    try:
        parquet = path.suffix == ".parquet" or (path.is_dir() and any(path.glob("*.parquet")))
    except OSError:
        return None
    if not parquet:
        return None
    try:
        import dask.dataframe as dd
    except ImportError:
        raise InputError(path.name, "read with dask and pyarrow", "neither", _INSTALL) from None
    return dd.read_parquet(path)


def mapped(parts: Any, function: Callable[..., pd.DataFrame], **options: object) -> Any:
    """Return a function of each part of a lazy frame, itself lazy.

    Parameters
    ----------
    parts : dask DataFrame
    function : callable
        Takes a DataFrame and the options; returns a DataFrame of the same columns every time.
    """
    meta = function(parts._meta_nonempty.iloc[:1], **options).iloc[:0]
    return parts.map_partitions(function, **options, meta=meta)
