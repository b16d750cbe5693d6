"""What makes up a value, as strings: a bar a term, drawn anew at every step."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from xml.etree.ElementTree import Element

from gradekit.app.pages.told import NEGLIGIBLE
from gradekit.core.markup import number
from gradekit.core.svg import FONT, drawing, shape
from gradekit.pictures.curves import term
from gradekit.pictures.style import text_size
from gradekit.relations.explain import Breakdown, Share

_WIDTH, _LEFT, _RIGHT, _ROW = 560, 150, 64, 20
_UP, _DOWN = "#1f6f9f", "#b5541c"


def value_words(value: Breakdown) -> str:
    """Say a value with the title of its relation."""
    unit = value.relation.unit_behind
    return f"{value.relation.title}: {number(value.value, 4)}{unit}"


def parts_of(value: Breakdown) -> tuple[str, list[tuple[str, float]]]:
    """Return a value in words and its parts, each by 'coefficient × amount' and its size."""
    return value_words(value), [
        (_named(part), part.contribution)
        for part in value.parts
        if abs(part.contribution) > NEGLIGIBLE
    ]


def parts_svg(values: Iterable[tuple[str, Sequence[tuple[str, float]]]]) -> Element:
    """Return the parts of several values as bars to both sides of a common zero.

    Parameters
    ----------
    values : iterable of (title, parts), as `parts_of` gives them
        A part is its name and its size.

    Returns
    -------
    Element
        A picture; its label says all values and parts in words.

    Examples
    --------
    >>> from gradekit.relations.evaluate import evaluate
    >>> from gradekit.relations.explain import take_apart
    >>> result = evaluate({"Cr": 18.0, "Mo": 0.3, "N": 0.05}, "pren_16n")
    >>> parts_svg(map(parts_of, take_apart(result, "heat 1"))).get("aria-label")[:37]
    'PREN with 16N: 19.79 = 18 Cr: 18, 3.3'
    """
    rows, words, y = [], [], 4
    for title, shown in values:
        told = ", ".join(f"{name}: {number(size, 3)}" for name, size in shown)
        words.append(f"{' = '.join(filter(None, (title, told)))}.")
        sizes = [size for _, size in shown]
        long = text_size(title, 13)[0] > _WIDTH - 8
        rows.append(
            shape("text", title, x=4, y=y + 14, font_weight="700",
                  textLength=_WIDTH - 8 if long else None,
                  lengthAdjust="spacingAndGlyphs" if long else None)
        )  # fmt: skip
        y += _ROW + 2
        low, high = min([0.0, *sizes]), max([0.0, *sizes])
        scale = (_WIDTH - _LEFT - _RIGHT) / ((high - low) or 1.0)
        zero = _LEFT - low * scale
        top = y
        for name, size in shown:
            width = abs(size) * scale
            left = zero if size >= 0 else zero - width
            after = left + width + 4 if size >= 0 else zero + 4
            colour = _UP if size >= 0 else _DOWN
            rows += [
                shape("text", name, x=_LEFT - 8, y=y + 14, text_anchor="end"),
                shape("rect", x=left, y=y + 3, width=width, height=14, fill=colour),
                shape("text", number(size, 3), x=after, y=y + 14),
            ]
            y += _ROW
        rows.append(shape("path", d=f"M{zero:.1f} {top}V{y}", stroke="currentColor"))
        y += 10
    return drawing(
        _WIDTH, y, *rows, words=" ".join(words), font_size=13, font_family=FONT,
        fill="currentColor",
    )  # fmt: skip


def _named(part: Share) -> str:
    if not (math.isfinite(part.coefficient) and part.term.isalpha()):
        return term(part.term)
    words = f"{number(part.coefficient, 4)} × {number(part.amount, 4)} {part.term}"
    return words.removeprefix("1 × ")
