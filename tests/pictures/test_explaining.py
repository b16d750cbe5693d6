"""Pictures that explain: what is computed is drawn where it was computed, and words can be read."""

from __future__ import annotations

from xml.etree.ElementTree import Element

import numpy as np
import pandas as pd
import pytest
from picture_kit import collisions, texts

import gradekit as gk
from gradekit.core.svg import document
from gradekit.diagrams.criteria import criteria
from gradekit.lessons.steels import STEELS
from gradekit.pictures import chart_path, freezing, melt_and_strain, phase_charts
from gradekit.pictures.draw import background
from gradekit.pictures.graph import Graph
from gradekit.pictures.microstructures import AUSTENITE, FERRITE, MARTENSITE, STRUCTURES
from gradekit.pictures.style import COLOURS
from gradekit.works.cold.martensite import martensite, md30_forms, strain_of

COURSE = pd.DataFrame(STEELS).T
THREE = COURSE.loc[["18Cr-8Ni", "lean nickel", "22Cr duplex"]]
MAKE = {
    "microstructures": gk.pictures.microstructures,
    "freezing": gk.pictures.freezing_modes,
    "iron and carbon": gk.pictures.iron_carbon,
    "iron, chromium and nickel": gk.pictures.iron_chromium_nickel,
    "nitrogen": lambda: gk.pictures.nitrogen_in_melt(THREE),
    "martensite": lambda: gk.pictures.martensite_under_strain(COURSE.loc[["18Cr-8Ni"]]),
}
WIDEST = 420  # pixels: two stand side by side in JupyterLab at 1024, one on a phone
SMALLEST = 11.0
LARGEST = 16_000  # bytes of one part


@pytest.fixture(scope="module", params=MAKE)
def sketch(request):
    return MAKE[request.param]()


def test_no_words_run_into_others_or_out_of_the_picture(sketch):
    for part in sketch.parts:
        _, _, wide, high = map(float, part.get("viewBox").split())
        assert wide <= WIDEST
        boxes = texts(part)
        assert boxes
        for text, (left, top, right, bottom) in boxes:
            assert left >= -1 and top >= 0 and right <= wide + 2 and bottom <= high, text
        assert collisions(part) == []


def test_letters_are_large_enough_and_parts_small_enough(sketch):
    for part in sketch.parts:
        sizes = [float(n.get("font-size", 0)) for n in part.iter("text")]
        assert min(sizes) >= SMALLEST
        assert len(document(part)) < LARGEST


def test_it_says_what_it_shows_and_what_it_rests_on(sketch):
    assert sketch.rests_on and all(len(p.get("aria-label", "")) > 30 for p in sketch.parts)
    page = sketch._repr_html_()
    assert page.count("<img alt=") == len(sketch.parts) and "flex-wrap:wrap" in page
    # JupyterLab strikes flex-flow out of a saved output, and the row would then be cut off.
    assert "flex-flow" not in page.split("<img", 1)[0].split("</style>")[-1]


def test_the_ground_is_its_own_so_that_a_dark_page_hides_nothing(sketch):
    for part in sketch.parts:
        first = next(node for node in part if node.tag == "rect")
        _, _, wide, high = map(float, part.get("viewBox").split())
        assert first.get("fill") == "#fff"
        assert float(first.get("width")) >= wide and float(first.get("height")) >= high - 0.1
        assert "currentColor" not in document(part)


@pytest.mark.parametrize("name", MAKE)
def test_it_is_the_same_each_time_and_saves_in_every_form(name, tmp_path):
    one, other = MAKE[name](), MAKE[name]()
    assert one.svg == other.svg
    for ending in ("svg", "png", "pdf"):
        assert one.save(tmp_path / f"it.{ending}").stat().st_size > 1000


# --- structures ------------------------------------------------------------------------------


def test_the_scale_bars_are_as_long_as_they_say():
    for name, one in STRUCTURES.items():
        (part,) = gk.pictures.microstructures(name).parts
        (text,) = [t for t, _ in texts(part) if t.endswith("µm")]
        bar = next(n for n in part.iter("rect") if n.get("height") == "3")
        assert float(bar.get("width")) * one.um == pytest.approx(float(text.split()[0]), rel=0.01)


def rings(node: Element) -> list[np.ndarray]:
    """The pieces of a path of straight lines."""
    found = []
    for piece in node.get("d").replace("Z", "").split("M")[1:]:
        found.append(np.array(piece.replace("L", " ").split(), dtype=float).reshape(-1, 2))
    return found


def area(ring: np.ndarray) -> float:
    after = np.roll(ring, -1, axis=0)
    return abs((ring[:, 0] * after[:, 1] - ring[:, 1] * after[:, 0]).sum()) / 2


def test_half_of_the_duplex_is_austenite():
    (part,) = gk.pictures.microstructures("duplex").parts
    light = [n for n in part.iter("path") if n.get("fill") == AUSTENITE]
    white = sum(area(ring) for n in light for ring in rings(n))
    assert 0.42 < white / (228 * 132) < 0.58


