"""Every template drawn 200 times: melted, unambiguous, and its answer worked out another way."""

import json
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from drawn_exercises import drawn, given, steel_of, value_by_second_reading
from scipy.optimize import linprog
from second_reading import LINEAR, linear

import gradekit as gk
from gradekit.core.flags import Flag
from gradekit.lessons.exercise import FORMS, KINDS
from gradekit.lessons.marking import mark
from gradekit.lessons.prompts import PROMPTS
from gradekit.lessons.sets import TEMPLATES, TOPICS
from gradekit.lessons.steels import STEELS
from gradekit.relations.topics import CATALOGUE
from gradekit.works.anneal.duplex_phases import partition

OUT = int(Flag.BELOW_RANGE | Flag.ABOVE_RANGE | Flag.OTHER_FAMILY)
# Which relation fits, and which diagram, is what these ask: not all of theirs may hold.
OF_FITNESS = {"field diagram", "field blind"}
NUMBER = r"[-+]?[\d.]+"


def of_kind(*kinds: str) -> list[str]:
    return [name for name, t in TEMPLATES.items() if t.kind in kinds]


def test_there_are_enough_of_them():
    assert len(TEMPLATES) >= 60
    for topic, own in TOPICS.items():
        assert len({t.kind for t in own}) >= 4, topic
        assert {t.topic for t in own} == {topic}
    assert {t.kind for t in TEMPLATES.values()} == set(KINDS)
    assert {e.form for name in TEMPLATES for e in drawn(name)[:1]} == set(FORMS)


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_slip_is_right_and_no_answer_doubtful(name):
    for e in drawn(name):
        assert (e.kind, e.topic, e.template) == (
            TEMPLATES[name].kind, TEMPLATES[name].topic, name)  # fmt: skip
        assert mark(e, given(e, e.answer) if e.form != "design" else e.shown_answer).right
        assert mark(e, e.shown_answer).right and e.solution
        assert e.mistakes or e.form == "design" or "Work it out" not in e.elsewhere
        for m in e.mistakes:
            said = mark(e, given(e, m.value))
            assert not said.right and not said.refused and m.words in said.words
        if e.form == "number":
            gaps = [abs(m.value - e.answer) for m in e.mistakes]
            assert min(gaps, default=1e9) > 2 * e.tolerance
            assert mark(e, f"{e.answer:.{e.decimals}f}").right or e.kind == "read"
        if e.form == "choice":
            assert len({c.lower() for c in e.choices}) == len(e.choices) >= 3
            assert e.answer in e.choices
            for other in set(e.choices) - {e.answer}:
                assert not mark(e, other).right
        if e.form == "order":
            assert sorted(e.answer) == sorted(e.choices)
        assert json.loads(json.dumps(e.data()))["question"] == e.question


def test_what_a_question_says_of_its_tolerance_is_what_is_judged_by():
    asked = [e for name in TEMPLATES for e in drawn(name)[:20]]
    asked += [prompt.exercise() for prompt in PROMPTS.values()]
    stated = 0
    for e in asked:
        if within := re.search(rf"Within ({NUMBER})", e.question):
            assert float(within[1]) == pytest.approx(e.tolerance), e.question
            stated += 1
    assert stated > 150


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_two_draws_are_the_same_question(name):
    asked = {json.dumps(e.data(), sort_keys=True) for e in drawn(name)}
    # An element and an amount are all that can be drawn of some.
    assert len(asked) > (15 if name in ("field blind", "phases order") else 150)


@pytest.mark.parametrize("name", of_kind("change", "reason", "mistake", "chart", "rank"))
def test_no_answer_is_the_usual_one(name):
    """Who always ticks the same answer is seldom right."""
    words = Counter(str(e.answer) for e in drawn(name))
    assert words.most_common(1)[0][1] <= 0.8 * len(drawn(name)), words.most_common(2)
    if TEMPLATES[name].kind in ("reason", "change") and name not in ("dilution change",):
        places = Counter(e.choices.index(e.answer) for e in drawn(name))
        assert max(places.values()) < 0.5 * len(drawn(name))


