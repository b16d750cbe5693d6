"""One policy for numbers that people write: what is clear, what a column decides, what is refused.

'18.12' and '18,12' are clear, and so are '1.234,5', '1 234' and '0,050'. Three digits behind one
sign, as in '1,700', can be 1.7 or 1700. Such a cell is decided by the other numbers of its column,
then by those of the file if their decimal sign is the other one, and otherwise it is refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

_BODY = re.compile(
    r"(?P<sign>[+-]?)(?P<body>\d[\d.,'’ \u00a0\u2009\u202f]*|[.,]\d+)(?P<power>[eE][+-]?\d{1,3})?",
    re.ASCII,
)
_GROUPED = re.compile(
    r"(?P<whole>\d{1,3}(?:(?P<group>['’ \u00a0\u2009\u202f])\d{3})(?:(?P=group)\d{3})*)"
    r"(?P<rest>[.,]\d*)?",
    re.ASCII,
)
_SIGNED = re.compile(r"[\d.,]+", re.ASCII)
_EITHER = re.compile(r"[1-9]\d{0,2}[.,]\d{3}", re.ASCII)
#: Groups of thousands by one sign, and at most one of the other; '1.2.2026' is none.
_THOUSANDS = re.compile(
    r"\d{1,3}(?P<group>[.,])\d{3}(?:(?P=group)\d{3})*(?:(?!(?P=group))[.,]\d*)?", re.ASCII
)
#: Longer than any number that somebody writes.
_LONGEST = 60


#: Full-width signs and minus signs as those of a keyboard; what nobody can see is nothing.
_SIGNS = {
    **{0xFF01 + k: chr(0x21 + k) for k in range(94)},
    **dict.fromkeys(map(ord, "\u2212\u2010\u2011\u2012"), "-"),
    **dict.fromkeys(map(ord, "\u200b\u200c\u200d\u2060\ufeff\xad"), ""),
}


def plain_signs(text: str) -> str:
    """Return a text with the signs of a keyboard, where others look the same or are not seen.

    Examples
    --------
    >>> plain_signs("１８．１"), plain_signs("\u22120,5\u200b"), plain_signs("18,1²")
    ('18.1', '-0,5', '18,1²')
    """
    return text if text.isascii() else text.translate(_SIGNS)


class TwoWays(ValueError):
    """A number such as '1,700', which can be 1.7 or 1700; `readings` says both in words."""

    def __init__(self, text: str, readings: Mapping[str, str]):
        super().__init__(text)
        small, large = map(float, readings.values())
        self.readings = f"{small:.12g} or {large:.12g}"


def _readings(text: str) -> dict[str, str]:
    """Return what a written number can mean, with a point and no other sign between its digits.

    The key of a reading is the decimal sign that it takes, '' where none shows. Of two the smaller
    stands first; a text that is no number has none.
    """
    match = _BODY.fullmatch(plain_signs(text).strip()) if len(text) <= _LONGEST else None
    if match is None:
        return {}
    body, first, last = match["body"].strip(), match["sign"], match["power"] or ""
    if grouped := _GROUPED.fullmatch(body):
        body = re.sub(r"\D", "", grouped["whole"]) + (grouped["rest"] or "")
    elif not _SIGNED.fullmatch(body):
        return {}
    elif _EITHER.fullmatch(body) and not last:
        own, other = (".", ",") if "." in body else (",", ".")
        return {own: first + body.replace(own, "."), other: first + body.replace(own, "")}
    elif body.count(".") + body.count(",") > 1:
        thousands = _THOUSANDS.fullmatch(body)
        if thousands is None:
            return {}
        group = thousands["group"]
        body = body.replace(group, "").replace(",", ".")
        return {"," if group == "." else ".": f"{first}{body}{last}"}
    shown = "." if "." in body[:-1] else "," if "," in body[:-1] else ""
    return {shown: f"{first}{body.replace(',', '.')}{last}"}


def decimal_sign(text: str) -> str:
    """Return the decimal sign that a written number shows beyond doubt, or ''.

    Examples
    --------
    >>> decimal_sign("18,12"), decimal_sign("1.234.567"), decimal_sign("1,700"), decimal_sign("7")
    (',', ',', '', '')
    """
    readings = _readings(text)
    return next(iter(readings)) if len(readings) == 1 else ""


def column_sign(texts: Iterable[str]) -> str:
    """Return the one decimal sign that the clear numbers among these texts show, or ''.

    Examples
    --------
    >>> column_sign(["1,700", "0.5"]), column_sign(["1,700", "H1"]), column_sign(["0.5", "0,5"])
    ('.', '', '')
    """
    signs = {sign for text in {*texts} if (sign := decimal_sign(text))}
    return signs.pop() if len(signs) == 1 else ""


def decided(text: str, own: str, other: str, by: str) -> tuple[str, str]:
    """Return the decimal sign of a number that can be read two ways, and what it is then.

    The clear numbers of its column decide by their sign, `own`; without them those around it (`by`)
    by theirs, if it is not the doubtful one: two signs in one table are not to be expected.

    Examples
    --------
    >>> decided("1,700", "", ".", "the file"), decided("1,700", "", ",", "the file")
    (('.', '1700, as the file has decimal points'), ('', ''))
    """
    sign, by = (own, "the column") if own else (other, by)
    if not sign or (not own and other in text):
        return "", ""
    signs = "points" if sign == "." else "commas"
    return sign, f"{number_of(text, sign):.12g}, as {by} has decimal {signs}"


def digits_of(text: str, sign: str = "", most: float = float("inf")) -> str:
    """Return a written number with a decimal point and nothing between its digits.

    Parameters
    ----------
    text : str
        As it was written, without unit.
    sign : {'', '.', ','}
        Decimal sign of the column, for what can be read two ways.
    most : float
        A reading with groups of thousands that lies above it is none.

    Raises
    ------
    TwoWays
        Two readings remain.
    ValueError
        It is no number.

    Examples
    --------
    >>> digits_of("1.234,50"), digits_of("1 200"), digits_of("1,700", "."), digits_of("1,700", ",")
    ('1234.50', '1200', '1700', '1.700')
    """
    readings = _readings(text)
    if len(readings) == 2:
        small, large = readings.values()
        if abs(float(large)) > most:
            return small
        if not sign:
            raise TwoWays(text, readings)
        return readings[sign]
    if not readings:
        raise ValueError(text)
    return next(iter(readings.values()))


def number_of(text: str, sign: str = "", most: float = float("inf")) -> float:
    """Return a written number, as `digits_of` understands it.

    Examples
    --------
    >>> number_of("18,12"), number_of("1.050", most=100)
    (18.12, 1.05)
    """
    return float(digits_of(text, sign, most))


def one_way(text: str) -> str:
    """Return a number that we write so that it can be read one way only.

    Examples
    --------
    >>> one_way("4.793"), one_way("0.793"), one_way("1234.5")
    ('4.7930', '0.793', '1234.5')
    """
    return f"{text}0" if "." in text and _EITHER.fullmatch(text.lstrip("+-")) else text


def typed(text: str) -> str:
    """Return what somebody typed with a decimal point in the number that it begins with.

    Our own pages write points, so a point is the decimal sign here and '1.500' is clear; '1,500'
    is not.

    Examples
    --------
    >>> typed("18,2 % Ni"), typed("1.500"), typed("x")
    ('18.2 % Ni', '1.500', 'x')

    Raises
    ------
    TwoWays
        A number such as '1,700'.
    """
    number = re.match(r"\s*[-+\u2212]?[\d.,]*\d(?:[eE][-+]?\d+)?", text)
    if number is None:
        return text
    try:
        return digits_of(number[0], "" if "," in number[0] else ".") + text[number.end() :]
    except TwoWays:
        raise
    except ValueError:
        return text


def doubtful(texts: Iterable[str]) -> Iterator[str]:
    """Yield the texts that can be read two ways.

    Examples
    --------
    >>> list(doubtful(["1,700", "0,5", "H1"]))
    ['1,700']
    """
    return (text for text in texts if _EITHER.fullmatch(text.strip().lstrip("+-")))
