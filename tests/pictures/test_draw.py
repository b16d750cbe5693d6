"""Pictures: what they say, that nothing overlaps, and that matplotlib is left as it was."""

import itertools
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import gradekit as gk
from gradekit.core.flags import Flag
from gradekit.core.markup import number
from gradekit.core.svg import document, drawing, shape, terse_path, write
from gradekit.pictures.comparing import intervals, scatter_fit
from gradekit.pictures.curves import bars, lines
from gradekit.pictures.draw import background, draw
from gradekit.pictures.drawn import canvas_of
from gradekit.pictures.figure import page_svg
from gradekit.pictures.marks import Mark, marks_of
from gradekit.pictures.overlay import overlay
from gradekit.pictures.placing import LabelBox, middle_of, place_labels
from gradekit.pictures.style import COLOURS, SHAPES, text_size, tint
from gradekit.relations.topics import CATALOGUE

NAMES = ("wrc_1992", "schaeffler_1949", "delong_1973")
BASE = {"Si": 0.5, "Mn": 1.5, "Mo": 0.2, "N": 0.05, "Nb": 0.0, "Cu": 0.2, "C": 0.02}
WELDS = [
    {"heat": "W1", **BASE, "Cr": 19.5, "Ni": 9.8},
    {"heat": "W2", **BASE, "Cr": 23.5, "Ni": 12.6},
    {"heat": "<b>$W3$", **BASE, "Cr": 21.5, "Ni": 11.6},
]
SCATTER = {"Cr": 0.15, "Ni": 0.10, "N": 0.006, "C": 0.004}
COLUMN = 360  # pixels of a picture for a column of print
SVG = "{http://www.w3.org/2000/svg}"


def crowd(count, seed=1):
    rng = np.random.default_rng(seed)
    frame = pd.DataFrame({e: np.full(count, v) for e, v in BASE.items()})
    frame["Cr"], frame["Ni"] = rng.normal(20, 1.2, count), rng.normal(10.5, 0.8, count)
    frame.index = pd.Index([f"H{k:03d}" for k in range(count)], name="heat")
    return frame


def texts(svg):
    return ["".join(t.itertext()) for t in ET.fromstring(svg).iter(f"{SVG}text")]


@pytest.mark.parametrize("name", NAMES)
def test_every_picture_of_a_diagram_says_what_it_is(name):
    caution = gk.diagram(name).caution
    for svg in (draw(name, WELDS).svg, draw(name).svg, write(background(name, 640)[0])):
        inside = " ".join(texts(svg))
        assert caution in inside
        root = ET.fromstring(svg)
        assert root.get("role") == "img"
        title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert title.text and caution in desc.text
        assert title.text in root.get("aria-label") and caution in root.get("aria-label")


@pytest.mark.parametrize("name", NAMES)
def test_fields_lines_and_axes_are_labelled(name):
    drawn = gk.diagram(name)
    found = texts(draw(name).svg)
    assert {r.label for r in drawn.regions} <= set(found)
    values = {f"{line.value:g}" for line in drawn.iso_lines}
    assert len(values & set(found)) >= 0.6 * len(values)
    formula = CATALOGUE[drawn.axes[0]].formula.replace("*", "")
    assert any(formula in text for text in found)


def test_description_tells_heats_fields_and_readings():
    text = draw("wrc_1992", WELDS[:1]).description
    spot = gk.diagram("wrc_1992").locate(WELDS[:1]).iloc[0]
    assert f"W1 at {spot['x']:.1f}" in text
    reading = f"{spot['value']:.1f} ± {spot['tolerance']:g} FN"
    assert f"in {spot['region']}, {reading}" in text
    assert "61 heats: " in draw("wrc_1992", crowd(61)).description


def test_svg_is_small_text_as_text_and_fit_to_stand_in_a_page():
    svg = draw("wrc_1992", crowd(60), SCATTER, reading_error=True).svg
    assert len(svg) < 100_000
    assert "<style" not in svg and "<metadata" not in svg and "<script" not in svg
    ids = re.findall(r'\bid="([^"]*)"', svg)
    assert len(ids) == len(set(ids))
    assert "W1" in texts(draw("wrc_1992", WELDS).svg)
    assert draw("wrc_1992", WELDS).svg == draw("wrc_1992", WELDS).svg


def test_names_are_inert():
    svg = draw("wrc_1992", WELDS).svg
    assert "<b>" not in svg
    assert "<b>$W3$" in texts(svg)
    to_px = background("wrc_1992", 640)[1]
    moving = write(overlay(to_px, [Mark(20, 12, "<script>x</script>")]))
    assert "<script" not in moving and "&lt;script&gt;" in moving


