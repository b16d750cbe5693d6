"""Small files as laboratories write them, each with what must come out, in `corpus/expected.json`.

An entry holds contents by heat, or words of the refusal, and where they matter other columns,
bounds, printed limits, messages, and what a row or column was taken as.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.heats import bounds, printed_limits
from gradekit.heats.notes import notes_of

CORPUS = Path(__file__).parent / "corpus"
EXPECTED = json.loads((CORPUS / "expected.json").read_text("utf-8"))
READ = [name for name, must in EXPECTED.items() if "heats" in must]

pytestmark = pytest.mark.usefixtures("nothing_printed_nothing_warned")


def test_every_file_has_its_entry():
    assert {p.name for p in CORPUS.iterdir()} == {*EXPECTED, "expected.json"}


@pytest.mark.parametrize("name", READ)
def test_the_contents_are_those_written(name):
    heats = gk.read_heats(CORPUS / name)
    must = pd.DataFrame.from_dict(EXPECTED[name]["heats"], orient="index", dtype=float)
    assert list(heats.index) == list(must.index)
    assert set(must) <= set(heats)
    found = heats.reindex(columns=must.columns)
    np.testing.assert_allclose(found, must, rtol=1e-12, equal_nan=True)
    assert heats.drop(columns=must.columns).isna().all(axis=None)


@pytest.mark.parametrize("name", [n for n in EXPECTED if "refused" in EXPECTED[n]])
def test_the_refusal_names_the_place(name):
    with pytest.raises(gk.InputError, match=EXPECTED[name]["refused"]) as caught:
        gk.read_heats(CORPUS / name)
    assert name in str(caught.value)


@pytest.mark.parametrize("name", READ)
def test_what_stands_beside_the_contents(name):
    must, heats = EXPECTED[name], gk.read_heats(CORPUS / name)
    for column, values in must.get("about", {}).items():
        assert gk.about(heats)[column].tolist() == values
    for heat, marks in must.get("bounds", {}).items():
        assert bounds(heats).loc[heat, list(marks)].to_dict() == marks
    if "limits" in must:
        limits = printed_limits(heats)
        assert {k: v.dropna().to_dict() for k, v in limits.iterrows()} == must["limits"]
    if "says" in must:
        said = "\n".join(gk.messages(heats))
        assert all(words in said for words in must["says"]), said
        assert bool(said) == bool(must["says"])


@pytest.mark.parametrize("name", READ)
def test_every_row_and_column_is_accounted_for(name):
    heats = gk.read_heats(CORPUS / name)
    report = gk.reading_report(heats)
    for label, taken in EXPECTED[name].get("taken", {}).items():
        assert report.set_index("label")["taken_as"][label] == taken
    surprises = sum(entry.surprise for entry in notes_of(heats)["report"])
    assert not surprises or report["reason"].iloc[:surprises].ne("").all()
    if name.endswith((".csv", ".txt")):
        lines = (CORPUS / name).read_bytes()
        text = lines.decode("utf-16" if "utf_16" in name and "mark" not in name else "latin-1")
        if "utf_16_without" in name:
            text = lines.decode("utf-16-le")
        rows = report[report["where"].str.startswith("row")]["where"].str.findall(r"\d+")
        counted = sum(int(w[-1]) - int(w[0]) + 1 for w in rows)
        lines = text.replace("\r", "\n").rstrip("\n").count("\n") + 1
        joined = 1 if "over_two_lines" in name else 0
        assert counted == lines - joined


@pytest.mark.parametrize("name", READ)
@pytest.mark.parametrize("kind", ["csv", "xlsx", "json"])
def test_written_again_it_is_the_same(name, kind, tmp_path):
    heats = gk.read_heats(CORPUS / name)
    again = gk.read_heats(gk.write_heats(heats, tmp_path / f"again.{kind}"))
    pd.testing.assert_frame_equal(again, heats, check_exact=True)
    pd.testing.assert_frame_equal(bounds(again), bounds(heats))
