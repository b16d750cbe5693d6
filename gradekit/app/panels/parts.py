"""What makes up a value, as strings: a bar a term, drawn anew at every step."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from functools import cache

from gradekit.core.markup import escape, number
from gradekit.relations.explain import Breakdown, Part

__all__ = ["parts_svg", "term", "value_words"]

_WIDTH, _LEFT, _RIGHT, _ROW = 560, 150, 64, 20
_UP, _DOWN = "#1f6f9f", "#b5541c"


@cache
def term(text: str) -> str:
    """Return a term of a formula as one reads it.

    Examples
    --------
    >>> term("-(13.7 * Cr)"), term("30*C"), term("551")
    ('−13.7 Cr', '30 C', 'constant')
    """
    if re.fullmatch(r"-?[\d.]+", text):
        return "constant"
    text = re.sub(r"^-\((.*)\)$", r"-\1", text)
    text = re.sub(r" ?\* ?(?=[A-Za-z(])", " ", text)
    return text.replace("-", "−", 1) if text.startswith("-") else text


def value_words(found: Breakdown) -> str:
    """Say a value with the title of its relation."""
    unit = "" if found.relation.unit == "1" else f" {found.relation.unit}"
    return f"{found.relation.title}: {number(found.value, 4)}{unit}"


def parts_svg(taken: Iterable[Breakdown]) -> str:
    """Return the parts of several values as bars to both sides of a common zero.

    Parameters
    ----------
    taken : iterable of Breakdown, as `gradekit.relations.explain.take_apart` gives them

    Returns
    -------
    str
        An SVG; its label says all values and parts in words.

    Examples
    --------
    >>> from gradekit.relations.evaluate import evaluate
    >>> from gradekit.relations.explain import take_apart
    >>> result = evaluate({"Cr": 18.0, "Mo": 0.3, "N": 0.05}, "pren_16n")
    >>> parts_svg(take_apart(result, "heat 1")).split('aria-label="')[1][:37]
    'PREN with 16N: 19.79 = 18 Cr: 18, 3.3'
    """
    rows, words, y = [], [], 4
    for found in taken:
        shown = _shown(found)
        words.append(_sentence(found, shown))
        sizes = [size for _, size in shown]
        rows.append(
            f'<text x="4" y="{y + 14}" font-weight="700">{escape(value_words(found))}</text>'
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
    return (
        f'<svg viewBox="0 0 {_WIDTH} {y}" role="img" aria-label="{escape(" ".join(words))}" '
        f'font-size="13" font-family="DejaVu Sans,Verdana,Arial,sans-serif" fill="currentColor" '
        f'style="max-width:{_WIDTH}px">{"".join(rows)}</svg>'
    )


def _sentence(found: Breakdown, shown: list[tuple[str, float]]) -> str:
    if not math.isfinite(found.value):
        return f"{found.relation.title}: no value ({found.parts[0].kind})."
    parts = ", ".join(f"{name}: {number(size, 3)}" for name, size in shown)
    return f"{value_words(found)} = {parts or 'nothing'}."


def _shown(found: Breakdown) -> list[tuple[str, float]]:
    """The contributions by 'coefficient × amount'; a term of nothing only takes room."""
    return [
        (_named(part), part.contribution)
        for part in found.parts
        if math.isfinite(part.contribution) and part.contribution != 0
    ]


def _named(part: Part) -> str:
    if not (math.isfinite(part.coefficient) and part.term.isalpha()):
        return term(part.term)
    words = f"{number(part.coefficient, 4)} × {number(part.amount, 4)} {part.term}"
    return words.removeprefix("1 × ")