def test_matplotlib_is_loaded_late_and_left_alone():
    code = (
        "import sys, gradekit as gk, gradekit.pictures.draw\n"
        "assert 'matplotlib' not in sys.modules\n"
        "gk.draw('wrc_1992').svg\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
        "import matplotlib\n"
        "before = dict(matplotlib.rcParams)\n"
        "gk.draw('schaeffler_1949').svg\n"
        "assert dict(matplotlib.rcParams) == before\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.parametrize("ending, start", [("svg", b"<svg"), ("png", b"\x89PNG"), ("pdf", b"%PDF")])
def test_save_by_ending(tmp_path, ending, start):
    path = draw("delong_1973", WELDS).save(tmp_path / f"picture.{ending}")
    assert path.read_bytes().startswith(start)


def test_save_refuses_other_endings(tmp_path):
    with pytest.raises(gk.InputError, match="svg, png, pdf"):
        draw("delong_1973").save(tmp_path / "picture.jpg")
    assert not list(tmp_path.iterdir())


def test_png_has_two_pixels_a_unit(tmp_path):
    path = draw("wrc_1992", width=400).save(tmp_path / "p.png")
    assert int.from_bytes(path.read_bytes()[16:20], "big") == 800


# --- names


RECTANGLES = st.lists(
    st.tuples(st.floats(20, 380), st.floats(20, 280)), min_size=1, max_size=14, unique=True
)


@settings(max_examples=60, deadline=None)
@given(spots=RECTANGLES, length=st.integers(2, 12))
def test_names_never_overlap(spots, length):
    box = LabelBox(0, 0, 400, 300)
    size = text_size("H" * length, 11)
    placed = place_labels(np.array(spots), [size] * len(spots), box, [LabelBox(180, 130, 220, 150)])
    boxes = [
        LabelBox(p.x - size[0] / 2, p.y - size[1] / 2, p.x + size[0] / 2, p.y + size[1] / 2)
        for p in placed
        if p
    ]
    for k, a in enumerate(boxes):
        assert a.left >= 0 and a.right <= 400 and a.low >= 0 and a.high <= 300
        others = [*boxes[k + 1 :], LabelBox(180, 130, 220, 150)]
        others += [LabelBox(x - 5, y - 5, x + 5, y + 5) for x, y in spots]
        for b in others:
            apart = a.right <= b.left or b.right <= a.left or a.high <= b.low or b.high <= a.low
            assert apart


def test_a_lone_name_always_finds_a_place():
    for spot in ([0, 0], [400, 300], [200, 150]):
        assert place_labels(np.array([spot]), [(50, 13)], LabelBox(0, 0, 400, 300))[0] is not None


def test_sixty_heats_have_no_names_by_default_and_groups_a_legend():
    heats = crowd(60)
    assert "H007" not in texts(draw("wrc_1992", heats).svg)
    group = ["lean"] * 30 + ["rich"] * 29 + [None]
    found = texts(draw("wrc_1992", heats, group=group).svg)
    assert {"lean", "rich", "not stated"} <= set(found)
    forced = draw("wrc_1992", heats, names=True)
    shown = sum(t.startswith("H0") for t in texts(forced.svg))
    missing = int(re.search(r"(\d+) of 60 names left out", forced.description).group(1))
    assert shown == 60 - missing


def test_group_by_a_column_that_came_with_the_heats():
    heats = gk.as_batch([w | {"grade": g} for w, g in zip(WELDS, "xyx", strict=True)])
    assert {"x", "y"} <= set(texts(draw("wrc_1992", heats, group="grade").svg))
    with pytest.raises(gk.InputError, match="nearest grade"):
        draw("wrc_1992", heats, group="grades")
    with pytest.raises(gk.InputError, match="one value for each of 3 heats"):
        draw("wrc_1992", heats, group=["x"])


def test_heats_without_a_place_are_counted():
    text = draw("wrc_1992", [*WELDS, {"heat": "W4", "Cr": 18.0, "Ni": 9.0}]).description
    assert "1 heat lacks an element" in text


# --- bars


def test_scatter_of_elements_becomes_scatter_of_equivalents():
    mark = marks_of(gk.diagram("wrc_1992"), WELDS[:1], scatter=SCATTER)[0]
    assert mark.x_error == pytest.approx(0.15)
    assert mark.y_error == pytest.approx(np.sqrt(0.10**2 + (35 * 0.004) ** 2 + (20 * 0.006) ** 2))


def test_scatter_as_covariance_and_as_heats():
    chart = gk.diagram("wrc_1992")
    rng = np.random.default_rng(5)
    heats = pd.DataFrame(
        {
            "Cr": rng.normal(19, 0.2, 4000),
            "Mo": rng.normal(0.3, 0.05, 4000),
            "Ni": rng.normal(9.5, 0.15, 4000),
            "C": rng.normal(0.03, 0.002, 4000),
            "N": rng.normal(0.06, 0.005, 4000),
        }
    )
    heats["Ni"] += 0.4 * (heats["Cr"] - 19)
    of_heats = marks_of(chart, WELDS[:1], scatter=heats)[0]
    of_covariance = marks_of(chart, WELDS[:1], scatter=heats.cov())[0]
    assert of_covariance.x_error == pytest.approx(of_heats.x_error, rel=1e-9)
    assert of_covariance.y_error == pytest.approx(of_heats.y_error, rel=1e-9)


def test_wrong_scatter_is_refused():
    with pytest.raises(gk.InputError, match="nearest"):
        draw("wrc_1992", WELDS, {"Xx": 0.1})
    with pytest.raises(gk.InputError, match="standard deviation"):
        draw("wrc_1992", WELDS, "much")


def test_bar_of_the_reading_is_the_inverse_of_its_tolerance():
    chart = gk.diagram("wrc_1992")
    mark = marks_of(chart, WELDS[:1], reading_error=True)[0]
    spot = chart.locate(WELDS[:1]).iloc[0]
    ends = chart.locate_xy([mark.x] * 2, mark.reading)["value"]
    assert sorted(ends - spot["value"]) == pytest.approx([-spot["tolerance"], spot["tolerance"]])
    beyond = {**BASE, "Cr": 29.0, "Ni": 9.0}
    assert chart.locate(beyond)["flag"].iloc[0] & Flag.CLAMPED
    assert marks_of(chart, beyond, reading_error=True)[0].reading is None


def test_the_foot_tells_what_the_bars_are():
    words = " ".join(texts(draw("wrc_1992", WELDS, SCATTER, reading_error=True).svg))
    assert "± one standard deviation" in words and "Pale bars" in words
    assert "standard deviation" not in " ".join(texts(draw("wrc_1992", WELDS).svg))


# --- two layers


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("width", [480, 640, 1100])
def test_pixels_of_both_layers_agree(name, width):
    """A point of the chart has the same pixels in the SVG of matplotlib and by `to_px`."""
    from gradekit.pictures.chart import chart, layout
    from gradekit.pictures.style import styled

    drawn = gk.diagram(name)
    with styled():
        whole = chart(drawn, layout(drawn, width))
        for x, y in ((drawn.data.x.low, drawn.data.y.high), (20.0, 11.0)):
            px, py = whole.axes.transData.transform((x, y))
            assert whole.to_px(x, y) == pytest.approx((px, whole.to_px.height - py), abs=0.01)


def test_background_and_overlay_have_one_size():
    resting, to_px = background("wrc_1992", 640)
    moving = overlay(to_px, [Mark(20.0, 12.0, "trial")])
    assert moving.get("viewBox") == resting.get("viewBox")
    assert len(write(resting)) < 100_000 and len(write(moving)) < 2_000
    assert len(overlay(to_px, [])) == 0


def test_overlay_draws_each_shape_bars_trail_and_what_lies_outside():
    _, to_px = background("wrc_1992", 640)
    marks = [Mark(19 + k, 12.0, f"n{k}", k, 0.2, 0.3, (11.0, 13.0)) for k in range(len(SHAPES))]
    moving = ET.fromstring(write(overlay(to_px, marks, trail=True, words="eight heats")))
    assert moving.get("aria-label") == "eight heats" and moving.get("role") == "img"
    assert len(list(moving.iter(f"{SVG}polyline"))) == 1
    assert len(list(moving.iter(f"{SVG}rect"))) == len(SHAPES)
    assert len({p.get("fill") for p in moving.iter(f"{SVG}polygon")}) >= len(SHAPES) - 1
    out = write(overlay(to_px, [Mark(40.0, 12.0, "far")]))
    assert "far (outside)" in out
    xs = [float(a) for a in re.findall(r"[ \"]([\d.]+),", re.search(r'points="[^"]*"', out)[0])]
    assert max(xs) <= to_px.box.right + 0.01
    assert overlay(to_px, marks[:1]).get("aria-hidden") == "true"


# --- style


def linear_rgb(colours):
    c = np.array([[int(c[k : k + 2], 16) / 255 for k in (1, 3, 5)] for c in colours])
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab_of_linear(linear):
    """CIE L*a*b* of linear RGB."""
    m = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    xyz = linear @ m.T / m.sum(axis=1)
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.column_stack(
        [116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])]
    )


