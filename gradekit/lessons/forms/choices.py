"""Questions that are answered by a choice: a change, a reason, a line that is wrong."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from gradekit.lessons.drawing_lots import shuffled, steel
from gradekit.lessons.exercise import Exercise, Picture, wrong_ways
from gradekit.lessons.forms.amounts import named, steps
from gradekit.lessons.slips import linear, value
from gradekit.lessons.template import form
from gradekit.relations.declaration import Linear
from gradekit.relations.topics import CATALOGUE

_Heat = dict[str, float]
#: What is said of a line that is right where each line makes use of the one before.
FOLLOWS = "what stands there follows from the steel and the lines above"


def moved(heat: _Heat, element: str, amount: float) -> _Heat:
    """Return a steel with so much more or less of an element, wt%."""
    return heat | {element: round(heat.get(element, 0.0) + amount, 4)}


def _words(element: str, amount: float) -> str:
    return f"{abs(amount):g} % {'more' if amount > 0 else 'less'} {element}"


@form("change")
def change(
    rng: np.random.Generator, relation: str, families: Iterable[str],
    limits: tuple[float, float] | None, moves: Sequence[tuple[str, float]], margin: float,
    state: str = "this steel", given: Mapping[str, float] | None = None,
) -> Exercise | None:  # fmt: skip
    """Ask which one of four changes brings a steel within limits.

    Parameters
    ----------
    relation : name of a relation
    families : of which the steel is drawn
    limits : (low, high), infinite where there is none; optional
        Without them a lower limit is drawn, between two of the ends.
    moves : (element, wt%) that somebody may think of
    margin : float
        How far every end lies from the limits, so that no answer is doubtful.
    state : str
        What the steel is, for the question.
    given : mapping of condition to value, optional
    """
    heat, given = steel(rng, families), given or {}
    before = value(heat, relation, **given)
    possible = {
        move: value(richer, relation, **given)
        for move in moves if _holds(richer := moved(heat, *move), relation)
    }  # fmt: skip
    low, high = limits or (_between(rng, before, possible.values()), np.inf)
    picked = _picked(rng, possible, before, low, high, margin)
    if not picked or not _holds(heat, relation):
        return None
    ends = {_words(*move): possible[move] for move in picked}
    answer = next(words for words, x in ends.items() if low <= x <= high)
    declared = CATALOGUE[relation]

    def is_(x: float) -> str:
        return f"{x:.3g} {declared.unit_shown}".rstrip()

    def lies(x: float) -> str:
        away = (before - x if before < low else x - before) > 1e-9
        other = "; that is the wrong way" if away else ""
        return f"then it is {is_(x)}, too {'low' if x < low else 'high'}{other}"

    asked = " and ".join(
        f"{word} {limit:g} {declared.unit_shown}".rstrip()
        for word, limit in (("at least", low), ("at most", high)) if np.isfinite(limit)
    )  # fmt: skip
    return Exercise(
        f"The {named(declared)} of {state} is {is_(before)}, and {asked} is asked. Which single "
        "change brings it there?",
        {"the steel": heat}, answer, choices=tuple(ends),
        mistakes=wrong_ways({words: lies(x) for words, x in ends.items()}, answer),
        solution=(f"now: {is_(before)}", *(f"{words}: {is_(x)}" for words, x in ends.items())),
        relations=(relation,),
    )  # fmt: skip


def _holds(heat: _Heat, relation: str) -> bool:
    """Return whether contents are possible, and those and equivalents in a relation's range."""
    ends = CATALOGUE[relation].ranges
    return min(heat.values()) >= 0 and all(
        (low is None or at >= low) and (high is None or at <= high)
        for at, (low, high) in (
            (value(heat, n) if n in CATALOGUE else heat.get(n, 0.0), ends[n])
            for n in ends if n in CATALOGUE or n in heat
        )
    )  # fmt: skip


def _between(rng: np.random.Generator, before: float, ends: Iterable[float]) -> float:
    """Return a round number between two of the values above the first one."""
    above = sorted({round(x, 6) for x in ends if x > before + 1e-6})
    at = int(rng.integers(len(above) - 1))
    return round((above[at] + above[at + 1]) / 2, 1)


