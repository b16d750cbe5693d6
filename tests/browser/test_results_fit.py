"""Every result stands on its page: nothing is cut or off the screen, at any width of a notebook."""

from __future__ import annotations

import pandas as pd
import pytest

import gradekit as gk
from gradekit import launch
from gradekit.core.markup import Html
from gradekit.heats.notes import notes_of
from gradekit.heats.report import html_with_report
from gradekit.works.melt.blow import blow
from gradekit.works.melt.price_book import as_price_book

DATA = launch.ROOT / "data"
HEAT = {"heat": "T-304", "C": 0.05, "Si": 0.4, "Mn": 1.4, "P": 0.03, "S": 0.003, "Cr": 18.2,
        "Ni": 8.1, "N": 0.05, "Mo": 0.2, "Cu": 0.3, "Nb": 0.0}  # fmt: skip
WIRE = HEAT | {"heat": "wire", "Cr": 23.5, "Ni": 13.0}
DUPLEX = HEAT | {"heat": "duplex", "Cr": 22.4, "Ni": 5.2, "Mo": 3.1, "N": 0.17, "C": 0.02}
# What the output of a cell measures across at 1440, 1024, 820 and 390 px of the window.
WIDTHS = (988, 860, 670, 374)
# A cell hides no word behind '…', and nothing reaches over the edge of its block.
CUT = """() => [...document.querySelectorAll('.gk')].flatMap(block => {
    const edge = block.getBoundingClientRect().right + 1;
    const wide = [...block.querySelectorAll('table, p, li, img, td, th')]
        .filter(e => e.checkVisibility() && e.getBoundingClientRect().right > edge);
    return block.scrollWidth > block.clientWidth + 1 || wide.length
        ? [block.innerText.slice(0, 60), ...wide.slice(0, 3).map(e => e.innerText.slice(0, 60))]
        : [];
})"""


class Shown:
    """A page that is no result object."""

    def __init__(self, html: str):
        self.html = Html(html)

    def _repr_html_(self) -> str:
        return self.html


def a_report() -> Shown:
    """What stands below a batch that was read in a notebook."""
    heats = gk.read_heats(DATA / "certificate_hostile.csv")
    notes_of(heats)["shape"] = heats.shape
    return Shown(html_with_report(heats))


def a_brief(**limits) -> gk.Brief:
    bounds = {"C": (0.01, 0.03), "Si": (0.2, 0.8), "Mn": (1, 2), "Cr": (16, 20), "Ni": (6, 12),
              "N": (0.03, 0.12), "Mo": (0, 2.5), "Cu": (0, 1)}  # fmt: skip
    return gk.Brief(bounds, limits, minimise="cost")


