"""Every criterion that a service asks for, on one steel, in the order in which they decide."""

from __future__ import annotations

from dataclasses import replace

from gradekit.service import corrosion, waters, working
from gradekit.service.candidate import Candidate
from gradekit.service.finding import Finding
from gradekit.service.needs import Service

__all__ = ["ORDER", "answered_directly", "findings"]

# Criteria in the order in which the first shortfall decides.
ORDER = (
    "product form", "atmosphere", "water", "free chlorine", "stress corrosion", "weld",
    "warm in marine air", "heat",
    "cold", "magnetism", "skin contact", "finish", "pitting index", "proof strength", "forming",
    "chemicals", "food contact", "pressure", "sour service", "load bearing",
)  # fmt: skip


def findings(steel: Candidate, reference: Candidate, service: Service) -> list[Finding]:
    """Return every criterion that the service asks for, on one steel."""
    found = [
        corrosion.air(steel, service),
        waters.water(steel, service),
        waters.chlorine(steel, service),
        waters.cracking(steel, service),
        waters.hot_coast(steel, service),
        corrosion.weld(steel, service),
        corrosion.chemicals(steel, service),
        corrosion.pitting_index(steel, reference),
        working.strength(steel, reference, service),
        working.forming(steel, reference, service),
        working.magnetism(steel, service),
        working.heat(steel, service),
        working.cold(steel, service),
        working.finish(steel, service),
        working.skin(steel, service),
        working.food(steel, service),
        *working.codes(steel, service),
    ]
    kept = [f for f in found if f is not None]
    if answered_directly(kept):
        # a direct answer on corrosion outranks the index, which only ranks steels in a test
        kept = [_softened(f) if f.criterion == "pitting index" else f for f in kept]
    return sorted(kept, key=lambda f: ORDER.index(f.criterion))


def answered_directly(found: list[Finding]) -> bool:
    """Whether the lists for air or water name the steel."""
    return any(
        f.criterion in ("atmosphere", "water") and f.verdict != "not assessed" for f in found
    )


def _softened(finding: Finding) -> Finding:
    if finding.verdict != "stop":
        return finding
    reason = f"{finding.reason}; lower, but atmosphere or water above answer directly"
    return replace(finding, verdict="caution", reason=reason)
