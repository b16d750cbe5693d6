"""Diagrams as data: closed form against lines, fields without gap, files of the user."""

import ast
import copy
import csv
import json
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import gradekit as gk
from gradekit.core.flags import Flag
from gradekit.core.sources import REFERENCE, bibliography
from gradekit.diagrams.constitution import Diagram
from gradekit.diagrams.files import read_diagram, shipped, shipped_names
from gradekit.relations.topics import CATALOGUE
from gradekit.relations.topics._checks import AUSTENITIC

NAMES = ("wrc_1992", "schaeffler_1949", "delong_1973")
READINGS = {
    "wrc_1992": "ferrite_wrc_1992",
    "schaeffler_1949": "ferrite_schaeffler_1949",
    "delong_1973": "ferrite_delong_1973",
}


def wrc(creq, nieq):
    """The printed equations of the reconstruction in scalars, typed anew."""
    x = creq - 22.0
    u = (16.3318 + 0.8635 * x - 0.0133 * x**2 - nieq) / (5.0649 - 0.0566 * x)
    return 14.7302 * math.expm1(u)


def schaeffler(creq, nieq):
    """Search the line on which the point lies; the inverse in the file is not used."""
    x = creq - 25.0

    def line(percent):
        u = math.log1p(percent / 16.9065)
        return 19.7167 + 1.0929 * x - 7.9809 * u - x * (0.2576 * u + 0.0411 * u**2)

    low, high = 0.0, 100.0
    if nieq >= line(low):
        return low
    if nieq <= line(high):
        return high
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if line(middle) > nieq else (low, middle)
    return low


def delong(creq, nieq):
    return 3.34 * creq - 2.46 * nieq - 28.6


BY_HAND = {"wrc_1992": wrc, "schaeffler_1949": schaeffler, "delong_1973": delong}


def inside(diagram, points=400, seed=0):
    rng = np.random.default_rng(seed)
    x = rng.uniform(diagram.data.x.low, diagram.data.x.high, points)
    return x, rng.uniform(diagram.data.y.low, diagram.data.y.high, points)


@pytest.mark.parametrize("name", shipped_names())
def test_a_shipped_diagram_says_what_it_is_and_is_a_relation(name):
    drawn, reading = gk.diagram(name), CATALOGUE[f"ferrite_{name}"]
    assert drawn.caution.startswith(f"{drawn.status.capitalize()}, ±")
    assert drawn.caution.endswith("not for code acceptance")
    assert "Not a tracing" in drawn.data.provenance
    assert set(drawn.data.source) <= set(bibliography())
    page = drawn._repr_html_() + drawn.locate_xy([20.0], [12.0])._repr_html_()
    assert page.count(drawn.caution) == 2
    assert all(word in (drawn.locate.__doc__ or "") for word in ("reconstruction", "code"))
    got = gk.evaluate(reading.check.composition, reading).values.iloc[0, 0]
    assert got == pytest.approx(reading.check.value, abs=reading.check.allowed)


@pytest.mark.parametrize("name", NAMES)
def test_closed_form_against_scalars_typed_anew(name):
    drawn = gk.diagram(name)
    x, y = inside(drawn)
    by_hand = [BY_HAND[name](a, b) for a, b in zip(x, y, strict=True)]
    by_hand = np.clip(by_hand, drawn.data.low, drawn.data.high)
    spots = drawn.locate_xy(x, y)
    silent = (spots["region"] == "F+M").to_numpy()
    assert spots["value"][silent].isna().all() and (~silent).sum() > 350
    assert spots["value"].to_numpy()[~silent] == pytest.approx(by_hand[~silent], abs=1e-7)


