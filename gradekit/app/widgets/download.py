"""Files that a page offers: in the app there is no folder in which a user would look for them."""

from __future__ import annotations

import base64
import os
from collections.abc import Mapping
from pathlib import Path

from ipywidgets import HTML

from gradekit.app.saving import Shelf
from gradekit.core.markup import Html, tag

_KINDS = {
    "csv": "text/csv",
    "html": "text/html",
    "json": "application/json",
    "pdf": "application/pdf",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def in_app() -> bool:
    """Tell whether this kernel serves a page without code."""
    return os.environ.get("SERVER_SOFTWARE", "").startswith("voila")


def download(name: str, content: bytes, what: str) -> Html:
    """Return a link that holds a file.

    Examples
    --------
    >>> print(download("a.csv", b"heat,Cr", "table"))
    <a download="a.csv" href="data:text/csv;base64,aGVhdCxDcg==">Download the table (CSV, 1 kB)</a>
    """
    ending = name.rpartition(".")[2]
    text = base64.b64encode(content).decode("ascii")
    words = f"Download the {what} ({ending.upper()}, {-(-len(content) // 1000)} kB)"
    return tag("a", words, download=name, href=f"data:{_KINDS[ending]};base64,{text}")


def hand_over(shelf: Shelf, link: HTML, files: Mapping[Path, tuple[str, bytes]]) -> str:
    """Write files beside the notebook; where there is none, in the app, offer them to download.

    Parameters
    ----------
    shelf : Shelf
    link : HTML
        Where the links stand.
    files : mapping of path to what it holds in words, and as bytes

    Returns
    -------
    str
        What is to be said in the status line.
    """
    if in_app():
        links = [download(path.name, content, what) for path, (what, content) in files.items()]
        link.value = " ".join(links)
        first, *_ = files.values()
        return f"the {first[0]} is ready: the link stands beside the buttons"
    for path, (_, content) in files.items():
        shelf.put(path, content)
    return f"written: {', '.join(map(str, files))}"
