"""How a verdict is made, and that nothing is judged without what it needs."""

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.core.sources import STATUSES, weakest
from gradekit.core.verdicts import VERDICTS, worst
from gradekit.works.plant import as_plant
from gradekit.works.row import COLUMNS, as_table, short
from gradekit.works.step import Lot
from gradekit.works.tables import Cited, rule

ONE = dict(unit="wt%", source="somewhere")


def lot_of(*heats, **content):
    content = content or {"Cr": 18.0}
    return Lot(pd.DataFrame({e: [x] * len(heats) for e, x in content.items()}, heats), as_plant({}))


def one(value, **how):
    lot = lot_of("H")
    lot.judge("c", value, **(ONE | {"status": "verified"} | how))
    return lot.rows[0]


@pytest.mark.parametrize(
    "value, how, verdict, margin",
    [
        (5.0, dict(low=3), "ok", 2.0),
        (5.0, dict(high=8, low=3), "ok", 2.0),
        (7.0, dict(high=8, low=3), "ok", 1.0),
        (2.0, dict(low=3), "stop", -1.0),
        (2.0, dict(low=3, beyond="caution"), "caution", -1.0),
        (3.0, dict(low=3), "ok", 0.0),
        (5.0, dict(low=3, error=2.5), "caution", 2.0),
        (5.0, dict(low=3, error=1.9), "ok", 2.0),
        (2.0, dict(low=3, error=2.5), "stop", -1.0),
        (5.0, dict(low=3, near="above 4"), "caution", 2.0),
        (5.0, dict(low=3, doubts="out of range"), "ok", 2.0),
        (2.0, dict(low=3, doubts="out of range"), "stop", -1.0),
    ],
)
def test_verdict_and_margin(value, how, verdict, margin):
    row = one(value, **how)
    assert (row.verdict, row.margin) == (verdict, margin)


@pytest.mark.parametrize(
    "value, how, word",
    [
        (np.nan, dict(low=3), "no value"),
        (5.0, dict(), "no limit"),
        (5.0, dict(low=np.nan), "limit is not known"),
        (5.0, dict(low=3, gap="the plant table has no x.y"), "no x.y"),
    ],
)
def test_what_is_missing_is_said_and_never_judged(value, how, word):
    row = one(value, **how)
    assert row.verdict == "not assessed" and word in row.reason and np.isnan(row.margin)


def test_a_mean_of_heats_at_the_limit_is_no_stop():
    row = one(np.nextafter(0.0008, 0), low=0.0008)
    assert row.verdict == "ok" and row.margin == 0


@pytest.mark.parametrize("status", STATUSES)
@pytest.mark.parametrize("value", [2.0, 3.4, 5.0])
def test_no_evidence_word_changes_a_verdict(status, value):
    read = one(value, low=3, error=0.5)
    assert one(value, low=3, error=0.5, status=status).verdict == read.verdict
    limit = Cited(3, status=status)
    assert one(value, low=limit, error=0.5).verdict == read.verdict


def test_forms_that_disagree_make_caution_either_way():
    forms = pd.DataFrame({"a": [5.0], "b": [2.0], "c": [np.nan]}, index=["H"])
    for value in (5.0, 2.0):
        row = one(value, low=3, forms=forms)
        assert row.verdict == "caution" and "1 of 2 forms" in row.reason
    below = pd.DataFrame({"a": [1.0], "b": [2.0]}, index=["H"])
    row = one(1.0, low=3, forms=below)
    assert row.verdict == "stop" and "both forms agree, 1 to 2 wt%" in row.reason


def test_the_weaker_status_of_value_and_limit_is_shown():
    assert one(5.0, low=Cited(3, status="memory")).status == "memory"
    assert weakest("verified", "", "heuristic", "memory") == "heuristic"
    assert weakest() == ""
    assert [weakest("verified", word) for word in STATUSES] == list(STATUSES)


def test_out_of_range_is_said_beside_the_verdict():
    inside, outside = {"Mn": 7, "N": 0.1}, {"Mn": 9, "N": 0.1}
    base = {"C": 0.05, "Cr": 17, "Ni": 4, "Si": 0.4}
    lot = Lot(gk.as_batch([base | inside, base | outside]), as_plant({}))
    lot.relation("c", "liquidus_kagawa_1986", low=1000)
    assert [r.verdict for r in lot.rows] == ["ok", "ok"]
    assert "above the range" in lot.rows[1].reason