@pytest.mark.parametrize("name", TEMPLATES)
def test_every_steel_could_be_melted_and_lies_in_the_range_of_the_question(name):
    heats, relations = [], set()
    for e in drawn(name):
        levels = {s.element: s.start for s in e.sliders}
        relations |= set(e.relations)
        heats += [
            heat | levels for what, heat in e.heats.items()
            if "Cr" in heat | levels and "Si" in heat and heat["Cr" if "Cr" in heat else "Si"] > 0.1
        ]  # fmt: skip
        if "parent" in e.heats and e.heats["parent"]["Cr"] < 1:
            assert {k: v for k, v in e.heats["parent"].items() if k != "C"} == {
                k: v for k, v in STEELS["mild steel"].items() if k != "C"
            }
    if not heats:
        assert name in ("field reading", "field blind", "freezing field", "dilution place",
                        "dilution reading", "dilution order", "nitrogen order")  # fmt: skip
        return
    batch = pd.DataFrame(heats).fillna(0.0)
    told = gk.family(batch)["family"]
    assert not {"", "not stainless"} & set(told)
    assert (gk.evaluate(batch, "n_margin_castable").values.to_numpy() >= 0).all()
    if name in OF_FITNESS:
        return
    found = gk.evaluate(batch, sorted(relations), temperature_C=1050)
    for relation in relations:
        bad = (found.flags[relation].to_numpy(dtype=int) & OUT) != 0
        # one relation of several is drawn for each of these exercises
        if len({tuple(e.relations) for e in drawn(name)}) == 1:
            assert not bad.any(), (relation, batch[bad].iloc[0].to_dict())


# --- the truth, worked out again ---------------------------------------------------------------

SUMS = [
    n for n in of_kind("compute", "estimate")
    if all(len(e.relations) == 1 and e.relations[0] in LINEAR for e in drawn(n)[:20])
    and "By how much" not in drawn(n)[0].question and not n.startswith("nitrogen")
]  # fmt: skip


@pytest.mark.parametrize("name", SUMS)
def test_sums_by_the_second_reading(name):
    for e in drawn(name):
        assert e.answer == pytest.approx(linear(e.relations[0], steel_of(e)), abs=1e-9)


def test_the_sums_are_those_of_all_sum_topics():
    assert len(SUMS) >= 10


@pytest.mark.parametrize("name", [n for n in of_kind("rank") if "dilution" not in n])
def test_orders_by_the_second_reading(name):
    for e in drawn(name):
        if name == "phases order":
            ratios = [float(partition(element, 1050.0)) for element in e.answer]
        elif name == "nitrogen order":
            taken = float(e.question.split(" %")[0])
            titles = {CATALOGUE[r].title: r for r in e.relations}
            ratios = [taken / LINEAR[titles[t]]["terms"]["N"] for t in e.answer]
        else:
            (relation,) = e.relations
            ratios = [value_by_second_reading(relation, e.heats[n]) for n in e.answer]
        assert list(ratios) == sorted(ratios, reverse=True) and len(set(ratios)) == 4, e.question


def test_the_order_of_four_welds():
    for e in drawn("dilution order"):
        share = {n: float(re.search(rf"wire {n}, dilution ({NUMBER})", "\n".join(e.lines))[1])
                 for n in e.choices}  # fmt: skip
        chromium = [
            (1 - share[n] / 100) * e.heats[f"wire {n}"]["Cr"] + share[n] / 100 * 0.05
            for n in e.answer
        ]
        assert chromium == sorted(chromium, reverse=True)
        assert min(-np.diff(chromium)) > 0.3


CHANGES = [n for n in of_kind("change") if n != "dilution change"]


@pytest.mark.parametrize("name", CHANGES)
def test_one_change_of_four_leads_inside(name):
    for e in drawn(name):
        (relation,) = e.relations
        heat = steel_of(e)
        low = re.search(rf"at least ({NUMBER})", e.question)
        high = re.search(rf"at most ({NUMBER})", e.question)
        inside = []
        for words in [None, *e.choices]:
            moved = dict(heat)
            if words:
                amount, way, element = re.fullmatch(r"([\d.]+) % (more|less) (\w+)", words).groups()
                moved[element] = heat.get(element, 0) + float(amount) * (1 if way == "more" else -1)
            x = value_by_second_reading(relation, moved, **(
                {"temperature_C": 1050} if "annealed" in e.question else {}))  # fmt: skip
            if (not low or x >= float(low[1])) and (not high or x <= float(high[1])):
                inside.append(words)
        assert inside == [e.answer], e.question


