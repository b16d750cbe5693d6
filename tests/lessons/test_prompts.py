"""The open questions of the text: each has a computed answer, worked out here another way."""

import pandas as pd
import pytest
from drawn_exercises import value_by_second_reading
from second_reading import LINEAR, linear

import gradekit as gk
from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.marking import mark
from gradekit.lessons.prompts import PROMPTS, prompt
from gradekit.lessons.steels import STEELS


def answer(name, prices=None):
    return prompt(name).exercise(prices)


@pytest.mark.parametrize("name", PROMPTS)
def test_a_prompt_is_judged_like_any_question(name):
    e = answer(name)
    assert prompt(name).chapter in CHAPTERS and e.template == name and e.solution
    assert mark(e, e.shown_answer).right
    assert e.mistakes and all(x for heat in e.heats.values() for x in heat.values())
    for m in e.mistakes:
        said = mark(e, m.value)
        assert not said.right and m.words in said.words


def test_no_element_stands_in_both_sums():
    sums = [set(LINEAR[f"{s}_eq_schaeffler_1949"]["terms"]) for s in ("cr", "ni")]
    assert not sums[0] & sums[1] and answer("both sums").answer == "none of them"


@pytest.mark.parametrize(("name", "element", "amount"),
                         [("manganese", "Mn", 1.0), ("molybdenum", "Mo", 0.5)])  # fmt: skip
def test_what_an_element_does_on_the_delong_diagram(name, element, amount):
    before = STEELS["weld metal"]
    after = before | {element: before[element] + amount}
    by = [value_by_second_reading("ferrite_delong_1973", h) for h in (before, after)]
    assert answer(name).answer == pytest.approx(by[1] - by[0], abs=0.3)


def test_ferrite_without_nitrogen_and_with_another_wire():
    steel = STEELS["lean nickel"] | {"N": 0.0}
    seen = 0
    for chart in map(gk.diagram, ("schaeffler_1949", "delong_1973", "wrc_1992")):
        spot = chart.locate(steel).iloc[0]
        seen += bool(spot["region"]) and spot["value"] > 0
    asked = answer("without nitrogen")
    assert asked.answer == f"{seen} of 3" == "1 of 3"
    assert mark(asked, "0 of 3").words.endswith(
        "Schaeffler diagram it is read, also without nitrogen."
    )
    assert "not beside it" in mark(asked, "2 of 3").words and len(asked.solution) == 3
    joint = gk.diagrams.weld(*(STEELS[n] for n in ("mild steel", "18Cr-8Ni", "weld metal")))
    ok = (joint.placed["region"] != "") & (joint.placed["value"] >= 3)
    first = float(joint.line.index[~ok.to_numpy()][0])
    assert answer("other wire").answer == pytest.approx(100 * first, abs=1.0)


def test_what_a_weld_needs_once_austenite_is_first():
    steel = STEELS["weld metal"] | {"Ni": STEELS["weld metal"]["Ni"] + 3.5}
    found = gk.diagrams.solidification(steel)
    assert found.first.iloc[0] == "austenite"
    limit = found.impurities["limit"].iloc[0]
    assert answer("into the band").answer == f"P + S of at most {limit:g} %"


def test_titanium_nitrogen_and_the_anneal():
    heat = STEELS["17Cr ferritic"]
    enough = heat | {"Ti": heat["Ti"] + answer("titanium").answer}
    assert linear("ferrite_factor_kaltenhauser_1971", enough) == pytest.approx(17.0)
    duplex = STEELS["22Cr duplex"]

    def ferrite(temperature, more=0.0):
        heat = duplex | {"N": duplex["N"] + more}
        return value_by_second_reading("ferrite_duplex_anchored", heat, temperature_C=temperature)

    assert answer("hotter anneal").answer == pytest.approx(ferrite(1100) - ferrite(1050))
    assert ferrite(1100, answer("taken back").answer) == pytest.approx(ferrite(1050))
    steel = STEELS["17Cr-12Ni-2Mo"]
    without = steel | {"Mo": 0.0, "N": steel["N"] + answer("for molybdenum").answer}
    assert linear("pren_16n", without) == pytest.approx(linear("pren_16n", steel))
    assert value_by_second_reading("n_margin_castable", without) < 0
    assert answer("would sell").answer == "neither"
    pores = STEELS["18Cr-8Ni"] | {"Ni": 0.0, "N": 0.05 + 8.1 / 20}
    assert value_by_second_reading("n_margin_castable", pores) < 0
    assert "pores" in answer("all nickel").answer


def test_what_lowers_md30_most():
    terms = LINEAR["md30_angel_1954"]["terms"]
    assert answer("each per cent").answer == "C and N"
    assert min(terms, key=terms.get) in ("C", "N")
    assert answer("each coin").answer == pytest.approx(9.5 / 8.1)
    prices = {"Fe": 400, "Cr": 2400, "Ni": 21000, "Mn": 1500, "Mo": 42000}
    rows = {"element": list(prices), "price_crown_per_t": list(prices.values()), "recovery": 1.0,
            "date": "2026-10-01", "note": "invented"}  # fmt: skip
    priced = answer("each coin", gk.read_prices(pd.DataFrame(rows)))
    # above the iron that it takes the place of
    worth = {e: -terms[e] / (p - 400) for e, p in prices.items() if e != "Fe"}
    assert max(worth, key=worth.get) in priced.answer.split(" and ")
    assert "INVENTED" in " ".join(priced.solution)


def test_a_prompt_that_there_is_not():
    with pytest.raises(gk.InputError, match="nearest titanium"):
        prompt("titan")
