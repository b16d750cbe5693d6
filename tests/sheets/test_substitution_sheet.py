"""The printable sheet: what stands on it, that it fetches nothing, and that no name runs."""

from __future__ import annotations

import datetime
import re
import shutil
import subprocess
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pandas as pd
import pytest

import gradekit as gk
from gradekit.core.json_text import read_json
from gradekit.core.sources import STATUSES
from gradekit.core.verdicts import SIGNS
from gradekit.heats.writing import write_tables
from gradekit.service.criteria import ORDER
from gradekit.service.needs import CHOICES
from gradekit.service.tables import rows
from gradekit.sheets.language import LANGUAGES, tongue
from gradekit.sheets.substitution import PAPERS, answer_page

DATA = Path(__file__).resolve().parents[2] / "data"

TEMPLATE = Path(gk.__file__).parent / "sheets" / "substitution.html"

HOSTILE = (
    "<b>H1</b>",
    "=cmd|' /C calc'!A0",
    "<img src=x onerror=alert(1)>",
    "'\"><script>x</script>",
)
WISH = gk.Service(
    question="May <i>we</i> & you replace it?", welded=True, finish="2B",
    atmosphere=gk.service.Atmosphere(sea_km=5, washing="none"), water="supply or natural water",
    chloride_mg_l=90, chemicals="2 % NaOH", food_contact=True, skin_contact="prolonged contact",
)  # fmt: skip


def named(found: gk.service.Comparison) -> gk.service.Comparison:
    """An answer with customer and question, as a sheet needs them."""
    service = found.service
    if not service.question:
        service = service.changed(question="May it be?")
    return replace(found, customer=found.customer or "Orrin Cutlery", service=service)


def sheet_of(found: gk.service.Comparison, **more) -> str:
    return answer_page(named(found), **more)


class Tree(HTMLParser):
    """Every start tag with its attributes, and the text."""

    def __init__(self, page: str):
        super().__init__()
        self.tags: list[tuple[str, dict]] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text += data

    def count(self, name):
        return sum(tag == name for tag, _ in self.tags)


@pytest.fixture(scope="module")
def answer():
    prices = gk.read_prices(Path(__file__).resolve().parents[2] / "data" / "element_prices.csv")
    return gk.compare_grades("1.4404", ["1.4301", "1.4162"], WISH, prices=prices)


@pytest.mark.parametrize(
    "customer, question, says",
    [("", "May we?", "no customer="), ("Orrin Cutlery", " ", "no Service(question=)"),
     ("", "", "no customer= and no Service(question=)")],
)  # fmt: skip
@pytest.mark.parametrize("kind", ["html", "pdf"])
def test_no_sheet_is_written_from_code_without_customer_and_question(
    tmp_path, customer, question, says, kind
):
    wish = gk.Service(question=question)
    found = gk.compare_grades("1.4301", "1.4016", wish, customer=customer)
    path = tmp_path / f"answer.{kind}"
    with pytest.raises(gk.InputError, match="sheet · must be for a named customer") as refused:
        found.report(path)
    assert f"got '{says}'" in str(refused.value) or f"got {says}" in str(refused.value)
    assert "customer=...)" in str(refused.value) and not path.exists()
    assert found._repr_html_()  # to read it no customer is needed


def test_the_sheet_says_what_was_asked_answered_and_left_open(answer):
    page = sheet_of(answer)
    tree = Tree(page)
    said = re.sub(r"\s+", " ", tree.text)
    for text in (
        "May <i>we</i> & you replace it?", "1.4301: ", "What would change it", "crown",
        "To be checked before use", "food contact", "2 % NaOH", "INVENTED PRICES",
        datetime.date.today().isoformat(), f"gradekit {gk.__version__}", "memory: ",
    ):  # fmt: skip
        assert text in said, text
    assert "approved" not in said.lower()
    for finding in answer.findings["1.4301"]:
        assert finding.criterion in said


def matrix(page: str) -> dict[str, list[str]]:
    """Cells of the matrix by criterion."""
    table = page[page.index('<table class="matrix">') :]
    lines = re.findall(
        r'<tr><th scope="row">(.*?)</th>(.*?)</tr>', table[: table.index("</table>")]
    )
    return {
        head: [Tree(cell).text for cell in re.findall(r"<td[^>]*>(.*?)</td>", line)]
        for head, line in lines
    }