# Full loss of one cone type in linear RGB, rounded (Viénot, Brettel, Mollon 1999).
BLIND = {
    "none": np.eye(3),
    "protan": np.array([[0.11238, 0.88762, 0], [0.11238, 0.88762, 0], [0.00401, -0.00401, 1]]),
    "deutan": np.array([[0.29275, 0.70725, 0], [0.29275, 0.70725, 0], [-0.02234, 0.02234, 1]]),
}


@pytest.mark.parametrize("kind", BLIND)
def test_neighbouring_colours_differ_for_the_colour_blind(kind):
    lab = lab_of_linear(np.clip(linear_rgb(COLOURS) @ BLIND[kind].T, 0, 1))
    first = lab[:4]
    apart = np.hypot.reduce((first[:, None] - first[None]).transpose(2, 0, 1))
    assert apart[~np.eye(4, dtype=bool)].min() > 15
    assert len(set(SHAPES)) == len(COLOURS)


def test_texts_are_dark_enough_on_every_field():
    """Contrast of at least 4.5 : 1, as for text in a page."""

    def light(colour):
        c = np.asarray(colour, float)
        c = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
        return c @ [0.2126, 0.7152, 0.0722]

    named = light([int("4b5560"[k : k + 2], 16) / 255 for k in (0, 2, 4)])
    for name in NAMES:
        for place, region in enumerate(gk.diagram(name).regions):
            assert (light(tint(region.label, place)) + 0.05) / (named + 0.05) >= 4.5


