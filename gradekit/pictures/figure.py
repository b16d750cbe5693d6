"""A picture that saves itself whole, tells a screen reader what it shows, and needs no kernel."""

from __future__ import annotations

import io
import os
from collections import Counter
from collections.abc import Set
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element, fromstring

from gradekit.core.errors import one_of
from gradekit.core.files import write_whole
from gradekit.core.markup import picture
from gradekit.core.svg import drawing, plain_groups, printable, rounded, terse_path, write
from gradekit.pictures.style import styled

if TYPE_CHECKING:
    from matplotlib.figure import Figure as Canvas

_FORMATS = ("svg", "png", "pdf")


class Figure:
    """A finished picture.

    Parameters
    ----------
    canvas : matplotlib Figure
    title : str
    description : str
        What the picture shows, in words.

    Attributes
    ----------
    canvas : matplotlib Figure
        For further work with matplotlib.
    svg : str
        The picture as SVG with text as text, `<title>` and `<desc>`.
    """

    def __init__(self, canvas: Canvas, title: str, description: str):
        self._canvas = canvas
        self.title, self.description = printable(title), printable(description)

    @property
    def canvas(self) -> Canvas:
        """The picture as a matplotlib figure."""
        return self._canvas

    @cached_property
    def tree(self) -> Element:
        """The picture as a tree of SVG elements."""
        return page_svg(self._bytes("svg"), self.title, self.description)

    @property
    def svg(self) -> str:
        return write(self.tree)

    def save(self, path: str | os.PathLike) -> Path:
        """Write the picture as SVG, PNG (two pixels a unit) or PDF, by the ending of the path.

        Returns
        -------
        Path
        """
        path = Path(path)
        kind = path.suffix.lower().lstrip(".")
        one_of(f"ending of '{path.name}'", kind, _FORMATS)
        return write_whole(path, self.svg if kind == "svg" else self._bytes(kind))

    def _bytes(self, kind: str) -> bytes:
        buffer = io.BytesIO()
        about = {"svg": {"Date": None, "Title": self.title}, "png": {"Title": self.title}}
        about["pdf"] = {"Title": self.title, "Subject": self.description, "CreationDate": None}
        with styled():
            self.canvas.savefig(
                buffer, format=kind, metadata=about[kind], dpi=144 if kind == "png" else 72
            )
        return buffer.getvalue()

    @property
    def words(self) -> str:
        """Title and description, for those who hear the picture; no title is said twice."""
        if self.description.startswith(self.title):
            return self.description
        return f"{self.title}. {self.description}"

    def _repr_html_(self) -> str:
        return picture(self.tree, self.words)

    def __repr__(self) -> str:
        return f"Figure: {self.words}"


def page_svg(raw: bytes, title: str = "", description: str = "") -> Element:
    """Make what matplotlib writes fit to stand in a page.

    Its rule for every element of the page, unused names and defaults go; title, description and a
    size that follows the page come in.
    """
    root = fromstring(raw)
    width, height = (float(root.get(side, "").removesuffix("pt")) for side in ("width", "height"))
    for node in root.iter():
        node.tag = node.tag.rpartition("}")[2]
        node.attrib = {k.rpartition("}")[2]: v for k, v in node.attrib.items()}
        node.text = (node.text or "").strip()
    parts = [n for n in root if n.tag not in ("metadata", "title")]
    parts = [n for n in parts if n.tag != "defs" or any(m.tag != "style" for m in n)]
    styles = [_styles(node) for part in parts for node in part.iter() if node.get("style")]
    fonts = Counter(s["font-family"] for s in styles if "font-family" in s)
    font = fonts.most_common(1)[0][0] if fonts else ""
    body = Element("g")
    body.extend(parts)
    for node in body.iter():
        _shorten(node, font)
    _drop_unused(body)
    plain_groups(body)
    return drawing(
        width, height, *body, title=title, words=description,
        style=f"stroke-linejoin:round;stroke-linecap:butt;font-family:{font}".replace("'", ""),
    )  # fmt: skip


def _styles(node: Element) -> dict[str, str]:
    pairs = (part.partition(":") for part in node.get("style", "").split(";") if part.strip())
    return {key.strip(): value.strip() for key, _, value in pairs}


def _shorten(node: Element, font: str) -> None:
    """Write one element with two decimals a number, and without what changes nothing."""
    if style := _styles(node):
        if style.get("font-family") == font:
            del style["font-family"]
        node.set(
            "style", rounded(";".join(f"{k}:{v.replace(', ', ',')}" for k, v in style.items()))
        )
    if "rotate(-0 " in node.get("transform", ""):  # at every upright text
        del node.attrib["transform"]
    for key in ("transform", "x", "y", "width", "height", "points"):
        if key in node.attrib:
            node.set(key, rounded(node.get(key, "")))
    if node.tag == "path":
        node.set("d", terse_path(node.get("d", "")))


def _drop_unused(body: Element) -> None:
    """Remove unused names, and styles of ticks and marks that their own path overrules."""
    values = [v for node in body.iter() for k, v in node.attrib.items() if k != "id"]
    used = {v[1:] for v in values if v.startswith("#")}
    used |= {v.partition("url(#")[2].partition(")")[0] for v in values if "url(#" in v}
    looks: dict[str, Set[str]] = {}
    for node in body.iter():
        if node.get("id") and node.get("id") not in used:
            del node.attrib["id"]
        if node.tag == "path" and node.get("id"):
            looks[f"#{node.get('id')}"] = _styles(node).keys()
    for node in body.iter("use"):
        if node.get("style") and _styles(node).keys() <= looks.get(node.get("href", ""), set()):
            del node.attrib["style"]
