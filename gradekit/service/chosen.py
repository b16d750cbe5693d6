"""What the present grade was chosen for: hardness, a spring's temper, heat.

Each is a criterion as soon as the present grade is of the kind that is bought for it. No figure of
composition answers most of them: then it is said to be open, and what is known of it.
"""

from __future__ import annotations

import re

from gradekit.core.verdicts import Verdict
from gradekit.service.candidate import Candidate
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import naming, rows

#: Words of the customer that ask for hardness.
_HARD = re.compile(r"\bhard(ness|en\w*)?\b|\bedge|\bblade|\bwear\b|härt|verschlei", re.I)
_DRAWN = ("cold rolled strip", "wire")  # forms in which a spring grade is bought by its temper


def treated_hardness(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Hardness by heat treatment, where the present grade has it."""
    if not reference.hardens:
        return None
    source = "trade practice by family"
    wanted = _HARD.search(service.chosen_for) is not None
    if not steel.hardens:
        why = f"{reference.title} hardens by heat treatment, {steel.title} ({steel.family}) does "
        why += "not"
        remedy = "a martensitic or precipitation-hardening grade"
        if wanted:
            return Finding("stop", why, source=source, remedy=remedy)
        why += ": whether the part is used hardened is not said"
        remedy = f"the hardness asked for; if any, {remedy}"
        return Finding("not assessed", why, source=source, remedy=remedy)
    own, now = steel.least.get("C"), reference.least.get("C")
    alike = steel.family == reference.family == "martensitic"
    verdict: Verdict = "ok"
    if alike and now is not None and 0.0 < (high := steel.highest("C")) < now:
        verdict, own = "stop" if wanted else "caution", high
        why = f"carbon up to {high:g} against at least {now:g} %: it hardens less, whatever the "
        why += "treatment"
        remedy = f"a martensitic grade with at least {now:g} % carbon"
    elif steel.title == reference.title:
        why, remedy = "the same treatment", ""
    elif alike and own is not None and now is not None and own >= now:
        why, remedy = f"least carbon {own:g} against {now:g} %: it hardens as far", ""
    else:
        verdict = "not assessed"
        why = f"no hardness after heat treatment is held for {steel.title} and {reference.title}"
        why += "; its carbon may be lower, and it hardens less" if alike else ""
        remedy = "the hardness asked for, and a trial of the treatment"
    return Finding(verdict, why, own, now, "% C", source, remedy=remedy)


def temper(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """The cold-worked state that a spring or a stiff part is ordered in."""
    source = "EN 10151"
    if not service.temper:
        springs = service.form == "spring strip"
        bought = service.form in _DRAWN and _row(reference) == rows("spring_tempers")[0]
        if not springs and (not bought or steel.title == reference.title):
            return None
        why = "a spring is chosen" if springs else f"{reference.title} is mostly bought"
        why += " by its temper, which is not given"
        remedy = "the tensile strength asked for, such as +C1300"
        return Finding("not assessed", why, source=source, remedy=remedy)
    row, asked = _row(steel), float(re.sub(r"\D", "", service.temper))
    if row is None:
        why, remedy = f"no temper list names {steel.title}", "the maker's range of tempers"
        return Finding("not assessed", why, asked, None, "MPa", source, remedy=remedy)
    most = float(row["most_mpa"])
    why = f"{service.temper} against +C{most:g}, the highest listed: {row['why']}"
    verdict: Verdict = "ok" if asked < most else "caution"
    usual = {"1.4310": "1.4310", "1.4568": "1.4568 hardened after forming"}
    others = [text for n, text in usual.items() if n not in (steel.number, reference.number)]
    remedy = ", or ".join(others)
    if asked <= float(row["aged_mpa"] or 0.0):  # its strength comes after forming
        remedy = "an order and a trial of it hardened after forming"
    elif asked > most:
        verdict = "stop"
    if asked == most:
        why += "; at the end of its list little ductility is left"
    return Finding(verdict, why, asked, most, "MPa", row["source"], row["status"], remedy)


def _row(steel: Candidate) -> dict[str, str] | None:
    return naming(steel.number, rows("spring_tempers"))
