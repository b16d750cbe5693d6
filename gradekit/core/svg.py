"""Pictures as trees of SVG elements, and the one writer that turns a tree into text."""

from __future__ import annotations

import html
import re
from collections import Counter
from collections.abc import Iterator
from copy import deepcopy
from functools import cache
from itertools import count
from xml.etree.ElementTree import Element

# What no page and no picture can hold: control characters, halves of a pair.
_UNPRINTABLE = dict.fromkeys(
    [*range(9), 11, 12, *range(14, 32), *range(0xD800, 0xE000), 0xFFFE, 0xFFFF], "\ufffd"
)

FONT = "DejaVu Sans,Verdana,Arial,sans-serif"
# A rule is written for a repeated style only if it saves so many letters.
_WORTH = 20
# The two regular expressions that stay: matplotlib writes every number with six decimals, and path
# data is a small language of its own, for which neither it nor the standard library has a reader.
_DECIMAL = re.compile(r"(?<![\w#.])-?\d+\.\d+")
_STEP = re.compile(r"[A-Za-z]|-?[\d.]+")


def shape(tag: str, *inside: Element | str, **attributes: str | float | None) -> Element:
    """Return one element of a picture.

    Parameters
    ----------
    tag : str
    *inside : elements, or the words of a text
    **attributes : texts or numbers
        Numbers are written with one decimal; what is None is left out. `_` stands for `-`, and at
        the end for nothing: `font_size`, `class_`.

    Examples
    --------
    >>> write(shape("text", "Cr < 18", x=4, y=2.345, fill=None))
    '<text x="4" y="2.3">Cr &lt; 18</text>'
    """
    node = Element(tag)
    for name, value in attributes.items():
        if value is not None:
            node.set(_attribute(name), value if isinstance(value, str) else _number(value))
    for part in inside:
        if isinstance(part, str):
            node.text = part
        else:
            node.append(part)
    return node


@cache
def _attribute(name: str) -> str:
    return name.rstrip("_").replace("_", "-")


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def drawing(
    width: float,
    height: float,
    *inside: Element,
    title: str = "",
    words: str = "",
    **attributes: str | float | None,
) -> Element:
    """Return a picture of a size in pixels that shrinks with its page.

    Parameters
    ----------
    width, height : float
    *inside : elements
    title, words : str
        For those who hear the page; without either the picture is hidden from them. A picture with
        a title also holds both as elements, for whoever opens it as a file.
    **attributes : as for `shape`; they hold for all that is inside

    Examples
    --------
    >>> write(drawing(80, 20, shape("path", d="M0 0H80"), words="a line"))[-45:]
    'aria-label="a line"><path d="M0 0H80"/></svg>'
    """
    own = attributes.pop("style", None)
    style = f"width:100%;max-width:{width:g}px;height:auto;display:block"
    node = shape(
        "svg", xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {width:g} {height:g}",
        style=f"{style};{own}" if own else style, **attributes,
    )  # fmt: skip
    if title or words:
        label = words if words.startswith(title) else f"{title}. {words}".strip(". ")
        node.set("role", "img")
        node.set("aria-label", label)
        if title:
            node.extend([shape("title", title), shape("desc", words)])
    else:
        node.set("aria-hidden", "true")
    node.extend(inside)
    return node


def stacked(*layers: Element) -> Element:
    """Return pictures of one size as one picture, the last on top."""
    node = shape(
        "svg", *layers, xmlns="http://www.w3.org/2000/svg", viewBox=layers[0].get("viewBox")
    )
    node.set("role", "none")
    return node


def spoken(picture: Element) -> str:
    """Return what a picture shows in words."""
    return " ".join(node.get("aria-label", "") for node in picture.iter() if node.get("aria-label"))


def printable(text: str) -> str:
    """Return a text without what no page and no picture can hold; a sign stands in its place.

    Examples
    --------
    >>> printable("heat 1"), printable("heat \x1b1")
    ('heat 1', 'heat \ufffd1')
    """
    return text if text.isprintable() else text.translate(_UNPRINTABLE)