def test_the_corner_of_ferrite_and_martensite_gives_no_number():
    drawn = gk.diagram("schaeffler_1949")
    spot = drawn.locate_xy([2.0], [0.5]).iloc[0]
    assert spot["region"] == "F+M" and np.isnan(spot["value"])
    assert "not defined" in Flag(int(spot["flag"])).words()
    corner = next(r for r in drawn.data.regions if r.label == "F+M").polygon
    x, y = np.array(corner).max(axis=0)
    assert f"x/{x} + y/{y} > 1" in drawn.data.closed_form["algebra"], "the line is the polygon's"
    plain = {"C": 0.03, "Si": 0.2, "Mn": 0.3, "Cr": 2.0, "Ni": 0.0, "N": 0.01}
    assert np.isnan(gk.evaluate(plain, "ferrite_schaeffler_1949").values.iloc[0, 0])


def test_a_window_of_ferrite_numbers_is_not_promised():
    drawn = gk.diagram("wrc_1992")
    words = CATALOGUE["ferrite_wrc_1992"].error_basis
    assert "one sigma" in drawn.caution and "1 to 2 FN low" in drawn.caution
    assert "6.7 FN" in words and "cannot be decided" in words
    assert 2 * CATALOGUE["ferrite_wrc_1992"].error_at(np.array([8.0, 42.0])) == pytest.approx(
        [6, 12]
    )


@pytest.mark.parametrize("name", NAMES)
def test_iso_lines_agree_with_the_closed_form(name):
    """The lines carry three decimals: half a thousandth along either axis."""
    drawn = gk.diagram(name)
    for line in drawn.iso_lines:
        x, y = line.points.T
        slope = (drawn.y_at(x + 0.01, line.value) - drawn.y_at(x, line.value)) / 0.01
        assert np.abs(drawn.y_at(x, line.value) - y) == pytest.approx(
            0.0, abs=0.0006 * (1 + np.abs(slope).max())
        )


