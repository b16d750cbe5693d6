"""The questions that stand in the text of the course, each with its computed answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from gradekit.core.errors import one_of
from gradekit.design.prices import Prices
from gradekit.lessons.answer import room_words
from gradekit.lessons.exercise import Exercise, Mistake, wrong_ways
from gradekit.lessons.forms.choices import moved
from gradekit.lessons.forms.orders import falling
from gradekit.lessons.known_limits import factor_limits
from gradekit.lessons.slips import linear, value
from gradekit.lessons.steels import STEELS, clean
from gradekit.lessons.template import finished
from gradekit.lessons.topics.chart_prompts import (
    both_sums,
    into_the_band,
    on_two_charts,
    other_wire,
    without_nitrogen,
)

_FACTOR, _MD30, _ROOM = (
    "ferrite_factor_kaltenhauser_1971", "md30_angel_1954", "n_margin_castable"
)  # fmt: skip


@dataclass(frozen=True)
class Prompt:
    """A question of the text.

    Attributes
    ----------
    name : str
    chapter : name of the chapter in whose text it stands
    make : callable() -> Exercise
    priced : callable(Prices) -> Exercise, optional
        The question that is asked instead where there is a price list.
    """

    name: str
    chapter: str
    make: Callable[[], Exercise]
    priced: Callable[[Prices], Exercise] | None = None

    def exercise(self, prices: Prices | None = None) -> Exercise:
        """Return the question with its answer, computed now."""
        made = self.make() if not prices or self.priced is None else self.priced(prices)
        heats = {n: {e: x for e, x in heat.items() if x} for n, heat in made.heats.items()}
        return finished(replace(made, heats=heats), self.chapter, "estimate", self.name)


def prompt(name: str) -> Prompt:
    """Return a question of the text by its name.

    Examples
    --------
    >>> prompt("both sums").exercise().answer
    'none of them'
    """
    one_of("prompt", name, PROMPTS)
    return PROMPTS[name]


def _titanium() -> Exercise:
    """How much titanium brings a ferritic steel above its limit."""
    heat, terms, (_, limit) = STEELS["17Cr ferritic"], linear(_FACTOR).terms, factor_limits()
    missing = limit - value(heat, _FACTOR)
    answer = missing / terms["Ti"]
    return Exercise(
        f"How much titanium, in wt%, brings the ferrite factor of the 17Cr steel to {limit:g}? "
        "Within 0.03 is right.",
        {"17Cr ferritic": dict(heat)}, answer, "wt%", 0.03,
        mistakes=(Mistake(missing, "that is what is missing; titanium is worth more than that"),
                  Mistake(missing * terms["Ti"], "you multiplied where you have to divide")),
        solution=(f"missing: {limit:g} - {value(heat, _FACTOR):.2f} = {missing:.2f}",
                  f"{missing:.2f} / {terms['Ti']:g} = {answer:.2f} wt% Ti"),
        relations=(_FACTOR,),
    )  # fmt: skip


def _all_nickel() -> Exercise:
    """What breaks first when nitrogen stands in for all nickel."""
    heat, terms = STEELS["18Cr-8Ni"], linear("ni_eq_wrc_1992").terms
    swapped = heat | {"Ni": 0.0, "N": heat["N"] + heat["Ni"] * terms["Ni"] / terms["N"]}
    # What may go wrong: by how much it does, and why else it does not.
    ends = {
        "it forms pores as it freezes": (-value(swapped, _ROOM), "the melt holds it"),
        "its pitting index falls": (
            value(heat, "pren_16n") - value(swapped, "pren_16n"), "nitrogen raises it"),
        "it turns to martensite when it is bent": (
            value(swapped, _MD30) - value(heat, _MD30), "by Angel's Md30 it becomes stabler"),
        "its nickel equivalent falls": (
            value(heat, "ni_eq_wrc_1992") - value(swapped, "ni_eq_wrc_1992"),
            "that is what the nitrogen was put in to keep"),
    }  # fmt: skip
    (answer,) = [words for words, (by, _) in ends.items() if by > 1e-6]
    return Exercise(
        "Nitrogen is put in for all the nickel of the 18Cr-8Ni steel, so that its WRC-1992 nickel "
        "equivalent stays. What keeps everybody from doing so?",
        {"18Cr-8Ni": clean("18Cr-8Ni")}, answer, choices=tuple(ends),
        mistakes=wrong_ways({words: why for words, (_, why) in ends.items()}, answer),
        solution=(f"nitrogen then: {swapped['N']:.2f} wt%",
                  f"what casts without pores: {value(swapped, _ROOM) + swapped['N']:.2f} wt%"),
        relations=(_ROOM, "ni_eq_wrc_1992"),
    )  # fmt: skip


def _each_per_cent() -> Exercise:
    """Which element lowers Md30 most for each per cent."""
    terms = linear(_MD30).terms
    least = min(terms.values())
    answer = " and ".join(e for e, k in terms.items() if k == least)
    others = {e: f"{e} lowers it by {-k:g} °C for each per cent"
              for e, k in terms.items() if k != least}  # fmt: skip
    return Exercise(
        "Which lowers Angel's Md30 most for each per cent?", {}, answer,
        choices=(*others, answer), mistakes=wrong_ways(others, answer),
        solution=tuple(f"{e}: {k:g} °C for 1 %" for e, k in sorted(terms.items(),
                                                                   key=lambda t: t[1])),
        relations=(_MD30,),
    )  # fmt: skip


def _each_coin() -> Exercise:
    """How dear nickel has to be set beside manganese before manganese is the cheaper way."""
    terms = linear(_MD30).terms
    answer = terms["Ni"] / terms["Mn"]
    return Exercise(
        "Manganese lowers Angel's Md30, too. How many times as dear as manganese (for each tonne "
        "contained) must nickel be before manganese lowers it for less? Within 0.1 is right.",
        {}, answer, "", 0.1,
        mistakes=(Mistake(1 / answer, "the other way round"),
                  Mistake(abs(terms["Ni"] - terms["Mn"]), "compare by a ratio, not a difference")),
        solution=(f"{-terms['Ni']:g} °C for 1 % Ni, {-terms['Mn']:g} °C for 1 % Mn",
                  f"{-terms['Ni']:g} / {-terms['Mn']:g} = {answer:.2f}",
                  "a price list says on which side of that it stands"),
        relations=(_MD30,),
    )  # fmt: skip


def _by_price(prices: Prices) -> Exercise:
    """Which element lowers Md30 most for each coin, by a price list."""
    terms, cost = linear(_MD30).terms, prices.cost.terms
    worth = {e: -k / cost[e] for e, k in terms.items() if cost.get(e, 0.0) > 0}
    order = falling(worth)
    # Prices move: what lies within a factor of two is no order.
    first = [e for e in order if 2 * worth[e] > worth[order[0]]]
    answer, best = " and ".join(first), worth[order[0]]
    others = {e: f"{order[0]} does {best / worth[e]:.0f} times as much for the same money"
              for e in order if e not in first}  # fmt: skip
    return Exercise(
        f"Which lowers Angel's Md30 most for each {prices.unit.split('/')[0]}?", {}, answer,
        choices=(*(e for e in terms if e in others), answer), mistakes=wrong_ways(others, answer),
        solution=(*(f"{e}: {worth[e]:.3g} °C for 1 {prices.unit}" for e in order),
                  *filter(None, [prices.warning])),
        relations=(_MD30,),
    )  # fmt: skip


def _hotter() -> tuple[float, float]:
    """Return the ferrite that 50 °C add, and the nitrogen that takes it back."""
    heat, name = STEELS["22Cr duplex"], "ferrite_duplex_anchored"
    before, after = (value(heat, name, temperature_C=t) for t in (1050.0, 1100.0))
    one = value(moved(heat, "N", 0.01), name, temperature_C=1100.0) - after
    return after - before, 0.01 * (before - after) / one


def _anneal() -> Exercise:
    added, nitrogen = _hotter()
    return Exercise(
        "The 22Cr duplex steel is annealed at 1100 instead of 1050 °C. How many points of ferrite "
        "does that add? Within 1 is right.",
        {"22Cr duplex": dict(STEELS["22Cr duplex"])}, added, "%", 1.0,
        mistakes=(Mistake(50.0, "that is the temperature"),
                  Mistake(-added, "the hotter, the more ferrite")),
        solution=(f"{added:.1f} points", f"{nitrogen:.3f} % nitrogen takes them back"),
        relations=("ferrite_duplex_anchored",),
    )  # fmt: skip


def _taken_back() -> Exercise:
    added, nitrogen = _hotter()
    return Exercise(
        "How much nitrogen, in wt%, takes back the ferrite that 50 °C have added? Within 0.005 is "
        "right.",
        {}, nitrogen, "wt%", 0.005,
        mistakes=(Mistake(10 * nitrogen, "a decimal has slipped"),
                  Mistake(-nitrogen, "nitrogen makes austenite: it is added")),
        solution=(f"{added:.1f} points are to go", f"{nitrogen:.3f} wt% nitrogen"),
        relations=("ferrite_duplex_anchored",),
    )  # fmt: skip


def _nitrogen_by(index: str) -> float:
    terms = linear(index).terms
    return STEELS["17Cr-12Ni-2Mo"]["Mo"] * terms["Mo"] / terms["N"]


def _for_molybdenum() -> Exercise:
    one, other = _nitrogen_by("pren_16n"), _nitrogen_by("pren_30n")
    return Exercise(
        "How much nitrogen, in wt%, lets the 17Cr-12Ni-2Mo steel do without its molybdenum by the "
        "index with 16N? Within 0.02 is right.",
        {"17Cr-12Ni-2Mo": dict(STEELS["17Cr-12Ni-2Mo"])}, one, "wt%", 0.02,
        mistakes=(Mistake(other, "that is the index with 30N"),),
        solution=(f"with 16N: {one:.3f} wt%", f"with 30N: {other:.3f} wt%"),
        relations=("pren_16n", "pren_30n"),
    )  # fmt: skip


def _would_sell() -> Exercise:
    """Whether a melt holds what either index asks for."""
    heat, neither = STEELS["17Cr-12Ni-2Mo"], "neither"
    rooms = {
        f"the one with {factor}N":
            value(heat | {"Mo": 0.0, "N": heat["N"] + _nitrogen_by(f"pren_{factor}n")}, _ROOM)
        for factor in (16, 30)
    }  # fmt: skip
    fit = [words for words, room in rooms.items() if room >= 0]
    answer = fit[0] if len(fit) == 1 else neither
    boils = {words: f"it would boil: {room_words(room)}" for words, room in rooms.items()}
    return Exercise(
        "The 17Cr-12Ni-2Mo steel is to be melted without molybdenum, with nitrogen in its place. "
        "Which of the two answers could a works cast, and so sell?",
        {"17Cr-12Ni-2Mo": dict(heat)}, answer, choices=(*rooms, neither),
        mistakes=wrong_ways(boils | {neither: f"what {answer} asks for does cast"}, answer),
        solution=(*(f"{words}: {room_words(room)}" for words, room in rooms.items()),
                  "and an index is no test: only a test in the customer's own water sells a steel"),
        relations=(_ROOM, "pren_16n", "pren_30n"),
    )  # fmt: skip


#: The questions of the text by name, in the order of the course.
PROMPTS: dict[str, Prompt] = {
    name: Prompt(name, chapter, make, _by_price if name == "each coin" else None)
    for name, chapter, make in (
        ("both sums", "equivalents", both_sums),
        ("manganese", "one element", lambda: on_two_charts("Mn", 1.0)),
        ("molybdenum", "one element", lambda: on_two_charts("Mo", 0.5)),
        ("without nitrogen", "fields", without_nitrogen),
        ("other wire", "dilution", other_wire),
        ("into the band", "solidification", into_the_band),
        ("titanium", "families", _titanium),
        ("all nickel", "nitrogen", _all_nickel),
        ("each per cent", "martensite", _each_per_cent),
        ("each coin", "martensite", _each_coin),
        ("hotter anneal", "duplex", _anneal),
        ("taken back", "duplex", _taken_back),
        ("for molybdenum", "pitting", _for_molybdenum),
        ("would sell", "pitting", _would_sell),
    )
}
