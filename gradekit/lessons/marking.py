"""Judging an answer: right, or wrong and which mistake leads to it, or not to be read at all."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from gradekit.lessons.exercise import AnswerValue, Exercise, counted, gap
from gradekit.lessons.guess import is_unit, typed_number

# 1,050 may be 1.05 or 1050. Contents have decimals, so it is read as 1.05, and that is said. A
# point is the decimal sign of our own pages.
_EITHER = re.compile(r"[-+\u2212\u2013]?[1-9][0-9]{0,2},[0-9]{3}(?![0-9.,eE])")


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
        As typed. A number: a decimal comma is understood, and the unit that is asked behind it;
        where a comma could also part thousands, the feedback says how it was read.
        A choice: its words. An order: 'B > A > D > C'. A point: 'x; y'. A design:
        'Cr 17.2; Ni 8.1; N 0.05'.

    Returns
    -------
    Feedback

    Examples
    --------
    >>> from gradekit.lessons.exercise import Mistake
    >>> e = Exercise("Cr + Mo of 18 Cr, 2 Mo?", {}, 20.0, "wt%", 0.05,
    ...              mistakes=(Mistake(18.0, "you left out molybdenum"),))
    >>> mark(e, "20,0 wt%").right, mark(e, 18).words
    (True, 'Not yet: you left out molybdenum.')
    >>> mark(e, "20 ppm").words
    'The answer is asked in wt%, not in ppm.'
    >>> mark(e, "20,000").words
    'Right. Read as 20.'
    """
    text = str(given).strip()
    judged = _BY_FORM[exercise.form](exercise, text)
    read = "" if judged.refused else _read_as(exercise, text)
    return replace(judged, words=f"{judged.words}{read}")


def _read_as(exercise: Exercise, given: str) -> str:
    """Say how the numbers of an answer were read, where one could be read two ways."""
    parts = {"number": [given], "point": given.split(";")}.get(exercise.form, [])
    if not any(_EITHER.match(part.strip()) for part in parts):
        return ""
    return f" Read as {'; '.join(f'{typed_number(part)[0]:.15g}' for part in parts)}."


def _judged(right: bool, exercise: Exercise, slips: Sequence[str] = (), hint: str = "") -> Feedback:
    """Say that an answer is right, or which mistakes lead to it, or else what is said of any."""
    if right:
        return Feedback(True, "Right.")
    words = ", or ".join(slips) or hint
    return Feedback(False, f"Not yet: {words}." if words else f"Not yet. {exercise.elsewhere}")


def _refused(words: str) -> Feedback:
    return Feedback(False, words, True)


def _led_to(exercise: Exercise, given: AnswerValue) -> list[str]:
    return [m.words for m in exercise.mistakes if m.value == given]


def _led_near(exercise: Exercise, given: AnswerValue, most: int) -> list[str]:
    """The mistakes that end close to a number or a point, the nearest first."""
    ways = sorted(exercise.mistakes, key=lambda m: gap(m.value, given))
    return [m.words for m in ways[:most] if gap(m.value, given) <= exercise.tolerance]


def _choice(exercise: Exercise, given: str) -> Feedback:
    known = {_bare(c): c for c in exercise.choices}
    if _bare(given) not in known:
        return _refused(f"Answer with one of {', '.join(exercise.choices)}.")
    chosen = known[_bare(given)]
    right, slips = chosen == exercise.answer, _led_to(exercise, chosen)
    if right or exercise.kind != "compute":
        return _judged(right, exercise, slips)
    ends = f"You end there if {', or if '.join(slips)}." if slips else exercise.elsewhere
    return Feedback(False, f"Not yet: it is not {chosen}. {ends}")


def _order(exercise: Exercise, given: str) -> Feedback:
    names = {_bare(c): c for c in exercise.choices}
    parts = [_bare(part) for part in given.split(">" if ">" in given else ",")]
    if sorted(parts) != sorted(names):
        wanted = " > ".join(exercise.choices)
        return _refused(f"Answer with all of them in order, such as {wanted}.")
    order = tuple(names[part] for part in parts)
    return _judged(order == exercise.answer, exercise, _led_to(exercise, order))


