"""Judging an answer: right, or wrong and which mistake leads to it, or not to be read at all."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from gradekit.lessons.exercise import Exercise, counted

# How a unit that is asked may be typed, in small letters without blanks and full stops.
_SPELT = {
    "wt%": ("wt%", "%", "%wt", "mass%", "%mass", "weight%", "%byweight", "%bymass"),
    "°C": ("°c", "c", "ºc", "degc", "deg", "°", "celsius"),
}
_RIGHT = "Right."
# 1,050 may be 1.05 or 1050. Contents have decimals, so it is read as 1.05.
_EITHER = re.compile(r"[-+\u2212]?[1-9]\d{0,2}[.,]\d{3}(?![\d.,eE])")


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
        where a comma or point could also part thousands, the feedback says how it was read.
        A choice: its words. An order: 'B > A > D > C'. A point: 'x; y'. A design:
        'Cr 17.2; Ni 8.1; N 0.05'.

    Returns
    -------
    Feedback

    Examples
    --------
    >>> from gradekit.lessons.exercise import Mistake
    >>> e = Exercise("t", "Cr + Mo of 18 Cr, 2 Mo?", {}, 20.0, "wt%", 0.05,
    ...              mistakes=(Mistake(18.0, "you left out molybdenum"),))
    >>> mark(e, "20,0 wt%").right, mark(e, 18).words
    (True, 'Not yet: you left out molybdenum.')
    >>> mark(e, "20 ppm").words
    'The answer is asked in wt%, not in ppm.'
    >>> mark(e, "20,000").words
    'Right. Read as 20.'
    """
    text = str(given).strip()
    said = _BY_FORM[exercise.form](exercise, text)
    read = "" if said.refused else _read_as(exercise, text)
    return replace(said, words=f"{said.words}{read}")


def _read_as(exercise: Exercise, given: str) -> str:
    """Say how the numbers of an answer were read, where one could be read two ways."""
    parts = {"number": [given], "point": given.split(";")}.get(exercise.form, [])
    if not any(map(_EITHER.match, map(str.strip, parts))):
        return ""
    return f" Read as {'; '.join(f'{_number(part)[0]:.15g}' for part in parts)}."


def _choice(exercise: Exercise, given: str) -> Feedback:
    known = {_bare(c): c for c in exercise.choices}
    if _bare(given) not in known:
        return Feedback(False, f"Answer with one of {', '.join(exercise.choices)}.", True)
    chosen = known[_bare(given)]
    if chosen == exercise.answer:
        return Feedback(True, _RIGHT)
    slips = [m.words for m in exercise.mistakes if m.value == chosen]
    if exercise.kind != "compute":
        return Feedback(False, _not_yet(slips, exercise))
    ends = f"You end there if {', or if '.join(slips)}."
    return Feedback(False, f"Not yet: it is not {chosen}. {ends if slips else exercise.elsewhere}")


def _order(exercise: Exercise, given: str) -> Feedback:
    names = {_bare(c): c for c in exercise.choices}
    parts = [_bare(part) for part in given.split(">" if ">" in given else ",")]
    if sorted(parts) != sorted(names):
        wanted = " > ".join(exercise.choices)
        return Feedback(False, f"Answer with all of them in order, such as {wanted}.", True)
    order = tuple(names[part] for part in parts)
    if order == exercise.answer:
        return Feedback(True, _RIGHT)
    return Feedback(False, _not_yet([m.words for m in exercise.mistakes if m.value == order],
                                    exercise))  # fmt: skip


def _point(exercise: Exercise, given: str) -> Feedback:
    parts = [_number(part) for part in given.split(";")]
    if len(parts) != 2 or any(number is None or tail for number, tail in parts):
        return Feedback(False, "Mark a point on the chart, or give both numbers.", True)
    x, y = (float(number or 0) for number, _ in parts)

    def off(place: tuple) -> float:
        return max(abs(x - place[0]), abs(y - place[1]))

    if off(exercise.answer) <= exercise.tolerance:
        return Feedback(True, _RIGHT)
    ways = sorted(((off(m.value), m) for m in exercise.mistakes), key=lambda way: way[0])
    slips = [m.words for distance, m in ways[:2] if distance <= exercise.tolerance]
    if slips:
        return Feedback(False, _not_yet(slips, exercise))
    right_x, right_y = exercise.answer
    wrong = [
        f"{name} is {_direction(at, float(to))}"
        for name, at, to in (("the chromium equivalent", x, right_x),
                             ("the nickel equivalent", y, right_y))
        if abs(at - float(to)) > exercise.tolerance
    ]  # fmt: skip
    return Feedback(False, f"Not yet: {' and '.join(wrong)}. {exercise.elsewhere}")


