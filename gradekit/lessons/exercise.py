"""One exercise: question, answer with tolerance, and the mistakes that explain a wrong number."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

__all__ = ["Exercise", "Feedback", "Mistake", "mark"]


# How a unit that is asked may be typed, in small letters without blanks and full stops.
_SPELT = {
    "wt%": ("wt%", "%", "%wt", "mass%", "%mass", "weight%", "%byweight", "%bymass"),
    "°C": ("°c", "c", "ºc", "degc", "deg", "°", "celsius"),
}


@dataclass(frozen=True)
class Mistake:
    """A wrong way and the value, or the word, to which it leads."""

    value: float | str
    words: str


@dataclass(frozen=True)
class Exercise:
    """A question with a number or a word as answer.

    Attributes
    ----------
    topic, question : str
    heats : dict of name to {element: wt%}
        What the question is about, rounded as it is shown.
    answer : float or str
    unit : str
    tolerance : float
        How far a number may be off; 0 for a word.
    choices : tuple of str
        Accepted words, for an answer in words.
    mistakes : tuple of Mistake
    solution : tuple of str
        Steps, made from the declaration of the relation.
    relations : tuple of str
        Names in the catalogue that the answer rests on.
    elsewhere : str
        What is said of a wrong word to which no known mistake leads.
    """

    topic: str
    question: str
    heats: dict[str, dict[str, float]]
    answer: float | str
    unit: str = ""
    tolerance: float = 0.0
    choices: tuple[str, ...] = ()
    mistakes: tuple[Mistake, ...] = ()
    solution: tuple[str, ...] = ()
    relations: tuple[str, ...] = ()
    evidence: str = ""
    elsewhere: str = "Work it out once more."

    @property
    def in_words(self) -> bool:
        """True if the answer is a word."""
        return isinstance(self.answer, str)

    @property
    def decimals(self) -> int:
        """How many decimals a number needs to be told from its neighbours; 0 for a word."""
        return 0 if self.in_words else max(0, -int(np.floor(np.log10(self.tolerance))))

    @property
    def asked(self) -> str:
        """In which unit and to how many decimals the answer is wanted; empty for a word."""
        if self.in_words:
            return ""
        return ", ".join(filter(None, (self.unit, f"to {_counted(self.decimals)}")))

    @property
    def shown_answer(self) -> str:
        """The answer as a teacher writes it."""
        if self.in_words:
            return str(self.answer)
        decimals = max(0, 1 - int(np.floor(np.log10(self.tolerance))))
        return f"{self.answer:.{decimals}f} {self.unit}".strip()


@dataclass(frozen=True)
class Feedback:
    """What is said of an answer; one that could not be read at all is refused, not wrong."""

    right: bool
    words: str
    refused: bool = False


def mark(exercise: Exercise, given: str | float) -> Feedback:
    """Judge an answer and, where it is wrong, say which mistake leads to it.

    Parameters
    ----------
    exercise : Exercise
    given : str or float
        As typed; a decimal comma is understood, and the unit that is asked behind a number.

    Returns
    -------
    Feedback

    Examples
    --------
    >>> e = Exercise("t", "Cr + Mo of 18 Cr, 2 Mo?", {}, 20.0, "wt%", 0.05,
    ...              mistakes=(Mistake(18.0, "you left out molybdenum"),))
    >>> mark(e, "20,0 wt%").right, mark(e, 18).words
    (True, 'Not yet: you left out molybdenum.')
    >>> mark(e, "20 ppm").words
    'The answer is asked in wt%, not in ppm.'
    """
    if exercise.in_words:
        typed = re.sub(r"\s+", "", str(given)).lower()
        known = {re.sub(r"\s+", "", c).lower(): c for c in exercise.choices}
        if typed not in known:
            return Feedback(False, f"Answer with one of {', '.join(exercise.choices)}.", True)
        if known[typed] == exercise.answer:
            return Feedback(True, "Right.")
        slips = [m.words for m in exercise.mistakes if m.value == known[typed]]
        ends = f"You end there if {', or if '.join(slips)}."
        hint = ends if slips else exercise.elsewhere
        return Feedback(False, f"Not yet: it is not {known[typed]}. {hint}")
    number, tail = _number(given)
    if number is None:
        unit = f" in {exercise.unit}" if exercise.unit else ""
        return Feedback(False, f"Answer with a number{unit}, for example 18.4.", True)
    if tail and re.sub(r"[\s.]+", "", tail).lower() not in _SPELT.get(exercise.unit, ()):
        asked = f"in {exercise.unit}" if exercise.unit else "as a plain number, without a unit"
        return Feedback(False, f"The answer is asked {asked}, not in {tail}.", True)
    answer = float(exercise.answer)
    if abs(number - answer) <= exercise.tolerance:
        return Feedback(True, "Right.")
    # Ways that end close to each other are all named, the nearest first.
    ways = sorted((abs(number - float(m.value)), at) for at, m in enumerate(exercise.mistakes))
    said = [exercise.mistakes[at].words for off, at in ways[:3] if off <= exercise.tolerance]
    if said:
        return Feedback(False, f"Not yet: {', or '.join(said)}.")
    if answer and abs(number + answer) <= exercise.tolerance:
        return Feedback(False, "Not yet: the size is right, the sign is not.")
    hint = _direction(number, answer)
    if abs(number - answer) <= 4 * exercise.tolerance:
        coarse = _typed_decimals(given) < exercise.decimals
        hint = (
            f"close, but rounded too early; carry {_counted(exercise.decimals)}"
            if coarse
            else "close, yet not by rounding: a small term or a factor is missing"
        )
    return Feedback(False, f"Not yet: {hint}.")


def _counted(decimals: int) -> str:
    return f"{decimals} decimal{'' if decimals == 1 else 's'}"


def _typed_decimals(given: str | float) -> int:
    """Return how many decimals were typed, whether or not a power of ten stands behind them."""
    found = re.match(r"[-+\u2212]?\d*[.,]?(\d*)(?:[eE]([-+]?\d+))?", str(given).strip())
    assert found  # all of it may be empty
    return len(found[1]) - int(found[2] or 0)


def _direction(number: float, answer: float) -> str:
    return "too high" if number > answer else "too low"


def _number(given: str | float) -> tuple[float | None, str]:
    """Return the number that was typed, and what stands behind it."""
    text = str(given).strip().replace(",", ".").replace("\u2212", "-")
    found = re.fullmatch(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(\D{0,12})", text)
    if not found:
        return None, ""
    return float(found[1]), found[2].strip()