def test_names_in_the_colour_of_their_mark_can_be_read():
    light = linear_rgb([Mark(0, 0, style=k).ink for k in range(len(COLOURS))])
    assert (1.05 / (light @ [0.2126, 0.7152, 0.0722] + 0.05)).min() >= 4.5


def test_middle_of_a_field():
    x, y, room = middle_of(np.array([[0, 0], [100, 0], [100, 40], [0, 40]]), 20, 10)
    assert (x, y) == pytest.approx((50, 20), abs=15)
    assert room > 1
    assert middle_of(np.array([[0, 0], [10, 0], [0, 4]]), 40, 12)[2] < 1


def test_a_picture_without_a_title_is_hidden_from_a_screen_reader():
    raw = b'<svg width="10pt" height="5pt" xmlns="http://www.w3.org/2000/svg"><g id="a"/></svg>'
    assert page_svg(raw).get("aria-hidden") == "true"


# --- shared charts


def test_bars_add_up_to_the_value():
    heat = WELDS[0] | {"heat": "W1"}
    table = gk.explain(heat, "md30_nohara_1977", grain_size_astm=8)
    picture = bars(table)
    value = gk.evaluate(heat, "md30_nohara_1977", grain_size_astm=8).values.iloc[0, 0]
    assert f"Together: {number(value, 4)} °C" in picture.description
    assert "−13.7 Cr" in " ".join(texts(picture.svg))
    two = bars({"W1": table, "W2": gk.explain(WELDS[1], "md30_nohara_1977", grain_size_astm=8)})
    assert {"W1", "W2"} <= set(texts(two.svg))
    with pytest.raises(gk.InputError, match="contribution"):
        bars(pd.DataFrame({"a": [1.0]}))


def test_intervals_of_a_result():
    result = gk.spread(WELDS, "Md30", grain_size_astm=8)
    picture = intervals(result, limits=(-40, 10))
    found = texts(picture.svg)
    assert set(result.names) <= set(found)
    assert "at least −40" in found and "at most 10" in found
    assert "md30_nohara_1977" in picture.description
    with pytest.raises(gk.InputError, match="one quantity"):
        intervals(gk.evaluate(WELDS, ["pren_16n", "md30_nohara_1977"], grain_size_astm=8))
    with pytest.raises(gk.InputError, match="value"):
        intervals(pd.DataFrame({"low": [1.0]}))


def test_intervals_mark_what_is_flagged():
    far = {"C": 0.02, "Cr": 32.0, "Ni": 12.0, "N": 0.05}
    result = gk.evaluate(far, ["ferrite_wrc_1992", "ferrite_delong_1973"])
    assert intervals(result).description.count("flagged") == 2


def test_scatter_fit_tells_bias_and_error():
    rng = np.random.default_rng(2)
    measured = rng.uniform(200, 400, 50)
    predicted = measured + rng.normal(4, 10, 50)
    off = predicted - measured
    text = scatter_fit(np.append(measured, np.nan), np.append(predicted, 1.0)).description
    assert "50 points" in text
    assert f"bias {off.mean():.3g}" in text
    assert f"error {np.sqrt((off**2).mean()):.3g}" in text
    with pytest.raises(gk.InputError, match="3 values"):
        scatter_fit([1, 2, 3], [1, 2])
    with pytest.raises(gk.InputError, match="at least one pair"):
        scatter_fit([np.nan], [1])


def test_lines_name_their_curves():
    x = np.linspace(0, 1, 20)
    picture = lines(
        x,
        {"a": x, "b": x + 0.01, "c": 2 * x},
        xlabel="N, wt%",
        ylabel="PREN, wt%",
        bands={"a": (x - 1, x + 1)},
        levels={"wanted": 0.5},
    )
    assert {"a", "b", "c", "wanted"} <= set(texts(picture.svg))
    with pytest.raises(gk.InputError, match="20 values"):
        lines(x, {"a": x[:3]}, xlabel="", ylabel="")