@pytest.mark.parametrize("name", NAMES)
def test_inverse_is_exact(name):
    drawn = gk.diagram(name)
    x, y = inside(drawn, 5000)
    spots = drawn.locate_xy(x, y)
    on_scale = ((spots["flag"] & int(Flag.CLAMPED)) == 0) & spots["value"].notna()
    again = drawn.y_at(x, spots["value"])
    assert on_scale.sum() > 1000
    assert again[on_scale] == pytest.approx(y[on_scale], abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_the_relation_reads_what_the_diagram_reads(name):
    drawn, relation = gk.diagram(name), CATALOGUE[READINGS[name]]
    heats = [AUSTENITIC, {"C": 0.02, "Cr": 25.0, "Ni": 5.0, "Mo": 3.0, "N": 0.1, "Nb": 0.1}]
    spots = drawn.locate(heats)
    result = gk.evaluate(heats, relation)
    assert result.values[relation.name].to_numpy() == pytest.approx(spots["value"].to_numpy())
    assert result.standard_error[relation.name].to_numpy() == pytest.approx(
        spots["tolerance"].to_numpy()
    )
    assert relation.status == "reconstruction"
    assert "not for code acceptance" in relation.note


def test_readings_worked_by_hand():
    values = gk.evaluate(AUSTENITIC, list(READINGS.values())).values.iloc[0]
    equivalents = gk.evaluate(AUSTENITIC, [a for n in NAMES for a in gk.diagram(n).axes]).values
    for name in NAMES:
        x, y = (equivalents[a].iloc[0] for a in gk.diagram(name).axes)
        assert values[READINGS[name]] == pytest.approx(BY_HAND[name](x, y), abs=1e-9)


@pytest.mark.parametrize(
    "x, y, region, ferrite",
    [
        (9.0, 7.0, "M", None),  # S235 with X10CrNiTi18-8, midpoint of (0, 3) and (18, 11)
        (21.3, 11.7, "A+F", (6.0, 14.0)),  # 1.0401 + 1.4301 with 23 12 2 L: about 10 %
    ],
)
def test_anchors_of_the_schaeffler_diagram(x, y, region, ferrite):
    spot = gk.diagram("schaeffler_1949").locate_xy(x, y).iloc[0]
    assert spot["region"] == region
    if ferrite:
        assert ferrite[0] <= spot["value"] <= ferrite[1]


def test_hard_facing_anchor_lies_above_the_chart_and_without_ferrite():
    spot = gk.diagram("schaeffler_1949").locate_xy(3.75, 36.0).iloc[0]
    assert (spot["region"], spot["value"]) == ("", 0.0)
    assert spot["flag"] & Flag.OUTSIDE_DIAGRAM


def test_tolerance_follows_the_bands():
    spots = gk.diagram("wrc_1992").locate_xy(
        25.0, gk.diagram("wrc_1992").y_at(25.0, [5, 15, 30, 50, 90])
    )
    assert spots["tolerance"].tolist() == pytest.approx([3, 3, 6, 6, 18])
    assert CATALOGUE["ferrite_schaeffler_1949"].error_at(np.array([17.0, 30.0, 50.0])).tolist() == [
        6, 8, 15,
    ]  # fmt: skip


@pytest.mark.parametrize("name, end, open_end", [(n, shipped(n).high, n[0] != "s") for n in NAMES])
def test_beyond_the_scale_stands_at_its_end_with_flags(name, end, open_end):
    drawn = gk.diagram(name)
    spot = drawn.locate_xy(drawn.data.x.high, drawn.data.y.low).iloc[0]
    assert spot["value"] == end
    assert bool(spot["flag"] & Flag.CLAMPED)
    assert bool(spot["flag"] & Flag.ABOVE_RANGE) is open_end
    rich = {"C": 0.0, "N": 0.0, "Cr": drawn.data.x.high - 0.5, "Ni": 10.5 if open_end else 2.0}
    result = gk.evaluate(rich, READINGS[name])
    flag = Flag(int(result.flags.iloc[0, 0]))
    assert result.values.iloc[0, 0] == end
    assert Flag.CLAMPED in flag and (Flag.ABOVE_RANGE in flag) is open_end
    assert "shown as" in result.words("heat 1", READINGS[name])


def test_outside_the_box_there_is_no_region_but_a_value():
    spots = gk.diagram("wrc_1992").locate_xy([31.0, 17.9, 24.0], [17.0, 12.0, 9.0])
    assert spots["region"].tolist() == ["", "", ""]
    assert all(f & Flag.OUTSIDE_DIAGRAM for f in spots["flag"])
    assert spots["value"].notna().all()
    outside = gk.evaluate({"C": 0.02, "N": 0.1, "Cr": 32.0, "Ni": 13.0}, "ferrite_wrc_1992")
    assert outside.flags.iloc[0, 0] & Flag.ABOVE_RANGE
    assert "cr_eq_wrc_1992 32" in outside.words("heat 1", "ferrite_wrc_1992")


def test_missing_element_gives_no_place_and_a_flag():
    heats = [{"Cr": 18.0, "Ni": 9.0, "C": 0.02}, {"Cr": 18.0, "Ni": 9.5, "C": 0.02, "N": 0.05}]
    spots = gk.diagram("wrc_1992").locate(heats)
    assert spots["value"].isna().tolist() == [True, False]
    assert spots["region"].tolist()[0] == ""
    assert spots["flag"].iloc[0] & Flag.MISSING
    assert not spots["flag"].iloc[1] & Flag.MISSING
    assert "not reported" in spots.words("heat 1")
    nothing = gk.diagram("wrc_1992").locate_xy(np.nan, 12.0).iloc[0]
    assert np.isnan(nothing["value"]) and nothing["flag"] & Flag.MISSING


def test_fields_without_lines_are_flagged():
    spots = gk.diagram("schaeffler_1949").locate_xy([1.0, 15.0, 17.0, 25.0], [0.5, 3.0, 9.0, 12.0])
    assert spots["region"].tolist() == ["F+M", "M+F", "A+M+F", "A+F"]
    assert [bool(f & Flag.NO_SUPPORT) for f in spots["flag"]] == [True, True, True, False]


@pytest.mark.parametrize("name", NAMES)
def test_fields_tile_the_chart(name):
    """Against shapely: areas fill the box, nothing overlaps, each point lies where it should."""
    from shapely import contains_xy
    from shapely.geometry import Polygon, box
    from shapely.ops import unary_union

    drawn = gk.diagram(name)
    shapes = {r.label: Polygon(r.polygon) for r in drawn.regions}
    whole = box(drawn.data.x.low, drawn.data.y.low, drawn.data.x.high, drawn.data.y.high)
    assert whole.symmetric_difference(unary_union(list(shapes.values()))).area == 0
    assert sum(s.area for s in shapes.values()) == pytest.approx(whole.area, rel=1e-12)
    x, y = inside(drawn, 20_000)
    region = drawn.locate_xy(x, y)["region"].astype(str)
    strictly = {label: contains_xy(shape, x, y) for label, shape in shapes.items()}
    assert sum(strictly.values()).max() == 1
    for label, within in strictly.items():
        assert (region[within] == label).all()


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_every_border_point_lies_in_exactly_one_neighbouring_field(name, data):
    drawn = gk.diagram(name)
    number = data.draw(st.integers(0, len(drawn.regions) - 1))
    corners = drawn.regions[number].polygon
    k = data.draw(st.integers(0, len(corners) - 1))
    share = data.draw(st.one_of(st.sampled_from([0.0, 0.5, 1.0]), st.floats(0, 1)))
    x, y = corners[k] + share * (corners[(k + 1) % len(corners)] - corners[k])
    found = drawn.locate_xy(x, y).iloc[0]
    touching = {r.label for r in drawn.regions if edge_distance(r.polygon, np.array([x, y])) < 1e-9}
    assert found["region"] in touching
    assert not found["flag"] & Flag.OUTSIDE_DIAGRAM


def edge_distance(ring, point):
    a, b = ring, np.roll(ring, -1, axis=0)
    run = b - a
    share = np.clip(((point - a) * run).sum(axis=1) / (run**2).sum(axis=1), 0, 1)
    return np.hypot(*(point - a - share[:, None] * run).T).min()


@pytest.mark.parametrize("name", NAMES)
def test_batch_equals_one_by_one_and_knows_no_order(name):
    drawn = gk.diagram(name)
    x, y = inside(drawn, 300)
    x[::7] += 50
    x[::11] = np.nan
    whole = drawn.locate_xy(x, y)
    turned = drawn.locate_xy(x[::-1], y[::-1]).iloc[::-1].reset_index(drop=True)
    assert whole.astype({"region": str}).equals(turned.astype({"region": str}))
    for k in range(0, 300, 37):
        one = drawn.locate_xy(x[k], y[k]).iloc[0]
        assert str(one["region"]) == str(whole["region"][k]) and one["flag"] == whole["flag"][k]


def test_boundaries_are_the_edges_that_fields_share():
    lines = {b.between: b.points for b in gk.diagram("wrc_1992").boundaries}
    assert set(lines) == {("A", "AF"), ("AF", "FA"), ("F", "FA")}
    a, b = lines["F", "FA"]
    assert sorted([a.tolist(), b.tolist()]) == [[20.4, 10.0], [30.0, 15.6]]
    zero = gk.diagram("wrc_1992").y_at(lines["A", "AF"][:, 0], 0.0)
    assert zero == pytest.approx(lines["A", "AF"][:, 1], abs=1e-4)


def test_no_number_of_a_diagram_stands_in_the_relations():
    formula = CATALOGUE["fn_delong_linear"]
    parameters = shipped("delong_1973").closed_form["parameters"]
    assert formula.terms is CATALOGUE["ferrite_delong_1973"].terms
    assert formula.terms["Cr"] == parameters["slope_x"]
    numbers = {
        abs(float(v)) for n in NAMES for v in shipped(n).closed_form["parameters"].values()
    } - {22.0, 25.0}
    for path in (REFERENCE.parent / "relations").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, float):
                assert abs(node.value) not in numbers, (path.name, node.lineno)