def _point(exercise: Exercise, given: str) -> Feedback:
    parts = [typed_number(part) for part in given.split(";")]
    place = tuple(number for number, tail in parts if number is not None and not tail)
    if len(parts) != 2 or len(place) != 2:
        return _refused("Mark a point on the chart, or give both numbers.")
    right = gap(exercise.answer, place) <= exercise.tolerance
    slips = _led_near(exercise, place, 2)
    if right or slips:
        return _judged(right, exercise, slips)
    wrong = [
        f"the {side} equivalent is {_direction(at, to)}"
        for side, at, to in zip(("chromium", "nickel"), place, exercise.answer, strict=True)
        if abs(at - to) > exercise.tolerance
    ]
    return Feedback(False, f"Not yet: {' and '.join(wrong)}. {exercise.elsewhere}")


def _design(exercise: Exercise, given: str) -> Feedback:
    levels: dict[str, float] = {}
    for part in given.split(";"):
        element, _, text = part.strip().partition(" ")
        number, tail = typed_number(text)
        if number is not None and not tail:
            levels[element] = number
    sliders = {s.element: s for s in exercise.sliders}
    if set(levels) != set(sliders):
        return _refused(f"Set {', '.join(sliders)}.")
    for element, s in sliders.items():
        if not s.low - 1e-9 <= levels[element] <= s.high + 1e-9:
            return _refused(f"{element} may lie from {s.low:g} to {s.high:g} wt%.")
    missed = []
    for target in exercise.targets:
        if not target.met(levels):
            is_ = f"{target.words} is {target.at(levels):.4g} {target.unit}".rstrip()
            low = target.low is not None and target.at(levels) < target.low
            asked = f"at least {target.low:g}" if low else f"at most {target.high:g}"
            missed.append(f"{is_}, {asked} is asked")
    if missed:
        return _judged(False, exercise, hint="; ".join(missed))
    assert exercise.least is not None
    more = exercise.least.at(levels) - exercise.answer
    if more <= exercise.tolerance + 1e-9:
        return _judged(True, exercise)
    words = f"every target is met, with {more:.2g} {exercise.least.unit} more than is needed"
    return Feedback(False, f"Not yet: {words}. {exercise.elsewhere}")


def _counted(exercise: Exercise, given: str) -> Feedback:
    number, tail = typed_number(given)
    if number is None or re.search(r"[0-9]", tail):  # '1/2': what holds a digit is no unit
        unit = f" in {exercise.unit}" if exercise.unit else ""
        return _refused(f"Answer with a number{unit}, for example 18.4.")
    if tail and not is_unit(tail, exercise.unit):
        asked = f"in {exercise.unit}" if exercise.unit else "as a plain number, without a unit"
        return _refused(f"The answer is asked {asked}, not in {tail}.")
    answer, within = exercise.answer, exercise.tolerance
    off = abs(number - answer)
    hint = _direction(number, answer)
    if answer and abs(number + answer) <= within:
        hint = "the size is right, the sign is not"
    elif exercise.kind not in ("estimate", "read") and off <= 4 * within:
        coarse = _typed_decimals(given) < exercise.decimals
        hint = (
            f"close, but rounded too early; carry {counted(exercise.decimals)}"
            if coarse
            else "close, but further off than rounding: look for a small term or a slip in a sum"
        )
    # Ways that end close to each other are all named.
    slips = _led_near(exercise, number, 3)
    return _judged(off <= within * (1 + 1e-9), exercise, slips, hint)


_BY_FORM: dict[str, Callable[[Exercise, str], Feedback]] = {
    "number": _counted, "choice": _choice, "order": _order, "point": _point, "design": _design,
}  # fmt: skip


def _bare(text: str) -> str:
    return re.sub(r"\s+", "", text).lower()


def _typed_decimals(given: str) -> int:
    """Return how many decimals were typed, whether or not a power of ten stands behind them."""
    match = re.match(r"[-+\u2212\u2013]?\d*[.,]?(\d*)(?:[eE]([-+]?\d+))?", given)
    assert match  # all of it may be empty
    return len(match[1]) - int(match[2] or 0)


def _direction(number: float, answer: float) -> str:
    return "too high" if number > answer else "too low"
