"""Places and their corrosion class: the tables are whole, every combination has a class."""

from __future__ import annotations

import itertools

import pytest

import gradekit as gk
from gradekit.core.sources import STATUSES
from gradekit.service.exposure import (
    CLASSES,
    WORDS,
    class_of,
    class_of_factor,
    classify,
    excluded_from_pools,
    grades_of_class,
)
from gradekit.service.tables import judged, judgement, rows

# Read from the annex's scheme a second time, apart from the table of the library.
F1 = {"1": 1, "2": 0, "3": -3, "4": -7, "5": -10, "6": -10, "7": -15}
F2 = {"1": 0, "2": -5, "3": -10}
F3 = {"1": 0, "2": -2, "3": -7}


def test_the_factor_tables_are_whole():
    table = {(r["part"], r["key"]): r for r in rows("atmosphere_class")}
    for part, values in (("f1", F1), ("f2", F2), ("f3", F3)):
        held = {key: int(r["value"]) for (p, key), r in table.items() if p == part}
        assert held == values
    assert tuple(grades_of_class()) == CLASSES
    listed = [g for grades in grades_of_class().values() for g in grades]
    assert len(listed) == len(set(listed)) == 31
    assert all(r["status"] in STATUSES for r in rows("atmosphere_class"))


@pytest.mark.parametrize(
    "total, crc",
    [(1, "I"), (0, "II"), (-6, "II"), (-7, "III"), (-14, "III"), (-15, "IV"), (-20, "IV"),
     (-21, "V"), (-32, "V")],
)  # fmt: skip
def test_the_bounds_of_the_classes(total, crc):
    assert class_of_factor(total) == crc  # which raises where two bounds hold, or none


def test_every_combination_has_one_class_and_the_harsher_place_none_milder():
    seas, roads = (0.1, 0.25, 0.26, 1, 1.1, 10, 10.1, 500), (0, 0.01, 0.05, 0.1, 5)
    seen = set()
    for indoors, tunnel, sea, road, coast, so2, washing, pool in itertools.product(
        (True, False), (True, False), seas, roads, WORDS["coast"], WORDS["so2"], WORDS["washing"],
        WORDS["pool"],
    ):  # fmt: skip
        found = classify(
            gk.service.Atmosphere(
                indoors=indoors,
                salted_tunnel=tunnel,
                sea_km=sea,
                salted_road_km=road,
                coast=coast,
                so2=so2,
                washing=washing,
                pool=pool,
            )
        )
        assert found.crc in CLASSES and found.reasons and found.status == "memory"
        seen.add(found.crc)
        if found.factors is not None:
            assert sum(found.factors) == found.total
            assert found.factors[0] in F1.values()
    assert seen == set(CLASSES)
    ranks = [
        CLASSES.index(classify(gk.service.Atmosphere(sea_km=km, washing="none")).crc)
        for km in sorted(seas, reverse=True)
    ]
    assert ranks == sorted(ranks)


@pytest.mark.parametrize(
    "place, words",
    [
        (dict(indoors=True), "CRF = 1 + 0 + 0 = 1, class I"),
        (dict(), "CRF = 0 + 0 + 0 = 0, class II"),
        # 5 km: F1 -3; sheltered and not cleaned F3 -7
        (dict(sea_km=5, washing="none"), "CRF = −3 + 0 + −7 = −10, class III"),
        # under a regime of cleaning -3 - 2
        (dict(sea_km=5, washing="cleaned on a plan"), "CRF = −3 + 0 + −2 = −5, class II"),
        (dict(sea_km=0.2), "CRF = −15 + 0 + 0 = −15, class IV"),
        (dict(sea_km=0.2, coast="North Sea (Germany) or Baltic"),
         "CRF = −10 + 0 + 0 = −10, class III"),
        # in a salted tunnel by the open sea the harsher of the two counts, and no rain falls
        (dict(salted_tunnel=True, sea_km=0.2), "CRF = −15 + 0 + −7 = −22, class V"),
        (dict(salted_tunnel=True), "CRF = −10 + 0 + −7 = −17, class IV"),
        # indoors beside a chimney: F1 + F2 = -4, and no rain washes
        (dict(indoors=True, so2="medium"), "CRF = 1 + −5 + −7 = −11, class III"),
        (dict(pool="cleaned at least weekly"), "class III"),
        (dict(pool="cleaned less often"), "class V"),
        (dict(pool="fasteners or threaded parts"), "class V"),
    ],
)  # fmt: skip
def test_places_worked_by_hand(place, words):
    assert classify(gk.service.Atmosphere(**place)).words == words


def test_pools_exclude_the_lean_and_the_super_duplex():
    assert excluded_from_pools("cleaned at least weekly") == (
        "1.4162", "1.4062", "1.4362", "1.4662",
    )  # fmt: skip
    assert excluded_from_pools("fasteners or threaded parts") == ("1.4410", "1.4501", "1.4507")
    assert excluded_from_pools("no") == ()
    assert class_of("1.4509") is None and class_of("1.4521") is None


@pytest.mark.parametrize(
    "wrong, says",
    [
        (dict(so2="lots"), "so2"),
        (dict(sea_km=-1), "sea_km"),
        (dict(sea_km="near"), "sea_km"),
        (dict(indoors="yes"), "True or False"),
        (dict(washing="rian"), "nearest rain"),
    ],
)
def test_a_place_that_cannot_be_is_refused_in_words(wrong, says):
    with pytest.raises(gk.InputError, match=says):
        gk.service.Atmosphere(**wrong)


def test_every_threshold_says_where_it_comes_from():
    for row in rows("judgement"):
        assert row["status"] in STATUSES and row["source"] and row["meaning"]
        assert judged(row["id"]) == float(judgement(row["id"])["value"])
    with pytest.raises(gk.InputError, match="nearest fine_ra"):
        judged("fine_raa")