# --- a diagram of the user


@pytest.fixture
def own(tmp_path):
    """Write a changed copy of a shipped file and return its path."""

    def write(change=lambda raw: None, name="wrc_1992"):
        raw = json.loads((REFERENCE / "diagrams" / f"{name}.json").read_text("utf-8"))
        raw = copy.deepcopy(raw)
        raw = change(raw) or raw
        path = tmp_path / "own.json"
        path.write_text(json.dumps(raw), "utf-8")
        return path

    before = set(CATALOGUE)
    yield write
    for name in set(CATALOGUE) - before:  # a diagram loaded is a relation too
        CATALOGUE.remove(name)


def test_an_own_diagram_is_a_relation_too(own):
    def bare(raw):
        raw["name"] = "My chart 2"
        del raw["closed_form"], raw["check"], raw["tolerance"]["hold_out"]

    drawn = gk.load_diagram(own(bare))
    heats = gk.as_batch([{"C": 0.02, "Cr": 20.0, "Ni": ni, "N": 0.06} for ni in (7.0, 9.0, 11.0)])
    result = gk.evaluate(heats, "ferrite_my_chart_2")
    np.testing.assert_allclose(
        result.values["ferrite_my_chart_2"], drawn.locate(heats)["value"], rtol=1e-9
    )
    relation = CATALOGUE["ferrite_my_chart_2"]
    check = relation.check
    again = gk.evaluate(check.composition, relation).values.iloc[0, 0]
    assert again == pytest.approx(check.value, abs=0.1) and check.allowed >= 3
    assert gk.load_diagram(own(bare)).name == "My chart 2"  # loaded again it takes its own place


