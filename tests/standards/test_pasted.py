"""Certificates as they are pasted from a page: every way gives the analysis that was printed."""

from __future__ import annotations

import pytest

import gradekit as gk
from gradekit.heats.certificates.pasted import laid_out

PRINTED = {"C": 0.021, "Si": 0.45, "Mn": 1.32, "Cr": 17.1, "Ni": 10.2, "Mo": 2.05, "N": 0.045}
A_LINE_EACH = "Heat\nT 4711 A\nGrade\n1.4404\n" + "".join(f"{e}\n{v}\n" for e, v in PRINTED.items())
TIMES = (
    "Heat No  C x1000  Si x100 Mn x100 Cr x100 Ni x100 Mo x100 N x1000\n"
    "44 7812   21  45 132 1710 1020 205 45\n"
)
LIMITS = """Heat 778812  1.4404 / 316L  EN 10088-2
      C     Si    Mn    P     S     Cr    Ni    Mo    N
min                           16.5  10.0  2.00
max   0.030 1.00  2.00  0.045 0.015 18.5  13.0  2.50  0.10
heat  0.021 0.45  1.32  0.030 0.002 17.1  10.2  2.05  0.045
Rp0.2 265 MPa  Rm 570 MPa  A 52 %
signed by the inspector
"""


@pytest.mark.parametrize(
    ("text", "heat"), [(A_LINE_EACH, "T 4711 A"), (TIMES, "44 7812"), (LIMITS, "778812")]
)
def test_the_analysis_comes_out_as_it_was_printed(text, heat):
    paper = gk.standards.read_certificate(text)
    assert list(paper.heats.index) == [heat]
    assert paper.heats.loc[heat, list(PRINTED)].to_dict() == pytest.approx(PRINTED)


def test_gaps_in_a_row_of_limits_go_by_place_and_size():
    rows = laid_out(LIMITS).table.splitlines()
    cells = dict(zip(rows[0].split(";"), rows[1].split(";"), strict=True))
    assert {e: cells[e] for e in ("S", "Cr", "Ni", "Mo", "N")} == {
        "S": "", "Cr": "16.5", "Ni": "10.0", "Mo": "2.00", "N": "",
    }  # fmt: skip


def test_mechanical_lines_are_tested_and_what_is_not_understood_is_said():
    paper = gk.standards.read_certificate(LIMITS)
    looked = paper.verdicts[paper.verdicts["claim"] == "1.4404"].set_index("looked_at")["verdict"]
    assert looked[["Rp0.2", "Rm", "A"]].tolist() == ["ok"] * 3
    assert paper.not_understood == ("signed by the inspector",)
    weak = gk.standards.read_certificate(LIMITS.replace("Rp0.2 265", "Rp0.2 165"))
    assert "stop" in weak.verdicts.set_index("looked_at").loc["Rp0.2", "verdict"].tolist()


BLOCKS = """Heat 44 7812   Grade 1.4404
   C     Si    Mn    Cr    Ni    Mo    N
 0.021  0.45  1.32  17.1  10.2  2.05  0.045
Rp0.2 265 MPa Rm 570 MPa A 52 %
Heat 44 7813
   C     Si    Mn    Cr    Ni    Mo    N
 0.019  0.40  1.30  17.3  10.1  2.03  0.050
Rp0.2 165 MPa Rm 550 MPa A 50 %
"""
COLUMNS = """Grade 1.4404
Heat      C     Si    Mn    Cr    Ni    Mo   N      Rp0.2  Rm   A
44 7812  0.021  0.45  1.32  17.1  10.2  2.05 0.045  265  570  52
44 7813  0.019  0.40  1.30  17.3  10.1  2.03 0.050  165  550  50
"""


@pytest.mark.parametrize("text", [BLOCKS, COLUMNS], ids=["a block a heat", "a row a heat"])
def test_each_of_several_heats_keeps_its_name_its_grade_and_its_own_tests(text):
    paper = gk.standards.read_certificate(text)
    assert list(paper.heats.index) == ["44 7812", "44 7813"]
    assert paper.heats["Cr"].tolist() == [17.1, 17.3]
    proof = paper.results[paper.results["property"] == "Rp0.2"].set_index("heat")["value"]
    assert proof.to_dict() == {"44 7812": 265.0, "44 7813": 165.0}
    looked = paper.verdicts[paper.verdicts["looked_at"] == "Rp0.2"].set_index("heat")["verdict"]
    assert looked.to_dict() == {"44 7812": "ok", "44 7813": "stop"}
    assert set(paper.verdicts["claim"]) == {"1.4404"} and paper.not_understood == ()