@pytest.fixture(scope="module")
def fitted():
    rng = np.random.default_rng(2)
    tests = pd.DataFrame({e: rng.uniform(0.02, 0.2, 60) for e in ("C", "N", "Mo", "Si")})
    tests["heat"] = [f"H{k // 2}" for k in range(60)]
    tests["proof_strength_MPa"] = 200 + 500 * tests["N"] + rng.normal(0, 5, 60)
    return gk.fit_property(tests, "proof_strength_MPa", groups="heat")


@pytest.mark.parametrize("kind", ["measured", "residuals", "coverage", "effects", "learning"])
def test_a_view_of_a_fit_is_drawn_as_wide_as_its_column(fitted, kind):
    narrow, wide = (
        gk.pictures.fit_chart(fitted, kind, width=COLUMN),
        gk.pictures.fit_chart(fitted, kind),
    )
    assert f'viewBox="0 0 {COLUMN} ' in narrow.svg
    assert f'viewBox="0 0 {COLUMN} ' not in wide.svg
    assert narrow.description == wide.description
    # laid out anew, not shrunk: the letters keep their size
    sizes = [set(re.findall(r"font-size:([\d.]+)px", picture.svg)) for picture in (narrow, wide)]
    assert sizes[0] == sizes[1]
    assert _inside_the_page(narrow)


@pytest.mark.parametrize("width", [COLUMN, 480, 760])
def test_texts_stay_on_the_page(width):
    """Measured by matplotlib with its own fonts, every text lies inside the picture."""
    pictures = [draw(n, WELDS, SCATTER, reading_error=True, width=width) for n in NAMES]
    pictures.append(draw("wrc_1992", crowd(40), group=["a", "b"] * 20, width=width))
    pictures.append(intervals(gk.spread(WELDS, "Md30", grain_size_astm=8), width=width))
    pictures.append(bars(gk.explain(WELDS[0], "pren_16n"), width=width))
    for picture in pictures:
        assert _inside_the_page(picture)


def _inside_the_page(picture) -> bool:
    canvas = picture.canvas
    canvas.canvas.draw()
    renderer = canvas.canvas.get_renderer()
    page = canvas.bbox
    shown = set(texts(picture.svg))
    unseen = {  # labels of ticks beyond the ends of their axis
        tick.label1
        for axes in canvas.axes
        for axis in (axes.xaxis, axes.yaxis)
        for tick in axis.get_major_ticks()
        if not min(axis.get_view_interval()) <= tick.get_loc() <= max(axis.get_view_interval())
    }
    for text in canvas.findobj(match=lambda o: hasattr(o, "get_text")):
        if text.get_text() in shown and text not in unseen:
            box = text.get_window_extent(renderer)
            inside = (
                box.x0 >= page.x0 - 1
                and box.x1 <= page.x1 + 1
                and box.y0 >= page.y0 - 1
                and box.y1 <= page.y1 + 1
            )
            assert inside, (picture.title, text.get_text())
    return True


# --- estimates against temperature

PLAIN = {"C": 0.05, "Si": 0.5, "Mn": 1.4, "Cr": 18.2, "Ni": 9.6, "Mo": 0.2, "N": 0.05}
MOLY = PLAIN | {"Cr": 17.2, "Ni": 11.6, "Mo": 2.2}
LEAN = PLAIN | {"Mn": 6.5, "Cr": 17.0, "Ni": 4.3, "N": 0.155}


def named(**heats):
    return [{"heat": name.replace("_", "-"), **heat} for name, heat in heats.items()]


@pytest.mark.parametrize("quantity", ["proof_strength", "tensile_strength", "elongation"])
def test_an_estimate_chart_says_what_estimate_says(quantity):
    picture = gk.pictures.estimate_chart(PLAIN, quantity, level=0.8, grain_size_um=40)
    card = gk.properties.model_card(f"{quantity}_by_composition").data
    for temperature in card["range"]["temperature_C"]:
        row = gk.estimate(PLAIN, quantity, 0.8, temperature_C=temperature, grain_size_um=40).iloc[0]
        says = f"({row['low']:.3g} to {row['high']:.3g}) at {temperature:g} °C"
        assert f"{row['value']:.3g} {card['unit']} {says}" in picture.description
    assert f"{card['heats']} measured heats" in picture.description
    assert f"{card['held_out']['mae']:.3g} {card['unit']}" in picture.description
    assert "Dashed" not in picture.description
    if card["shift"]:
        relation = card["shift"]["relation"]
        assert f"{relation} ({CATALOGUE[relation].status})" in picture.description


def drawn_curves(picture):
    """Return temperatures and values of each curve, solid and dashed."""
    found = [line for line in picture.canvas.axes[0].lines if len(line.get_xdata()) > 20]
    return [
        (np.asarray(x.get_xdata()), np.asarray(x.get_ydata()), x.get_linestyle()) for x in found
    ]


