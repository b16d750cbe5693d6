"""Whole heats walked through the works: what every row must hold, and what-if on the plant."""

import ast
import inspect
import sys

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.app.views import live
from gradekit.core.sources import STATUSES
from gradekit.core.verdicts import VERDICTS
from gradekit.heats.batch import as_batch
from gradekit.relations.evaluate import evaluate_batch
from gradekit.works.row import COLUMNS
from gradekit.works.step import Lot
from gradekit.works.walk import STEPS

ORDINARY = {
    "C": 0.04,
    "Si": 0.4,
    "Mn": 1.3,
    "P": 0.03,
    "S": 0.001,
    "Cr": 18.2,
    "Ni": 8.1,
    "N": 0.05,
}


@pytest.fixture(scope="module")
def data(root):
    return root / "data"


@pytest.fixture(scope="module")
def walked(data):
    heats = gk.read_heats(data / "heats.csv").iloc[::6]
    return gk.walk_route(
        heats, data / "plant.csv", prices=data / "prices.csv", recoveries=data / "recoveries.csv"
    )


def test_the_table_is_as_promised(walked):
    table = walked.table
    assert tuple(table.columns) == COLUMNS
    assert list(COLUMNS) == (
        "heat step check value limit unit margin verdict reason source status".split()
    )
    assert set(table["verdict"]) <= set(VERDICTS)
    assert set(table["status"]) <= {*STATUSES, ""}
    assert set(table["step"]) == {s.STEP for s in STEPS}


def test_margin_and_verdict_never_contradict(walked):
    table = walked.table
    known = table[table["margin"].notna()]
    assert not ((known["margin"] < 0) & (known["verdict"] == "ok")).any()
    assert not ((known["margin"] >= 0) & (known["verdict"] == "stop")).any()
    assert known["value"].notna().all() and (known["limit"] != "").all()
    idle = table[table["verdict"] == "not assessed"]
    assert (idle["reason"] != "").all() and idle["margin"].isna().all()


def test_the_evidence_stands_beside_the_verdict_and_not_in_the_reason(walked):
    table = walked.table
    judged = table[(table["verdict"] != "not assessed") & table["margin"].notna()]
    page = gk.walk_route(ORDINARY)._repr_html_()
    for status in ("memory", "heuristic", "conflicting"):
        assert (judged["status"] == status).any() and f" {status}</span>" in page
    assert (judged["source"] != "").all()
    # kept limits are ok whatever they rest on, unless something nearer than the limit is said, or
    # the number is that of another steel: 18-8 constants and Md30 forms for manganese steel
    kept = judged[(judged["margin"] > 0) & (judged["verdict"] != "ok")]
    near = "standard error|narrow|forms keep the limit|compress samples|no form of Md30"
    assert kept["reason"].str.contains(near).all()


def test_heats_stay_in_order_and_steps_too(walked):
    assert list(walked.table["heat"].unique()) == list(walked.worst.index)
    order = [s.STEP for s in STEPS]
    assert [s for s in walked.table["step"].unique()] == order
    for _, rows in walked.table.groupby("heat", sort=False):
        places = [order.index(s) for s in rows["step"]]
        assert places == sorted(places)


def test_one_heat_alone_gives_the_same_rows(data, walked):
    name = walked.worst.index[1]
    heats = gk.read_heats(data / "heats.csv").loc[[name]]
    alone = gk.walk_route(
        heats, data / "plant.csv", prices=data / "prices.csv", recoveries=data / "recoveries.csv"
    )
    both = alone.for_heat(name), walked.for_heat(name)
    assert both[0][["check", "verdict"]].equals(both[1][["check", "verdict"]])
    assert np.allclose(both[0]["value"], both[1]["value"], equal_nan=True)
    assert name in alone._repr_html_() and "Worst verdict" in walked._repr_html_()