RESULTS = {
    "values": lambda: gk.evaluate(HEAT, "pren_16n"),
    "all values": lambda: gk.evaluate(HEAT),
    "heats": lambda: gk.evaluate(
        gk.read_heats(DATA / "heats.csv"), ["pren_16n", "md30_angel_1954"]
    ),
    "all of all": lambda: gk.evaluate(gk.read_heats(DATA / "heats.csv").iloc[:30]),
    "route": lambda: gk.walk_route(HEAT, DATA / "plant.csv"),
    "routes": lambda: gk.walk_route([HEAT, WIRE], DATA / "plant.csv"),
    "route chart": lambda: gk.pictures.route_chart(gk.walk_route(HEAT, DATA / "plant.csv")),
    "grade": lambda: gk.grade("1.4462"),
    "check": lambda: gk.check_grade(HEAT, "1.4307"),
    "certificate": lambda: gk.standards.read_certificate(DATA / "certificate_semicolon.csv"),
    "comparison": lambda: gk.compare_grades(
        "1.4404", "suggest", gk.Service(atmosphere=gk.service.Atmosphere(sea_km=3)),
        prices=gk.read_prices(DATA / "element_prices.csv"),
    ),
    "design": lambda: gk.design_grade(
        a_brief(pren_16n=(19, None)), DATA / "element_prices.csv", DATA / "plant.csv"
    ),
    "clash": lambda: gk.design_grade(a_brief(pren_16n=(45, None)), DATA / "element_prices.csv"),
    "prices": lambda: gk.read_prices(DATA / "element_prices.csv"),
    "plant": lambda: gk.read_plant(DATA / "plant.csv"),
    "scatter": lambda: gk.heats.estimate_scatter(gk.read_heats(DATA / "heats.csv")),
    "estimate": lambda: gk.estimate(HEAT, "proof_strength"),
    "card": lambda: gk.properties.model_card("proof_strength"),
    "diagram": lambda: gk.diagram("wrc_1992"),
    "place": lambda: gk.diagram("wrc_1992").locate(HEAT),
    "solidification": lambda: gk.diagrams.solidification(HEAT),
    "weld": lambda: gk.diagrams.weld(HEAT, WIRE, WIRE),
    "blow": lambda: gk.works.refine(HEAT, DATA / "plant.csv"),
    "nitrogen": lambda: gk.works.nitrogen([HEAT, WIRE]),
    "hot": lambda: gk.works.hot_schedule(HEAT, DATA / "plant.csv"),
    "phases": lambda: gk.works.duplex_phases(DUPLEX),
    "charge": lambda: gk.works.charge(
        {"C": (None, 0.05), "Cr": (18.0, 18.5), "Ni": (8.0, 8.5), "Mn": (1.0, 1.6)},
        DATA / "prices.csv", DATA / "recoveries.csv",
    ),
    "screening": lambda: gk.screen(
        {"C": [0.02, 0.05], "Si": 0.4, "Mn": (1, 2, 0.25), "Cr": (16, 19, 0.5), "Ni": (6, 10, 0.5),
         "N": [0.04, 0.08], "Mo": [0.2, 0.5], "Cu": 0.3},
        a_brief(pren_16n=(18, None)), prices=gk.read_prices(DATA / "element_prices.csv"),
        progress=False,
    ),
    "trials": lambda: gk.next_trials(
        gk.Brief(**gk.works.inputs(DATA / "works.toml").trial_brief), n=2,
        prices=DATA / "element_prices.csv",
    ),
    "calibration": lambda: gk.calibrate(
        "yield_nordberg_2004", DATA / "lab_tests.csv", "proof_strength_MPa", "heat",
        delta_ferrite_pct=2,
    ),
    "stack": lambda: gk.calibrate(
        "proof strength", DATA / "lab_tests.csv", "proof_strength_MPa", "heat",
        delta_ferrite_pct=2,
    ),
    "reading report": a_report,
    "book": lambda: as_price_book(DATA / "prices.csv"),
    "balance": lambda: blow({"C": 14.6, "Si": 2.5, "Cr": 25, "Mn": 3}, silicon_wanted=4),
    "places": lambda: gk.diagram("wrc_1992").locate(gk.read_heats(DATA / "heats.csv").iloc[:9]),
    "frozen": lambda: gk.diagrams.solidification(gk.read_heats(DATA / "heats.csv").iloc[:9]),
    "brief": lambda: a_brief(pren_16n=(19, None)),
    "front": lambda: gk.design_grade(
        a_brief(pren_16n=(19, None)), DATA / "element_prices.csv"
    ).front("nickel", points=5),
    "ways": lambda: gk.design_grade(
        a_brief(pren_16n=(19, None)), DATA / "element_prices.csv"
    ).alternatives(),
    "structures": gk.pictures.microstructures,
    "freezing": gk.pictures.freezing_modes,
    "iron and carbon": gk.pictures.iron_carbon,
    "iron, chromium, nickel": gk.pictures.iron_chromium_nickel,
    "nitrogen in the melt": lambda: gk.pictures.nitrogen_in_melt([HEAT, DUPLEX]),
    "strain": lambda: gk.pictures.martensite_under_strain(HEAT),
    "cracking band": lambda: gk.lessons.scene("solidification", HEAT),
    "two phases": lambda: gk.lessons.scene("duplex", DUPLEX),
    "fit": lambda: gk.fit_property(DATA / "lab_tests.csv", "proof_strength_MPa", groups="heat"),
}  # fmt: skip


@pytest.fixture(scope="module")
def page(browser):
    opened = browser.new_page()
    yield opened
    opened.close()


@pytest.mark.parametrize("name", RESULTS)
def test_nothing_of_a_result_is_cut_or_off_the_screen(page, name):
    html = RESULTS[name]()._repr_html_()
    assert "…</" not in html
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 800})
        page.set_content(f'<body style="margin:0">{html}</body>')
        page.evaluate("document.querySelectorAll('details').forEach(e => e.open = true)")
        assert page.evaluate(CUT) == [], (name, width)


# Of a check also what decides it; the report stands below the batch that was read.
TWO = {"check", "reading report"}
# Pictures, whose title is their sentence.
BARE = {
    "route chart", "structures", "freezing", "iron and carbon", "iron, chromium, nickel",
    "nitrogen in the melt", "strain", "cracking band", "two phases",
}  # fmt: skip


@pytest.mark.parametrize("name", sorted({*RESULTS} - BARE))
def test_a_result_opens_with_its_sentence_and_one_table(name):
    html = RESULTS[name]()._repr_html_()
    opened = html.partition("<details")[0]
    assert opened.count("<table") <= 1 + (name in TWO), name
    first = opened.rpartition('<div class="gk">')[2].lstrip()
    tag = first.partition(">")[0]
    assert 'class="lead"' in tag or 'class="short"' in first[:1200], (name, first[:80])


def test_the_cells_of_a_narrow_page_say_what_they_are(page):
    frame = pd.DataFrame({"force_MN": [12.0], "reason": ["why " * 40]}, index=["pass 1"])
    from gradekit.core.markup import panel, table

    page.set_content(panel(table(frame, "Passes", units={"force_MN": "MN"}, wide=["reason"])))
    page.set_viewport_size({"width": 374, "height": 800})
    before = "getComputedStyle(document.querySelector('td'), '::before').content"
    assert "force MN" in page.evaluate(before)
    page.set_viewport_size({"width": 988, "height": 800})
    assert page.evaluate(before) == "none"
