"""Questions that are answered by a choice: a change, a reason, a line that is wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

import numpy as np

from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise, Mistake, Picture
from gradekit.lessons.forms.amounts import evidence_of, named, steps
from gradekit.lessons.slips import linear, value
from gradekit.lessons.template import Template
from gradekit.relations.declaration import Linear
from gradekit.relations.topics import CATALOGUE

_Heat = dict[str, float]


def moved(heat: _Heat, element: str, amount: float) -> _Heat:
    """Return a steel with so much more or less of an element, wt%."""
    return heat | {element: round(heat.get(element, 0.0) + amount, 4)}


def _words(element: str, amount: float) -> str:
    return f"{abs(amount):g} % {'more' if amount > 0 else 'less'} {element}"


def change(
    name: str, topic: str, relation: str, families: Iterable[str],
    limits: tuple[float | None, float | None] | None, moves: Iterable[tuple[str, float]],
    margin: float, state: str = "this steel", given: Mapping[str, float] | None = None,
) -> Template:  # fmt: skip
    """Return a template that asks which one of four changes brings a steel within limits.

    Parameters
    ----------
    name, topic : str
    relation : name of a relation
    families : of which the steel is drawn
    limits : (low, high), None where there is none; optional
        Without them a lower limit is drawn, between two of the ends.
    moves : (element, wt%) that somebody may think of
    margin : float
        How far every end lies from the limits, so that no answer is doubtful.
    state : str
        What the steel is, for the question.
    given : mapping of condition to value, optional
    """
    known = [*moves]

    def make(rng: np.random.Generator) -> Exercise:
        while True:
            heat = steel(rng, families)
            before = value(heat, relation, **(given or {}))
            possible = {
                move: value(moved(heat, *move), relation, **(given or {}))
                for move in known if _holds(moved(heat, *move), relation)
            }  # fmt: skip
            low, high = limits or (_between(rng, before, possible.values()), None)
            picked = _picked(rng, possible, before, low, high, margin)
            if picked and _holds(heat, relation):
                break
        ends = {_words(*move): possible[move] for move in picked}
        answer = next(words for words, x in ends.items() if _room(x, low, high) > 0)
        declared = CATALOGUE[relation]
        unit = declared.unit_shown

        def lies(x: float) -> str:
            below = low is not None and x < low
            away = (before - x if low is not None and before < low else x - before) > 1e-9
            other = "; that is the wrong way" if away else ""
            now = f"then it is {x:.3g} {unit}".rstrip()
            return f"{now}, too {'low' if below else 'high'}{other}"

        asked = " and ".join(
            f"{word} {limit:g} {unit}".rstrip()
            for word, limit in (("at least", low), ("at most", high)) if limit is not None
        )  # fmt: skip
        return Exercise(
            topic,
            f"The {named(declared)} of {state} is "
            f"{before:.3g} {unit}".rstrip()
            + f", and {asked} is asked. Which single change brings it there?",
            {"the steel": heat}, answer, choices=tuple(ends),
            mistakes=tuple(Mistake(w, lies(x)) for w, x in ends.items() if w != answer),
            solution=(f"now: {before:.3g} {unit}".rstrip(),
                      *(f"{w}: {x:.3g} {unit}".rstrip() for w, x in ends.items())),
            relations=(relation,), evidence=evidence_of(relation),
        )  # fmt: skip

    return Template(name, topic, "change", make)


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


def _room(x: float, low: float | None, high: float | None) -> float:
    """Return how far a value lies inside limits; negative outside."""
    return min(x - low if low is not None else np.inf, high - x if high is not None else np.inf)


def _between(rng: np.random.Generator, before: float, ends: Iterable[float]) -> float:
    """Return a round number between two of the values above the first one."""
    above = sorted({round(x, 6) for x in ends if x > before + 1e-6})
    at = int(rng.integers(len(above) - 1))
    return round((above[at] + above[at + 1]) / 2, 1)


def _picked(
    rng: np.random.Generator, ends: Mapping[tuple[str, float], float], before: float,
    low: float | None, high: float | None, margin: float,
) -> list[tuple[str, float]]:  # fmt: skip
    """Return four changes of different elements of which one leads inside; [] if there are none."""
    if _room(before, low, high) > -margin:
        return []
    rooms = {move: _room(x, low, high) for move, x in ends.items()}
    inside = [move for move, room in rooms.items() if room >= margin]
    outside = [move for move, room in rooms.items() if room <= -margin]
    if not inside:
        return []
    right = inside[rng.integers(len(inside))]
    picked = {right[0]: right}
    for n in rng.permutation(len(outside)):
        if len(picked) < 4:
            picked.setdefault(outside[n][0], outside[n])
    shuffled = [[*picked.values()][n] for n in rng.permutation(len(picked))]
    return shuffled if len(picked) == 4 else []


def effect(
    name: str, topic: str, relations: Iterable[str], families: Iterable[str],
    moves: Mapping[str, tuple[float, float]],
) -> Template:  # fmt: skip
    """Return a template that asks what one element does to a sum, and why.

    Parameters
    ----------
    name, topic : str
    relations : names of linear relations, of which one is drawn
    families : of which the steel is drawn
    moves : mapping of element to the least and most that is added, wt%
    """

    def make(rng: np.random.Generator) -> Exercise:
        while True:
            declared = linear(str(rng.choice([*relations])))
            element = str(rng.choice([*moves]))
            heat = steel(rng, families)
            amount = float(f"{rng.uniform(*moves[element]):.1g}")
            factor = declared.terms.get(element, 0.0)
            if abs(factor) != 1:
                break
        others = [c.terms[element] for c in CATALOGUE.values() if isinstance(c, Linear)
                  and c.quantity == declared.quantity and element in c.terms]  # fmt: skip
        size = abs(factor) or next((abs(k) for k in others if abs(k) != 1), 10.0)
        unit = declared.unit_behind

        def moves_by(by: float, why: str) -> str:
            return f"It {'rises' if by > 0 else 'falls'} by {abs(by):.3g}{unit}: {why}"

        sign = "plus" if factor >= 0 else "minus"
        counted = f"{element} counts {size:g} times"
        ways = {
            factor: moves_by(factor * amount, f"{counted}, with a {sign}"),
            0.0: f"It stays as it is: {element} does not stand in this formula",
            np.sign(factor or 1): moves_by((np.sign(factor) or 1) * amount,
                                           f"{element} counts as it is"),
            -size if factor >= 0 else size: moves_by(
                (-size if factor >= 0 else size) * amount,
                f"{counted}, with a {'minus' if factor >= 0 else 'plus'}"),
        }  # fmt: skip
        if not factor:
            ways[size] = moves_by(size * amount, f"{counted}, with a plus")
        answer = ways.pop(factor)
        truth = (
            f"{element} stands in the formula with {factor:g}" if factor
            else f"there is no {element} in {declared.formula}"
        )  # fmt: skip
        said = {words: truth for words in ways.values()}
        choices = [answer, *ways.values()]
        return Exercise(
            topic,
            f"This steel gets {amount:g} % more {element}. What happens to its "
            f"{declared.quantity} ({declared.title}), and why?",
            {"the steel": heat}, answer, choices=tuple(choices[n] for n in rng.permutation(4)),
            mistakes=tuple(Mistake(w, words) for w, words in said.items()),
            solution=(f"{declared.title}: {declared.formula}",
                      f"{element}: {factor:g} × {amount:g} = {factor * amount:.3f}"),
            relations=(declared.name,), evidence=evidence_of(declared.name),
        )  # fmt: skip

    return Template(name, topic, "reason", make)


class Case(NamedTuple):
    """Something that is done, what it does to a quantity, and why.

    Attributes
    ----------
    question : str
        What is done; 'What happens to ..., and why?' follows.
    quantity : str
    heats : dict
    before, after : float
    unit : str
    rises, falls : (reason that holds, reason that does not)
        For either way that it may go; '' where it never goes that way.
    relations : tuple of str
    """

    question: str
    quantity: str
    heats: dict[str, _Heat]
    before: float
    after: float
    unit: str
    rises: tuple[str, str]
    falls: tuple[str, str]
    stays: str
    relations: tuple[str, ...]
    picture: Picture | None = None
    evidence: str = ""


def outcome(
    name: str, topic: str, draw: Callable[[np.random.Generator], Case], least: float
) -> Template:
    """Return a template that asks which way a quantity goes, and for what reason.

    Parameters
    ----------
    name, topic : str
    draw : callable(Generator) -> Case
    least : float
        By how much the quantity has to move, so that the way is beyond doubt.
    """

    def make(rng: np.random.Generator) -> Exercise:
        while True:
            case = draw(rng)
            by = case.after - case.before
            reasons = {"rises": case.rises, "falls": case.falls}
            way, other = ("rises", "falls") if by > 0 else ("falls", "rises")
            if abs(by) >= least and reasons[way][0]:
                break
        (true, false), opposite = reasons[way], reasons[other][0] or reasons[other][1]
        ends = f"it goes from {case.before:.3g} to {case.after:.3g} {case.unit}".rstrip()
        answer = f"It {way}: {true}"
        wrong = {
            f"It {way}: {false}": "the direction is right, the reason is not",
            f"It {other}: {opposite}": f"{ends}; {true}",
            f"It stays as it is: {case.stays}": f"{ends}; {true}",
        }
        choices = [answer, *wrong]
        return Exercise(
            topic,
            f"{case.question} What happens to {case.quantity}, and why?",
            case.heats, answer, choices=tuple(choices[n] for n in rng.permutation(len(choices))),
            mistakes=tuple(Mistake(w, words) for w, words in wrong.items()),
            solution=(ends, true), relations=case.relations, picture=case.picture,
            evidence=case.evidence or evidence_of(*case.relations),
        )  # fmt: skip

    return Template(name, topic, "reason", make)


def find_mistake(
    name: str, topic: str, relation: str, families: Iterable[str], least: float
) -> Template:
    """Return a template that shows a worked sum with one wrong line, and asks which.

    Parameters
    ----------
    name, topic : str
    relation : name of a linear relation
    families : of which the steel is drawn
    least : float
        By how much the wrong line is wrong.
    """

    def make(rng: np.random.Generator) -> Exercise:
        declared = linear(relation)
        while True:
            heat = steel(rng, families)
            terms = {t: k for t, k in declared.terms.items() if t in heat}
            wrong = _faults(heat, terms)
            term, (factor, amount, said) = [*wrong.items()][rng.integers(len(wrong))]
            if abs(factor * amount - terms[term] * heat[term]) >= least:
                break
        lines, right, total = [], {}, declared.intercept
        if declared.intercept:
            lines.append(f"constant: {declared.intercept:g}")
            right[len(lines)] = "the constant is the formula's"
        for t, k in terms.items():
            used, content = (factor, amount) if t == term else (k, heat[t])
            total += used * content
            lines.append(f"{t}: {used:g} × {content:g} = {used * content:.3f}")
            right[len(lines)] = f"{t} is counted with its factor {k:g} and its content"
            if t == term:
                at = len(lines)
        lines.append(f"sum of these lines: {total:.3f}{declared.unit_behind}")
        right[len(lines)] = "the sum of the lines above is right; one of them is not"
        choices = tuple(f"line {n}" for n in range(1, len(lines) + 1))
        return Exercise(
            topic,
            f"Somebody has worked out the {declared.quantity} {declared.formula} of this steel. "
            "In which line is the mistake?",
            {"the steel": heat}, f"line {at}", choices=choices,
            mistakes=tuple(Mistake(f"line {n}", w) for n, w in right.items() if n != at),
            solution=(f"line {at}: {said}", *steps(heat, relation)),
            relations=(relation,), evidence=evidence_of(relation), kind="mistake",
            lines=tuple(f"{n}. {line}" for n, line in enumerate(lines, start=1)),
        )  # fmt: skip

    return Template(name, topic, "mistake", make)


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
