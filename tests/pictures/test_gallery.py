"""The page of all figures: its very cells are run, and each figure is held to what it promises."""

from __future__ import annotations

import importlib
import inspect
import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "notebooks" / "07-figures.ipynb"
# Modules whose public functions give figures.
DRAWING = tuple(
    f"pictures.{m}"
    for m in (
        "comparing", "curves", "draw", "fit_chart", "route_chart", "space_map", "temperature_chart",
        "works_maps",
    )
)  # fmt: skip
COLUMN, WHOLE_WIDTH = 86.0, 178.0  # mm
SMALLEST = 6.0  # points
LARGEST = 100_000  # bytes
SIZE = re.compile(r"""font(?:-size)?[:=]["']? ?(?:\w+ )??([\d.]+)(?:px)?""")


def sources() -> list[str]:
    cells = json.loads(PAGE.read_text("utf-8"))["cells"]
    return ["".join(c["source"]) for c in cells if c["cell_type"] == "code"]


@pytest.fixture(scope="module")
def figures() -> dict[str, object]:
    """Return the figure that each cell of the page ends with, by the source of the cell."""
    names: dict[str, object] = {}
    found = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(PAGE.parent)
        for source in sources():
            *lead, last = re.split(r"\n(?=\S)", source)
            if last.startswith(")"):
                lead, last = lead[:-1], f"{lead[-1]}\n{last}"
            exec("\n".join(lead), names)
            if re.match(r"[\w.]+\(", last) and not last.startswith("print"):
                found[source] = eval(last, names)
            else:
                exec(last, names)
    return found


def test_every_function_that_gives_a_figure_is_on_the_page():
    shown = "\n".join(sources())
    drawing = {
        name
        for module in (importlib.import_module(f"gradekit.{m}") for m in DRAWING)
        for name, f in inspect.getmembers(module, inspect.isfunction)
        if f.__module__ == module.__name__
        and not name.startswith("_")
        and str(inspect.signature(f).return_annotation) in ("Figure", "RouteChart")
    }
    assert len(drawing) >= 10
    assert {name for name in drawing if not re.search(rf"\b{name}\(", shown)} == set()


def test_every_figure_is_small_says_what_it_is_and_can_be_read_in_print(figures):
    assert len(figures) >= 12
    for source, figure in figures.items():
        svg = figure.svg
        root = ET.fromstring(svg)
        assert root.tag.endswith("svg") and root.get("role") == "img", source
        said = root.get("aria-label") or " ".join(
            e.text for e in root if e.tag.endswith(("title", "desc"))
        )
        assert len(said) > 30, source
        assert len(svg.encode()) < LARGEST, source
        assert "<script" not in svg and not re.search(r"(href|src)=['\"]http", svg), source
        page = COLUMN if "width=column" in source else WHOLE_WIDTH
        wide = float(root.get("viewBox").split()[2])
        sizes = [float(size) for size in SIZE.findall(svg)]
        assert sizes, source
        points = min(sizes) / wide * page / 25.4 * 72
        assert points >= SMALLEST, (source, points)


def test_no_title_is_said_twice(figures):
    spoken = [figure for figure in figures.values() if hasattr(figure, "words")]
    assert len(spoken) >= 10
    for figure in spoken:
        assert figure.words.startswith(figure.title) and figure.description in figure.words
        assert not figure.words.startswith(f"{figure.title}. {figure.title}")


def test_letters_stay_letters(figures):
    for source, figure in figures.items():
        texts = [e for e in ET.fromstring(figure.svg).iter() if e.tag.endswith("}text")]
        assert len(texts) >= 5, source


def test_the_page_says_how_small_a_screen_picture_gets():
    text = PAGE.read_text("utf-8")
    assert "11 px × 86 mm / 760 px = 1.24 mm" in text
    assert pytest.approx(1.24, abs=0.005) == 11 * COLUMN / 760
    assert pytest.approx(3.5, abs=0.05) == 11 * COLUMN / 760 / 25.4 * 72
