"""The names of grades: by which one is found, and what an unknown name probably means.

A name is read in every spelling: case, spaces, hyphens, dots and prefixes of the trade do not
matter. Names of other countries' standards, of castings and of bolts stand in `other_names.csv`
with what they are to the grade whose limits are held: the same, near, a casting, a fastener.
"""

from __future__ import annotations

import re
from functools import cache

from gradekit.core.aliases import Label
from gradekit.standards.tables import Window, rows_of, windows
from gradekit.standards.typical import typical_contents

# Cyrillic letters of GOST names, and the romanised way of writing them.
_LETTERS = str.maketrans("ХНТМКСЕАОРВГДБЮ", "XHTMKCEAOPBGDBY")
_HOW_MANY = 3  # grades that an unknown name may mean


@cache
def filed_grades() -> dict[str, tuple[Window, ...]]:
    """Return the windows of every grade by the number under which it is filed."""
    filed: dict[str, tuple[Window, ...]] = {}
    for window in windows():
        filed[window.grade] = (*filed.get(window.grade, ()), window)
    return filed


def plain(name: Label) -> str:
    """Reduce a name to what tells it from others: no spaces, no prefixes of the trade."""
    text = re.sub(r"\s+", "", str(name)).upper()
    text = re.sub(r"^(?:ASTM|ASME)?S?A-?\d{3}M?(?:GR(?:ADE)?\.?|TYPE)?[-:]?(?=[A-Z\d])", "", text)
    text = re.sub(
        r"^(?:W(?:ERKSTOFF)?\.?-?(?:NR|NUMMER)?\.?:?|EN|AISI|UNS|TYPE|GRADE|DUPLEX|INOX|EDELSTAHL|DIN)"
        r"[-:]?(?=[\dXNS])", "", text,
    )  # fmt: skip
    text = re.sub(r"^(?:TP(?=\d)|(?:SS|F|WP)(?=[2-4]\d\d(?!\d)))", "", text)
    return re.sub(r"^1\.?(\d{4})$", r"1.\1", text)


@cache
def known_names() -> dict[str, tuple[Window, ...]]:
    """Every accepted name with the windows it means; the first meaning of a name wins."""
    known: dict[str, tuple[Window, ...]] = {}
    for number, filed in filed_grades().items():
        known[plain(number)] = filed
    for filed in filed_grades().values():
        if filed[0].en_name:
            known.setdefault(plain(filed[0].en_name), filed)
    for uns in dict.fromkeys(w.uns for w in windows() if w.uns):
        american = tuple(w for w in windows() if w.uns == uns and w.side == "ASTM")
        relatives = tuple(w for w in windows() if w.uns == uns)
        if american or len({w.grade for w in relatives}) == 1:
            known.setdefault(plain(uns), american or relatives)
    for short in (False, True):
        for window in windows():
            for part in window.common.split(" / "):
                part = re.sub(r"\s*\(.*?\)", "", part) if short else part
                same = {w.uns for w in filed_grades()[window.grade] if part in w.common} - {""}
                filed = filed_grades()[window.grade]
                meant = tuple(w for w in filed if not same or w.uns in same)
                known.setdefault(plain(part), meant)
            if short and (inner := re.search(r"\((.+)\)", window.common)):
                known.setdefault(plain(inner[1]), filed_grades()[window.grade])
    return known


def _bare(name: Label) -> str:
    """A name without the signs between its parts, Cyrillic and romanised names in Latin letters."""
    text = plain(str(name).upper().translate(_LETTERS))
    if re.match(r"\d{2}KH", text):
        text = text.replace("KH", "X").replace("N", "H")
    return re.sub(r"[^A-Z0-9]", "", text)


@cache
def _bare_names() -> dict[str, tuple[Window, ...]]:
    known: dict[str, tuple[Window, ...]] = {}
    for name, meant in known_names().items():
        known.setdefault(_bare(name), meant)
    return known


@cache
def _others() -> dict[str, dict[str, str]]:
    return {_bare(row["name"]): row for row in rows_of("other_names")}


def other_name(name: Label) -> dict[str, str] | None:
    """Return the row of `other_names.csv` for a name, in any spelling.

    A strength class after a bolt's steel, as in A2-70, does not matter.

    Examples
    --------
    >>> other_name("SUS 304")["number"], other_name("12Х18Н10Т")["number"]
    ('1.4301', '1.4541')
    >>> other_name("A4-80")["how"]
    'fastener'
    """
    bolt = re.sub(r"^([ACF][1-5]L?)[-\s]?\d{2,3}$", r"\1", str(name).strip().upper())
    return _others().get(_bare(bolt))