def test_a_copy_of_a_shipped_diagram_leaves_its_reading_alone(own):
    before = CATALOGUE["ferrite_wrc_1992"]
    gk.load_diagram(own(lambda raw: raw["closed_form"]["parameters"].update(f0=10.0)))
    assert CATALOGUE["ferrite_wrc_1992"] is before


def test_a_user_loads_an_own_digitised_diagram(own):
    def mine(raw):
        raw |= {"name": "my_wrc", "status": "secondary", "source": ["my licensed copy"]}
        raw["tolerance"] = {"words": "±1 FN", "bands": [[100, 1]]}
        del raw["closed_form"], raw["notes"]

    drawn = gk.load_diagram(own(mine))
    assert isinstance(drawn, Diagram)
    assert drawn.caution == "Secondary, ±1 FN; not for code acceptance"
    spots = drawn.locate(AUSTENITIC)
    assert spots["tolerance"].iloc[0] == 1.0
    # Between lines 2 FN apart, a straight course differs little from the closed form.
    assert spots["value"].iloc[0] == pytest.approx(10.860619, abs=0.02)


@pytest.mark.parametrize("name", NAMES)
def test_between_the_lines_reading_and_inverse_agree(own, name):
    drawn = gk.load_diagram(own(lambda raw: raw.pop("closed_form") and None, name))
    x, y = inside(gk.diagram(name), 3000)
    spots = drawn.locate_xy(x, y)
    known = (spots["flag"] & int(Flag.CLAMPED | Flag.UNDEFINED)) == 0
    assert known.mean() > 0.3
    assert drawn.y_at(x, spots["value"])[known] == pytest.approx(y[known], abs=1e-9)
    for line in drawn.iso_lines:
        middle = line.points[4]
        value = drawn.locate_xy(*middle)["value"].iloc[0]
        assert value == pytest.approx(line.value, abs=1e-9)


def test_reading_between_lines_follows_the_closed_form(own):
    drawn = gk.load_diagram(own(lambda raw: raw.pop("closed_form") and None))
    x, y = inside(gk.diagram("wrc_1992"), 3000)
    whole, between = gk.diagram("wrc_1992").locate_xy(x, y), drawn.locate_xy(x, y)
    assert np.nanmax(np.abs(whole["value"] - between["value"])) < 0.35


def test_corners_that_nearly_meet_are_made_one(own):
    def shaken(raw):
        raw["regions"][0]["polygon"][2] = [20.4004, 10.0]
        raw["regions"][1]["polygon"].insert(3, [25.2, 12.8])  # a corner on a neighbour's edge

    drawn = gk.load_diagram(own(shaken))
    x, y = inside(drawn, 5000)
    same = drawn.locate_xy(x, y)["region"].astype(str) == gk.diagram("wrc_1992").locate_xy(x, y)[
        "region"
    ].astype(str)
    assert same.mean() > 0.999
    assert (drawn.locate_xy(x, y)["region"] != "").all()


