"""Large files are read in chunks exactly as small ones are, or refused in words."""

from __future__ import annotations

import pandas as pd
import pytest
from reading_kit import read, refused, workbook

import gradekit as gk
from gradekit.heats import reading
from gradekit.heats.certificates import streaming
from gradekit.heats.notes import notes_of

pytestmark = pytest.mark.usefixtures("nothing_printed_nothing_warned")


def large(rows: int, change=None) -> str:
    lines = ["heat,grade,C,Cr,N ppm,Ti,note"]
    for i in range(rows):
        ti = "<0.005" if i % 7 == 0 else "0.00" if i % 11 == 0 else f"{i % 90 / 1000:.3f}"
        lines.append(f"H{i},304,{i % 40 / 1000:.3f},{17 + i % 200 / 100},{400 + i % 99},{ti},x")
    lines[3:3] = ["", "# a comment, inside"]
    if change:
        change(lines)
    return "\n".join(lines) + "\n"


@pytest.fixture
def in_chunks(monkeypatch):
    monkeypatch.setattr(reading, "_STREAM_FROM", 0)
    monkeypatch.setattr(streaming, "_CHUNK", 2_000)
    monkeypatch.setattr(streaming, "_SAMPLE", 1_000)
    whole = []
    plain = streaming.read_plain

    def watched(*args):
        whole.append(plain(*args))
        return whole[-1]

    monkeypatch.setattr(streaming, "read_plain", watched)
    return whole


def test_a_large_table_in_chunks_reads_as_a_small_one(monkeypatch, in_chunks):
    text = large(500)
    batch = read(text)
    assert in_chunks[0] is batch
    monkeypatch.setattr(reading, "_STREAM_FROM", 1e9)
    expected = read(text)
    assert len(in_chunks) == 1 and len(expected) == 500
    pd.testing.assert_frame_equal(batch, expected, check_exact=True)
    pd.testing.assert_frame_equal(gk.heats.bounds(batch), gk.heats.bounds(expected))
    pd.testing.assert_frame_equal(gk.about(batch), gk.about(expected), check_dtype=False)
    assert gk.messages(batch) == gk.messages(expected)


@pytest.mark.parametrize(
    ("column", "cell"), [(3, "x"), (3, "150"), (2, "-0.1"), (3, "inf"), (3, "True"), (6, "x,y")]
)
def test_a_refusal_in_chunks_names_the_same_place(monkeypatch, in_chunks, column, cell):
    def spoil(lines):
        cells = lines[400].split(",")
        lines[400] = ",".join([*cells[:column], cell, *cells[column + 1 :]])

    text = large(500, spoil)
    message = refused(text)
    monkeypatch.setattr(reading, "_STREAM_FROM", 1e9)
    assert message.split(" · ")[:2] == refused(text).split(" · ")[:2]
    assert "row 401" in message


def test_equal_and_missing_names_in_chunks(in_chunks):
    def spoil(lines):
        lines[300] = lines[299]
        lines[310] = "," + lines[310].split(",", 1)[1]

    batch = read(large(500, spoil))
    assert in_chunks[0] is batch and batch.index.is_unique
    assert any("row 301" in words for words in gk.messages(batch))
    assert any("row 311" in words for words in gk.messages(batch))


@pytest.mark.parametrize(
    "text",
    [
        "heat,analysis,C,Cr\nH1,L,0.02,18\nH1,P,0.02,18\n",
        "element,H1,H2\nC,0.02,0.03\nCr,18,17\n",
        "Heat: H7\nC,Cr\n0.02,18\n",
        "heat,C,Cr\nmax,0.03,20\nH1,0.02,18\n",
    ],
)
def test_a_certificate_is_no_plain_table_and_is_read_cell_by_cell(in_chunks, text):
    assert len(read(text)) > 0
    assert in_chunks == [None]


def test_limits_far_down_are_found(in_chunks):
    batch = read(large(500, lambda lines: lines.append("max,,0.03,20,,,")))
    assert in_chunks == [None] and notes_of(batch)["limits"] == {"max": {"C": 0.03, "Cr": 20.0}}


def test_too_large_is_refused_in_words(monkeypatch, in_chunks):
    kinds = "heat,analysis,C,Cr\n" + "H1,L,0.02,18\n" * 100
    monkeypatch.setitem(reading.MOST_BYTES, "certificate", 1000)
    assert "must be at most 0.001 MB · got 0.0 MB · nearest saved as a plain CSV" in refused(kinds)
    assert len(read(large(100))) == 100
    monkeypatch.setitem(reading.MOST_BYTES, "table", 1000)
    assert "read it in parts" in refused(large(100))
    monkeypatch.setitem(reading.MOST_BYTES, "workbook", 1000)
    assert "is a workbook · must be at most" in refused(
        workbook([["heat", "C", "Cr", "N"], ["H1", 0.02, 18, 0]])
    )


def test_a_workbook_that_unpacks_too_large_is_refused(monkeypatch):
    from gradekit.core import workbook as module

    monkeypatch.setattr(module, "_MOST_UNPACKED", 1000)
    assert "when unpacked" in refused(workbook([["heat", "C", "Cr", "N"], ["H1", 0.02, 18, 0]]))


def test_one_endless_line_is_refused(monkeypatch, in_chunks):
    monkeypatch.setitem(reading.MOST_BYTES, "certificate", 5_000)
    assert "at most" in refused("heat,C,Cr " * 10_000)
    assert "endless" in refused(large(100) + '"' + "x" * 20_000)
