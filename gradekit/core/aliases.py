"""Types that many rooms share, so that a signature says what may be given."""

from __future__ import annotations

import os
from collections.abc import Hashable, Iterable, Mapping, Sequence
from datetime import date
from typing import Any, TypeAlias

import numpy as np
import pandas as pd

#: A place on the disk.
PathLike: TypeAlias = str | os.PathLike[str]
#: The name of a heat or a column.
Label: TypeAlias = Hashable
#: What stands in one cell of a table, before it is read.
Cell: TypeAlias = str | float | bool | date | None
#: One number, or several of one shape.
Numbers: TypeAlias = float | Sequence[float] | np.ndarray | pd.Series
#: A condition: one value for all heats, or one a heat; None where it is not given.
Given: TypeAlias = float | str | Sequence[Any] | np.ndarray | pd.Series | Mapping[Any, Any] | None
#: Amounts by name: of each heat, or of one.
Columns: TypeAlias = Mapping[str, Any]
#: A table of the user's: a file, its content, or what pandas makes a table of.
TableLike: TypeAlias = PathLike | bytes | pd.DataFrame | Mapping[Any, Any] | Iterable[Any]
#: Whatever `as_batch` makes a batch of.
HeatsLike: TypeAlias = pd.DataFrame | pd.Series | TableLike
