"""What must hold of every comparison, whatever the grades and the service."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import gradekit as gk
from gradekit.core.sources import STATUSES
from gradekit.core.verdicts import VERDICTS
from gradekit.service.candidate import Candidate, candidate, standard_candidates
from gradekit.service.criteria import findings
from gradekit.service.exposure import WORDS
from gradekit.service.needs import CHOICES
from gradekit.service.tables import judged

MANY = settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
FEW = settings(MANY, max_examples=25)  # a heat has to be set beside every grade
FINISHES = (None, "1D", "2B", "2J", "2K", "2R", "8K")

steels = st.sampled_from(standard_candidates())


def amount(most: float) -> st.SearchStrategy:
    return st.integers(0, 400).map(lambda k: round(most * (k / 400) ** 3, 4))


places = st.builds(
    gk.service.Atmosphere,
    indoors=st.booleans(),
    sea_km=amount(30.0),
    salted_road_km=amount(2.0),
    salted_tunnel=st.booleans(),
    **{name: st.sampled_from(list(words)) for name, words in WORDS.items()},
)
services = st.builds(
    gk.Service,
    thickness_mm=amount(60.0).map(lambda t: t + 0.3),
    atmosphere=st.none() | places,
    chloride_mg_l=st.none() | amount(40_000.0),
    free_chlorine_mg_l=st.none() | amount(10.0),
    water_temperature_C=st.integers(2, 160),
    temperature_max_C=st.none() | st.integers(20, 1250),
    temperature_min_C=st.none() | st.integers(-200, 20),
    hot_hours=st.none() | amount(1e5),
    finish=st.sampled_from(FINISHES),
    **{name: st.sampled_from(words) for name, words in CHOICES.items()},
    **dict.fromkeys(("welded", "food_contact", "pressure", "sour", "load_bearing"), st.booleans()),
)
heats = st.fixed_dictionaries(
    {"C": amount(0.5), "Cr": st.floats(10.5, 30), "Ni": st.floats(0, 25), "Mn": amount(12.0)},
    optional={"Mo": amount(7.0), "N": amount(0.5), "S": amount(0.3), "Ti": amount(0.8),
              "Cu": amount(4.0), "W": amount(2.0), "Si": amount(3.0)},
)  # fmt: skip


def verdicts(steel: Candidate, reference: Candidate, service: gk.Service) -> dict[str, str]:
    return {f.criterion: f.verdict for f in findings(steel, reference, service)}


@MANY
@given(reference=steels, others=st.lists(steels, min_size=1, max_size=4, unique=True),
       service=services)  # fmt: skip
def test_any_grades_in_any_service_get_whole_answers(reference, others, service):
    found = gk.compare_grades(reference, others, service)
    table = found.table
    assert table["verdict"].isin(VERDICTS).all()
    assert table["evidence"].isin([*STATUSES, ""]).all()
    assert (table.loc[table["evidence"] == "", "verdict"] == "not assessed").all()
    assert (table["reason"] != "").all()
    assert not table.duplicated(["grade", "criterion"]).any()
    assert list(found.decisive.index) == [steel.name for steel in others]
    assert gk.Service.from_dict(service.as_dict()) == service
    assert "approve" not in found.short_answer


@FEW
@given(heat=heats, reference=steels, service=services)
def test_any_heat_gets_an_answer(heat, reference, service):
    said = findings(candidate(heat), reference, service)
    assert {f.verdict for f in said} <= set(VERDICTS)
    back = findings(reference, candidate(heat), service)
    assert {f.verdict for f in back} <= set(VERDICTS)


@MANY
@given(reference=steels, others=st.lists(steels, min_size=2, max_size=4, unique=True),
       service=services, data=st.data())  # fmt: skip
def test_the_order_of_grades_changes_nothing(reference, others, service, data):
    found = gk.compare_grades(reference, others, service).findings
    again = gk.compare_grades(reference, data.draw(st.permutations(others)), service).findings
    assert again == found
    alone = gk.compare_grades(reference, others[0], service).findings
    assert alone[others[0].name] == found[others[0].name]


@FEW
@given(heat=heats, reference=steels, service=services, data=st.data())
def test_the_order_of_elements_changes_nothing(heat, reference, service, data):
    other = dict(data.draw(st.permutations(list(heat.items()))))
    assert verdicts(candidate(heat), reference, service) == verdicts(
        candidate(other), reference, service
    )


@MANY
@given(one=steels, two=steels, service=services)
def test_what_is_said_one_way_holds_the_other_way(one, two, service):
    there = {f.criterion: f for f in findings(one, two, service)}
    back = {f.criterion: f for f in findings(two, one, service)}
    for criterion in ("pitting index", "proof strength", "forming"):
        a, b = there.get(criterion), back.get(criterion)
        if a is None or b is None or "not assessed" in (a.verdict, b.verdict):
            continue
        if criterion == "forming" and service.forming == "bending":  # asks less than there is now
            free = judged("bend_loss")
            assert a.limit == max(b.number - free, 0) and b.limit == max(a.number - free, 0)
        else:
            assert (a.number, a.limit) == (b.limit, b.number), criterion
        # of two numbers at least one is not below the other
        assert "stop" not in (a.verdict, b.verdict) or a.number != a.limit
        assert {a.verdict, b.verdict} != {"stop"}, criterion


# Criteria that set a steel beside the reference; all others look at the place alone.
AGAINST = {
    "pitting index", "proof strength", "product form", "forming", "hardness", "temper",
    "machining",
}  # fmt: skip


@MANY
@given(steel=steels, one=steels, two=steels, service=services)
def test_what_the_place_asks_is_the_same_whatever_was_asked_for(steel, one, two, service):
    first, second = (verdicts(steel, r, service) for r in (one, two))
    # a heat-resisting grade asks for the heat where the service does not name it
    unsaid = {"heat"} if service.temperature_max_C is None else set()
    for criterion in (set(first) | set(second)) - AGAINST - unsaid:
        assert first[criterion] == second[criterion], criterion


# --- a harder service never helps --------------------------------------------------------------


def rising(low: float, high: float) -> st.SearchStrategy:
    return st.tuples(st.floats(low, high), st.floats(low, high)).map(sorted)


def falling(low: float, high: float) -> st.SearchStrategy:
    return rising(low, high).map(lambda pair: pair[::-1])


def words(*mildest_first: object) -> st.SearchStrategy:
    return st.sampled_from(list(pairwise(mildest_first)))


def services_with(name: str, pairs: st.SearchStrategy, **fixed) -> st.SearchStrategy:
    return st.builds(
        lambda service, pair: [service.changed(**fixed, **{name: value}) for value in pair],
        services, pairs,
    )  # fmt: skip


def places_with(name: str, pairs: st.SearchStrategy, **fixed) -> st.SearchStrategy:
    return st.builds(
        lambda service, place, pair: [
            service.changed(atmosphere=replace(place, **fixed, **{name: value})) for value in pair
        ],
        services, places, pairs,
    )  # fmt: skip


WATERS = CHOICES["water"][1:]
HARDER = {
    **{
        f"more chloride, {w}": services_with(
            "chloride_mg_l", st.tuples(amount(40_000.0), amount(40_000.0)).map(sorted), water=w
        )
        for w in WATERS
    },
    **{
        f"warmer, {w}": services_with("water_temperature_C", rising(2, 160), water=w)
        for w in WATERS
    },
    "more chlorine": services_with("free_chlorine_mg_l", rising(0, 10)),
    # Carbides grow in a window of temperature; beyond it a steel may well be sounder again.
    "warm metal": services_with("temperature_max_C", rising(20, judged("carbide_from") - 1)),
    "hot metal": services_with("temperature_max_C", rising(judged("carbide_to") + 1, 1250)),
    "colder metal": services_with("temperature_min_C", falling(-200, 20)),
    "welded": services_with("welded", words(False, True)),
    "thicker weld": services_with("thickness_mm", rising(0.3, 60), welded=True),
    "formed": services_with("forming", words("none", "bending", "deep drawing", "stretching")),
    "hot for longer": services_with("hot_hours", st.tuples(amount(1e5), amount(1e5)).map(sorted)),
    "hot for years": services_with(
        "hot_hours", amount(1e5).map(lambda hours: (hours, None)), pressure=False
    ),
    "standing": services_with("contact", words("flowing", "immersed")),
    "against the skin": services_with("skin_contact", words(*CHOICES["skin_contact"])),
    **{
        name: services_with(name, words(False, True))
        for name in ("food_contact", "pressure", "sour", "load_bearing")
    },
    "nearer the sea": places_with("sea_km", falling(0, 30), pool="no", indoors=False),
    "nearer a salted road": places_with("salted_road_km", falling(0, 2), pool="no"),
    "dirtier air": places_with("so2", words("low", "medium", "high")),
    "less washing": places_with(
        "washing", words("rain", "cleaned on a plan", "none"), pool="no", indoors=False,
        salted_tunnel=False,
    ),
    # In sulphurous air it is the place out of the rain that is the harder one.
    "outdoors": places_with("indoors", words(True, False), pool="no", washing="rain", so2="low"),
    "a pool hall": places_with(
        "pool", words("no", "cleaned at least weekly"), indoors=True, so2="low"
    ),
    "a dirtier pool": places_with("pool", words("cleaned at least weekly", "cleaned less often")),
}  # fmt: skip
# What the thickness asks of the product is another question than what it asks of the weld.
BY_THICKNESS = {"product form", "proof strength", "forming"}


@pytest.mark.parametrize("step", HARDER)
@settings(MANY, max_examples=40)
@given(steel=steels, reference=steels, data=st.data())
def test_a_harder_service_never_improves_a_verdict(step, steel, reference, data):
    before, after = (
        {f.criterion: f.verdict for f in findings(steel, reference, service)}
        for service in data.draw(HARDER[step])
    )
    # the index steps back where air or water come to answer directly
    # toughness comes back above the ranges of 475 °C and of sigma phase
    apart = {"pitting index"} | (BY_THICKNESS if step == "thicker weld" else set())
    apart |= {"embrittlement"} if step.endswith(" metal") else set()
    for criterion in set(before) - apart:
        assert VERDICTS.index(after[criterion]) <= VERDICTS.index(before[criterion]), criterion