def test_a_curve_is_the_estimate_at_every_temperature_and_dashed_outside_the_data():
    at = np.arange(0.0, 1201.0, 40.0)
    picture = gk.pictures.estimate_chart(PLAIN, temperatures=at)
    (x, inside, _), (_, outside, dashes) = drawn_curves(picture)
    low, high = gk.properties.model_card("proof_strength_by_composition").data["range"][
        "temperature_C"
    ]
    assert np.isnan(inside[(x < low) | (x > high)]).all()
    assert np.isfinite(inside[(x >= low) & (x <= high)]).all()
    assert np.isfinite(outside[(x < low) | (x > high)]).all()
    assert dashes == "--"
    assert set(at) <= set(x)
    one = gk.estimate(PLAIN, "proof_strength", temperature_C=200.0)["value"].iloc[0]
    assert inside[x == 200] == pytest.approx(one)
    assert "Dashed and hollow: outside what was measured." in picture.description


@pytest.mark.parametrize("quantity", ["proof_strength", "tensile_strength", "elongation"])
def test_the_band_is_drawn_without_a_step(quantity):
    at = np.arange(20.0, 1001.0, 0.5)
    picture = gk.pictures.estimate_chart(PLAIN, quantity, temperatures=at)
    (band,) = picture.canvas.axes[0].collections
    outline = band.get_paths()[0].vertices
    found = pd.DataFrame(outline, columns=["x", "y"]).groupby("x")["y"].agg(["min", "max"])
    width = (found["max"] - found["min"]).loc[at].to_numpy()
    assert width.min() > 1 and np.ptp(width) > 0.2 * width.min()
    assert np.abs(np.diff(width)).max() < 0.01 * width.max()


def test_heats_are_named_at_their_curves_and_what_lies_outside_is_said():
    rich = PLAIN | {"Mn": 2.2}
    picture = gk.pictures.estimate_chart(named(plain=PLAIN, moly=MOLY, rich=rich), width=COLUMN)
    assert {"plain", "moly", "rich"} <= set(texts(picture.svg))
    low, high = gk.properties.model_card("proof_strength_by_composition").data["range"]["Mn"]
    assert f"rich: Mn 2.2, measured {low:g} to {high:g}" in picture.description
    assert "plain: Mn" not in picture.description
    assert _inside_the_page(picture)
    solid = [y for _, y, dashes in drawn_curves(picture) if dashes == "-"]
    assert [bool(np.isfinite(y).all()) for y in solid] == [True, True, False]


def test_conditions_go_to_their_heats():
    heats = named(coarse=PLAIN, fine=PLAIN)
    for size in ([100.0, 30.0], pd.Series({"fine": 30.0, "coarse": 100.0})):
        picture = gk.pictures.estimate_chart(heats, grain_size_um=size, solution_temperature_C=1080)
        coarse, fine = (y for _, y, dashes in drawn_curves(picture) if dashes == "-")
        assert (fine > coarse).all()
    assert (
        f"{gk.properties.model_card('proof_strength').data['held_out']['mae']:.3g}"
        in picture.description
    )


@pytest.mark.parametrize(
    "heats, given, words",
    [
        (PLAIN, {"quantity": "density"}, "tell at every temperature.*'density'"),
        (PLAIN, {"quantity": "proof"}, "nearest proof_strength"),
        ([PLAIN] * 5, {}, "1 to 4 for one chart · got 5 heats"),
        (named(plain=PLAIN, lean=LEAN), {}, "'lean'.* got not known: no measured support"),
        (PLAIN | {"Ni": None}, {}, "C, Cr, Ni · got no value"),
        (PLAIN, {"temperature_C": 20}, "left out"),
        (PLAIN, {"temperatures": [20]}, "at least two"),
        (PLAIN, {"temperatures": "hot"}, "at least two"),
        (PLAIN, {"level": 0.3}, "level"),
        (PLAIN, {"grain": 20}, "condition.*nearest grain_size"),
    ],
)
def test_an_estimate_chart_refuses_in_words(heats, given, words):
    with pytest.raises(gk.InputError, match=words):
        gk.pictures.estimate_chart(heats, **given)


# --- fewer letters, the same picture


def test_every_name_that_an_image_asks_for_is_in_it():
    sets = {name: {"Cr": 18.2, "Ni": 9.0} for name in ("one", "two", "three")}
    for drawn in (bars({n: pd.Series(s) for n, s in sets.items()}), draw("wrc_1992", WELDS)):
        lone = document(drawn.tree)
        asked = re.findall(r"""(?:href=["']|url\()#([^"')]*)""", lone)
        assert len(asked) > 5
        assert set(asked) <= set(re.findall(r"""\bid=["']([^"']*)""", lone))