def test_no_evidence_stands_beside_what_was_not_assessed():
    wish = WISH.changed(sour=True, pressure=True, load_bearing=True)
    found = gk.compare_grades("1.4404", "1.4301", wish)
    for page in (sheet_of(found), found._repr_html_()):
        rows = matrix(page)
        for criterion in ("sour service", "pressure", "load bearing", "food contact", "chemicals"):
            assert rows[criterion] == ["○ not assessed", "○ not assessed", "–"], criterion
        assert rows["atmosphere"][-1] not in ("", "–")
    # across families the index is open for the candidate, yet read for the grade itself
    mixed = matrix(sheet_of(gk.compare_grades("1.4404", "1.4521", WISH)))["pitting index"]
    assert mixed[0].startswith("○") and not mixed[1].startswith("○") and mixed[2] != "–"


def test_the_caption_says_what_the_signs_of_the_matrix_mean(answer):
    page = sheet_of(answer)
    caption = page[page.index('<table class="matrix"><caption>') :].split("</caption>")[0]
    assert "figure / required by place or present grade" in caption and "– none" in caption


def test_the_short_answer_says_first_what_the_present_grade_lacks():
    hot = gk.Service(
        water="supply or natural water", chloride_mg_l=30, water_temperature_C=75,
        contact="splashed and drying",
    )  # fmt: skip
    found = gk.compare_grades("1.4404", "1.4301", hot)
    for page in (sheet_of(found), found._repr_html_()):
        box = page[page.index('<ul class="short">') :].split("</ul>")[0]
        first = Tree(box.split("</li>")[0]).text
        assert first == (
            "1.4404, the present grade, itself falls short: "
            "stress corrosion, 75 against 50 °C."
        )  # fmt: skip
    coast = gk.Service(atmosphere=gk.service.Atmosphere(sea_km=0.5))
    lacking = gk.compare_grades("1.4301", "1.4307", coast)
    assert "atmosphere, II against III." in sheet_of(lacking)
    assert "Decisive: atmosphere (the present grade too)." in sheet_of(lacking)
    assert "itself falls short" not in sheet_of(gk.compare_grades("1.4404", "1.4301", coast))


def test_what_is_met_by_a_rule_of_our_own_is_said():
    found = gk.compare_grades("1.4301", "1.4404", gk.Service(forming="bending"))
    assert found.table.set_index("criterion").loc["forming", "verdict"] == "ok"
    page = sheet_of(found)
    assert (
        "1.4404, forming, met: minimum elongation" in page
        and "working rule of this library" in page
    )


def test_customer_and_date_stand_at_the_head(answer):
    def head(found) -> str:
        return Tree(sheet_of(found).split("</header>")[0].split("<header>")[1]).text

    today = datetime.date.today().isoformat()
    named = gk.compare_grades("1.4404", "1.4301", WISH, customer=" <i>Halden & Wick</i> ")
    assert f"<i>Halden & Wick</i>, {today}\n1.4301 instead of 1.4404" in head(named)
    assert head(answer).strip().startswith(f"Answer to a substitution · Orrin Cutlery, {today}\n")
    assert named.inputs["customer"] == "<i>Halden & Wick</i>" and "customer" not in answer.inputs


def test_the_cost_stands_with_what_it_rests_on(answer):
    box = sheet_of(answer).split('<ul class="short">')[1].split("</ul>")[0]
    assert box.count(" crown/t (at lowest contents, prices invented).") == 2
    assert "data-number" not in sheet_of(answer)  # nobody answers on paper
    table = {"element": ["Fe", "Cr", "Ni", "Mo"], "price_crown_per_t": [400, 2000, 20000, 40000],
             "recovery": 1.0, "date": "2026-09-01"}  # fmt: skip
    own = gk.read_prices(pd.DataFrame(table))
    found = gk.compare_grades("1.4404", "1.4301", WISH, prices=own)
    assert "prices given by the user)." in sheet_of(found)
    assert gk.compare_grades("1.4404", "1.4301", WISH).cost_basis == ""


def test_headings_tables_and_pictures_are_tagged_and_nothing_is_fetched(answer):
    tree = Tree(sheet_of(answer))
    assert tree.count("h1") == 1 and tree.count("h2") == 8
    assert tree.count("table") == tree.count("caption") >= 2
    assert all("scope" in attrs for tag, attrs in tree.tags if tag == "th")
    assert tree.count("figure") == tree.count("figcaption") == 3
    pictures = [attrs for tag, attrs in tree.tags if tag == "svg"]
    assert len(pictures) == 3 and all(p.get("role") == "img" for p in pictures)
    assert all(p.get("aria-label") for p in pictures)
    assert not {"script", "link", "img", "iframe", "object"} & {tag for tag, _ in tree.tags}
    for _, attrs in tree.tags:
        assert not {"src", "onload", "onerror"} & set(attrs)
        assert attrs.get("xlink:href", "#").startswith("#")


