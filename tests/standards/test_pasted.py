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