def found_windows(name: Label) -> tuple[Window, ...] | None:
    """Return the windows that a name means, None where it is not known."""
    meant = known_names().get(plain(name)) or _bare_names().get(_bare(name))
    if meant is None and (row := other_name(name)):
        meant = filed_grades()[row["number"]]
    return meant


def names_in(name: str) -> list[str]:
    """Return the names in a joint one, of steel that carries several grades at once; else none.

    Examples
    --------
    >>> names_in("304 / 304L"), names_in("304L")
    (['304', '304L'], [])
    """
    joint = "/" in name and found_windows(name) is None
    return [part for part in re.split(r"\s*/\s*", name) if part] if joint else []


def likely_meant(name: Label) -> str | None:
    """Return up to three grades that an unknown name probably means, by its number or contents.

    Examples
    --------
    >>> likely_meant("SUS304J1")
    '304 (1.4301), 304L (1.4307), 304H (1.4948)'
    >>> "1.4301" in likely_meant("X6CrNi19-9")
    True
    """
    asked = plain(name)
    if found_windows(mended := asked.replace("O", "0").replace("I", "1")) and mended != asked:
        return mended
    shared = [w.en_number for w in windows() if w.uns and plain(w.uns) == asked]
    if shared:
        return f"{', '.join(dict.fromkeys(shared))} (no ASTM limits are held for {name})"
    number = re.search(r"(?<!\d)(?:1\.)?(4\d{3})(?!\d)", str(name))
    if number and found_windows(f"1.{number[1]}"):
        return f"1.{number[1]}"
    if hardened := re.fullmatch(r"(\d\d)[-/.]?(\d)(?:PH|MO)", asked):  # chromium and nickel
        return _by_contents(f"X5CRNICU{hardened[1]}-{hardened[2]}-4", "PH")
    if core := re.search(r"(?<!\d)(2\d\d\d?|3\d\d|4\d\d|9\d\d|6\d\d)(?!\d)", asked):
        alike = {
            f[0].common.split(" / ")[0]: number
            for number, f in filed_grades().items()
            if re.match(rf"{core[1]}(?!\d)", f[0].common)
        }
        first = sorted(alike, key=len)[:_HOW_MANY]
        return ", ".join(f"{common} ({alike[common]})" for common in first) or None
    return _by_contents(asked)


def _by_contents(asked: str, family: str = "") -> str | None:
    """Grades of a family nearest to the contents that a name such as X6CrNi19-9 prints."""
    match = re.fullmatch(r"X?(\d+)((?:CR|NI|MO|MN|N|TI|NB|CU|S|SI|AL)+)([\d\s.-]*)", asked)
    if match is None:
        return None
    elements = re.findall(r"CR|NI|MO|MN|TI|NB|CU|SI|AL|N|S", match[2])
    amounts = [float(a) for a in _amounts(match[3], len(elements))]
    wanted = {"C": int(match[1]) / 100} | {
        e.capitalize(): a for e, a in zip(elements, amounts, strict=False)
    }
    # the main additions tell grades apart; carbon only settles ties
    weight = {"C": 5.0, "Cr": 1.0, "Ni": 1.0, "Mo": 2.0, "Mn": 0.5}

    def apart(number: str) -> float:
        typical = typical_contents(filed_grades()[number][0])
        gaps = (k * abs(typical.get(e, 0.0) - wanted.get(e, 0.0)) for e, k in weight.items())
        extra = {"Ti", "Nb", "Cu"} & ({e for e in typical if typical[e] > 0.25} ^ set(wanted))
        return sum(gaps) + len(extra)

    kin = [n for n, filed in filed_grades().items() if family in filed[0].family]
    return ", ".join(sorted(kin, key=apart)[:_HOW_MANY])


def _amounts(text: str, count: int) -> list[str]:
    """The contents of a name; those of an old one, as in X12CrNi177, stand without a sign."""
    if len(digits := re.findall(r"\d+", text)) != 1 or count < 2 or len(digits[0]) < 3:
        return digits
    first, rest = digits[0][:2], digits[0][2:]
    return [first, *([rest] if count == 2 else [rest[:2], *rest[2:]] if len(rest) > count - 1
                     else rest)]  # fmt: skip
