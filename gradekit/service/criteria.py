"""Every criterion that a service asks for, on one steel, in the order in which they decide."""

from __future__ import annotations

from dataclasses import replace

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

# Criteria in the order in which the first shortfall decides.
ORDER = (
    "dual certification", "product form", "hardness", "temper", "hot gas", "heat",
    "embrittlement", "atmosphere", "water", "free chlorine", "stress corrosion", "weld",
    "warm in marine air", "cold", "magnetism", "skin contact", "finish", "pitting index",
    "proof strength", "forming", "machining", "chemicals", "food contact", "hot strength",
    "pressure", "sour service", "load bearing",
)  # fmt: skip
#: What a grade is bought for: open, it outweighs a caution elsewhere.
CHOSEN_FOR = ("hardness", "temper", "heat")
_DIRECT = ("atmosphere", "water")
#: What is looked at although nobody asked for it; every other criterion was named by the question.
_UNASKED = ("product form", "pitting index", "proof strength")


def findings(steel: Candidate, reference: Candidate, service: Service) -> list[Finding]:
    """Return every criterion that the service asks for, on one steel."""
    asked = [
        dual(steel, reference),
        working.product_form(steel, service),
        corrosion.air(steel, service, reference),
        waters.water(steel, service, reference),
        waters.chlorine(steel, service, reference),
        cracking.cracking(steel, service),
        cracking.hot_coast(steel, service),
        corrosion.as_welded(steel, service),
        corrosion.chemicals(steel, service),
        None if service.nothing_wets else corrosion.pitting_index(steel, reference),
        working.strength(steel, reference, service),
        working.forming(steel, reference, service),
        working.machining(steel, reference, service),
        working.magnetism(steel, service),
        temperature.heat(steel, service, reference) or chosen.unstated_heat(steel, reference),
        embrittlement.embrittlement(steel, service),
        temperature.cold(steel, service),
        temperature.hot_strength(steel, service),
        temperature.hot_gas(steel, service),
        chosen.treated_hardness(steel, reference, service),
        chosen.temper(steel, reference, service),
        working.surface_finish(steel, service),
        working.skin(steel, service, reference),
        working.food(steel, service),
        *working.codes(steel, service),
    ]
    kept = [f for f in asked if f is not None]
    # a direct answer on corrosion outranks the index, which only ranks steels in a test
    direct = {f.verdict for f in kept if f.criterion in _DIRECT} - {"not assessed"}
    if direct or service.chemicals:
        kept = [_softened(f, direct) if f.criterion == "pitting index" else f for f in kept]
    return sorted(kept, key=lambda f: ORDER.index(f.criterion))


def dual(steel: Candidate, reference: Candidate) -> Finding | None:
    """Whether one heat can carry the grades of a dual certification, or this heat does."""
    if not steel.parts:
        return _carries(steel, reference.parts) if steel.is_heat and reference.parts else None
    shut = [e for e, low in steel.least.items() if low > steel.highest(e) > 0]
    added = [
        f"{e}, which {other.title} does not list and which must not be added on purpose"
        for part in steel.parts for other in steel.parts for e in _asked(part)
        if e not in other.least and e not in other.most
    ]  # fmt: skip
    tight = {e: (low, steel.most[e]) for e, low in steel.least.items() if e in steel.most}
    narrow = ", ".join(f"{e} {low:g} to {high:g}" for e, (low, high) in tight.items())
    carbon = f"C up to {steel.highest('C'):g}"
    why = [f"{', '.join(shut)} leave no window"] if shut else []
    why += [f"one asks for {'; '.join(dict.fromkeys(added))}"] if added else []
    return Finding(
        "dual certification", "stop" if why else "ok",
        f"no heat can carry both: {'; '.join(why)}" if why
        else f"one heat can carry both: {carbon}, {narrow} %; it must meet the higher strength",
        source="limits of both grades", status=steel.status,
        remedy="one of the two alone" if why else "",
    )  # fmt: skip


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
    names = " and ".join(part.title for part in parts)
    open_ = f"not reported: {', '.join(unknown)}" if unknown else ""
    verdict: Verdict = "stop" if out else "not assessed" if unknown else "ok"
    return Finding(
        "dual certification", verdict,
        "; ".join(filter(None, [f"cannot carry both: {', '.join(out)}" if out
                                else f"lies inside {names}", open_])),
        source="limits of both grades", status=weakest(*(p.status for p in parts)),
        remedy="" if verdict == "ok" else "one of the grades alone" if out else "a full analysis",
    )  # fmt: skip


def left_open(of_grade: list[Finding]) -> list[Finding]:
    """The criteria that the question named and nobody assessed: none of them may end in an ok."""
    return [f for f in of_grade if f.verdict == "not assessed" and f.criterion not in _UNASKED]


def answered_directly(of_grade: list[Finding]) -> bool:
    """Whether the lists for air or water name the steel."""
    return any(f.criterion in _DIRECT and f.verdict != "not assessed" for f in of_grade)


def _softened(finding: Finding, direct: set[Verdict]) -> Finding:
    """The index where air or water answer: no doubt of its own if they are met, else a caution.
    Of acids and alkalis it says nothing: alone with them it is no stop."""
    if finding.verdict in ("ok", "not assessed"):
        return finding
    why = "atmosphere or water above answer directly" if direct else "it ranks no other medium"
    reason = f"{finding.reason}; lower, but {why}"
    return replace(finding, verdict="ok" if direct == {"ok"} else "caution", reason=reason)