def _picked(
    rng: np.random.Generator, ends: Mapping[tuple[str, float], float], before: float,
    low: float, high: float, margin: float,
) -> tuple[tuple[str, float], ...]:  # fmt: skip
    """Return four changes of different elements of which one leads inside; () if there are none."""

    def room(x: float) -> float:
        return min(x - low, high - x)

    inside = [move for move, x in ends.items() if room(x) >= margin]
    outside = [move for move, x in ends.items() if room(x) <= -margin]
    if room(before) > -margin or not inside:
        return ()
    right = inside[rng.integers(len(inside))]
    picked = {right[0]: right}
    for n in rng.permutation(len(outside)):
        if len(picked) < 4:
            picked.setdefault(outside[n][0], outside[n])
    mixed = shuffled(rng, picked.values())
    return mixed if len(mixed) == 4 else ()


@form("reason")
def effect(
    rng: np.random.Generator, relations: Sequence[str], families: Iterable[str],
    moves: Mapping[str, tuple[float, float]],
) -> Exercise | None:  # fmt: skip
    """Ask what one element does to a sum, and why.

    Parameters
    ----------
    relations : names of linear relations, of which one is drawn
    families : of which the steel is drawn
    moves : mapping of element to the least and most that is added, wt%
    """
    declared = linear(str(rng.choice(relations)))
    element = str(rng.choice([*moves]))
    heat = steel(rng, families)
    amount = float(f"{rng.uniform(*moves[element]):.1g}")
    factor = declared.terms.get(element, 0.0)
    if abs(factor) == 1:
        return None
    # A size for an element that does not count here: that of another publication.
    others = [c.terms[element] for c in CATALOGUE.values() if isinstance(c, Linear)
              and c.quantity == declared.quantity and element in c.terms]  # fmt: skip
    size = abs(factor) or next((abs(k) for k in others if abs(k) != 1), 10.0)
    sign = 1.0 if factor >= 0 else -1.0

    def goes(by: float, why: str) -> str:
        size = f"{abs(by * amount):.3g}{declared.unit_behind}"
        return f"It {'rises' if by > 0 else 'falls'} by {size}: {why}"

    def counts(by: float) -> str:
        return goes(by, f"{element} counts {size:g} times, with a {'plus' if by > 0 else 'minus'}")

    own, turned = counts(sign * size), counts(-sign * size)
    plain = goes(sign, f"{element} counts as it is")
    stays = f"It stays as it is: {element} does not stand in this formula"
    answer, *wrong = (own, stays, plain, turned) if factor else (stays, plain, turned, own)
    truth = (
        f"{element} stands in the formula with {factor:g}" if factor
        else f"there is no {element} in {declared.formula}"
    )  # fmt: skip
    return Exercise(
        f"This steel gets {amount:g} % more {element}. What happens to its "
        f"{named(declared, formula=False)}, and why?",
        {"the steel": heat}, answer, choices=shuffled(rng, [answer, *wrong]),
        mistakes=wrong_ways(dict.fromkeys(wrong, truth), answer),
        solution=(f"{declared.title}: {declared.formula}",
                  f"{element}: {factor:g} × {amount:g} = {factor * amount:.3f}"),
        relations=(declared.name,),
    )  # fmt: skip


def outcome(
    rng: np.random.Generator, done: str, quantity: str, heats: dict[str, _Heat],
    ends: tuple[float, float], unit: str, least: float, *, rises: tuple[str, str],
    falls: tuple[str, str], stays: str, relations: tuple[str, ...], picture: Picture | None = None,
    evidence: str = "",
) -> Exercise | None:  # fmt: skip
    """Return a question on which way a quantity goes, and for what reason.

    Parameters
    ----------
    rng : Generator
    done : str
        What is done to the steel, in a sentence.
    quantity : str
    heats : dict
    ends : (before, after)
        Of the quantity.
    unit : str
    least : float
        By how much it has to move, so that the way is beyond doubt; None is returned below that.
    rises, falls : (reason that holds, reason that does not)
        For either way that it may go; '' where it never goes that way.
    stays : str
        A reason for neither.
    relations, picture, evidence
        As of the exercise.
    """
    before, after = ends
    way, other = ("rises", "falls") if after > before else ("falls", "rises")
    (true, false), against = (rises, falls) if way == "rises" else (falls, rises)
    if abs(after - before) < least or not true:
        return None
    goes = f"it goes from {before:.3g} to {after:.3g} {unit}".rstrip()
    answer = f"It {way}: {true}"
    wrong = {
        f"It {way}: {false}": "the direction is right, the reason is not",
        f"It {other}: {against[0] or against[1]}": f"{goes}; {true}",
        f"It stays as it is: {stays}": f"{goes}; {true}",
    }
    return Exercise(
        f"{done} What happens to {quantity}, and why?",
        heats, answer, choices=shuffled(rng, [answer, *wrong]),
        mistakes=wrong_ways(wrong, answer), solution=(goes, true), relations=relations,
        picture=picture, evidence=evidence,
    )  # fmt: skip


