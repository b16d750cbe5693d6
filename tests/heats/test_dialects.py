"""A random batch, written in a random dialect by hands of its own, is read back as it was."""

from __future__ import annotations

import io

import numpy as np
import openpyxl
import pandas as pd
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import gradekit as gk
from gradekit.heats import bounds

# By element: names in several tongues and with ornaments; how far its contents reach, wt%.
NAMES = {
    "Cr": ["Cr", "CR", "Chrom", "Chromium", "Cromo", "Krom", "Cr_OES", "w(Cr)"],
    "C": ["C", "Carbon", "Kohlenstoff", "Węgiel", "Carbone", "C (LECO)", "%C"],
    "Ni": ["Ni", "Nickel", "Nichel", "Níquel", "Nikiel"],
    "Mo": ["Mo", "Molybdän", "Molybdène", "Molibdeno", "MO"],
    "N": ["N", "Ntot", "N ges.", "Stickstoff", "Azoto", "Kväve"],
    "S": ["S", "Sulphur", "Sulfur", "Schwefel", "S-CS", "Enxofre"],
}
REACH = {
    "Cr": (10, 30),
    "C": (0.001, 0.5),
    "Ni": (0, 20),
    "Mo": (0, 7),
    "N": (0, 0.6),
    "S": (0, 0.05),
}
UNITS = {
    1.0: ["%", "wt%", "Gew.-%", "% (m/m)", "mass-%"],
    1e-4: ["ppm", "mg/kg", "µg/g", "ppmw"],
    0.1: ["‰", "g/kg"],
}
ENCODINGS = ["utf-8", "utf-8-sig", "utf-16", "utf-16-le"]


@st.composite
def written(draw):
    """Return a batch, and the cells of a table that says the same: the first row is the header."""
    elements = draw(st.lists(st.sampled_from(list(NAMES)), min_size=2, max_size=6, unique=True))
    heats = [f"H{k}" for k in range(101, 101 + draw(st.integers(1, 5)))]
    factors = {e: draw(st.sampled_from(list(UNITS))) for e in elements}
    unit_in = draw(st.sampled_from(["header", "row"]))
    values, marks, cells = {}, {}, {}
    for element in elements:
        low, high = REACH[element]
        factor = factors[element]
        places = {1.0: 4, 1e-4: 1, 0.1: 3}[factor]
        for heat in heats:
            figure = draw(st.integers(1, int((high - low) / factor * 10**places))) / 10**places
            figure = round(low / factor + figure, places)
            kind = draw(st.sampled_from(["number"] * 6 + ["bound", "blank", "k.A."]))
            text = f"{figure:.{places}f}"
            values[heat, element] = np.nan if kind in ("blank", "k.A.") else figure * factor
            marks[heat, element] = kind
            cells[heat, element] = {"blank": "", "bound": f"<{text}"}.get(
                kind, text if kind == "number" else kind
            )
    header, units = ["Heat"], [""]
    for element in elements:
        name = draw(st.sampled_from(NAMES[element]))
        unit = draw(st.sampled_from(UNITS[factors[element]]))
        clashes = name.startswith(("%", "w("))
        name = element if clashes and factors[element] != 1 else name
        beside = unit_in == "header" and not name.startswith("%")
        header.append(f"{name} [{unit}]" if beside else name)
        units.append("" if beside else unit if not name.startswith("%") else "%")
    rows = [header] + ([units] if unit_in == "row" else [])
    rows += [[heat, *(cells[heat, e] for e in elements)] for heat in heats]
    batch = pd.DataFrame(
        [[values[heat, e] for e in elements] for heat in heats], index=heats, columns=elements
    )
    return batch, marks, rows


def read_or_asked_back(raw: bytes) -> pd.DataFrame | None:
    """Read a file, unless nothing in it tells whether '1.000' is one or a thousand."""
    try:
        return gk.read_heats(raw)
    except gk.InputError as error:
        assert "one way only" in str(error)
        return None


def same(found: pd.DataFrame | None, batch: pd.DataFrame, marks: dict) -> None:
    if found is None:
        return
    assert list(found.index) == list(batch.index) and set(found) <= set(batch)
    np.testing.assert_allclose(
        found.reindex(columns=batch.columns), batch, rtol=1e-9, atol=1e-12, equal_nan=True
    )
    told = bounds(found)
    for (heat, element), kind in marks.items():
        if element in found:
            expected = {"bound": "<", "k.A.": "k"}.get(kind, "")
            assert told.at[heat, element][:1] == expected


SLOW = settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))


@SLOW
@given(
    written(),
    st.sampled_from([";", "\t", ",", "|"]),
    st.sampled_from(".,"),
    st.sampled_from(ENCODINGS),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.booleans(),
)
def test_a_text_in_any_dialect(table, delimiter, point, encoding, end, turned):
    batch, marks, rows = table
    if batch.isna().all(axis=None) or (turned and len(batch.columns) < 2):
        return
    if turned:
        rows = [list(column) for column in zip(*rows, strict=True)]
    dressed = [
        [f'"{c}"' if delimiter in (c := cell.replace(".", point) if cell[-1:].isdigit() else cell)
         else c for cell in row]
        for row in rows
    ]  # fmt: skip
    text = end.join(delimiter.join(row) for row in dressed) + end
    same(read_or_asked_back(text.encode(encoding)), batch, marks)


@SLOW
@given(written(), st.booleans())
def test_a_workbook(table, numbers):
    batch, marks, rows = table
    if batch.isna().all(axis=None):
        return
    book = openpyxl.Workbook()
    for row in rows:
        cells = [float(c) if numbers and c.replace(".", "", 1).isdigit() else c for c in row]
        book.active.append(cells)
    out = io.BytesIO()
    book.save(out)
    same(read_or_asked_back(out.getvalue()), batch, marks)


@SLOW
@given(written(), st.sampled_from([";", "\t"]), st.sampled_from(".,"))
def test_one_element_a_row(table, delimiter, point):
    batch, _marks, _ = table
    lines = [delimiter.join(["Charge", "Element", "Wert", "Einheit"])]
    for heat, contents in batch.iterrows():
        lines += [
            delimiter.join([heat, element, f"{value:.6f}".replace(".", point), "%"])
            for element, value in contents.items()
            if value == value
        ]
    if len({line.split(delimiter)[1] for line in lines[1:]}) < 2:
        return
    found = gk.read_heats("\n".join(lines).encode())
    for heat, element in ((h, e) for h in found.index for e in found):
        value = batch.at[heat, element]
        assert np.isclose(found.at[heat, element], value, atol=1e-6, equal_nan=True)
    assert found.notna().sum().sum() == batch.notna().sum().sum()


@SLOW
@given(written(), st.sampled_from(["csv", "xlsx", "json"]))
def test_what_was_read_is_written_and_read_again_to_the_last_digit(table, kind):
    import tempfile

    _, _, rows = table
    if all(not c or not c[-1].isdigit() for row in rows[-1:] for c in row[1:]):
        return
    heats = read_or_asked_back("\n".join("\t".join(row) for row in rows).encode())
    if heats is None:
        return
    with tempfile.TemporaryDirectory() as folder:
        again = gk.read_heats(gk.write_heats(heats, f"{folder}/again.{kind}"))
    pd.testing.assert_frame_equal(again, heats, check_exact=True)
    pd.testing.assert_frame_equal(bounds(again), bounds(heats))