def test_a_missing_element_is_named():
    lot, name = lot_of("H", Cr=18.0, Ni=8.0), "n_solubility_recommended"
    lot.relation("c", name, lot.evaluate(name, temperature_C=1600, pN2_atm=1), low=0.1)
    (row,) = lot.rows
    assert row.verdict == "not assessed" and "C not reported" in row.reason


def test_limits_reasons_and_gaps_may_differ_from_heat_to_heat():
    lot = lot_of("A", "B", "C")
    lot.judge(
        "c", 1.0, status="verified", **ONE,
        low=pd.Series({"B": 2.0, "A": 0.5, "C": 0.0}), reason=["x", "y", "z"],
        gap=pd.Series({"C": "gone"}).reindex(["A", "B", "C"]).fillna(""),
        beyond=["stop", "caution", "stop"],
    )  # fmt: skip
    assert [r.verdict for r in lot.rows] == ["ok", "caution", "not assessed"]
    assert [r.limit for r in lot.rows] == ["≥ 0.5", "≥ 2", "≥ 0"]
    assert [r.reason for r in lot.rows] == ["x", "y", "gone"]


def test_a_cited_limit_brings_source_evidence_unit_and_what_is_missing():
    plant = as_plant({"caster.pressure": (1, "atm"), "anneal.cooling_rate": ("", "C/s")})
    heats = pd.DataFrame({"Cr": [18.0, np.nan], "B": [0.002, 0.004]}, ["A", "B"])
    lot = Lot(heats, plant, {"coast_km": 4.0}, "trial")
    lot.judge("boron", lot.content("B"), high=rule("boron"), source="here")
    lot.judge("boron", lot.content("B"), low=rule("boron"))
    assert [(r.verdict, r.limit) for r in lot.rows[:4]] == [
        ("ok", "≤ 0.003"), ("stop", "≤ 0.003"), ("ok", "≥ 0.001"), ("ok", "≥ 0.001")
    ]  # fmt: skip
    assert lot.rows[0].source == "here; trade practice" and lot.rows[0].status == "memory"
    assert {r.unit for r in lot.rows} == {"wt%"} and {r.step for r in lot.rows} == {"trial"}
    lot.rows.clear()
    lot.judge("cooling", plant.line("anneal.cooling_rate", "C/s"), low=1.0)
    lot.judge("pressure", lot.condition("coast_km"), high=plant.line("caster.pressure", "atm"))
    lot.judge("chromium", lot.content("Cr"), low=lot.condition("weld_mm"))
    assert [r.reason for r in lot.rows] == [
        "the plant table has no anneal.cooling_rate", "the plant table has no anneal.cooling_rate",
        "", "", "weld_mm is not given", "no value: Cr not reported",
    ]  # fmt: skip
    assert [r.unit for r in lot.rows[::2]] == ["°C/s", "atm", "wt%"]


def test_parts_of_a_lot_put_their_rows_with_the_whole():
    heats = pd.DataFrame({"Cr": [18.2, 22.4, 16.3], "Ni": [8.1, 5.7, 0.2], "C": [0.04, 0.02, 0.04],
                          "Mo": [0.2, 3.1, 0.0], "N": [0.05, 0.17, 0.03], "Mn": [1.3, 1.6, 0.4]},
                         list("ABC"))  # fmt: skip
    lot = Lot(heats, as_plant({}))
    austenitic, duplex = lot.of("austenitic"), lot.of("duplex")
    lot.but(austenitic, duplex).state("c", "ok", "the rest")
    duplex.state("c", ["caution"], ["a duplex steel"])
    assert [(r.heat, r.verdict) for r in lot.rows] == [("C", "ok"), ("B", "caution")]
    later = lot.at("later")
    later.of("ferritic").state("c", "ok", "the rest")
    assert [(r.heat, r.step) for r in later.rows] == [("C", "later")] and len(lot.rows) == 2
    assert len(lot.where(lot["Mo"] > 9)) == 0 and not lot.of("martensitic")


