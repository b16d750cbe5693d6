"""Files that a page offers: in the app there is no folder in which a user would look for them."""

from __future__ import annotations

import base64
import os

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