def test_the_inputs_give_the_same_answer_and_no_code_stands_on_the_sheet(answer):
    inputs = answer.inputs
    again = gk.compare_grades(
        inputs["reference"], inputs["candidates"], gk.Service.from_dict(inputs["service"])
    )
    assert again.table.equals(answer.table)
    page = sheet_of(answer)
    for inner in ("<pre", "{", "compare_grades", "chloride_mg_l"):
        assert inner not in page.split("</style>")[-1], inner


def test_the_first_page_is_the_answer_and_figures_stand_behind_it(answer):
    page = sheet_of(answer)
    front, behind = page.split('class="behind"')
    assert front.count("<h2>") == 5 and "least / typical" not in front
    for figure in (
        "Rp0.2, MPa, least / typical",
        "240 / 240 (180 to 300)",
        "kg/m²",
        "Alloy surcharge",
        "8 %, −426",
        "expansion",
        "19 9 L (308L)",
        "SUS304",
        "X2CrNiMo17-12-2",
    ):
        assert figure in behind, figure
    assert len(matrix(front)) <= 10


def test_a_sender_stands_at_the_head_and_the_fixed_words_speak_german(answer, tmp_path):
    head = tmp_path / "head.txt"
    head.write_text("Tarnwick Works\nTechnical service <1>", "utf-8")
    page = sheet_of(answer, sender=head, language="de")
    assert "Tarnwick Works<br>Technical service &lt;1&gt;" in page
    for words in ("Die Frage", "Vorbehalte", "Vor dem Einsatz zu prüfen", "nicht zu empfehlen",
                  "mindestens / üblich", "Wasser", "1.4301, 1.4162 statt 1.4404",
                  "kaltgewalztes Band, 1,5 mm; geschweißt, danach nicht geglüht",
                  "eine Abgabeprüfung am fertigen Gegenstand"):  # fmt: skip
        assert words in page, words
    with pytest.raises(gk.InputError, match="language"):
        sheet_of(answer, language="xx")
    with pytest.raises(gk.InputError, match="sender"):
        sheet_of(answer, sender=tmp_path / "none.txt")


def test_every_fixed_word_of_the_sheet_is_in_each_words_table():
    fixed = set(re.findall(r't\("(.*?)"\)', TEMPLATE.read_text("utf-8")))
    fixed |= {*ORDER, *STATUSES, *(r["text"] for r in rows("cautions"))}
    fixed |= {w for n in ("form", "contact", "forming") for w in CHOICES[n]} - {"none"}
    fixed |= {f"{SIGNS[v]} {v}" for v in SIGNS}
    for language in LANGUAGES:
        table = tongue(language)
        assert not [text for text in fixed if not table.knows(text)], language


def test_what_a_table_does_not_hold_whole_is_taken_apart_and_else_stays():
    german = tongue("de")
    assert german("heat input and cooling decide phase balance and sigma phase; quite new") == (
        "Wärmeeinbringen und Abkühlung entscheiden über Phasengleichgewicht und Sigmaphase; "
        "quite new"
    )
    assert german("75 °C against 50 to 60 °C, the ceilings of 304 and 316") == (
        "75 °C gegen 50 bis 60 °C, die Obergrenzen von 304 und 316"
    )
    assert tongue("en")("anything (at all)") == "anything (at all)"
    assert german("") == "" and german("1.4301") == "1.4301"
    for key, value in read_json(TEMPLATE.with_name("words_de.json")).items():
        assert key.count("#") == value.count("#"), key


def test_a_dual_name_comes_with_the_window_that_both_leave():
    plate = gk.Service(form="plate", thickness_mm=12.0, welded=True)
    page = sheet_of(gk.compare_grades("304", "304/304L", plate))
    front = page.split('class="behind"')[0]
    assert "one heat can carry both: C up to 0.03" in front and "Ni 8 to 10.5" in front
    shut = sheet_of(gk.compare_grades("304", "321/304", plate)).split('class="behind"')[0]
    assert "no heat can carry both" in shut and "one of the two alone" in shut


def test_a_grade_may_be_set_beside_itself(answer):
    found = gk.compare_grades("1.4404", ["1.4301", "1.4404"], WISH, prices=answer.prices)
    assert list(found.figures) == ["1.4404", "1.4301"] == [s.name for s in found.steels]
    page = sheet_of(found)
    assert "1.4301, 1.4404 instead of 1.4404" in page and "alloy cost against now" in page


def test_own_prices_are_not_called_invented(answer):
    table = {"element": ["Fe", "Cr", "Ni", "Mo"], "price_crown_per_t": [400, 2000, 20000, 40000],
             "recovery": 1.0, "date": "2026-09-01"}  # fmt: skip
    own = gk.read_prices(pd.DataFrame(table))
    page = sheet_of(gk.compare_grades("1.4404", "1.4301", WISH, prices=own))
    assert "invented" not in page.lower()


