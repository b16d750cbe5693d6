"""Every criterion that a service asks for, on one steel, in the order in which they decide."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TypeAlias

from gradekit.core.sources import weakest
from gradekit.core.verdicts import Verdict
from gradekit.service import (
    chosen,
    corrosion,
    cracking,
    embrittlement,
    temperature,
    waters,
    working,
)
from gradekit.service.candidate import Candidate
from gradekit.service.finding import Finding
from gradekit.service.needs import Service

#: What a service asks of a steel, the present grade beside it; None where it does not ask.
Criterion: TypeAlias = Callable[[Candidate, Candidate, Service], Finding | None]
#: What is looked at although nobody asked for it; every other criterion was named by the question.
_UNASKED = ("product form", "pitting index", "proof strength")
#: What a grade is bought for: open, it outweighs a caution elsewhere.
CHOSEN_FOR = ("hardness", "temper", "heat")
_DIRECT = ("atmosphere", "water")


def findings(steel: Candidate, reference: Candidate, service: Service) -> list[Finding]:
    """Return every criterion that the service asks for, on one steel."""
    kept = [
        finding._replace(criterion=name)
        for name, criteria in _CRITERIA.items()
        for criterion in criteria
        if (finding := criterion(steel, reference, service)) is not None
    ]
    # a direct answer on corrosion outranks the index, which only ranks steels in a test
    direct = {f.verdict for f in kept if f.criterion in _DIRECT} - {"not assessed"}
    wet = service.wetted or service.contact == "atmosphere"
    heat_alone = reference.heat_resisting and not wet
    if direct or service.chemicals or heat_alone:
        kept = [_softened(f, direct) if f.criterion == "pitting index" else f for f in kept]
    # what is met asks for no change
    return [f._replace(remedy="") if f.verdict == "ok" and f.remedy else f for f in kept]


def dual(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Whether one heat can carry the grades of a dual certification, or this heat does."""
    if not steel.parts:
        return _carries(steel, reference.parts) if steel.is_heat and reference.parts else None
    shut = [e for e, low in steel.least.items() if low > steel.highest(e) > 0]
    added = [
        f"{e}, which {other.title} does not list and which must not be added on purpose"
        for part in steel.parts for other in steel.parts for e in _asked(part)
        if e not in other.least and e not in other.most
    ]  # fmt: skip
    against = [f"{', '.join(shut)} leave no window"] if shut else []
    against += [f"one asks for {'; '.join(dict.fromkeys(added))}"] if added else []
    source, remedy = "limits of both grades", "one of the two alone"
    if against:
        why = f"no heat can carry both: {'; '.join(against)}"
        return Finding("stop", why, source=source, status=steel.status, remedy=remedy)
    tight = {e: (low, steel.most[e]) for e, low in steel.least.items() if e in steel.most}
    narrow = ", ".join(f"{e} {low:g} to {high:g}" for e, (low, high) in tight.items())
    why = f"one heat can carry both: C up to {steel.highest('C'):g}, {narrow} %; it must meet the "
    why += "higher strength"
    return Finding("ok", why, source=source, status=steel.status)


def _asked(part: Candidate) -> list[str]:
    """Elements of which a grade asks for a least content, those that stabilise it among them."""
    held = [e for e in ("Ti", "Nb", "Zr") if e in part.most] if part.stabilised else []
    return list(dict.fromkeys([*(e for e, low in part.least.items() if low > 0), *held]))


def _carries(heat: Candidate, parts: tuple[Candidate, ...]) -> Finding:
    """Whether one heat, or the heats of a works grade, lie inside every grade of a dual name."""
    out = [f"{e} {heat.most[e]:g} above {high:g} of {part.title}" for part in parts
           for e, high in part.most.items() if heat.most.get(e, high) > high]  # fmt: skip
    out += [f"{e} {heat.least[e]:g} below {low:g} of {part.title}" for part in parts
            for e, low in part.least.items() if heat.least.get(e, low) < low]  # fmt: skip
    unknown = sorted({e for p in parts for e in (*p.least, *p.most)} - set(heat.least))
    told = [f"lies inside {' and '.join(part.title for part in parts)}"]
    verdict: Verdict = "ok"
    remedy = "a full analysis"
    if out:
        verdict, remedy = "stop", "one of the grades alone"
        told = [f"cannot carry both: {', '.join(out)}"]
    elif unknown:
        verdict = "not assessed"
    told += [f"not reported: {', '.join(unknown)}"] if unknown else []
    status = weakest(*(p.status for p in parts))
    source = "limits of both grades"
    return Finding(verdict, "; ".join(told), source=source, status=status, remedy=remedy)


# In the order in which the first shortfall decides.
_CRITERIA: dict[str, tuple[Criterion, ...]] = {
    "dual certification": (dual,),
    "product form": (working.product_form, working.held_form),
    "hardness": (chosen.treated_hardness,),
    "temper": (chosen.temper,),
    "hot gas": (temperature.hot_gas,),
    "heat": (temperature.heat,),
    "embrittlement": (embrittlement.embrittlement,),
    "atmosphere": (corrosion.air,),
    "water": (waters.water,),
    "free chlorine": (waters.chlorine,),
    "stress corrosion": (cracking.cracking,),
    "weld": (corrosion.as_welded,),
    "warm in marine air": (cracking.hot_coast,),
    "cold": (temperature.cold,),
    "magnetism": (working.magnetism,),
    "skin contact": (working.skin,),
    "finish": (working.surface_finish,),
    "pitting index": (corrosion.pitting_index,),
    "proof strength": (working.strength,),
    "forming": (working.forming,),
    "machining": (working.machining,),
    "chemicals": (corrosion.chemicals,),
    "food contact": (working.food,),
    "hot strength": (temperature.hot_strength,),
    "pressure": (partial(working.by_code, "pressure"),),
    "sour service": (partial(working.by_code, "sour"),),
    "load bearing": (partial(working.by_code, "load_bearing"),),
}
#: The names of all criteria in that order.
ORDER = tuple(_CRITERIA)


def left_open(of_grade: list[Finding]) -> list[Finding]:
    """The criteria that the question named and nobody assessed: none of them may end in an ok."""
    return [f for f in of_grade if f.verdict == "not assessed" and f.criterion not in _UNASKED]


def answered_directly(of_grade: list[Finding]) -> bool:
    """Whether the lists for air or water name the steel."""
    return any(f.criterion in _DIRECT and f.verdict != "not assessed" for f in of_grade)


def _softened(finding: Finding, direct: set[Verdict]) -> Finding:
    """The index where air or water answer: no doubt of its own if they are met, else a caution.
    Of acids, alkalis and hot gas it says nothing: alone with them it is no stop."""
    if finding.verdict in ("ok", "not assessed"):
        return finding
    why = "atmosphere or water above answer directly" if direct else "it ranks no other medium"
    reason = f"{finding.reason}; lower, but {why}"
    return finding._replace(verdict="ok" if direct == {"ok"} else "caution", reason=reason)
