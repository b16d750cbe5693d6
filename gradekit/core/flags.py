"""What can be said about a value beside the value itself."""

from __future__ import annotations

from enum import IntFlag


class Flag(IntFlag):
    """Bits that qualify a value; 0 means that nothing is to be said.

    Examples
    --------
    >>> (Flag.ABOVE_RANGE | Flag.ASSUMED_ZERO).words()
    'above the range of the relation; an element assumed zero'
    """

    OK = 0
    BELOW_RANGE = 1
    ABOVE_RANGE = 2
    MISSING = 4
    ASSUMED_ZERO = 8
    RANGE_NOT_STATED = 16
    OUTSIDE_DATA = 32
    BOUND = 64
    CLAMPED = 128
    CONDITION_MISSING = 256
    UNDEFINED = 512
    OUTSIDE_DIAGRAM = 1024
    NO_SUPPORT = 2048
    OTHER_FAMILY = 4096

    def words(self) -> str:
        """Return the flag in words."""
        return "; ".join(text for bit, text in _WORDS.items() if self & bit)


#: The value speaks for other steels than this one.
OUT = int(
    Flag.OTHER_FAMILY
    | Flag.BELOW_RANGE
    | Flag.ABOVE_RANGE
    | Flag.OUTSIDE_DATA
    | Flag.OUTSIDE_DIAGRAM
)
_WORDS = {
    Flag.MISSING: "no value: an essential element is not reported",
    Flag.CONDITION_MISSING: "no value: a condition is not given",
    Flag.UNDEFINED: "no value: the formula is not defined here",
    Flag.NO_SUPPORT: "no measured support",
    Flag.OTHER_FAMILY: "made for steels of another family",
    Flag.BELOW_RANGE: "below the range of the relation",
    Flag.ABOVE_RANGE: "above the range of the relation",
    Flag.OUTSIDE_DATA: "outside the data it was fitted to",
    Flag.OUTSIDE_DIAGRAM: "outside the diagram",
    Flag.CLAMPED: "beyond the end of the scale, shown at the end",
    Flag.BOUND: "a reported bound '<x' used at its upper end",
    Flag.ASSUMED_ZERO: "an element assumed zero",
    Flag.RANGE_NOT_STATED: "range not stated by the source",
}


def flag_words() -> list[tuple[int, str]]:
    """Return each bit with its words, in the order in which they are said."""
    return [(int(bit), text) for bit, text in _WORDS.items()]