def test_no_name_of_a_heat_runs_anywhere(tmp_path):
    heats = pd.DataFrame(
        {"C": 0.02, "Cr": 18.1, "Ni": [8.1, 8.2, 8.15, 8.12], "N": 0.05, "S": 0.002},
        index=list(HOSTILE),
    )
    own = gk.service.works_grade("<svg/onload=alert(1)>", heats)
    wish = WISH.changed(chemicals="<script>alert(1)</script>")
    found = gk.compare_grades(own, heats, wish)
    for page in (sheet_of(found), found._repr_html_()):
        tree = Tree(page)
        assert "script" not in {tag for tag, _ in tree.tags}
        assert "img" not in {tag for tag, _ in tree.tags}
        assert not {a for _, attrs in tree.tags for a in attrs if a.startswith("on")}
        assert "<b>H1</b>" in tree.text and "<script>alert(1)</script>" in tree.text
    for ending in ("csv", "xlsx"):
        path = write_tables({"answer": found.table}, tmp_path / f"answer.{ending}")
        read = pd.read_csv if ending == "csv" else pd.read_excel
        cells = read(path, dtype=str).stack()
        assert cells.str.contains("calc").any()  # the heat is there, and as text
        assert not cells.str.startswith(("=", "+", "@")).any()


def test_no_name_runs_in_the_pdf(tmp_path):
    if not any(map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))):
        pytest.skip("no Chromium on this machine")
    wish = gk.Service(question="<script>document.title='run'</script>")
    found = named(gk.compare_grades("1.4301", "1.4016", wish))
    content = found.report(tmp_path / "a.pdf").read_bytes()
    assert b"/JavaScript" not in content and b"(run)" not in content


@pytest.mark.parametrize("paper", PAPERS)
def test_the_pdf_has_the_paper_two_pages_and_tags(answer, tmp_path, paper):
    if not any(map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))):
        pytest.skip("no Chromium on this machine")
    path = named(answer).report(tmp_path / "answer.pdf", paper=paper)
    content = path.read_bytes()
    assert content.startswith(b"%PDF") and b"/StructTreeRoot" in content
    if shutil.which("pdfinfo"):
        run = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True)
        assert re.search(r"Pages:\s+[12]\n", run.stdout)
        wide, high = map(float, re.search(r"size:\s+([\d.]+) x ([\d.]+)", run.stdout).groups())
        assert (wide / 72 * 25.4, high / 72 * 25.4) == pytest.approx(PAPERS[paper], abs=0.5)


@pytest.mark.parametrize("language", LANGUAGES)
def test_four_candidates_still_fit_two_pages(tmp_path, language):
    if not any(map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))):
        pytest.skip("no Chromium on this machine")
    if not shutil.which("pdfinfo"):
        pytest.skip("no pdfinfo on this machine")
    asked = read_json(DATA / "questions.json")["questions"][0]
    found = gk.compare_grades(
        asked["reference"], ["1.4301", "1.4521", "1.4162", "1.4462"],
        gk.Service.from_dict(asked["service"]), customer=asked["customer"],
        prices=gk.read_prices(DATA / "element_prices.csv"),
        stock=gk.service.read_stock(DATA / "stock.csv"),
    )  # fmt: skip
    head = tmp_path / "head.txt"
    head.write_text("Tarnwick Works\nTechnical service\nMill Lane 1", "utf-8")
    path = found.report(tmp_path / "four.pdf", sender=head, language=language)
    run = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True)
    assert re.search(r"Pages:\s+2\n", run.stdout), run.stdout


def test_html_is_to_be_had_where_no_browser_is(answer, tmp_path, monkeypatch):
    monkeypatch.setattr("gradekit.sheets.printing.shutil.which", lambda name: None)
    with pytest.raises(gk.InputError, match="html is always to be had"):
        named(answer).report(tmp_path / "answer.pdf")
    assert list(tmp_path.iterdir()) == []
    assert named(answer).report(tmp_path / "answer.html").read_text("utf-8").endswith("</html>\n")


@pytest.mark.parametrize(
    "path, paper, says",
    [("a.docx", "A4", "ending"), ("a", "A4", "ending"), ("a.html", "A3", "paper"),
     ("none/a.html", "A4", "folder")],
)  # fmt: skip
def test_what_cannot_be_written_is_said(answer, tmp_path, path, paper, says):
    with pytest.raises(gk.InputError, match=says):
        named(answer).report(tmp_path / path, paper=paper)
