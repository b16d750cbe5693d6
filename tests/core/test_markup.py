"""Tables as strings."""

from __future__ import annotations

import html
from html.parser import HTMLParser
from urllib.parse import unquote
from xml.etree import ElementTree as ET

import pandas as pd
import pytest

from gradekit.core.markup import Column, columns_table, details, items, panel, small, table, tag
from gradekit.core.pages import render
from gradekit.core.svg import drawing, shape

FRAME = pd.DataFrame(
    {"Cr": [18.2, float("nan")], "field": ["<FA>", "F"]}, index=pd.Index(["H1", "H&2"], name="heat")
)
COLUMNS = [
    Column("Cr", [18.2, float("nan")], unit="wt%"),
    Column("field", ["<FA>", "F"], text=True, wide=True),
]


def test_a_table_of_columns_is_that_of_a_frame():
    made = columns_table(COLUMNS, "Two heats", ["H1", "H&2"], "heat", digits=3)
    wide = (name for name in ["field"])
    assert made == table(FRAME, "Two heats", units={"Cr": "wt%"}, wide=wide, digits=3)
    assert "<FA>" not in made and "H&amp;2" in made and '<td data-h="Cr wt%">—</td>' in made
    bare = columns_table(COLUMNS, "Two heats")
    assert bare == table(FRAME, "Two heats", units={"Cr": "wt%"}, wide=["field"], index=False)
    assert 'scope="row"' not in bare


def test_rows_without_columns_keep_their_names():
    assert table(FRAME[[]], "None").count('<th scope="row">') == 2


@pytest.mark.parametrize(
    "columns, labels",
    [(COLUMNS, ["H1"]), ([COLUMNS[0], Column("short", [1.0])], ["H1", "H2"])],
)
def test_columns_of_unequal_length_are_refused(columns, labels):
    with pytest.raises(ValueError, match=r"shorter|longer"):
        columns_table(columns, "Two heats", labels)


BAD = "<script>alert('x')</script>&\"\u2028"


def words_of(page: str) -> str:
    """Return the text of a page, and fail on an element that nobody wrote."""
    parser, found = HTMLParser(convert_charrefs=True), []
    parser.handle_data = found.append
    parser.handle_starttag = lambda name, attributes: names.append(name)
    names: list[str] = []
    parser.feed(page)
    assert "script" not in names
    return "".join(found)


@pytest.mark.parametrize(
    "made",
    [
        panel(BAD, lead=BAD),
        panel(small(BAD), items([BAD]), details(BAD, BAD)),
        panel(tag("p", BAD, title=BAD)),
        panel(table(pd.DataFrame({BAD: [BAD]}, index=[BAD]), BAD)),
        panel(columns_table([Column(BAD, [BAD], text=True, unit=BAD)], BAD, [BAD], BAD)),
    ],
)
def test_no_text_is_taken_for_markup(made):
    assert words_of(made).count("alert('x')") >= 1


def test_markup_is_not_escaped_twice_and_empty_parts_leave_no_trace():
    assert panel(tag("b", "x"), "", items([]), small(""), details("more", "")).endswith(
        '<div class="gk"><b>x</b></div>'
    )


def test_a_picture_is_an_image_with_its_words():
    drawn = drawing(8, 6, shape("text", BAD), words=BAD)
    page = panel(drawn)
    image = page[page.index("<img") :]
    assert "<script" not in image and "alert(" in html.unescape(image.split('"')[1])
    root = ET.fromstring(unquote(image.split('src="data:image/svg+xml,')[1].split('"')[0]))
    assert root[0].text == BAD and root.get("aria-label") is None


def test_without_a_style_sheet_words_still_begin_at_the_left_and_the_answer_is_bold():
    """A notebook that is not trusted yet is shown without style sheets; attributes stay."""
    made = columns_table(
        [Column("why", ["a reason of many words"], True), Column("Cr", [18.2])], ""
    )
    assert made.count('style="text-align:left"') == 2  # the column of words, its heading and cell
    page = panel(made, lead=["Caution: so.", "Met."])
    assert page.count("font-weight:600") >= 2 and page.index("Caution: so.") < page.index("Met.")
    assert "\n" not in page.partition("</style>")[0]


def test_each_cell_knows_its_heading_and_evidence_has_a_sign():
    frame = pd.DataFrame({"force_MN": [1.0], "status": ["memory"], "none": [""]}, index=["H"])
    made = table(frame, "Passes", units={"force_MN": "MN"})
    assert '<td data-h="force MN">1</td>' in made and "□ memory" in made and "none" not in made


def test_a_page_from_a_template_is_whole_and_inert():
    page = render("design/sheet.html", title=BAD, lead=BAD, body=tag("b", "kept"))
    assert "<b>kept</b>" in page and "default-src 'none'" in page
    assert words_of(page).count("alert('x')") == 3
