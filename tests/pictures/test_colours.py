"""The colours of the pictures for eyes that see fewer of them, and without any colour at all.

Shapes and written labels carry the meaning; that the colours differ as well is a help, and is held
here by simulating dichromats after Machado, Oliveira and Fernandes, "A physiologically-based model
for simulation of color vision deficiency", IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291-1298,
severity 1.0; the matrices act on linear RGB.
"""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

import gradekit as gk
from gradekit.core.markup import verdict
from gradekit.core.svg import write
from gradekit.core.verdicts import SIGNS
from gradekit.pictures.curves import lines
from gradekit.pictures.draw import background, draw
from gradekit.pictures.marks import Mark
from gradekit.pictures.overlay import mark_shape, overlay
from gradekit.pictures.style import COLOURS, INK, MARKERS, QUIET, SHAPES, tint

SEEN = {
    "as it is": np.eye(3),
    "protan": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deutan": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritan": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
# CIE 76 differences in L*a*b*: 2.3 is just noticeable, and marks are seen apart from each other.
APART = 12.0
FIRST = 4  # the colours of the groups that nearly every picture has
STEELS = [
    {"heat": f"H{n}", "C": 0.02, "Si": 0.5, "Mn": 1.5, "Cr": 18 + n, "Ni": 9 + n / 2, "N": 0.05}
    | {"Mo": 0.2, "Nb": 0.0, "Cu": 0.2}
    for n in range(len(SHAPES))
]


def linear(colour) -> np.ndarray:
    """Return linear RGB of '#rrggbb' or of three numbers up to 1 (IEC 61966-2-1)."""
    if isinstance(colour, str):
        colour = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    c = np.asarray(colour)
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def luminance(rgb) -> float:
    return float(np.asarray(rgb) @ (0.2126, 0.7152, 0.0722))


def contrast(one, other) -> float:
    """Return the contrast ratio of two colours (WCAG 2)."""
    high, low = sorted((luminance(linear(one)), luminance(linear(other))), reverse=True)
    return (high + 0.05) / (low + 0.05)


def lab(rgb) -> np.ndarray:
    """Return L*a*b* of linear RGB, white D65."""
    to_xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    )
    x, y, z = np.cbrt(to_xyz @ np.clip(rgb, 0.008856, 1) / (0.9505, 1.0, 1.089))
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


@pytest.mark.parametrize("eyes", SEEN)
def test_every_two_colours_stay_apart(eyes):
    labs = [lab(SEEN[eyes] @ linear(c)) for c in COLOURS]
    for (i, one), (j, other) in itertools.combinations(enumerate(labs), 2):
        assert np.linalg.norm(one - other) >= APART, (eyes, COLOURS[i], COLOURS[j])


def test_the_simulation_itself():
    for eyes, matrix in SEEN.items():
        # White stays white for all, and what each cannot tell apart comes close.
        assert np.sum(matrix, axis=1) == pytest.approx(1, abs=1e-5), eyes
    red, green = "#b04a2f", "#6d7a1f"
    near = {
        eyes: np.linalg.norm(lab(matrix @ linear(red)) - lab(matrix @ linear(green)))
        for eyes, matrix in SEEN.items()
    }
    assert near["deutan"] < 0.5 * near["as it is"] and near["tritan"] > 0.5 * near["as it is"]


def test_without_colour_the_shapes_tell_groups_apart():
    assert len(set(SHAPES)) == len(COLOURS) == len(MARKERS) == len(set(MARKERS.values()))
    assert len({write(mark_shape(name, 0, 0, 10)) for name in SHAPES}) == len(SHAPES)
    # The four most used differ in grey as well, by a step of lightness that is seen.
    grey = sorted(lab(np.full(3, luminance(linear(c))))[0] for c in COLOURS)
    assert grey[-1] - grey[0] > 30


def test_what_a_group_is_stands_in_words_and_shapes():
    kinds = [f"kind {n}" for n in range(len(SHAPES))]
    drawn = draw("delong_1973", STEELS, group=kinds)
    written = set(texts(drawn.svg))
    assert set(kinds) <= written
    marks = [Mark(18 + n, 10, f"M{n}", style=n) for n in range(FIRST)]
    moving = write(overlay(background("delong_1973", 640)[1], marks))
    assert {m.name for m in marks} <= set(texts(moving))
    corners = {len(p.split()) for p in re.findall(r'<polygon points="([^"]*)"', moving)}
    assert moving.count("<circle") == 1 and {3, 4} <= corners


def test_fields_and_lines_are_labelled_where_they_are():
    for name in ("wrc_1992", "schaeffler_1949", "delong_1973"):
        diagram = gk.diagram(name)
        assert {r.label for r in diagram.regions} <= set(texts(draw(name).svg))
    picture = lines([1, 2], {"one": [1, 2], "other": [2, 1]}, xlabel="N, wt%", ylabel="PREN")
    assert {"one", "other"} <= set(texts(picture.svg))


def test_letters_are_dark_enough_on_every_field():
    fields = [tint(label, n) for n, label in enumerate(("A", "F", "M", "A+F", "A+M+F", "FA", "?"))]
    for ground in [*fields, (1.0, 1.0, 1.0)]:
        assert contrast(INK, ground) >= 7
        assert contrast(QUIET, ground) >= 4.5


@pytest.mark.parametrize("colour", COLOURS[: FIRST + 2])
def test_marks_are_seen_on_white(colour):
    assert contrast(colour, "#ffffff") >= 3


def test_verdicts_have_a_sign_that_is_no_colour():
    groups = {"ok": "✓", "caution": "△", "stop": "✕", "not assessed": "○"}
    assert {word: SIGNS[word] for word in groups} == groups
    assert all(verdict(word).startswith(f"{sign} ") for word, sign in SIGNS.items())


def texts(svg: str) -> list[str]:
    return ["".join(t.itertext()) for t in ET.fromstring(f"<r>{svg}</r>").iter()
            if t.tag.endswith("text")]  # fmt: skip