HEADS_FIRST = "Heat No.\nT 4711 A\n" + "\n".join([*PRINTED, *map(str, PRINTED.values())])
TIMES_BENEATH = (
    "Heat     C      Si    Mn    Cr    Ni    Mo    N\n"
    "{percent}{c}  {h}  {h}  {h}  {h}  {h}  {c}\n"
    "44 7812  21     45   132  1710  1020  205   45\n"
)


@pytest.mark.parametrize(
    ("text", "heat"),
    [(HEADS_FIRST, "T 4711 A"),
     (TIMES_BENEATH.format(percent="      ", c="x1000", h="x100"), "44 7812"),
     (TIMES_BENEATH.format(percent="%     ", c="×10-3", h="×10-2"), "44 7812"),
     (TIMES_BENEATH.format(percent="      ", c="x10^-3", h="x10^-2"), "44 7812")],
)  # fmt: skip
def test_tokens_after_their_heads_and_factors_beneath_them(text, heat):
    paper = gk.standards.read_certificate(text)
    assert list(paper.heats.index) == [heat]
    assert paper.heats.loc[heat, list(PRINTED)].to_dict() == pytest.approx(PRINTED)


LONE = "C 0.021 Si 0.45 Mn 1.32 P 0.03 S 0.002 Cr 17.1 Ni 10.2 Mo 2.05 N 0.045\n"
GERMAN = """Schmelze: 44 7812   Werkstoff: 1.4404
Chem. Zusammensetzung
        C     Si    Mn    P     S     Cr     Ni     Mo    N
min.                                 16,50  10,00  2,00
max.   0,030 1,00  2,00 0,045 0,015 18,50  13,00  2,50  0,10
       0,021 0,45  1,32 0,030 0,002 17,10  10,20  2,05  0,045
Streckgrenze Rp0,2: 265 N/mm²
Zugfestigkeit Rm: 570 N/mm²
Bruchdehnung A5: 52 %
"""
TESTED = """Test      Rp0.2  Rm   A5
Required  min 200  500  40
Result    265  570  52
"""


@pytest.mark.parametrize(
    ("text", "left"),
    [("Heat: 44 7812\nGrade: 1.4404\n" + LONE + "Yield strength Rp0.2: 265 N/mm2\n"
      "Tensile strength (Rm): 570 N/mm2\nElongation A5: 52 %\nfree of radioactivity",
      ("free of radioactivity",)),
     (GERMAN, ("Chem. Zusammensetzung",)),
     ("Heat 44 7812 Grade 1.4404\n" + LONE + TESTED, ())],
    ids=["lines", "German", "a table of its own"],
)  # fmt: skip
def test_mechanical_lines_in_every_form_are_held_to_the_minima_of_the_grade(text, left):
    paper = gk.standards.read_certificate(text)
    assert list(paper.heats.index) == ["44 7812"] and paper.not_understood == left
    values = paper.results.set_index("property")["value"].to_dict()
    assert values == {"Rp0.2": 265.0, "Rm": 570.0, "A": 52.0}
    looked = paper.verdicts.set_index("looked_at")["verdict"]
    assert looked[["heat analysis", "Rp0.2", "Rm", "A"]].tolist() == ["ok"] * 4
    weak = gk.standards.read_certificate(text.replace("265", "165"))
    assert weak.verdicts.set_index("looked_at").at["Rp0.2", "verdict"] == "stop"


def test_rows_of_limits_stand_beside_several_heats():
    rows = LIMITS.replace("heat  0.021", "A 1   0.021").replace("Rp0.2 265 MPa  Rm 570 MPa", "")
    rows = rows.replace("A 52 %", "A 2   0.018 0.40  1.30  0.028 0.001 16.1  10.1  2.03  0.040")
    paper = gk.standards.read_certificate(rows)
    assert list(paper.heats.index) == ["A 1", "A 2"]
    found = paper.verdicts[paper.verdicts["claim"] == "1.4404"].set_index("heat")["verdict"]
    assert found["A 1"] == "ok" and found["A 2"] == "stop"  # 16.1 Cr


def test_several_heats_by_blanks_and_text_that_is_none():
    two = (
        "Heat     C     Cr    Ni    Mo\n"
        "A 1    0.021  17.1  10.2  2.05\n"
        "A 2    0.018  17.3  10.1  2.03\n"
    )
    paper = gk.standards.read_certificate(two, claims="1.4404")
    assert paper.heats["Cr"].tolist() == [17.1, 17.3] and list(paper.heats.index) == ["A 1", "A 2"]
    assert laid_out("dear customer,\nplease find enclosed") is None
    with pytest.raises(gk.InputError):
        gk.standards.read_certificate("dear customer,\nplease find enclosed")