def wrong_line(
    done: str, heats: dict[str, _Heat], lines: Mapping[str, str], at: int, wrong: str,
    working: Iterable[str] = (), relations: tuple[str, ...] = (), evidence: str = "",
) -> Exercise:  # fmt: skip
    """Return a question on which line of a working is wrong.

    Parameters
    ----------
    done : str
        What somebody has worked out, in a sentence.
    heats : dict
    lines : mapping of each line, without its number, to what is said of it where it is right
    at : int
        Which one is wrong, from 0.
    wrong : str
        What is wrong about it.
    working : of the right way
    relations, evidence
        As of the exercise.
    """
    names = tuple(f"line {n}" for n in range(1, len(lines) + 1))
    return Exercise(
        f"{done} In which line is the mistake?",
        heats, names[at], choices=names,
        mistakes=wrong_ways(dict(zip(names, lines.values(), strict=True)), names[at]),
        solution=(f"{names[at]}: {wrong}", *working), relations=relations, evidence=evidence,
        lines=tuple(f"{n}. {line}" for n, line in enumerate(lines, start=1)),
    )  # fmt: skip


@form("mistake")
def find_mistake(
    rng: np.random.Generator, relation: str, families: Iterable[str], least: float
) -> Exercise | None:
    """Show a worked sum with one wrong line, and ask which.

    Parameters
    ----------
    relation : name of a linear relation
    families : of which the steel is drawn
    least : float
        By how much the wrong line is wrong.
    """
    declared, heat = linear(relation), steel(rng, families)
    terms = {t: k for t, k in declared.terms.items() if t in heat}
    faults = _faults(heat, terms)
    term, (factor, amount, wrong) = [*faults.items()][rng.integers(len(faults))]
    if abs(factor * amount - terms[term] * heat[term]) < least:
        return None
    total, lines = declared.intercept, {}
    if declared.intercept:
        lines[f"constant: {declared.intercept:g}"] = "the constant is the formula's"
    at = len(lines) + [*terms].index(term)
    for t, k in terms.items():
        used, content = (factor, amount) if t == term else (k, heat[t])
        total += used * content
        line = f"{t}: {used:g} × {content:g} = {used * content:.3f}"
        lines[line] = f"{t} is counted with its factor {k:g} and its content"
    lines[f"sum of these lines: {total:.3f}{declared.unit_behind}"] = (
        "the sum of the lines above is right; one of them is not"
    )
    return wrong_line(
        f"Somebody has worked out the {named(declared)} of this steel.",
        {"the steel": heat}, lines, at, wrong, steps(heat, relation), (relation,),
    )  # fmt: skip


def _faults(heat: _Heat, terms: Mapping[str, float]) -> dict[str, tuple[float, float, str]]:
    """Return for each term a wrong factor, content, and what is wrong about it."""
    faults = {}
    for term, factor in terms.items():
        if factor < 0:
            faults[term] = (-factor, heat[term], f"the factor of {term} has a minus: {factor:g}")
        elif factor != 1:
            faults[term] = (1.0, heat[term], f"{term} has the factor {factor:g}")
        else:
            other = next((e for e in ("Ni", "Cr", "Mn") if e != term and e in heat), term)
            faults[term] = (factor, heat[other], f"that is the content of {other}, not of {term}")
    return faults
