"""Everything that ships is ours to ship: sources of every row, names that are nobody's mark."""

from __future__ import annotations

import csv
import re
import tomllib
from pathlib import Path

import pytest

import gradekit as gk
from gradekit.core.sources import REFERENCE, STATUSES, bibliography, sources_of
from gradekit.standards.tables import EVIDENCE, windows

TABLES = sorted(REFERENCE.rglob("*.csv"))
#: What a row rests on when nothing was published, and the evidence words that go with it.
UNPUBLISHED = {
    "this_library": {"heuristic", "computed-from-data", "verified", "memory"},
    "trade_practice": {"memory", "conflicting"},
    "producer_literature": {"memory", "conflicting", "secondary", "verified"},
}


def rows(path: Path) -> list[dict[str, str]]:
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def keys_of(row: dict[str, str]) -> list[str]:
    """The keys of the bibliography that a row of any table names."""
    if "source" in row:
        return list(sources_of(row["source"]))
    side, found = "", []
    for part in re.split(r"[/ ]+", row["standard"].split("(")[0]):
        side = part if part in ("EN", "ASTM") else side
        number = part.split(":")[0].removesuffix("M")
        if re.fullmatch(r"[A-Z]?\d+(-\d+)?", number) and side:
            found.append(f"{side}_{number}".lower().replace("-", "_"))
    return found


@pytest.mark.parametrize("path", TABLES, ids=lambda p: str(p.relative_to(REFERENCE)))
def test_every_row_stands_on_a_source_or_on_a_rule_of_the_library(path):
    if path.name == "references.csv":
        return
    if path.name == "cautions.csv":  # words of warning, no figure
        return
    known = bibliography()
    for number, row in enumerate(rows(path), start=2):
        place = f"{path.name}, line {number}: {row}"
        status = EVIDENCE.get(row.get("evidence", ""), row.get("status", ""))
        assert status in STATUSES, place
        keys = keys_of(row)
        assert keys and set(keys) <= set(known), (place, keys)
        published = [k for k in keys if k not in UNPUBLISHED]
        if not published:
            assert any(status in UNPUBLISHED[k] for k in keys), place
        if status == "heuristic":
            assert "this_library" in keys or published, place


def test_every_source_of_a_relation_is_in_the_bibliography():
    for name, source in gk.catalogue()["source"].items():
        assert source, name
    assert all(key and entry.title for key, entry in bibliography().items())


#: Words that are companies, brands or makers' marks of grades, as far as known here. They may stand
#: in a citation (who wrote it), in nothing that the library calls something by.
MARKS = """
    29-4C 520B 2707 3207 2906 254SMO 654SMO 253MA 353MA 17-4PH 15-5PH 17-7PH 13-8 21-6-9 22-13-5
    AL-6XN AL6XN Nitronic Ferralium Zeron Uranus Remanit Sanicro Safurex Hastelloy Inconel Incoloy
    Monel Carpenter Nicrofer Duratherm Forta Ultra Supra Kara Usinor Ugine Outokumpu Avesta Sandvik
    Aperam Acerinox Allegheny Kohler ThyssenKrupp Nippon Nisshin Posco Jindal Yieldco Böhler Bohler
    Uddeholm Alleima Armco Cronidur Nirosta Monit Sea-Cure J4 204Cu 201Cu Custom450 Custom455
""".split()


def whose(name: str) -> list[str]:
    plain = re.sub(r"\s", "", name).casefold()
    words = set(re.split(r"[\s,;/()_]+", name.casefold()))
    return [m for m in MARKS if m.casefold() in words or plain == m.casefold()]


def test_no_name_of_ours_is_a_mark_of_somebody():
    names = [*gk.catalogue().index, *gk.catalogue()["title"], *gk.__all__]
    names += [t for w in windows() for t in (w.common, w.en_name, w.family) if t]
    names += [path.stem for path in REFERENCE.rglob("*.*")]
    for path in TABLES:
        if path.name not in ("references.csv", "grade_properties.csv"):
            first = list(rows(path)[0])[:2]
            names += [row[column] for row in rows(path) for column in first]
    assert not {name: whose(name) for name in names if whose(name)}


def test_the_word_list_would_see_a_mark():
    assert whose("29-4C") and whose("scrap_201_j4") and whose("ni_eq_usinor_2000")
    assert whose("254 SMO") and not whose("316L") and not whose("2205")


def test_the_licence_travels_with_the_package():
    text = (REFERENCE.parent / "LICENSE").read_text("utf-8")
    assert "BSD 3-Clause" in text and "gradekit authors" in text
    project = tomllib.loads((REFERENCE.parents[1] / "pyproject.toml").read_text("utf-8"))["project"]
    assert project["license"] == "BSD-3-Clause" and "gradekit/LICENSE" in project["license-files"]


def test_the_notice_names_every_data_set_behind_a_card():
    notice = (REFERENCE / "NOTICE.md").read_text("utf-8")
    for name in ("proof_strength", "tensile_strength", "elongation"):
        source = gk.properties.model_card(name).data["source"]
        assert all(part.strip() in notice for part in source.split(", with ")), source
    for key in ("nyby_2021", "inl_subsized_2025", "map_austenitic", "nrim_cds"):
        entry = bibliography()[key]
        assert entry.title in notice, key
        if entry.address:
            assert entry.address in notice, key
    assert "CC BY 4.0" in notice and "changed" in notice
