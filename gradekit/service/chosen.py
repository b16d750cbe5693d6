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
from gradekit.service.tables import rows

#: Words of the customer that ask for hardness.
_HARD = re.compile(r"\bhard(ness|en\w*)?\b|\bedge|\bblade|\bwear\b|härt|verschlei", re.I)
_DRAWN = ("cold rolled strip", "wire")  # forms in which a spring grade is bought by its temper


def treated_hardness(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Hardness by heat treatment, where the present grade has it."""
    if not reference.hardens:
        return None
    source, status = "trade practice by family", "memory"
    wanted = _HARD.search(service.chosen_for) is not None
    if not steel.hardens:
        return Finding(
            "hardness", "stop" if wanted else "not assessed",
            f"{reference.title} hardens by heat treatment, {steel.title} ({steel.family}) does not"
            + ("" if wanted else ": whether the part is used hardened is not said"),
            source=source, status=status,
            remedy="a martensitic or precipitation-hardening grade" if wanted
            else "the hardness asked for; if any, a martensitic or precipitation-hardening grade",
        )  # fmt: skip
    alike = steel.family == reference.family == "martensitic"
    own, now = steel.least.get("C"), reference.least.get("C")
    if alike and now is not None and 0.0 < (high := steel.highest("C")) < now:
        return Finding(
            "hardness", "stop" if wanted else "caution",
            f"carbon up to {high:g} against at least {now:g} %: it hardens less, whatever the "
            "treatment", high, now, "% C", source, status,
            f"a martensitic grade with at least {now:g} % carbon",
        )  # fmt: skip
    if steel.title == reference.title or (
        alike and own is not None and now is not None and own >= now
    ):
        why = "the same treatment" if steel.title == reference.title else (
            f"least carbon {own:g} against {now:g} %: it hardens as far")  # fmt: skip
        return Finding("hardness", "ok", why, own, now, "% C", source, status)
    return Finding(
        "hardness", "not assessed",
        f"no hardness after heat treatment is held for {steel.title} and {reference.title}"
        + ("; its carbon may be lower, and it hardens less" if alike else ""),
        own, now, "% C", source, status, "the hardness asked for, and a trial of the treatment",
    )  # fmt: skip


def unstated_heat(steel: Candidate, reference: Candidate) -> Finding | None:
    """Heat, where the present grade is made for it and nobody says how hot it becomes."""
    if not reference.heat_resisting or steel.title == reference.title:
        return None
    return Finding(
        "heat", "not assessed",
        f"{reference.title} is a heat-resisting grade, and how hot the part becomes is not given",
        source="scaling table", remedy="the highest temperature of the metal",
    )  # fmt: skip


def temper(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """The cold-worked state that a spring or a stiff part is ordered in."""
    springs = service.form == "spring strip"
    bought = service.form in _DRAWN and _row(reference) == rows("spring_tempers")[0]
    if not service.temper and not springs and not bought:
        return None
    if not service.temper:
        why = "a spring is chosen" if springs else f"{reference.title} is mostly bought"
        if not springs and steel.title == reference.title:
            return None
        return Finding(
            "temper", "not assessed", f"{why} by its temper, which is not given",
            source="EN 10151", remedy="the tensile strength asked for, such as +C1300",
        )  # fmt: skip
    row = _row(steel)
    asked = float(re.sub(r"\D", "", service.temper))
    if row is None:
        return Finding(
            "temper", "not assessed", f"no temper list names {steel.title}", asked, None, "MPa",
            "EN 10151", "memory", "the maker's range of tempers",
        )  # fmt: skip
    most = float(row["most_mpa"])
    reason = f"{service.temper} against +C{most:g}, the highest listed: {row['why']}"
    verdict: Verdict = "ok" if asked < most else "caution" if asked == most else "stop"
    ages = asked <= float(row["aged_mpa"] or 0.0)  # its strength comes after forming
    if verdict == "stop" and ages:
        verdict = "caution"
    elif verdict == "caution":
        reason += "; at the end of its list little ductility is left"
    usual = {"1.4310": "1.4310", "1.4568": "1.4568 hardened after forming"}
    others = [text for n, text in usual.items() if n not in (steel.number, reference.number)]
    remedy = "an order and a trial of it hardened after forming" if ages else ", or ".join(others)
    return Finding(
        "temper", verdict, reason, asked, most, "MPa", row["source"], row["status"],
        "" if asked < most else remedy,
    )  # fmt: skip


def _row(steel: Candidate) -> dict[str, str] | None:
    return next((r for r in rows("spring_tempers") if steel.number in r["numbers"].split()), None)