def test_an_image_says_less_and_shows_the_same():
    drawn = draw("wrc_1992", crowd(60), SCATTER, reading_error=True)
    lone = document(drawn.tree)
    assert len(lone) < 0.75 * len(drawn.svg)
    assert texts(lone) == texts(drawn.svg)
    before, after = (list(ET.fromstring(svg).iter()) for svg in (drawn.svg, lone))
    drawing = [e for e in before if not e.tag.endswith(("title", "desc"))]
    shown = [e for e in after if not e.tag.endswith("style")]
    assert [e.tag for e in shown] == [e.tag for e in drawing]
    rules = dict(re.findall(r"\.(c\d+)\{([^}]*)\}", lone))
    for old, new in zip(drawing[1:], shown[1:], strict=True):
        assert rules.get(new.get("class"), new.get("style")) == old.get("style")
        assert (new.get("d"), new.get("x")) == (old.get("d"), old.get("x"))


@pytest.mark.parametrize(
    "long, short",
    [
        ("M 1.234 2.00 L 3 -4.5 L 5.678 6 z ", "M1.23 2 3-4.5 5.68 6z"),
        ("M 0 0 C 1 2 3 4 5 6 C 7 8 9 10 11 -0.001 L 3 4", "M0 0C1 2 3 4 5 6 7 8 9 10 11 0L3 4"),
        ("M 1 1 L 2 2 M 3 3 L 4 4", "M1 1 2 2M3 3 4 4"),
    ],
)
def test_a_path_names_a_way_of_going_only_where_it_changes(long, short):
    assert terse_path(long) == short


def test_what_is_written_keeps_its_digits_and_a_group_with_a_look_stays():
    raw = (
        b'<svg width="10pt" height="5pt" xmlns="http://www.w3.org/2000/svg"><g>'
        b'<g clip-path="url(#a)"><text x="1.239">1.23456, 5 &gt; 4</text></g></g></svg>'
    )
    inside = "".join(map(write, page_svg(raw)))
    assert inside == '<g clip-path="url(#a)"><text x="1.24">1.23456, 5 &gt; 4</text></g>'


# --- the works, in a column of print


def test_pictures_of_the_works_fit_into_a_column():
    trial = LEAN | {"heat": "trial", "Cr": 17.8, "N": 0.2, "Cu": 2.0}
    plant = Path(__file__).resolve().parents[2] / "data" / "plant.csv"
    for width in (COLUMN, 760):
        assert _inside_the_page(gk.pictures.aod_path(gk.works.refine(trial, plant), width=width))
        assert _inside_the_page(gk.pictures.nitrogen_map(trial, width=width))


@pytest.mark.parametrize("width", [COLUMN, 760])
def test_no_two_texts_of_a_works_map_lie_on_each_other(width):
    heat = {**BASE, "heat": "H", "C": 0.05, "Cr": 18.2, "Ni": 8.1, "P": 0.03, "S": 0.003}
    data = Path(__file__).resolve().parents[2] / "data"
    blow = gk.pictures.aod_path(gk.works.refine(heat, data / "plant.csv"), width=width)
    nitrogen = gk.pictures.nitrogen_map(heat, data / "element_prices.csv", width=width)
    for picture in (blow, nitrogen):
        picture.canvas.canvas.draw()
        (axes,) = picture.canvas.axes
        boxes = [text.get_window_extent() for text in axes.texts]
        assert len(boxes) > 3
        for one, other in itertools.combinations(boxes, 2):
            assert not one.overlaps(other)


@pytest.mark.parametrize(
    "ending, begins", [("svg", b"<svg"), ("png", b"\x89PNG"), ("pdf", b"%PDF")]
)
def test_the_route_is_saved_as_every_picture_is(tmp_path, ending, begins):
    chart = gk.pictures.route_chart(gk.walk_route(named(plain=PLAIN, moly=MOLY)))
    assert chart.save(tmp_path / f"route.{ending}").read_bytes().startswith(begins)
    drawn = [text.get_text() for text in chart.canvas.axes[0].texts]
    assert drawn == [text.text for text in chart.tree.iter("text")]
    bars = sum(node.tag == "rect" for node in chart.tree)
    assert len(chart.canvas.axes[0].patches) == bars


def test_in_a_route_each_heat_stands_beside_its_verdict_and_no_line_parts_a_number_from_its_unit():
    chart = gk.pictures.route_chart(gk.walk_route(named(plain=PLAIN, moly=MOLY), grain_size_astm=8))
    texts = [(t.text, float(t.get("x")), float(t.get("y"))) for t in chart.tree.iter("text")]
    verdicts = {y for text, x, y in texts if text[:1] in "✓△✕○" and x > 200}
    later = [y for text, x, y in texts if text == "moly"]
    assert len(later) > 4 and set(later) <= verdicts
    assert not [text for text, *_ in texts if re.match(r"(wt%|atm|°C|MN|kN m|µm)\b", text)]