@pytest.mark.parametrize("blank", [np.nan, pd.Series([np.nan], ["H1"])])
def test_a_condition_that_is_blank_for_every_heat_is_said_to_be_missing(blank):
    heat = {"heat": "H1", "C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
    names = ("grain_start_um", "cold_reduction_pct")
    rows = gk.assess_route(heat, **dict.fromkeys(names, blank)).set_index("check")
    for check in ("grain after the anneal", "width of the anneal window"):
        assert "grain_start_um is not given" in rows.at[check, "reason"]
    assert "cold_reduction_pct is not given" in rows.at["cold reduction", "reason"]


def test_worst_and_table():
    assert worst(["ok", "stop", "caution"]) == "stop"
    assert worst(["ok", "not assessed"]) == "not assessed"
    assert worst(["ok", "not assessed"], assessed=True) == "ok"
    assert worst([]) == worst(["not assessed"], assessed=True) == "not assessed" == VERDICTS[1]
    lot = lot_of("H")
    lot.state("c", "not assessed", "a source")
    table = as_table(lot.rows)
    assert tuple(table.columns) == COLUMNS and table["value"].dtype == float
    assert as_table([]).empty


def test_sources_in_short():
    assert short("hilty_1948") == "Hilty 1948"
    assert short("slab_practice") == "steelworks practice n.d."
    assert short("plant table") == "plant table"


# --- the plant ------------------------------------------------------------------------------


def test_plant_file(root):
    plant = gk.read_plant(root / "data" / "plant.csv")
    assert plant.get("converter.temperature_max", "C") == 1730
    assert np.isnan(plant.get("converter.vacuum", "atm"))
    assert plant.gap("converter.vacuum", "caster.pressure").endswith("has no converter.vacuum")
    assert plant.gap("caster.pressure") == ""
    assert plant.scatter()["Cr"] == 0.12 and plant.cite("caster.pressure").endswith("(invented)")
    assert "1730" in plant._repr_html_()


def test_an_empty_cell_is_missing_and_not_zero():
    table = pd.DataFrame({"step": ["a"], "parameter": ["b"], "value": [""], "unit": ["C"]})
    assert as_plant(table).gap("a.b") == "the plant table has no a.b"


@pytest.mark.parametrize(
    "change, words",
    [
        ({"value": "hot"}, "value of a.b"),
        ({"value": "inf"}, "value of a.b"),
        ({"unit": None, "drop": "unit"}, "columns of the plant table"),
    ],
)
def test_a_bad_plant_table_is_refused(change, words):
    table = pd.DataFrame([{"step": "a", "parameter": "b", "value": "1", "unit": "C"} | change])
    if "drop" in table:
        table = table.drop(columns=["drop", "unit"])
    with pytest.raises(gk.InputError, match=words):
        as_plant(table)


def test_other_bad_plants_are_refused(tmp_path):
    with pytest.raises(gk.InputError, match="existing file"):
        gk.read_plant(tmp_path / "none.csv")
    (tmp_path / "bad.csv").write_bytes(b"\xff\xfe\x00step")
    with pytest.raises(gk.InputError):
        gk.read_plant(tmp_path / "bad.csv")
    row = {"step": "a", "parameter": "b", "value": "1", "unit": "C"}
    with pytest.raises(gk.InputError, match="there once"):
        as_plant(pd.DataFrame([row, row]))
    with pytest.raises(gk.InputError, match=r"unit of a\.b"):
        as_plant(pd.DataFrame([row])).get("a.b", "mm")
    assert as_plant(pd.DataFrame([row])).get("a.b", "K") == 274.15
    for wrong in ({"a": (1, "C")}, {"a.b": 1}, 7):
        with pytest.raises(gk.InputError):
            as_plant(wrong)


def test_what_if_changes_a_copy():
    plant = as_plant({"caster.pressure": (1, "atm")})
    assert plant.changed(caster__pressure=3).get("caster.pressure", "atm") == 3
    assert plant.get("caster.pressure", "atm") == 1
    with pytest.raises(gk.InputError, match=r"nearest caster\.pressure"):
        plant.changed(caster__presure=3)
    with pytest.raises(gk.InputError, match="a number"):
        plant.changed(caster__pressure="high")
