"""Notebook 08 on a works that is not the demo's: it runs, and speaks of that works only."""

import shutil
from pathlib import Path

import nbformat
import openpyxl
import pytest
from nbclient import NotebookClient

ROOT = Path(__file__).resolve().parent.parent
NOTEBOOK = ROOT / "notebooks" / "08-your-works.ipynb"
OTHER = ROOT / "tests" / "other_works" / "heats.csv"


def run(folder, heats, settings):
    """Run the notebook in a folder of its own and return what it shows, as one text."""
    (folder / "data").mkdir()
    (folder / "notebooks").mkdir()
    (folder / "data" / "works.toml").write_text(settings, "utf-8")
    (folder / "data" / "heats.csv").write_bytes(heats)
    shutil.copy(ROOT / "data" / "element_prices.csv", folder / "data")
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    place = {"metadata": {"path": folder / "notebooks"}}
    NotebookClient(notebook, timeout=300, kernel_name="python3", resources=place).execute()
    outputs = [o for c in notebook.cells for o in c.get("outputs", [])]
    assert all(o.get("name") != "stderr" for o in outputs)
    return "\n".join(str(o.get("data", o.get("text", ""))) for o in outputs)


@pytest.fixture(autouse=True)
def path(monkeypatch):
    monkeypatch.setenv("PYTHONPATH", str(ROOT))


def test_a_duplex_and_ferritic_works_with_german_headers(tmp_path):
    settings = 'heats = "heats.csv"\nprices = "element_prices.csv"\npresent_grade = "1.4462"\n'
    shown = run(tmp_path, OTHER.read_bytes(), settings)
    assert "39 heats, 3 practices: 1 stand apart" in shown
    assert "(BF17T) stands apart: Cu 0.41" in shown
    assert "BF22, Ni: 10 heats in a row below the mean" in shown
    assert "most money in Ni of BF22" in shown
    assert "not for this steel" in shown
    assert "TW-" not in shown
    book = openpyxl.load_workbook(tmp_path / "notebooks" / "my-works.xlsx", read_only=True)
    assert {"reading report", "stand apart", "drift", "limits and guards"} <= set(book.sheetnames)


def test_one_nameless_heat_without_grade_date_or_price(tmp_path):
    shown = run(tmp_path, b"heat,C,Cr,Ni\nA,0.03,18.1,8.2\n", 'heats = "heats.csv"\nprices = ""\n')
    assert "nothing can be said of drift" in shown
    assert "no limits to compare with" in shown
    assert "1 heats could not be judged" in shown


def test_no_heat_or_grade_of_the_demo_is_named_in_it():
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    sources = "\n".join(c.source for c in notebook.cells)
    assert not any(name in sources for name in ("TW-", "H24-", "H25-", "1.4301", "Tarnwick"))