def test_the_name_of_a_field_gives_way_to_the_marks():
    crowd = [{**BASE, "heat": f"h{k}", "Cr": 17.2, "Ni": 5 + 0.4 * k} for k in range(4)]
    drawn = draw("schaeffler_1949", crowd, names=False).canvas
    drawn.canvas.draw()
    (box,) = [t.get_window_extent() for t in drawn.axes[0].texts if t.get_text() == "A+M+F"]
    marks = [
        p for line in drawn.axes[0].lines for p in line.get_transform().transform(line.get_xydata())
    ]
    assert not [p for p in marks if box.contains(*p)]


def test_in_a_narrow_route_no_verdict_runs_into_the_name_of_its_step():
    route = gk.walk_route(named(plain=PLAIN, moly=MOLY), grain_size_astm=8)
    for width in (COLUMN, 520):
        found = list(
            ET.fromstring(gk.pictures.route_chart(route, width=width).svg).iter(f"{SVG}text")
        )
        steps = {t.get("y"): t for t in found if t.get("x") == "8"}
        verdicts = [t for t in found if t.get("text-anchor") == "end" and t.get("font-weight")]
        assert len(verdicts) > len(steps) > 4
        for text in verdicts:
            for y, step in steps.items():
                if abs(float(y) - float(text.get("y"))) < 10:
                    ends = float(text.get("x")) - text_size(text.text, 12)[0]
                    assert 8 + text_size(step.text, 12)[0] < ends, (width, step.text)


def test_a_path_that_is_not_of_straight_lines_between_points_is_refused():
    for data in ("M0 0C1 2 3 4 5 6", "M0 0h5"):
        with pytest.raises(gk.InputError, match="straight lines between points"):
            canvas_of(drawing(8, 6, shape("path", d=data, stroke="#000", fill="none")))


@pytest.mark.parametrize("width", [COLUMN, 520, 900])
def test_the_axis_of_a_route_crosses_no_word(width):
    route = gk.walk_route(named(plain=PLAIN, moly=MOLY), grain_size_astm=8)
    drawn = ET.fromstring(gk.pictures.route_chart(route, width=width).svg)
    axes = [re.fullmatch(r"M(\S+) (\S+)L\1 (\S+)", p.get("d")) for p in drawn.iter(f"{SVG}path")]
    assert axes
    for text in drawn.iter(f"{SVG}text"):
        long, x, y = text_size(text.text, 12)[0], float(text.get("x")), float(text.get("y"))
        left = {"end": x - long, "middle": x - long / 2}.get(text.get("text-anchor"), x)
        for at, top, bottom in (map(float, axis.groups()) for axis in axes):
            beside = not left < at < left + long
            assert beside or y <= top or y - 9 >= bottom, text.text


def test_pictures_of_many_threads_are_those_of_one():
    def picture(number: int) -> str:
        return draw(NAMES[number % 3], WELDS, width=400 + number % 3).svg

    alone = [picture(number) for number in range(3)]
    with ThreadPoolExecutor(8) as threads:
        together = list(threads.map(picture, range(24)))
    assert [svg == alone[k % 3] for k, svg in enumerate(together)] == [True] * 24


@pytest.mark.parametrize("text", ["$$", "$x^", r"\frac{", "\x1b[31m", "a\0b", "\ud800", "<b>&"])
def test_no_text_of_a_user_breaks_a_picture(text, tmp_path):
    for heats, title in (({**BASE, "heat": text, "Cr": 20.0, "Ni": 10.0}, None), (WELDS, text)):
        figure = draw("wrc_1992", heats, title=title)
        ET.fromstring(figure.svg)
        assert figure.save(tmp_path / "a.pdf").read_bytes().startswith(b"%PDF")


def test_a_map_of_martensite_is_refused_for_a_steel_that_md30_says_nothing_of():
    duplex = {"C": 0.02, "Si": 0.45, "Mn": 1.6, "Cr": 22.5, "Ni": 5.6, "Mo": 3.2, "N": 0.17}
    with pytest.raises(gk.InputError, match=r"md30_nohara_1977 holds for · got duplex"):
        gk.pictures.cold_map(duplex, relation="md30_nohara_1977", grain_size_astm=9)


def test_a_diagram_is_told_in_the_titles_of_its_axes():
    words = gk.draw("wrc_1992").description
    assert words.startswith(
        "WRC-1992 constitution diagram: WRC-1992 chromium equivalent from 18 to 30 wt% across, "
        "WRC-1992 nickel equivalent from 10 to 18 wt% upwards."
    )


def test_a_plain_number_is_told_without_a_unit():
    told = intervals(gk.evaluate(BASE | {"Cr": 20.0, "Ni": 10.0}, ["pren_16n", "pren_30n"]))
    assert told.description.startswith("Values. ")
    fit = scatter_fit([18.0, 20.0], [19.0, 20.0])
    assert "bias 0.5, root mean square error 0.707" in fit.description
