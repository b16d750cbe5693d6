"""Python text for what a panel was given, so that its code runs without the notebook around it."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError


class Code:
    """Lines of Python with the imports that their values ask for.

    Examples
    --------
    >>> code = Code()
    >>> print(code.text(f"steel = {code.of(pd.DataFrame({'Cr': [18.0]}, index=['H1']))}"))
    import gradekit as gk
    import pandas as pd
    <BLANKLINE>
    steel = pd.DataFrame({'Cr': [18.0]}, index=['H1'])
    """

    def __init__(self) -> None:
        self._imports = {"import gradekit as gk": None}

    def text(self, *lines: str) -> str:
        """Return lines with the imports that their values ask for above them."""
        return "\n".join([*self._imports, "", *lines])

    def given(self, values: Mapping[str, Any] | Iterable[tuple[str, Any]]) -> str:
        """Return values as further arguments of a call, each by its name."""
        return "".join(f", {name}={self.of(value)}" for name, value in dict(values).items())

    def read(self, reader: str, given: Any) -> str:
        """Return an expression for what was given: as a path, it is read as a panel reads it."""
        by_path = isinstance(given, str | os.PathLike)
        return f"{reader}({self.of(given)})" if by_path else self.of(given)

    def of(self, value: object) -> str:
        """Return an expression that makes an equal value.

        Raises
        ------
        InputError
            Something that is no plain data, table or record of them.
        """
        if value is None or isinstance(value, bool | int | str):
            return repr(value)
        if isinstance(value, os.PathLike):
            return repr(os.fspath(value))
        if isinstance(value, np.bool_ | np.integer | np.str_):
            return repr(value.item())
        if isinstance(value, float | np.floating):
            return repr(float(value)) if np.isfinite(value) else f"float({str(float(value))!r})"
        if isinstance(value, Mapping):
            return f"{{{', '.join(f'{self.of(k)}: {self.of(v)}' for k, v in value.items())}}}"
        if isinstance(value, list):
            return f"[{', '.join(map(self.of, value))}]"
        if isinstance(value, tuple):
            return f"({''.join(f'{self.of(v)}, ' for v in value).strip()})"
        if isinstance(value, np.ndarray):
            self._imports["import numpy as np"] = None
            return f"np.array({self.of(value.tolist())})"
        if isinstance(value, pd.Series | pd.DataFrame):
            return self._of_table(value)
        if is_dataclass(value) and not isinstance(value, type):
            kind = type(value)
            self._imports[f"from {kind.__module__} import {kind.__qualname__}"] = None
            given = (f"{f.name}={self.of(getattr(value, f.name))}" for f in fields(value) if f.init)
            return f"{kind.__qualname__}({', '.join(given)})"
        raise InputError("code for this", "plain data or a table", type(value).__name__)

    def _of_table(self, value: pd.Series | pd.DataFrame) -> str:
        self._imports["import pandas as pd"] = None
        kind = type(value).__name__
        index = self.of(value.index.tolist())
        if value.index.name is not None:
            index = f"pd.Index({index}, name={value.index.name!r})"
        if isinstance(value, pd.DataFrame):
            held = self.of({name: value[name].tolist() for name in value})
        else:
            held = self.of(value.tolist())
        counts = isinstance(value.index, pd.RangeIndex) and value.index.name is None
        dtype = ", dtype=float" if not len(value) else ""
        return f"pd.{kind}({held}{'' if counts else f', index={index}'}{dtype})"