def drop(key):
    return lambda raw: raw.pop(key) and None


def put(key, value):
    return lambda raw: raw.update({key: value})


def gap(raw):
    raw["regions"][0]["polygon"][0] = [30.0, 15.0]


def twice(raw):
    raw["regions"].append(raw["regions"][0] | {"label": "F again"})


def inverse_off(raw):
    raw["closed_form"]["inverse"] = "16 + 0.5*x - value/10"


def strange_name(raw):
    raw["closed_form"]["algebra"] = "a0 + z"


def runs_code(raw):
    raw["closed_form"]["algebra"] = "__import__('os').getcwd()"


def outside_corner(raw):
    raw["regions"][0]["polygon"][0] = [31.0, 15.6]


def falling_line(raw):
    raw["iso_lines"][0]["points"].reverse()


def text_number(raw):
    raw["x"]["low"] = "18"


def bare_region(raw):
    del raw["regions"][2]["label"]


@pytest.mark.parametrize(
    "change, words",
    [
        (drop("regions"), r"own.json', regions · must be a list of regions · got nothing"),
        (
            lambda raw: raw.update(iso_line=raw.pop("iso_lines")),
            "got 'iso_line' · nearest iso_lines",
        ),
        (put("status", "reconstructed"), "status · must be .* nearest reconstruction"),
        (put("source", []), "source · must be a list of at least one source"),
        (put("x", {"relation": "cr_eq_wrc", "low": 18, "high": 30}), "nearest .*cr_eq_wrc_1992"),
        (put("scale", {"low": 5, "high": 5}), "scale · must be low below high"),
        (put("tolerance", {"words": "?", "bands": [[10, 3], [5, 4]]}), "bands · must be rising"),
        (put("iso_lines", []), "iso_lines · must be two or more lines"),
        (text_number, "x, low · must be a number · got '18'"),
        (bare_region, r"regions\[2\], label · must be a text"),
        (gap, "region 'F'.* edge · must be shared with a neighbour"),
        (twice, "not covered by 'F'"),
        (lambda raw: [raw["regions"].append(raw["regions"][0]), raw][1], "each label once"),
        (outside_corner, r"regions\[0\], polygon · must be inside the chart"),
        (falling_line, r"iso_lines\[0\], points · must be points with x rising"),
        (inverse_off, "closed_form · must be a form whose inverse gives y back"),
        (strange_name, "algebra in x, y.* got 'z'"),
        (runs_code, "function in a formula|plain algebra"),
        (lambda raw: [], "must be one JSON object"),
    ],
)
def test_a_wrong_file_is_refused_in_words(own, change, words):
    def changed(raw):
        return [1] if change(raw) == [] else None

    with pytest.raises(gk.InputError, match=words):
        gk.load_diagram(own(changed))


def test_what_is_no_json_is_refused(tmp_path):
    path = tmp_path / "own.json"
    path.write_text('{"name": ', "utf-8")
    with pytest.raises(gk.InputError, match=r"'own.json', line 1, column \d+ · must be JSON"):
        read_diagram(path)
    path.write_bytes(b"\x89PNG\r\n\x1a\n\xff")
    with pytest.raises(gk.InputError, match="must be JSON"):
        read_diagram(path)
    with pytest.raises(gk.InputError, match="must be an existing file"):
        read_diagram(tmp_path / "absent.json")


def test_wrong_calls_are_refused():
    with pytest.raises(gk.InputError, match="nearest wrc_1992"):
        gk.diagram("wrc1992")
    with pytest.raises(gk.InputError, match="one shape"):
        gk.diagram("wrc_1992").locate_xy([1, 2, 3], [1, 2])
    with pytest.raises(gk.InputError, match="numbers"):
        gk.diagram("wrc_1992").locate_xy("a", 12)


