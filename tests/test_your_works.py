"""Every notebook on a works that is not the demo's: it runs, and speaks of that works only."""

import json
import re
import shutil
from pathlib import Path

import nbformat
import openpyxl
import pytest
from nbclient import NotebookClient

ROOT = Path(__file__).resolve().parent.parent
OTHER = ROOT / "tests" / "other_works"
NOTEBOOKS = sorted((ROOT / "notebooks").glob("[0-9]*.ipynb"))
WEEK = ROOT / "notebooks" / "08-your-works.ipynb"

# What belongs to the works of the demo and can be true of no other.
NAMES = re.compile(
    r"TW-|\bH2[456]-\d|Tarnwick|Plumebrook|Skerrow|Halden|Orrin|crown|lab_tests\.csv|element_prices"
)
# A works' steel told by its figures; grades and figures of steel in general are no such claim.
CLAIMS = re.compile(
    r"(?<!of )\b\d+ heats\b|\b\d+ tests\b"
    r"|\b(?:these|our|their|the works') heats (?:are|have|lie)"
)
MAY_STAY = {
    # "A practice with fewer than 15 heats takes no part": a rule, not a count of these.
    "fewer than 15 heats",
    "fewer than eight heats",
}


def run(notebook: Path, folder: Path) -> str:
    """Run a notebook on the data of a folder and return what it shows, as one text."""
    (folder / "notebooks").mkdir(exist_ok=True)
    book = nbformat.read(notebook, as_version=4)
    place = {"metadata": {"path": folder / "notebooks"}}
    NotebookClient(book, timeout=600, kernel_name="python3", resources=place).execute()
    outputs = [o for c in book.cells for o in c.get("outputs", [])]
    assert all(o.get("name") != "stderr" for o in outputs)
    return "\n".join(str(o.get("data", o.get("text", ""))) for o in outputs)


@pytest.fixture(autouse=True)
def path(monkeypatch):
    monkeypatch.setenv("PYTHONPATH", str(ROOT))


@pytest.fixture(scope="module")
def works(tmp_path_factory):
    folder = tmp_path_factory.mktemp("other")
    shutil.copytree(OTHER, folder / "data")
    return folder


@pytest.mark.parametrize("notebook", NOTEBOOKS, ids=lambda path: path.stem)
def test_it_runs_on_a_duplex_and_ferritic_works_and_names_nobody_else(notebook, works):
    shown = run(notebook, works)
    own = re.sub(r"data:image/svg[^\"']*", "", shown)
    invented = re.findall(r"INVENTED PRICES[^)<]*", own)  # prices may be in crowns there too
    for words in invented:
        own = own.replace(words, "")
    assert not re.search(r"TW-|\bH2[456]-\d|Tarnwick|Plumebrook|Skerrow|Halden", own)


@pytest.mark.parametrize("notebook", NOTEBOOKS, ids=lambda path: path.stem)
def test_its_prose_says_nothing_of_the_heats_of_the_demo(notebook):
    cells = json.loads(notebook.read_text("utf-8"))["cells"]
    for cell in cells:
        text = "".join(cell["source"])
        assert not NAMES.search(text), text
        if cell["cell_type"] == "markdown":
            flat = " ".join(text.split())
            for words in MAY_STAY:
                flat = flat.replace(words, "")
            assert not CLAIMS.search(flat), CLAIMS.search(flat)


@pytest.mark.parametrize("notebook", NOTEBOOKS, ids=lambda path: path.stem)
def test_files_are_named_in_its_first_cell_only(notebook):
    book = nbformat.read(notebook, as_version=4)
    code = [c.source for c in book.cells if c.cell_type == "code"]
    named = [source for source in code if "../data/" in source]
    assert named in ([], code[:1])
    assert all('gk.works.inputs("../data/works.toml")' in source for source in named)


def test_the_week_of_the_other_works(works):
    shown = run(WEEK, works)
    assert "39 heats, 3 practices: 1 stands apart" in shown
    assert "(BF17T) stands apart: Cu 0.41" in shown
    assert "BF22, Ni: 10 heats in a row below the mean" in shown
    assert "most money in Ni of BF22" in shown
    assert "not for this steel" in shown
    book = openpyxl.load_workbook(works / "notebooks" / "my-works.xlsx", read_only=True)
    assert {"reading report", "stand apart", "drift", "limits and guards"} <= set(book.sheetnames)


def test_one_nameless_heat_without_grade_date_or_price(tmp_path):
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "heats.csv").write_text("heat,C,Cr,Ni\nA,0.03,18.1,8.2\n")
    (tmp_path / "data" / "works.toml").write_text('heats = "heats.csv"\nprices = ""\n')
    shown = run(WEEK, tmp_path)
    assert "nothing can be said of drift" in shown
    assert "no limits to compare with" in shown
    assert "1 heat could not be judged" in shown
