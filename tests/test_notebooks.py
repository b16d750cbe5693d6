"""What all notebooks have in common, read from their files: nothing is run here."""

import json
import re
from functools import cache
from pathlib import Path

import pytest
from execute_notebooks import once

from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.prompts import PROMPTS
from gradekit.lessons.scenes.plays import PLAYS

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "notebooks"
NAMES = sorted(p.name for p in FOLDER.glob("*.ipynb"))
CONTENTS = "00-start-here.ipynb"
LONGEST = 25  # lines of code that fit on a screen with their output
LARGEST = 200_000  # bytes
LINK = re.compile(r"\]\(([^)\s]+)\)")
# In this order in each, whatever a notebook calls them between.
PARTS = {
    "the question": r"\*\*The question\.\*\*",
    "a guess": r"[Yy]our (own )?guess|Before you look on",
    "something to take along": r"^## Take it along",
}
HOW_SURE = r"[Hh]ow sure"


@cache
def cells(name: str) -> list[tuple[str, str, list]]:
    notebook = json.loads((FOLDER / name).read_text("utf-8"))
    return [(c["cell_type"], "".join(c["source"]), c.get("outputs", [])) for c in notebook["cells"]]


def code(name: str) -> list[str]:
    return [source for kind, source, _ in cells(name) if kind == "code"]


def prose(name: str) -> str:
    return "\n\n".join(source for kind, source, _ in cells(name) if kind == "markdown")


@pytest.mark.parametrize("name", NAMES)
def test_size_and_what_is_not_kept(name):
    path = FOLDER / name
    assert path.stat().st_size < LARGEST
    notebook = json.loads(path.read_text("utf-8"))
    assert "widgets" not in notebook["metadata"]
    assert notebook["metadata"]["kernelspec"]["name"] == "python3"
    for cell in notebook["cells"]:
        assert not {"execution", "widgets"} & set(cell["metadata"])


@pytest.mark.parametrize("name", NAMES)
def test_it_was_run_from_top_to_bottom_without_an_error(name):
    notebook = json.loads((FOLDER / name).read_text("utf-8"))
    ran = [c["execution_count"] for c in notebook["cells"] if c["cell_type"] == "code"]
    assert ran == list(range(1, len(ran) + 1))
    for _, source, outputs in cells(name):
        assert all(o["output_type"] != "error" for o in outputs), source
        assert all(o.get("name") != "stderr" for o in outputs), source


@pytest.mark.parametrize("name", NAMES)
def test_no_logic_and_no_cell_longer_than_a_screen(name):
    for source in code(name):
        assert source.count("\n") < LONGEST, source
        assert not re.search(r"^\s*(def|class|lambda)\b", source, re.M), source
    imports = [s for s in code(name) for line in s.splitlines() if line == "import gradekit as gk"]
    assert len(imports) == 1 and imports[0] == next(s for s in code(name) if "import" in s)


@pytest.mark.parametrize("name", NAMES)
def test_header_and_farewell(name):
    kind, first, _ = cells(name)[0]
    assert kind == "markdown" and re.match(r"# \S.*\n\n", first)
    assert len(re.findall(r"^# ", prose(name), re.M)) == 1
    assert cells(name)[-1][0] == "markdown" and "**Next:**" in cells(name)[-1][1]


@pytest.mark.parametrize("name", [n for n in NAMES if n != CONTENTS])
def test_parts_in_the_same_order(name):
    text = prose(name)
    found = {part: re.search(words, text, re.M) for part, words in PARTS.items()}
    assert all(found.values()), [part for part, there in found.items() if not there]
    assert re.match(r"# .+\n\n\*\*The question\.\*\* \S", cells(name)[0][1])
    places = [there.start() for there in found.values()]
    assert places == sorted(places)
    assert places[0] < re.search(HOW_SURE, text).start() < places[-1]


@pytest.mark.parametrize("name", NAMES)
def test_links_lead_somewhere(name):
    for target in LINK.findall(prose(name)):
        assert not target.startswith(("http:", "/", "file:")), target
        if not target.startswith(("https:", "#")):
            assert (FOLDER / target.split("#")[0]).exists(), target


def test_the_contents_page_has_them_all_by_their_own_titles():
    listed = dict(re.findall(r"\[(\d\d [^\]]+)\]\(([^)]+)\)", prose(CONTENTS)))
    assert sorted(listed.values()) == [n for n in NAMES if n != CONTENTS]
    for title, name in listed.items():
        assert name.startswith(title[:2])