def test_without_a_plant_a_typical_works_serves_and_says_so():
    route = gk.walk_route(ORDINARY)
    table = route.table
    assert not table["reason"].str.contains("the plant table has no").any()
    assert (table["verdict"] == "not assessed").mean() <= 0.35
    assert route._repr_html_().count(route.plant) == 1 and "typical works" in route.plant
    assert table["source"].str.contains("plant table (typical)", regex=False).sum() >= 10
    assert gk.assess_route(ORDINARY).attrs["plant"] == route.plant


def test_nitrogen_far_above_what_casts_is_stopped_in_a_typical_works():
    table = gk.assess_route(ORDINARY | {"N": 0.45}).set_index("check")
    assert table.at["nitrogen that casts without pores", "verdict"] == "stop"


def test_own_lines_replace_those_of_the_typical_works_one_by_one(data):
    usual, own = (
        gk.typical_plant(),
        {"caster.superheat_max": (38, "C"), "caster.pressure": ("", "atm")},
    )
    mine = gk.typical_plant(own)
    assert mine.get("caster.superheat_max", "C") == 38 and mine.gap("caster.pressure")
    assert mine.get("caster.superheat_min", "C") == usual.get("caster.superheat_min", "C")
    assert mine.cite("caster.superheat_max") == "plant table"
    ladder = {"converter.oxygen_to_inert_step_1": (2, "1")}
    assert "converter.oxygen_to_inert_step_2" not in gk.typical_plant(ladder).limits.index
    known = set(gk.read_plant(data / "plant.csv").limits.index)
    used = [n for n in usual.limits.index if not n.startswith(("cold_mill.", "anneal.grain"))]
    assert set(used) <= known | {"converter.bath_sulphur_start"}, "no line that no step reads"


def test_a_step_that_is_mostly_unknown_is_not_simply_ok(data):
    """What is not known about a steel must not make it look better."""
    whole = gk.app.route_explorer(ORDINARY, data / "plant.csv")
    poor = gk.app.route_explorer(
        {k: v for k, v in ORDINARY.items() if k != "Ni"}, data / "plant.csv"
    )
    for panel in (whole, poor):
        rows, page = panel.route.table, live(panel.moving(panel.state))
        steps = rows.groupby("step")["verdict"].agg(list)
        partly = [
            v for v in steps
            if set(v) <= {"ok", "not assessed"} and v.count("ok") and v.count("ok") < len(v) / 2
        ]  # fmt: skip
        assert page.count("ok in part<") == len(partly)
        unknown = rows["verdict"].eq("not assessed").sum()
        assert f"Not assessed: {unknown};" in page
    assert partly
    panel.limits.enter("hot_mill.force_max", "0")
    assert "must be at least" in panel.limits.problems["hot_mill.force_max"]
    assert dict(panel.state.limits)["hot_mill.force_max"] > 0


def test_removing_one_limit_costs_only_its_own_checks(data):
    plant = gk.read_plant(data / "plant.csv")
    full = gk.assess_route(ORDINARY, plant).set_index("check")["verdict"]
    less = gk.assess_route(ORDINARY, plant.changed(caster__pressure=np.nan)).set_index("check")[
        "verdict"
    ]
    changed = full.index[full != less]
    assert list(changed) == ["nitrogen that casts without pores"]


def test_an_unknown_condition_meets_its_neighbour(data):
    with pytest.raises(gk.InputError, match="nearest hydrogen_ppm"):
        gk.assess_route({"Cr": 18.0}, data / "plant.csv", hydrogen_pm=4)
    with pytest.raises(gk.InputError, match="hydrogen_ppm"):
        gk.assess_route({"Cr": 18.0}, data / "plant.csv", hydrogen_ppm="much")
    with pytest.raises(gk.InputError, match="heat"):
        gk.walk_route({"Cr": 18.0}, data / "plant.csv").for_heat("H9")
    assert {"hydrogen_ppm", "prices", "recoveries"} <= set(gk.works.route_conditions())