def test_the_change_that_gives_a_weld_its_ferrite():
    from shapely.geometry import Point, Polygon

    chart = gk.diagram("schaeffler_1949")
    fields = [(r.label, Polygon(r.polygon)) for r in chart.regions]
    for e in drawn("dilution change"):
        parent, *wires = e.heats.items()
        wires = dict(wires)
        used = re.search(r"with the (.+?) at", e.question)[1]
        share = float(re.search(rf"at ({NUMBER}) % dilution", e.question)[1])
        for words in e.choices:
            p, w, s = dict(parent[1]), wires[used], share
            if "points" in words:
                s += float(words.split()[0]) * (1 if "more" in words else -1)
            elif "instead of" in words:
                p["C"] = 0.05
            else:
                w = wires[re.match(r"the (.+) instead", words)[1]]
            metal = {x: s / 100 * p.get(x, 0) + (1 - s / 100) * w.get(x, 0) for x in {*p, *w}}
            at = Point(*(linear(axis, metal) for axis in chart.axes))
            (field,) = [label for label, shape in fields if shape.contains(at)]
            keeps = field in ("A", "A+F") and (
                value_by_second_reading("ferrite_schaeffler_1949", metal) >= 4
            )
            assert keeps == (words == e.answer), (e.question, words)


EFFECTS = [n for n in of_kind("reason") if n.endswith("effect")]


@pytest.mark.parametrize("name", EFFECTS)
def test_what_one_element_does_to_a_sum(name):
    for e in drawn(name):
        amount, element = re.search(rf"gets ({NUMBER}) % more (\w+)", e.question).groups()
        heat, (relation,) = steel_of(e), e.relations
        richer = heat | {element: heat.get(element, 0) + float(amount)}
        by = linear(relation, richer) - linear(relation, heat)
        if abs(by) < 1e-9:
            assert e.answer.startswith("It stays as it is")
        else:
            way, size = re.match(rf"It (rises|falls) by ({NUMBER})", e.answer).groups()
            assert (way == "rises") == (by > 0) and float(size) == pytest.approx(abs(by), rel=0.01)
        # the other sizes are not the right one either
        ends = [re.match(rf"It \w+ by ({NUMBER})", c) for c in e.choices]
        assert len({m[0] for m in ends if m}) >= 3


def way(e) -> str:
    return re.match(r"It (rises|falls)", e.answer)[1]


def test_which_way_one_element_moves_a_ferrite_number():
    for e in drawn("field one element"):
        amount, element = re.search(rf"gets ({NUMBER}) % more (\w+)", e.question).groups()
        heat = steel_of(e)
        *axes, reading = e.relations
        richer = heat | {element: heat[element] + float(amount)}
        by = value_by_second_reading(reading, richer) - value_by_second_reading(reading, heat)
        assert (way(e) == "rises") == (by > 0)
        side = [element in LINEAR[axis]["terms"] for axis in axes]
        assert ("chromium equivalent" in e.answer) == side[0] != side[1]


def test_which_way_dilution_moves_ferrite():
    for e in drawn("dilution more"):
        first, then = (at for at in e.picture.path)
        heat_like = [{"Cr": x, "Ni": y} for _, x, y in (first, then)]
        before, after = (value_by_second_reading("ferrite_schaeffler_1949", h) for h in heat_like)
        assert (way(e) == "rises") == (after > before)
        # towards mild steel the point goes to the left, towards ferritic steel steeply down
        assert ("mild" in e.question) == (way(e) == "falls")