def test_the_contents_page_leads_each_reader_on_and_answers_something_before_it_lists_anything():
    first, answer = cells(CONTENTS)[:2]
    for reader, name in {"metallurgist": "08", "student": "06", "sales engineer": "05"}.items():
        row = next(x for x in first[1].splitlines() if f"**{reader}**" in x)
        assert LINK.search(row)[1].startswith(name)
    assert answer[0] == "code" and "steel = {" in answer[1]
    assert "nearest grade" in "".join(answer[2][0]["text"])


def test_what_a_page_shows_is_saved_once():
    table = '<table class="dataframe">\n  <tr>\n    <td>1</td>\n  </tr>\n</table>'
    data = {"text/html": table, "text/plain": "   C    Cr\n0  1  18.0"}
    once(data)
    assert data == {"text/html": re.sub(r"\n\s*", "", table), "text/plain": "C Cr"}
    page = {"text/html": "<p>one\ntwo</p>", "text/plain": "one\ntwo"}
    once(page)
    assert page == {"text/html": "<p>one\ntwo</p>", "text/plain": "one"}
    once(alone := {"text/plain": "one\ntwo"})
    assert alone == {"text/plain": "one\ntwo"}


@pytest.mark.parametrize("name", NAMES)
def test_no_words_of_a_table_are_cut_short(name):
    for _, source, outputs in cells(name):
        assert not any(
            "...</td>" in "".join(o.get("data", {}).get("text/html", "")) for o in outputs
        ), source


def test_the_readme_sends_everybody_through_the_notebooks_in_the_order_of_the_contents_page():
    page = json.loads((ROOT / "notebooks" / "00-start-here.ipynb").read_text("utf-8"))
    text = "\n".join("".join(c["source"]) for c in page["cells"])
    readers = ("metallurgist", "student", "sales engineer")
    place: dict = {}
    for row in re.findall(r"^\| \[(\d\d) .*\|$", text, re.MULTILINE):
        line = next(x for x in text.splitlines() if x.startswith(f"| [{row} "))
        cells = [c.strip() for c in line.strip("|").split("|")][2:]
        for reader, cell in zip(readers, cells, strict=True):
            place[reader, row] = int(cell) if cell else None
    readme = (ROOT / "README.md").read_text("utf-8")
    for reader in readers:
        line = next(x for x in readme.splitlines() if f"**{reader}**" in x)
        named = [place[reader, n] for n in re.findall(r"`(\d\d)-", line)]
        assert None not in named and named == sorted(named), (reader, named)
        assert named[0] == 1


@pytest.mark.parametrize("name", NAMES)
def test_nothing_of_this_machine(name):
    text = (FOLDER / name).read_text("utf-8")
    assert not re.search(r"/(home|root|tmp|work|Users)/|file://", text)
    assert str(Path.home()) not in text or str(Path.home()) == "/"


@pytest.mark.parametrize("name", NAMES)
def test_what_moves_can_be_read_without_a_kernel(name):
    for _, source, outputs in cells(name):
        if any("application/vnd.jupyter.widget-view+json" in o.get("data", {}) for o in outputs):
            still = ["".join(o.get("data", {}).get("text/html", "")) for o in outputs]
            assert any("Run All Cells" in text for text in still), source


def test_every_chapter_and_open_question_of_the_course_has_its_place():
    source = "\n".join(code("06-phase-balance.ipynb") + code("10-beyond-the-diagram.ipynb"))
    for call, names in (("guess", CHAPTERS), ("check", CHAPTERS), ("prompt", PROMPTS)):
        found = re.findall(rf'course\.{call}\("([^"]+)"', source)
        assert sorted(found) == sorted(names), call
        chapters = [PROMPTS[n].chapter if call == "prompt" else n for n in found]
        assert chapters == sorted(chapters, key=list(CHAPTERS).index), call
    assert re.findall(r'gk\.app\.chapter_explorer\("([^"]+)"', source) == list(PLAYS)


@pytest.mark.parametrize("name", NAMES)
def test_a_notebook_reaches_the_library_through_its_rooms(name):
    deep = re.findall(r"^(?:from|import) (gradekit\.\S+)", "\n".join(code(name)), re.M)
    assert set(deep) <= {"gradekit.core.sources"}  # the evidence words, which no room repeats


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_told_twice(name):
    """Neither a heading nor a sentence of some length."""
    headings = re.findall(r"^#+ (.+)$", prose(name), re.M)
    assert len(headings) == len(set(headings))
    sentences = re.split(r"(?<=[.?!])\s+|\n\s*\n", prose(name))
    long = [" ".join(one.split()) for one in sentences if len(one) > 60]
    twice = {one for one in long if long.count(one) > 1}
    assert not twice, twice