def test_cautions_stand_beside_the_steps(walked):
    for step in ("charge", "refining", "nitrogen and gas", "casting"):
        assert walked.cautions[step], step
    html = walked._repr_html_()
    assert "asphyxiate" in html and "moisture explode" in html and "radioactive" in html


def test_chromium_alone_is_walked_without_a_stumble(data):
    table = gk.assess_route({"Cr": 18.0}, data / "plant.csv")
    assert "not reported" in " ".join(table["reason"])


class Asked(dict):
    """Conditions that note which of them were asked for."""

    def __init__(self, *given):
        super().__init__(*given)
        self.names = set()

    def __contains__(self, name):
        self.names.add(name)
        return super().__contains__(name)

    def __getitem__(self, name):
        self.names.add(name)
        return super().__getitem__(name)

    def get(self, name, otherwise=None):
        self.names.add(name)
        return super().get(name, otherwise)


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.STEP)
def test_every_step_offers_what_the_page_asks_of_it(step, data):
    tree = ast.parse(inspect.getsource(step))
    assert isinstance(step.STEP, str) and ast.get_docstring(tree)
    lot = Lot(as_batch(pd.DataFrame(FAMILIES_WALKED).T), gk.typical_plant(), step=step.STEP)
    given = {"prices": data / "prices.csv", "recoveries": data / "recoveries.csv", "finish": "2B"}
    lot.conditions = Asked(given)
    step.checks(lot)
    # the family that was told is in the kinds of the lot already
    assert lot.conditions.names == set(step.CONDITIONS) - {"family"}


def test_a_batch_is_checked_once_and_no_relation_is_evaluated_twice(monkeypatch, data):
    checked, asked = [], []
    for name in [n for n in sys.modules if n.startswith("gradekit.")]:
        for function, calls in ((as_batch, checked), (evaluate_batch, asked)):
            if hasattr(sys.modules[name], function.__name__):
                counting = _counted(function, calls)
                monkeypatch.setattr(sys.modules[name], function.__name__, counting)
    gk.walk_route(ORDINARY, data / "plant.csv")
    sets = [
        (*batch.columns, str(names), str(sorted(given.items()))) for (batch, names), given in asked
    ]
    assert len(checked) == 1 and len(sets) == len(set(sets)) > 5


def _counted(function, calls):
    def counting(*args, **conditions):
        calls.append((args, conditions))
        return function(*args, **conditions)

    return counting


FAMILIES_WALKED = {
    "304": dict(C=0.045, Si=0.45, Mn=1.3, P=0.03, S=0.003, Cr=18.2, Ni=8.1, Mo=0.2, Cu=0.3, N=0.05),
    "316L": dict(C=0.02, Si=0.5, Mn=1.3, P=0.03, S=0.002, Cr=16.8, Ni=10.1, Mo=2.05, N=0.045),
    "201": dict(C=0.05, Si=0.4, Mn=6.5, P=0.03, S=0.003, Cr=17.0, Ni=4.5, Cu=0.4, N=0.16),
    "2205": dict(C=0.02, Si=0.4, Mn=1.6, P=0.025, S=0.001, Cr=22.4, Ni=5.7, Mo=3.15, N=0.175),
    "6Mo": dict(C=0.012, Si=0.4, Mn=0.6, P=0.02, S=0.001, Cr=20, Ni=18, Mo=6.1, Cu=0.7, N=0.2),
    "430": dict(C=0.045, Si=0.35, Mn=0.4, P=0.025, S=0.002, Cr=16.3, Ni=0.2, N=0.035),
    "441": dict(C=0.015, Si=0.5, Mn=0.4, P=0.025, S=0.002, Cr=17.8, Ni=0.2, Ti=0.15, Nb=0.42,
                N=0.015),
    "420": dict(C=0.3, Si=0.4, Mn=0.5, P=0.025, S=0.002, Cr=13.2, Ni=0.2, Mo=0.05, Cu=0.1, N=0.03),
    "13-4": dict(C=0.03, Si=0.4, Mn=0.7, P=0.025, S=0.002, Cr=12.8, Ni=4, Mo=0.5, Cu=0.1, N=0.03),
}  # fmt: skip