def test_which_way_a_ratio_and_the_cracks_go():
    for e in drawn("freezing picked up"):
        amount, element = re.search(rf"gets ({NUMBER}) % more (\w+)", e.question).groups()
        heat = steel_of(e)
        richer = heat | {element: heat.get(element, 0) + float(amount)}
        before, after = (value_by_second_reading("cr_ni_ratio_hammar", h) for h in (heat, richer))
        assert (way(e) == "rises") == (after > before)
        assert ("takes up phosphorus" in e.answer) == (after > before)


def test_which_way_the_room_for_nitrogen_goes():
    for e in drawn("nitrogen pores"):
        amount, element = re.search(rf"gets ({NUMBER}) % more (\w+)", e.question).groups()
        heat = steel_of(e)
        richer = heat | {element: heat.get(element, 0) + float(amount)}
        before, after = (value_by_second_reading("n_margin_castable", h) for h in (heat, richer))
        assert (way(e) == "rises") == (after > before)


def test_which_way_martensite_goes():
    """By the rule as it is written, put into odds by hand."""
    for e in drawn("strain rolled"):
        heat = steel_of(e)
        md30 = linear("md30_angel_1954", heat)
        reduction = float(re.search(rf"rolled by ({NUMBER})", e.question)[1])

        def odds(percent, at, md30=md30):
            return -0.06 * (at - md30) + 3 * np.log(-np.log(1 - percent / 100))

        other = e.question.split("Another coil")[1]
        if "instead of 20 °C" in other:
            after = odds(reduction, float(re.search(rf"at ({NUMBER})", other)[1]))
        elif "nickel" in other:
            after = odds(reduction, 20, linear("md30_angel_1954", heat | {"Ni": heat["Ni"] + 1}))
        else:
            after = odds(float(re.search(rf"by ({NUMBER})", other)[1]), 20)
        assert (way(e) == "rises") == (after > odds(reduction, 20))


def test_which_way_ferrite_goes_in_the_anneal():
    for e in drawn("phases anneal"):
        after, before = map(float, re.search(rf"at ({NUMBER}) instead of ({NUMBER})",
                                             e.question).groups())  # fmt: skip
        by = [value_by_second_reading("ferrite_duplex_anchored", steel_of(e), temperature_C=t)
              for t in (before, after)]  # fmt: skip
        assert (way(e) == "rises") == (by[1] > by[0])


def test_which_way_a_pitting_index_goes():
    for e in drawn("pitting swap"):
        less, more = re.search(rf"({NUMBER}) % molyb.* and ({NUMBER}) % nitr", e.question).groups()
        factor = 16 if "16N" in e.question else 30
        assert (way(e) == "rises") == (factor * float(more) > 3.3 * float(less))


FAULTS = ["chromium mistake", "nickel mistake", "factor mistake", "strain mistake",
          "pitting mistake"]  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_the_line_that_is_wrong(name):
    for e in drawn(name):
        heat, terms = steel_of(e), LINEAR[e.relations[0]]["terms"]
        wrong, parts = [], []
        for n, line in enumerate(e.lines, start=1):
            if found := re.search(rf"(\w+): ({NUMBER}) × ({NUMBER}) = ({NUMBER})", line):
                term, factor, content, part = found.groups()
                parts.append(float(part))
                assert float(factor) * float(content) == pytest.approx(float(part), abs=6e-4)
                if (float(factor), float(content)) != (terms[term], heat[term]):
                    wrong.append(f"line {n}")
            elif "constant" in line:
                parts.append(float(line.split(": ")[1]))
                assert parts[-1] == LINEAR[e.relations[0]]["intercept"]
            else:
                assert float(re.search(rf"lines: ({NUMBER})", line)[1]) == pytest.approx(
                    sum(parts), abs=0.01
                )
        assert wrong == [e.answer]