def escape(text: str) -> str:
    """Return a text as it is written in a page."""
    return html.escape(printable(text))


def write(node: Element, quote: str = '"') -> str:
    """Return an element as text, to stand in a page."""
    head = "".join(f" {k}={quote}{escape(v)}{quote}" for k, v in node.attrib.items())
    inside = escape(node.text or "") + "".join([write(part, quote) for part in node])
    return f"<{node.tag}{head}>{inside}</{node.tag}>" if inside else f"<{node.tag}{head}/>"


def document(picture: Element) -> str:
    """Return a picture as a file of its own: repeated styles are rules, names are short.

    Inside of a page its rules would reach other elements, and its names would meet others.

    Examples
    --------
    >>> document(drawing(8, 6, shape("circle", id="dot", r=2)))[-30:]
    "><circle id='i0' r='2'/></svg>"
    """
    node = deepcopy(picture)
    for part in list(node.iter()):
        for told in [inside for inside in part if inside.tag in ("title", "desc")]:
            part.remove(told)
    names = (f"i{k}" for k in count())
    short = {part.attrib["id"]: next(names) for part in node.iter() if part.get("id")}
    for part in node.iter():
        for key in [k for k in part.attrib if k == "role" or k.startswith("aria-")]:
            del part.attrib[key]
        for key, value in part.attrib.items():
            part.set(key, _renamed(key, value, short))
    # An image has the size it states, and knows nothing of the colours of the page around it.
    own = [
        s for s in node.get("style", "").split(";") if s and "width" not in s and "height" not in s
    ]
    node.set("style", ";".join(own))
    _, _, width, height = node.get("viewBox", "").split()
    node.attrib |= {"width": width, "height": height}
    _write_rules(node)
    return write(node, "'")


def _renamed(key: str, value: str, short: dict[str, str]) -> str:
    """An attribute with short names, in the colour of an image, without quotes of its own."""
    if key == "id":
        return short[value]
    if value.startswith("#") and value[1:] in short:
        return f"#{short[value[1:]]}"
    before, url, after = value.partition("url(#")
    if url:
        name, _, rest = after.partition(")")
        value = f"{before}url(#{short.get(name, name)}){rest}"
    return value.replace("currentColor", "#777").replace("'", "")


def _write_rules(node: Element) -> None:
    """Write each style that comes often once, as a rule."""
    styles = Counter(part.attrib["style"] for part in node.iter() if part.get("style"))
    often = [s for s, n in styles.items() if (n - 1) * len(s) - 4 * n > _WORTH]
    rule = {style: f"c{k}" for k, style in enumerate(often)}
    for part in node.iter():
        if part.get("style", "") in rule:
            part.set("class", rule[part.attrib.pop("style")])
    if rule:
        node.insert(0, shape("style", "".join(f".{name}{{{s}}}" for s, name in rule.items())))


def rounded(text: str) -> str:
    """Return a text with at most two decimals in each of its numbers.

    Examples
    --------
    >>> rounded("translate(1.2345 -0.001)")
    'translate(1.23 0)'
    """
    return _DECIMAL.sub(_two_decimals, text)


def _two_decimals(number: re.Match) -> str:
    text = f"{float(number[0]):.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def terse_path(data: str) -> str:
    """Return path data that names a command only where it changes.

    Examples
    --------
    >>> terse_path("M 1.2345 2.00 L 3 -4.5 L 5 6 z ")
    'M1.23 2 3-4.5 5 6z'
    """
    out, command = "", ""
    for step in _STEP.findall(rounded(data)):
        if step.isalpha():
            if step != command or step in "Mm":
                out, command = out + step, {"M": "L", "m": "l"}.get(step, step)
        else:
            out += step if out[-1:].isalpha() or step[0] == "-" else f" {step}"
    return out


def plain_groups(node: Element) -> None:
    """Put what a group without attributes holds in its place."""
    node[:] = [kept for part in node for kept in _opened(part)]


def _opened(part: Element) -> Iterator[Element]:
    plain_groups(part)
    if part.tag == "g" and not part.attrib:
        yield from part
    else:
        yield part
