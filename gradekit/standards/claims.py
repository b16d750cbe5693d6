"""What a certificate claims: every designation with the standards it is claimed to.

EN numbers go with EN standards, UNS and AISI names with ASTM ones; '304L to EN 10088-2' is no
designation of that standard, and is told so.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from gradekit.core.errors import InputError
from gradekit.heats.certificates.cells import claims
from gradekit.standards.grades import own_windows, windows_of
from gradekit.standards.tables import Window

#: Standards that are named on certificates and hold no composition limits of a grade.
_NO_LIMITS = {
    "EN 10204": "kinds of inspection document; fixes no composition",
    "A480": "general requirements of flat products; its tolerances serve the product analysis",
    "A484": "general requirements of bar; its tolerances serve the product analysis",
    "A751": "methods of analysis; fixes no composition",
    "A959": "lists grades for product standards",
    "NACE": "sour service: a code decides, not a composition",
}


class Claim(NamedTuple):
    """One claim: the words, the windows to test it by, and what is to be said of it."""

    words: str
    windows: tuple[Window, ...]
    remarks: tuple[str, ...] = ()


def read_claims(text: str) -> list[Claim]:
    """Return every claim of a grade line; designations of one window are claims of their own.

    Parameters
    ----------
    text : str
        Such as '1.4404 / 316L / S31603 to EN 10088-2 / ASTM A240'.

    Returns
    -------
    list of Claim
        First the designations, then the standards against which nothing could be tested.

    Examples
    --------
    >>> [(c.words, [w.title for w in c.windows]) for c in read_claims("1.4301 - 304 to A240")]
    [('1.4301', ['1.4301 (EN 10088-2:2014)']), ('304', ['S30400 (ASTM A240/A240M)'])]
    """
    said = claims(text)
    standards = {words: _short(words) for words in said if _is_standard(words)}
    made = []
    tested: set[str] = set()
    for words in said:
        if words not in standards:
            claim, used = _designation(words, standards)
            made.append(claim)
            tested |= used
    for words, short in standards.items():
        if words in tested:
            continue
        plain = next((why for start, why in _NO_LIMITS.items() if short.startswith(start)), None)
        why = plain or (
            f"no limits of {words} are held for the designations named"
            if made
            else "no designation is named with it"
        )
        made.append(Claim(words, (), (why,)))
    return made


def _is_standard(words: str) -> bool:
    return bool(re.match(r"EN |ASTM|ASME|NACE|S?A[- ]?\d", words))


def _short(words: str) -> str:
    """Reduce 'ASME SA-240' and 'ASTM A 240' to 'A240'."""
    american = re.search(r"\bS?A[- ]?(\d{3})\b", words)
    return f"A{american[1]}" if american else re.sub(r"EN ISO ", "EN ", words)


def _designation(words: str, standards: dict[str, str]) -> tuple[Claim, set[str]]:
    try:
        every = windows_of(words)
    except InputError as error:
        near = f"; nearest {error.nearest}" if error.nearest else ""
        return Claim(words, (), (f"no limits of {words} are held{near}",)), set()
    european = words.startswith(("1.", "X"))
    side = "EN" if european else "ASTM"
    own = [w for w in every if w.side == side]
    if not own:
        relative = ", ".join(dict.fromkeys(w.title for w in every))
        return Claim(words, (), (f"no {side} limits are held for it; relative: {relative}",)), set()
    first = own_windows(words)[0]
    same = [w for w in own if w.designation == first.designation]
    remarks = []
    if len({w.designation for w in own}) > 1:
        others = dict.fromkeys(w.designation for w in own if w is not first)
        others.pop(first.designation, None)
        remarks.append(f"taken as {first.designation}; also called so: {', '.join(others)}")
    named = {w: s for w, s in standards.items() if s.startswith("EN") == european}
    fitting = {w: [part for part in same if _fits(short, part)] for w, short in named.items()}
    chosen = tuple(dict.fromkeys(part for parts in fitting.values() for part in parts))
    if not chosen:
        chosen = (first,)
        tested = f"tested by {first.standard}"
        gone = ", ".join(w for w, short in named.items() if not _holds_none(short))
        there = ", ".join(short for short in standards.values() if not _holds_none(short))
        if gone:
            remarks.append(f"limits of {gone} are not held for it: {tested}")
        elif there:
            remarks.append(f"{words} is no designation of {there}: {tested}")
        else:
            remarks.append(f"no standard named: {tested}")
    used = {w for w, parts in fitting.items() if parts}
    return Claim(words, chosen, tuple(remarks)), used


def _fits(short: str, window: Window) -> bool:
    try:
        return window in windows_of(window.designation, short)
    except InputError:
        return False


def _holds_none(short: str) -> bool:
    return short.startswith(tuple(_NO_LIMITS))