def test_the_wrong_line_of_a_mixture_a_ratio_and_a_balance():
    for e in drawn("dilution mistake"):
        share = float(re.search(rf"of ({NUMBER}) % dilution", e.question)[1]) / 100
        wrong = []
        for n, line in enumerate(e.lines, start=1):
            p, content, w, wire, end = map(float, re.findall(rf"(?<![\w.]){NUMBER}", line)[1:])
            assert p * content + w * wire == pytest.approx(end, abs=6e-4)
            element = re.search(r"\d\. (\w+):", line)[1]
            assert (content, wire) == (e.heats["parent"][element], e.heats["wire"][element])
            if (p, w) != pytest.approx((share, 1 - share)):
                wrong.append(f"line {n}")
        assert wrong == [e.answer]
    for e in drawn("freezing mistake"):
        shown = [float(line.split(": ")[1]) for line in e.lines]
        right = [linear(f"{side}_eq_hammar_1979", steel_of(e)) for side in ("cr", "ni")]
        wrong = [abs(shown[n] - right[n]) > 0.006 for n in (0, 1)]
        wrong.append(abs(shown[2] - shown[0] / shown[1]) > 0.003)
        assert [f"line {n}" for n, bad in enumerate(wrong, start=1) if bad] == [e.answer]
    for e in drawn("phases mistake"):
        share, k, element = re.search(
            rf"holds ({NUMBER}) % .* ferrite ({NUMBER}) times as much (\w+)", e.question
        ).groups()
        share, k, content = float(share) / 100, float(k), steel_of(e)[element]
        first, austenite, ferrite = (float(line.split(" = ")[1]) for line in e.lines)
        wrong = [
            abs(first - (share * k + 1 - share)) > 1e-3,
            abs(austenite * first - content) > 0.01,
            abs(ferrite - k * austenite) > 0.01,
        ]
        assert [f"line {n}" for n, bad in enumerate(wrong, start=1) if bad] == [e.answer]


def test_the_reading_of_a_chart_by_its_lines():
    for e in drawn("field reading"):
        ((_, x, y),) = e.picture.points
        read = value_by_second_reading("ferrite_wrc_1992", {"Cr": x, "Ni": y})
        assert e.answer == pytest.approx(read, abs=0.4 * e.tolerance)


def test_places_on_a_chart():
    for e in drawn("field place"):
        x, y = (linear(axis, steel_of(e)) for axis in e.relations)
        assert e.answer == pytest.approx((x, y))
        assert mark(e, f"{x + 0.5:.2f}; {y - 0.5:.2f}").right
        assert not mark(e, f"{x + 0.7:.2f}; {y:.2f}").right
    for e in drawn("dilution place"):
        share = float(re.search(rf"of ({NUMBER}) % dilution", e.question)[1]) / 100
        (_, *parent), (_, *wire) = e.picture.points
        assert e.answer == pytest.approx(
            tuple(share * np.array(parent) + (1 - share) * np.array(wire)), abs=3e-3
        )


def test_shares_read_off_a_line():
    for e in drawn("dilution reading"):
        parent, wire, weld = (np.array(p[1:]) for p in e.picture.points)
        share = np.linalg.norm(weld - wire) / np.linalg.norm(parent - wire)
        assert e.answer == pytest.approx(100 * share, abs=0.05)


def test_contents_of_welds_and_phases():
    for e in drawn("dilution content"):
        share = float(re.search(rf"has ({NUMBER}) %", e.question)[1]) / 100
        element = re.search(r"its (\w+) content", e.question)[1]
        parent, wire = e.heats["parent"][element], e.heats["wire"][element]
        assert e.answer == pytest.approx(wire + share * (parent - wire))
    for e in drawn("dilution estimate"):
        share, element = re.search(
            rf"({NUMBER}) % dilution. About how much (\w+)", e.question
        ).groups()
        wire = e.heats["wire"][element]
        assert e.answer == pytest.approx(wire + float(share) / 100 * (0.05 - wire), abs=1e-3)
    for e in drawn("phases content"):
        asked = rf"holds ({NUMBER}) % .* holds ({NUMBER}) times as much (\w+)"
        share, k, element = re.search(asked, e.question).groups()
        share = float(share) / 100
        assert share * float(k) * e.answer + (1 - share) * e.answer == pytest.approx(
            steel_of(e)[element]
        )
    for e in drawn("phases estimate"):
        ferrite, element, austenite = re.search(
            rf"holds ({NUMBER}) % (\w+), its austenite ({NUMBER}) %", e.question
        ).groups()
        share = e.answer / 100
        mixed = share * float(ferrite) + (1 - share) * float(austenite)
        assert mixed == pytest.approx(steel_of(e)[element])


