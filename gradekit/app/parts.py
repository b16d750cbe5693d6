"""What makes up a value, as strings: a bar a term, drawn anew at every step."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from gradekit.html import escape, number

__all__ = ["parts_svg", "parts_words", "term", "value_words"]

_WIDTH, _LEFT, _RIGHT, _ROW = 560, 150, 64, 20
_UP, _DOWN = "#1f6f9f", "#b5541c"


def term(text: object) -> str:
    """Return a term of a formula as one reads it.

    Examples
    --------
    >>> term("-(13.7 * Cr)"), term("30*C"), term("551")
    ('−13.7 Cr', '30 C', 'constant')
    """
    if re.fullmatch(r"-?[\d.]+", str(text)):
        return "constant"
    text = re.sub(r"^-\((.*)\)$", r"-\1", str(text))
    text = re.sub(r" ?\* ?(?=[A-Za-z(])", " ", text)
    return text.replace("-", "−", 1) if text.startswith("-") else text


def parts_words(title: str, table: pd.DataFrame) -> str:
    """Say a table of `gk.explain` in one sentence."""
    if not np.isfinite(table.attrs["value"]):
        return f"{title}: no value ({table['kind'].iloc[0]})."
    parts = ", ".join(f"{name}: {number(size, 3)}" for name, size in _shown(table))
    return f"{value_words(title, table)} = {parts or 'nothing'}."


def value_words(title: str, table: pd.DataFrame) -> str:
    """Say the value of a table of `gk.explain`."""
    unit = "" if table.attrs["unit"] == "1" else f" {table.attrs['unit']}"
    return f"{title}: {number(table.attrs['value'], 4)}{unit}"


def parts_svg(tables: dict[str, pd.DataFrame]) -> str:
    """Return the terms of several relations as bars to both sides of a common zero.

    Parameters
    ----------
    tables : mapping of title to a table of `gk.explain`
    """
    rows, y = [], 4
    for title, table in tables.items():
        shown = _shown(table)
        sizes = [size for _, size in shown]
        rows.append(
            f'<text x="4" y="{y + 14}" font-weight="700">{escape(value_words(title, table))}</text>'
        )
        y += _ROW + 2
        low, high = min([0.0, *sizes]), max([0.0, *sizes])
        scale = (_WIDTH - _LEFT - _RIGHT) / ((high - low) or 1.0)
        zero = _LEFT - low * scale
        top = y
        for name, size in shown:
            width = abs(size) * scale
            left = zero if size >= 0 else zero - width
            after = left + width + 4 if size >= 0 else zero + 4
            rows.append(
                f'<text x="{_LEFT - 8}" y="{y + 14}" text-anchor="end">{escape(name)}</text>'
                f'<rect x="{left:.1f}" y="{y + 3}" width="{width:.1f}" height="14" '
                f'fill="{_UP if size >= 0 else _DOWN}"/>'
                f'<text x="{after:.1f}" y="{y + 14}">{number(size, 3)}</text>'
            )
            y += _ROW
        rows.append(f'<path d="M{zero:.1f} {top}V{y}" stroke="currentColor"/>')
        y += 10
    words = escape(" ".join(parts_words(title, table) for title, table in tables.items()))
    return (
        f'<svg viewBox="0 0 {_WIDTH} {y}" role="img" aria-label="{words}" font-size="13" '
        f'font-family="DejaVu Sans,Verdana,Arial,sans-serif" fill="currentColor" '
        f'style="max-width:{_WIDTH}px">{"".join(rows)}</svg>'
    )


def _shown(table: pd.DataFrame) -> list[tuple[str, float]]:
    """The contributions by 'coefficient × amount'; a term of nothing only takes room."""
    columns = (table[name].tolist() for name in ("amount", "coefficient", "contribution"))
    return [
        (f"{number(c, 4)} × {number(a, 4)} {t}".removeprefix("1 × "), size)
        if np.isfinite(c) and t.isalpha()
        else (term(t), size)
        for t, a, c, size in zip(table.index, *columns, strict=True)
        if np.isfinite(size) and size != 0
    ]
