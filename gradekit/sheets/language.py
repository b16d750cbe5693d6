"""The words of a sheet in another language: one table a language, whole texts or their parts."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from gradekit.core.errors import one_of
from gradekit.core.json_text import read_json

_TABLES = {p.stem.removeprefix("words_"): p for p in Path(__file__).parent.glob("words_*.json")}
#: Languages of the sheet: English, and each that has a words table.
LANGUAGES = ("en", *sorted(_TABLES))

#: Figures, grades and classes, which are the same in every language.
_FIGURE = re.compile(r"[+−-]?\b(?:[A-Za-z]{0,4}\d(?:[\w.,/+−-]*\w)?|[IV]+)\b")
#: A decimal number, which an EN number such as 1.4301 is not.
_DECIMAL = re.compile(r"(?<![\w.,])(?!1\.\d{4}(?!\d))(\d+)\.(\d+)(?![\d.]*\.\d)")
#: Where a text that is not known whole is taken apart, the strongest first.
_SEAMS = ("; ", ". ", " · ", ": ", " / ", ", ", " (", ")")


class Tongue:
    """A language by its table.

    A key is a text as it stands in English, with '#' for every figure, grade and class; its value
    holds the same '#' in the same order. A text that is not in the table is taken apart at its
    signs, and what is not known in parts either stays English.

    Examples
    --------
    >>> german = tongue("de")
    >>> german("not supported"), german("17.5 against 23.1 at the poorest composition of each")
    ('nicht zu empfehlen', '17,5 gegen 23,1, jeweils an der ärmsten Zusammensetzung')
    """

    def __init__(self, name: str, table: dict[str, str]):
        self.name = name
        self._table = table

    def __call__(self, text: str) -> str:
        if not self._table or not text:
            return text
        sign = self._table.get("decimal sign", ".")
        return _DECIMAL.sub(rf"\1{sign}\2", self._said(text, 0))

    def knows(self, text: str) -> bool:
        """Return whether the table holds a text whole."""
        return not self._table or bool({text, _FIGURE.sub("#", text)} & self._table.keys())

    def _said(self, text: str, seam: int) -> str:
        bare = text.strip()
        if (whole := self._table.get(bare)) is not None:
            return text.replace(bare, whole, 1)
        pattern = _FIGURE.sub("#", bare)
        if pattern == "#" or not bare:
            return text
        if (whole := self._table.get(pattern)) is not None:
            figures = iter(_FIGURE.findall(bare))
            return text.replace(bare, re.sub("#", lambda _: next(figures), whole), 1)
        if bare.endswith("."):
            return text.replace(bare, f"{self._said(bare[:-1], seam)}.", 1)
        for k in range(seam, len(_SEAMS)):
            if _SEAMS[k] in text:
                return _SEAMS[k].join(self._said(part, k + 1) for part in text.split(_SEAMS[k]))
        return text


@cache
def tongue(language: str) -> Tongue:
    """Return a language of the sheet.

    Raises
    ------
    InputError
        A language without a table.
    """
    one_of("language", language, LANGUAGES)
    return Tongue(language, {} if language == "en" else read_json(_TABLES[language]))