def test_ratios_modes_and_limits():
    limits = gk.diagrams.solidification_limits()
    bands = limits[limits["criterion"] == "schaeffler_bands"]
    for e in drawn("freezing ratio"):
        heat = steel_of(e)
        ratio = linear("cr_eq_hammar_1979", heat) / linear("ni_eq_hammar_1979", heat)
        assert e.answer == pytest.approx(ratio)
    for e in drawn("freezing mode"):
        heat = steel_of(e)
        ratio = linear("cr_eq_schaeffler_1949", heat) / linear("ni_eq_schaeffler_1949", heat)
        inside = ~(bands["lower"] >= ratio) & ~(bands["upper"] < ratio)
        assert e.answer == bands.loc[inside, "modes"].item()
    for e in drawn("freezing limit"):
        ratio = float(re.search(rf"has ({NUMBER})", e.question)[1])
        where = {"ingot": "s6", "arc weld": "s7", "coated": "s1"}
        limit = limits.loc[next(v for k, v in where.items() if k in e.question), "upper"]
        first = "ferrite" if ratio > limit else "austenite"
        assert e.answer.startswith(f"{first} first") and e.answer.endswith(f"{limit:g}")
    for e in drawn("freezing estimate"):
        heat = steel_of(e)
        richer = heat | {"Ni": heat["Ni"] + e.answer}
        assert value_by_second_reading("cr_ni_ratio_hammar", richer) == pytest.approx(1.55)


def test_fields_with_another_geometry_library():
    from shapely.geometry import Point, Polygon

    for name, chart in (("field by sums", "schaeffler_1949"), ("freezing field", "wrc_1992")):
        drawing = gk.diagram(chart)
        fields = [(r.label, Polygon(r.polygon)) for r in drawing.regions]
        seen = set()
        for e in drawn(name):
            at = Point(*e.picture.path[-1][1:])
            ((label, shape),) = [(label, s) for label, s in fields if s.contains(at)]
            assert shape.exterior.distance(at) > 0.1
            if name == "field by sums":
                x, y = (linear(axis, steel_of(e)) for axis in drawing.axes)
                assert label == e.answer and (at.x, at.y) == pytest.approx((x, y))
            else:
                order = {"A": "austenite alone", "AF": "austenite first", "FA": "ferrite first"}
                assert e.answer.startswith(order[label])
            seen.add(label)
        assert len(seen) >= 3


def test_diagrams_that_fit_and_those_that_do_not_notice():
    for e in drawn("field diagram"):
        heat = steel_of(e)
        fits = []
        for chart in map(gk.diagram, ("schaeffler_1949", "delong_1973", "wrc_1992")):
            x, y = (linear(axis, heat) for axis in chart.axes)
            on = (chart.data.x.low <= x <= chart.data.x.high) and (
                chart.data.y.low <= y <= chart.data.y.high
            )
            made = CATALOGUE[chart.axes[0]].families
            kind = gk.family(heat)["family"].iloc[0] if made else ""
            if on and "annealed" not in e.question and (not made or kind in made):
                fits.append(chart.title)
        assert fits == [e.answer] or (not fits and e.answer == "none of the three")
    for e in drawn("field blind"):
        element = re.search(r"more (\w+)\.", e.question)[1]
        counts = {
            chart.title: any(element in LINEAR[axis]["terms"] for axis in chart.axes)
            for chart in map(gk.diagram, ("schaeffler_1949", "delong_1973", "wrc_1992"))
        }
        wanted = "does not notice" not in e.question
        assert [title for title, counted in counts.items() if counted == wanted] == [e.answer]


@pytest.mark.parametrize("name", ["factor fitting", "phases fitting"])
def test_the_relation_that_was_made_for_a_steel(name):
    made = {"stabilised ferritic": "Kaltenhauser", "ferritic": "Kaltenhauser", "duplex": "duplex",
            "martensitic": "Ms of", "austenitic": "Md30"}  # fmt: skip
    for e in drawn(name)[:60]:
        heat = steel_of(e)
        # told by what a metallurgist looks at
        kind = ("duplex" if heat["Cr"] > 20 else "austenitic" if heat["Ni"] > 6 else
                "martensitic" if heat["C"] > 0.1 else "ferritic")  # fmt: skip
        assert made[kind] in e.answer