def _design(exercise: Exercise, given: str) -> Feedback:
    levels: dict[str, float] = {}
    for part in given.split(";"):
        element, _, text = part.strip().partition(" ")
        number, tail = _number(text)
        if number is not None and not tail:
            levels[element] = number
    sliders = {s.element: s for s in exercise.sliders}
    if set(levels) != set(sliders):
        return Feedback(False, f"Set {', '.join(sliders)}.", True)
    for element, s in sliders.items():
        if not s.low - 1e-9 <= levels[element] <= s.high + 1e-9:
            return Feedback(False, f"{element} may lie from {s.low:g} to {s.high:g} wt%.", True)
    missed = []
    for target in exercise.targets:
        value, unit = target.at(levels), f" {target.unit}".rstrip()
        if target.low is not None and value < target.low - 1e-9:
            missed.append(f"{target.words} is {value:.4g}{unit}, at least {target.low:g} is asked")
        if target.high is not None and value > target.high + 1e-9:
            missed.append(f"{target.words} is {value:.4g}{unit}, at most {target.high:g} is asked")
    if missed:
        return Feedback(False, f"Not yet: {'; '.join(missed)}.")
    assert exercise.least is not None
    more = exercise.least.at(levels) - float(exercise.answer)
    if more <= exercise.tolerance + 1e-9:
        return Feedback(True, _RIGHT)
    words = f"every target is met, with {more:.2g} {exercise.least.unit} more than is needed"
    return Feedback(False, f"Not yet: {words}. {exercise.elsewhere}")


def _counted(exercise: Exercise, given: str) -> Feedback:
    number, tail = _number(given)
    if number is None:
        unit = f" in {exercise.unit}" if exercise.unit else ""
        return Feedback(False, f"Answer with a number{unit}, for example 18.4.", True)
    if tail and re.sub(r"[\s.]+", "", tail).lower() not in (
        exercise.unit.lower(), *_SPELT.get(exercise.unit, ())
    ):  # fmt: skip
        asked = f"in {exercise.unit}" if exercise.unit else "as a plain number, without a unit"
        return Feedback(False, f"The answer is asked {asked}, not in {tail}.", True)
    answer = float(exercise.answer)
    if abs(number - answer) <= exercise.tolerance * (1 + 1e-9):
        return Feedback(True, _RIGHT)
    # Ways that end close to each other are all named, the nearest first.
    ways = sorted((abs(number - float(m.value)), at) for at, m in enumerate(exercise.mistakes))
    slips = [exercise.mistakes[at].words for off, at in ways[:3] if off <= exercise.tolerance]
    if slips:
        return Feedback(False, _not_yet(slips, exercise))
    if answer and abs(number + answer) <= exercise.tolerance:
        return Feedback(False, "Not yet: the size is right, the sign is not.")
    hint = _direction(number, answer)
    if exercise.kind not in ("estimate", "read") and abs(number - answer) <= 4 * exercise.tolerance:
        coarse = _typed_decimals(given) < exercise.decimals
        hint = (
            f"close, but rounded too early; carry {counted(exercise.decimals)}"
            if coarse
            else "close, but further off than rounding: look for a small term or a slip in a sum"
        )
    return Feedback(False, f"Not yet: {hint}.")


_BY_FORM: dict[str, Callable[[Exercise, str], Feedback]] = {
    "number": _counted, "choice": _choice, "order": _order, "point": _point, "design": _design,
}  # fmt: skip


def _not_yet(slips: Iterable[str], exercise: Exercise) -> str:
    """Say which mistakes lead to a wrong answer, or else what is said of any."""
    words = ", or ".join(slips)
    return f"Not yet: {words}." if words else f"Not yet. {exercise.elsewhere}"


def _bare(text: str) -> str:
    return re.sub(r"\s+", "", text).lower()


def _typed_decimals(given: str) -> int:
    """Return how many decimals were typed, whether or not a power of ten stands behind them."""
    match = re.match(r"[-+\u2212]?\d*[.,]?(\d*)(?:[eE]([-+]?\d+))?", given)
    assert match  # all of it may be empty
    return len(match[1]) - int(match[2] or 0)


def _direction(number: float, answer: float) -> str:
    return "too high" if number > answer else "too low"


def _number(given: str) -> tuple[float | None, str]:
    """Return the number that was typed, and what stands behind it."""
    text = given.strip().replace(",", ".").replace("\u2212", "-")
    match = re.fullmatch(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(\D{0,12})", text)
    if not match:
        return None, ""
    return float(match[1]), match[2].strip()
