"""A box for the text of a certificate, and every claim of it judged beneath."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import ipywidgets as widgets

from gradekit.app import views
from gradekit.app.widgets.controls import button, text_box
from gradekit.app.widgets.shown import Shown
from gradekit.app.widgets.status import Status
from gradekit.core.errors import InputError
from gradekit.core.markup import items, small, tag
from gradekit.core.verdicts import worst
from gradekit.standards.certificate import Certificate, read_certificate

_BEFORE = tag("p", tag("strong", "△ As read before the boxes above were changed."))


def certificate_box(text: str = "", claims: str = "") -> CertificateBox:
    """Paste a certificate and read what is to be said of each claim.

    Parameters
    ----------
    text : str
        What stands in the box at first.
    claims : str
        Grades to test by; empty for those that the text names.

    Returns
    -------
    CertificateBox
        `.certificate` is what was read last, None where nothing was.

    Raises
    ------
    InputError
        What is no text. A certificate that cannot be read is said in the box.

    Examples
    --------
    >>> box = certificate_box("H1: C 0,021 Cr 18,1 Ni 8,2", "1.4301")
    >>> box.certificate.verdicts["claim"].tolist()
    ['1.4301']
    """
    for what, given in (("text", text), ("claims", claims)):
        if not isinstance(given, str):
            raise InputError(what, "a text", given)
    return CertificateBox(text, claims)


def _marked(lines: Sequence[str]) -> str:
    """Lines that were not understood, each with a sign, or ''."""
    if not lines:
        return ""
    told = tag("p", tag("b", "△ Not understood, and not looked at:"))
    return str(told + items(tag("mark", line) for line in lines))


class CertificateBox(Shown):
    """The panel made by `certificate_box`."""

    title = "Certificate box"

    def __init__(self, text: str, claims: str):
        self.certificate: Certificate | None = None
        self.status = Status()
        self.text = text_box(
            "Certificate", kind=widgets.Textarea, value=text, rows=7,
            placeholder="H1: C 0,021 Si 0,45 Mn 1,36 Cr 18,15 Ni 8,19 N 560 ppm",
        )  # fmt: skip
        self.claims = text_box(
            "Grades claimed", value=claims,
            placeholder="1.4301 / 304 (empty: as the certificate says)",
        )  # fmt: skip
        self._answer, self._page = widgets.HTML(), ""
        self._left = widgets.HTML()  # what was not understood, beside the text
        self._read_of = (text, claims)
        read = button("Read", self.read, self.status, "read the text and test every claim")
        read.layout.align_self = "flex-start"
        parts = [self.text, self._left, self.claims, read, self.status, self._answer]
        self.arrange(*parts, look="gk-panel")
        if text.strip():
            read.click()  # which says what is wrong with it, too
        for box in (self.text, self.claims):
            box.observe(self._mark, "value")

    def read(self) -> str:
        """Read what stands in the boxes; if it cannot be read, the last answer stays, marked."""
        asked = self.text.value, self.claims.value
        self.certificate = read_certificate(asked[0], asked[1].strip() or None)
        self._page, self._read_of = self.certificate._repr_html_(), asked
        self._left.value = _marked(self.certificate.not_understood)
        self._mark()
        self.moved()
        verdicts = self.certificate.verdicts.groupby("claim", sort=False)["verdict"].agg(worst)
        told = [f"{claim or 'no grade is named'}: {word}" for claim, word in verdicts.items()]
        return f"read: {'; '.join(told)}"

    def _mark(self, _: Any = None) -> None:
        """Show the answer, and say so where it is not that to what stands in the boxes."""
        now = (self.text.value, self.claims.value)
        page = self._page
        self._answer.value = page if not page or now == self._read_of else f"{_BEFORE}{page}"

    def _repr_html_(self) -> str:
        answer = self._answer.value or tag("p", "Paste a certificate into the box.")
        return f"{answer}{small(views.REVIVE)}"