def test_the_format_is_documented():
    """Each key of a shipped file stands in the documentation of the format."""
    import gradekit.diagrams.files as module

    for name in NAMES:
        raw = json.loads((REFERENCE / "diagrams" / f"{name}.json").read_text("utf-8"))
        keys = {*raw, *raw["x"], *raw["scale"], *raw["closed_form"], *raw["tolerance"]}
        keys |= {*raw["regions"][0], *raw["iso_lines"][0]}
        assert all(key in module.__doc__ for key in keys), keys


def test_bibliography_keys_of_the_diagrams_are_real():
    with open(REFERENCE / "references.csv", encoding="utf-8", newline="") as file:
        keys = {row["key"] for row in csv.DictReader(file)}
    assert {s for n in NAMES for s in shipped(n).source} <= keys


def test_a_reading_is_held_to_the_ranges_of_its_equivalents():
    steel = {"C": 0.05, "Si": 0.4, "Mn": 7.5, "Cr": 17.2, "Ni": 4.4, "Mo": 0.2, "N": 0.17}
    read = gk.evaluate(steel, "ferrite_schaeffler_1949")
    assert read.words("heat 1", "ferrite_schaeffler_1949").startswith("Mn 7.5 is above the range")
    # the range of an equivalent's own value says nothing of a ferrite number
    weld = {"C": 0.02, "Si": 0.5, "Mn": 1.6, "Cr": 19.6, "Ni": 10.5, "Mo": 0.2, "N": 0.05}
    read = gk.evaluate(weld | {"Nb": 0.01, "Cu": 0.1}, "ferrite_wrc_1992")
    assert read.values.iloc[0, 0] < 10 and read.words("heat 1", "ferrite_wrc_1992") == ""


@pytest.mark.parametrize("name", ["wrc_1992", "schaeffler_1949", "delong_1973"])
def test_spots_are_the_rows_of_the_table(name):
    chart = gk.diagram(name)
    heats = pd.DataFrame(
        {"C": [0.02, 0.1, 0.05], "Cr": [19.5, 2.0, np.nan], "Ni": [9.8, 1.0, 8.0],
         "Mn": 1.0, "Si": 0.4, "Mo": 0.2, "N": [0.06, 0.01, 0.05], "Nb": 0.0, "Cu": 0.1},
        index=["inside", "outside", "unknown"],
    )  # fmt: skip
    rows = chart.locate(heats).astype({"region": str})
    for spots in (chart.spots(heats), chart.spots(gk.evaluate(heats, ["pren_16n", *chart.axes]))):
        found = pd.DataFrame(spots, index=heats.index)
        pd.testing.assert_frame_equal(found, pd.DataFrame(rows), check_dtype=False)
    assert [bool(s.region) for s in spots] == [True, name == "schaeffler_1949", False]
    with pytest.raises(gk.InputError, match="one of this result"):
        chart.spots(gk.evaluate(heats, "pren_16n"))


def test_lean_duplex_is_no_anchor_of_the_schaeffler_chart():
    """Its half of ferrite is that of annealed plate with nitrogen; the chart reads 78 % there."""
    assert "a lean duplex reads 78 %" in " ".join(shipped("schaeffler_1949").notes)
    lean = {"C": 0.025, "Si": 0.7, "Mn": 3.9, "Cr": 21.5, "Ni": 1.5, "Mo": 0.3, "N": 0.22, "Nb": 0}
    read = gk.evaluate(lean, "ferrite_schaeffler_1949").values.iloc[0, 0]
    assert read > 65
    brief = gk.Brief(
        {e: (0.9 * x, 1.1 * x) for e, x in lean.items() if x}, {"ferrite": (40, 60)},
        family="duplex", conditions={"temperature_C": 1050}, minimise="nickel",
    )  # fmt: skip
    asked = [q.key for q in brief.asked("ferrite").quantities]
    assert "ferrite_schaeffler_1949" not in asked and "ferrite_duplex_anchored" in asked