def test_the_phases_are_told_apart_by_lightness():
    def light(colour):
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return float(np.dot(linear, (0.2126, 0.7152, 0.0722)))

    a, f, m = map(light, (AUSTENITE, FERRITE,
                          MARTENSITE))  # fmt: skip
    assert (a + 0.05) / (f + 0.05) > 1.5 and (f + 0.05) / (m + 0.05) > 2


def test_the_last_films_are_straight_in_a_and_broken_in_fa():
    def films(mode):
        (part,) = gk.pictures.freezing_modes(mode).parts
        drawn = [n for n in part.iter("path") if n.get("stroke") == freezing.FILM]
        return [ring for n in drawn for ring in rings(n)]

    for mode in ("A", "AF", "F"):
        assert all(np.ptp(ring[:, 0]) == 0 and np.ptp(ring[:, 1]) == 90 for ring in films(mode))
    assert films("FA") and all(np.ptp(ring[:, 1]) < 20 for ring in films("FA"))


def test_the_scale_of_modes_is_that_of_the_criteria():
    rule = next(c for c in criteria() if c.name == "schaeffler_bands")
    part = freezing.mode_scale(1.60)
    shown = [t for t, _ in texts(part)]
    for band in rule.bands:
        assert band.word in shown
        if np.isfinite(band.upper):
            assert f"{band.upper:g}" in shown
    bars = [n for n in part.iter("rect") if n.get("height") == "26"]
    ends = [float(b.get("x")) + float(b.get("width")) for b in bars[:-1]]
    across = np.diff(ends) / np.diff([b.upper for b in rule.bands[:-1]])
    assert across == pytest.approx(across[0], rel=0.01)
    tip = next(n for n in part.iter("polygon"))
    x = float(tip.get("points").split()[0].split(",")[0])
    assert x == pytest.approx(np.interp(1.60, [1.48, 1.95], ends[1:]), abs=1)
    assert rule.band(1.60).word == "FA" and "This steel: 1.60" in part.get("aria-label")


# --- phase diagrams --------------------------------------------------------------------------


def curve(part: Element, graph: Graph, colour: str, dash: str | None = None) -> np.ndarray:
    """The longest line of a colour, in the units of the axes."""
    rings = [n.get("points").split() for n in part.iter("polyline")
             if n.get("stroke") == colour and n.get("stroke-dasharray") == dash]  # fmt: skip
    px = np.array([p.split(",") for p in max(rings, key=len)], dtype=float)
    (x0, x1), (y0, y1) = graph.to_px.x_range, graph.to_px.y_range
    left, top, right, bottom = graph.to_px.box
    return np.column_stack([
        x0 + (px[:, 0] - left) / (right - left) * (x1 - x0),
        y0 + (bottom - px[:, 1]) / (bottom - top) * (y1 - y0),
    ])  # fmt: skip


def test_the_liquidus_of_the_section_is_that_of_the_library():
    (part,) = gk.pictures.iron_chromium_nickel().parts
    graph = Graph((0, 20), (1000, 1550), "", "", height=380)
    drawn = curve(part, graph, "#20262e")
    for nickel, celsius in drawn[::10]:
        steel = {"Cr": 30 - nickel, "Ni": nickel, "C": 0.0}
        read = gk.evaluate(steel, "liquidus_aymard_1974").values.iloc[0, 0]
        assert celsius == pytest.approx(read, abs=1.0)
    switch = curve(part, graph, COLOURS[1])
    nickel = switch[:, 0].mean()
    assert (30 - nickel) / nickel == pytest.approx(phase_charts.first_phase_switch()[0], abs=0.02)
    assert "a sketch, not computed" in part.get("aria-label")
    assert any("a sketch, not computed" in text for text, _ in texts(part))


def test_sketched_lines_are_dashed_and_go_through_their_points():
    (part,) = gk.pictures.iron_chromium_nickel().parts
    graph = Graph((0, 20), (1000, 1550), "", "", height=380)
    rings = [n for n in part.iter("polyline") if n.get("stroke-dasharray")]
    drawn = {p for n in rings for p in n.get("points").split()}
    points = phase_charts.textbook_points()
    for phase in ("ferrite", "austenite"):
        for row in points[points["figure"] == f"Fe-Cr-Ni {phase}"].itertuples():
            px, py = graph.to_px(float(row.content), float(row.temperature_C))
            assert f"{px:.1f},{py:.1f}" in drawn


def test_the_loop_from_above_is_where_the_relation_says():
    carbon = np.array([0.0, 0.05, 0.2])
    for share in (100.0, 0.0):
        for c, cr in zip(carbon, phase_charts.chromium_for(share, carbon), strict=True):
            steel = {"Si": 0.4, "Mn": 0.5, "N": 0.02, "C": c, "Cr": cr, "Ni": 0.0}
            read = gk.evaluate(steel, "austenite_max_17cr").values.iloc[0, 0]
            assert read == pytest.approx(share, abs=1e-6)


