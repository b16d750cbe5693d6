"""A picture that saves itself whole, tells a screen reader what it shows, and needs no kernel."""

from __future__ import annotations

import hashlib
import io
import os
import re
from functools import cached_property
from pathlib import Path

from gradekit.core.errors import InputError, nearest
from gradekit.core.files import write_whole
from gradekit.core.markup import escape, picture
from gradekit.core.svg import compact
from gradekit.pictures.style import styled

__all__ = ["Figure", "clean_svg"]

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

    def __init__(self, canvas: object, title: str, description: str):
        self.canvas, self.title, self.description = canvas, title, description

    @cached_property
    def svg(self) -> str:
        return clean_svg(self._bytes("svg").decode("utf-8"), self.title, self.description)

    def save(self, path: str | os.PathLike) -> Path:
        """Write the picture as SVG, PNG (two pixels a unit) or PDF, by the ending of the path.

        Returns
        -------
        Path
        """
        path = Path(path)
        kind = path.suffix.lower().lstrip(".")
        if kind not in _FORMATS:
            raise InputError(
                f"ending of '{path.name}'", ", ".join(_FORMATS), kind, nearest(kind, _FORMATS)
            )
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
        return picture(self.svg, self.words)

    def __repr__(self) -> str:
        return f"Figure: {self.words}"


def clean_svg(raw: str, title: str = "", description: str = "") -> str:
    """Make the SVG of matplotlib fit to stand in a page.

    Its rule for every element of the page and its ids go; title, description and a size that
    follows the page come in.
    """
    body = raw[raw.index("<svg") :]
    width, height = (
        float(re.search(rf'\b{side}="([\d.]+)pt"', body).group(1)) for side in ("width", "height")
    )
    inside = body[body.index(">") + 1 : body.rindex("</svg>")]
    inside = re.sub(r"<(metadata|title)>.*?</\1>", "", inside, flags=re.S)
    inside = re.sub(r"<style[^>]*>.*?</style>", "", inside, flags=re.S)
    inside = re.sub(r"<defs>\s*</defs>", "", inside)
    inside = re.sub(r"<!--.*?-->", "", inside, flags=re.S)
    inside = re.sub(r'<g id="[^"]*"', "<g", inside)
    inside = re.sub(r">\s+<", "><", inside)
    # What is said at every text and point and changes nothing: half of a small picture.
    inside = re.sub(r' transform="rotate\(-0 [^)]*\)"', "", inside)
    families = re.findall(r"font-family: ([^;\"]*); ?", inside)
    family = max(set(families), key=families.count) if families else ""
    if family:
        inside = inside.replace(f"font-family: {family}; ", "")
    inside = compact(re.sub(r" ?\n", " ", inside).strip())
    # A tick carries its look itself; its every use need not say it again.
    tick = r'<path id="(\w+)" d="M(?:[ -]*[\d.]+){4}" style="([^"]*)"/>'
    for key, look in re.findall(tick, inside):
        used = rf'(<use xlink:href="#{key}" [^>]*?) style="[^"]*{re.escape(look)}"/>'
        inside = re.sub(used, r"\1/>", inside)
    family = family.replace("'", "")
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'viewBox="0 0 {width:g} {height:g}" '
        f'style="width:100%;max-width:{width:g}px;height:auto;display:block;'
        f'stroke-linejoin:round;stroke-linecap:butt;font-family:{family}" '
    )
    if not title:
        return f'{head}aria-hidden="true">{inside}</svg>'
    key = hashlib.sha1((title + description + inside).encode()).hexdigest()[:10]
    return (
        f'{head}role="img" aria-labelledby="t{key} d{key}"><title id="t{key}">{escape(title)}'
        f'</title><desc id="d{key}">{escape(description)}</desc>{inside}</svg>'
    )