def test_nitrogen_for_nickel():
    for e in drawn("nitrogen trade"):
        taken = float(e.question.split(" %")[0])
        heat = steel_of(e)
        swapped = heat | {"Ni": heat["Ni"] - taken, "N": heat["N"] + e.answer}
        name = "ni_eq_wrc_1992"
        assert linear(name, swapped) == pytest.approx(linear(name, heat))
    for e in drawn("nitrogen estimate"):
        heat = steel_of(e)
        without = heat | {"N": 0.0, "Ni": heat["Ni"] + e.answer}
        assert linear("ni_eq_wrc_1992", without) == pytest.approx(linear("ni_eq_wrc_1992", heat))


@pytest.mark.parametrize("name", of_kind("design"))
def test_designs_by_a_linear_programme(name):
    for e in drawn(name):
        moving = [s.element for s in e.sliders]
        rest = steel_of(e)
        rows, sides = [], []
        for relation, target in zip(e.relations, e.targets, strict=True):
            terms = (LINEAR[relation]["terms"] if relation in LINEAR
                     else dict(CATALOGUE[relation].terms))  # fmt: skip
            base = (linear(relation, rest | dict.fromkeys(moving, 0.0)) if relation in LINEAR
                    else target.constant)  # fmt: skip
            row = np.array([terms.get(x, 0.0) for x in moving])
            assert base == pytest.approx(target.constant) and row == pytest.approx(
                [target.terms[x] for x in moving]
            )
            if target.low is not None:
                rows.append(-row)
                sides.append(base - target.low)
            if target.high is not None:
                rows.append(row)
                sides.append(target.high - base)
        goal = [float(x == e.least.words) for x in moving]
        best = linprog(goal, A_ub=rows, b_ub=sides, bounds=[(s.low, s.high) for s in e.sliders])
        step = next(s.step for s in e.sliders if s.element == e.least.words)
        assert best.status == 0 and best.fun - 1e-6 <= e.answer <= best.fun + 3 * step
        # at the first stop of the sliders a target is missed, and with plenty too much is spent
        start = "; ".join(f"{s.element} {s.start:g}" for s in e.sliders)
        assert "asked" in mark(e, start).words
        levels = dict(part.split() for part in e.shown_answer.split("; "))
        assert mark(e, e.shown_answer).right
        more = levels | {e.least.words: float(levels[e.least.words]) + 6 * step}
        said = mark(e, "; ".join(f"{k} {float(v):g}" for k, v in more.items()))
        assert not said.right


def test_the_change_of_one_element():
    seen = set()
    for e in drawn("nickel change of one"):
        heat, (name,) = steel_of(e), e.relations
        amount, element = re.search(rf"gets ({NUMBER}) % more (\w+)", e.question).groups()
        richer = heat | {element: heat[element] + float(amount)}
        rise = linear(name, richer) - linear(name, heat)
        assert e.answer == pytest.approx(rise)
        assert "its factor" in mark(e, amount).words
        assert "equivalent afterwards" in mark(e, linear(name, richer)).words
        seen.add((name, element))
        for other in {n for n, _ in seen}:
            theirs = linear(other, richer) - linear(other, heat)
            if abs(theirs - rise) > 1e-9:
                said = mark(e, theirs)
                assert not said.right and CATALOGUE[other].title in said.words
    assert len(seen) == 2 + 3 + 3  # Mn or C; Mn, C or N; C, N or Cu


def test_the_templates_whose_truth_is_worked_out_here_are_all():
    """A new template needs a second way to its answer."""
    text = Path(__file__).read_text("utf-8")
    groups = {*SUMS, *CHANGES, *EFFECTS, *FAULTS, *of_kind("design", "rank")}
    assert {n for n in TEMPLATES if n not in groups and f'"{n}"' not in text} == set()