def test_textbook_points_keep_their_order():
    points = phase_charts.textbook_points()
    carbon = points[points["figure"] == "Fe-C"].set_index("point")
    content, celsius = carbon["content"].astype(float), carbon["temperature_C"].astype(float)
    assert content["P"] < content["S"] < content["E"] < content["C"]
    assert content["H"] < content["J"] < content["B"]
    assert celsius["S"] < celsius["G"] < celsius["C"] < celsius["N"] < celsius["B"] < celsius["A"]
    assert set(points["status"]) == {"memory"}


# --- nitrogen and strain ---------------------------------------------------------------------


def test_the_nitrogen_curves_are_sieverts_law_of_the_library():
    _, against_pressure = gk.pictures.nitrogen_in_melt(THREE).parts
    held = melt_and_strain.dissolved(THREE, 1600.0, 1.0)
    top = 1.15 * held.max()
    graph = Graph((0, 1), (0, top), "", "")
    for k, (name, steel) in enumerate(THREE.iterrows()):
        drawn = curve(against_pressure, graph, COLOURS[k])
        for pressure, nitrogen in drawn[4::12]:
            read = gk.evaluate(steel.dropna().to_dict(), "n_solubility_recommended",
                               temperature_C=1600, pN2_atm=pressure).values.iloc[0, 0]  # fmt: skip
            assert nitrogen == pytest.approx(read, abs=0.004), name
        quarter = np.interp(0.25, *drawn.T)
        assert quarter == pytest.approx(drawn[-1, 1] / 2, abs=0.004)


def test_chromium_and_manganese_hold_nitrogen_and_nickel_drives_it_out():
    against_chromium, _ = gk.pictures.nitrogen_in_melt(THREE).parts
    graph = Graph((0, 30), (0, 0.8), "", "")
    plain, nickel, manganese = (
        np.interp(18.0, *curve(against_chromium, graph, COLOURS[k]).T) for k in range(3)
    )
    read = gk.evaluate({"Cr": 18.0, "C": 0.0, "Si": 0.0, "Mn": 0.0, "Ni": 0.0, "Mo": 0.0},
                       "n_solubility_recommended", temperature_C=1600, pN2_atm=1)  # fmt: skip
    assert plain == pytest.approx(read.values.iloc[0, 0], abs=0.003)
    assert nickel < plain < manganese


def test_the_band_of_martensite_holds_every_form():
    steel = COURSE.loc[["18Cr-8Ni"]]
    forms = md30_forms(steel, 8.0).iloc[0]
    reduction = np.array([10.0, 40.0, 60.0])
    low, high = melt_and_strain.strain_band(reduction, 20.0, forms)
    each = [100 * martensite(strain_of(reduction), 20.0, md30) for md30 in forms]
    assert low == pytest.approx(np.min(each, axis=0)) and high == pytest.approx(
        np.max(each, axis=0)
    )
    picture = gk.pictures.martensite_under_strain(steel)
    drawn = curve(picture.parts[1], Graph((0, 70), (0, 100), "", ""), COLOURS[0])
    ends = (low[1], high[1])
    assert min(abs(np.interp(40.0, *drawn.T) - end) for end in ends) < 0.5


# --- the way to a point ----------------------------------------------------------------------


@pytest.mark.parametrize("chart", ["schaeffler_1949", "delong_1973", "wrc_1992"])
@pytest.mark.parametrize("name", ["18Cr-8Ni", "lean nickel", "weld metal"])
def test_the_path_ends_where_the_steel_lies(chart, name):
    path = chart_path.terms_path(chart, STEELS[name])
    spot = gk.diagram(chart).locate(STEELS[name]).iloc[0]
    assert path[-1][1:] == pytest.approx((spot["x"], spot["y"]), abs=1e-6)
    assert path[0][1] == pytest.approx(STEELS[name]["Cr"])
    moved = {words.partition(":")[0] for words, _, _ in path[1:]}
    assert "N" not in moved if chart == "schaeffler_1949" else "N" in moved


def test_the_drawn_path_joins_its_points():
    path = chart_path.terms_path("schaeffler_1949", STEELS["lean nickel"])
    shown = {"diagram": "schaeffler_1949", "points": [["the steel", *path[-1][1:]]], "path": path}
    drawn = chart_path.path_picture(shown)
    _, to_px = background("schaeffler_1949", chart_path.PATH_WIDTH)
    lines = [n for n in drawn.iter("line") if n.get("stroke") == COLOURS[1]]
    for (_, x0, y0), (_, x1, y1), line in zip(path, path[1:], lines, strict=False):
        got = [float(line.get(k)) for k in ("x1", "y1", "x2", "y2")]
        assert got == pytest.approx([*to_px(x0, y0), *to_px(x1, y1)], abs=0.06)
    named = [n.text for n in drawn.iter("text")]
    assert {"Mn", "C", "Si", "the steel", "Cr and Ni alone"} <= set(named)
    said = " ".join(n.get("aria-label", "") for n in drawn.iter())
    assert "Mn: +3.8 up" in said and "the steel at 18, 9.65" in said


def test_a_point_without_a_path_stands_alone():
    shown = {"diagram": "wrc_1992", "points": [["A", 20.0, 12.0], ["B", 22.0, 12.0]], "path": []}
    drawn = chart_path.path_picture(shown)
    assert {"A", "B"} <= {n.text for n in drawn.iter("text")}