@pytest.fixture(scope="module")
def families_walked():
    return gk.assess_route(pd.DataFrame(FAMILIES_WALKED).T)


def test_a_sound_heat_of_each_family_is_not_stopped_by_a_typical_works(families_walked):
    counts = families_walked.groupby("heat")["verdict"].value_counts().unstack(fill_value=0)
    assert "stop" not in counts.columns
    assert counts.at["304", "caution"] <= 2, "a sound 18-8 heat"
    assert (counts["not assessed"] / counts.sum(axis=1)).max() <= 0.35


def test_sound_18_8_heats_walk_a_typical_works_with_at_most_two_cautions():
    sound = {
        "low carbon": dict(C=0.022, Si=0.45, Mn=1.5, P=0.028, S=0.002, Cr=18.2, Ni=8.2, N=0.07),
        "deep drawing": dict(C=0.04, Si=0.4, Mn=1.2, P=0.025, S=0.002, Cr=18.0, Ni=9.1, N=0.035),
        "plain": dict(C=0.05, Si=0.4, Mn=1.4, P=0.03, S=0.002, Cr=18.2, Ni=8.1, N=0.05),
    }
    table = gk.assess_route(pd.DataFrame(sound).T.assign(Mo=0.25, Cu=0.35))
    assert "stop" not in set(table["verdict"])
    counts = table[table["verdict"].eq("caution")].groupby("heat").size().reindex(sound).fillna(0)
    assert (counts <= 2).all(), table[table["verdict"].eq("caution")]


def test_what_does_not_concern_a_family_is_not_asked(families_walked):
    checks = families_walked.groupby("heat")["check"].agg(set)
    assert "P + S against the first phase" in checks["304"] & checks["2205"]
    assert "P + S against the first phase" not in checks["430"] | checks["420"]
    assert "hot ductility at the edges" in checks["2205"] & checks["201"]
    assert "sigma in the cooling slab" in checks["2205"] & checks["6Mo"]
    assert "ridging and sticking" in checks["430"] & checks["441"]
    assert not checks["304"] & {"ridging and sticking", "sigma in the cooling slab"}


def test_a_history_is_walked_in_parts_with_the_same_answer(monkeypatch):
    steel = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
    lean = {"C": 0.06, "Si": 0.5, "Mn": 7.5, "Cr": 17.4, "Ni": 4.2, "N": 0.2, "Cu": 1.6}
    heats = pd.DataFrame(
        [steel, lean, steel | {"Ni": 9.0}, lean | {"N": 0.12}, steel | {"C": 0.02}]
    )
    grain = pd.Series({1: 30.0, 4: 40.0})
    whole = gk.assess_route(heats, grain_start_um=grain)
    monkeypatch.setattr("gradekit.works.walk._AT_ONCE", 2)
    parts = gk.assess_route(heats, grain_start_um=grain)
    pd.testing.assert_frame_equal(whole, parts)
    assert parts.attrs == whole.attrs


def test_two_heats_have_a_sentence_each_and_many_are_counted():
    plain = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
    lean = plain | {"C": 0.056, "Mn": 6.2, "Ni": 3.9, "N": 0.285}
    two = gk.walk_route(pd.DataFrame([plain, lean], ["old", "new"]), gk.typical_plant())
    steps = two.worst.columns[two.worst.loc["new"].eq("caution")]
    assert two.words == (
        f"old can be made, by all that was assessed. new can be made; watch: {', '.join(steps)}."
    )
    many = gk.walk_route(pd.DataFrame([plain] * 4, list("abcd")), gk.typical_plant())
    assert many.words == "4 heats: 4 ok."
