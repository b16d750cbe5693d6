"""Tables as laboratories write them: what is understood, what is named, what is refused."""

from __future__ import annotations

import numpy as np
import openpyxl
import pandas as pd
import pytest

from gradekit.core.errors import InputError
from gradekit.properties.fit.groups import visible_group
from gradekit.properties.fit.table import read_tests
from gradekit.properties.fit.units import quantity_in_header, unit_of

TARGET = "Rp0.2 (MPa)"


def sheet(heats=16, seed=2):
    """Invent three tests of each heat, headed as a laboratory heads them."""
    rng = np.random.default_rng(seed)
    spans = {"C": (0.01, 0.08), "Cr": (16, 19), "Mo": (0.05, 2.5), "N": (0.03, 0.2)}
    contents = pd.DataFrame({e: rng.uniform(*s, heats).round(3) for e, s in spans.items()})
    table = contents.loc[np.repeat(np.arange(heats), 3)].reset_index(drop=True)
    table.insert(0, "Heat", [f"H{i // 3:02}" for i in range(3 * heats)])
    table.insert(1, "Lab", rng.choice(["works", "Lab B"], len(table)))
    table[TARGET] = (
        200 + 330 * table["C"] + 500 * table["N"] + rng.normal(0, 5, len(table))
    ).round(1)
    table["Rm, N/mm²"] = table[TARGET] + 310
    return table


def read(table, target=TARGET, terms=("C", "N"), groups="Heat", conditions=(), unit=None):
    return read_tests(table, target, terms, groups, conditions, unit)


def refused(match, table, **options):
    with pytest.raises(InputError, match=match):
        read(table, **options)


def notes_of(table, **options):
    return " | ".join(read(table, **options).notes)


# ----------------------------------------------------------------------- what is understood


def test_headers_say_quantity_and_unit():
    known = {
        "Rp0.2 (MPa)": ("proof strength", "MPa"), "proof_strength_MPa": ("proof strength", "MPa"),
        "Rm, N/mm²": ("tensile strength", "MPa"), "UTS [ksi]": ("tensile strength", "ksi"),
        "T (K)": ("T", "K"), "A5 %": ("A5", "%"), "Total C": ("Total C", ""),
        "FN": ("ferrite number", ""),
        "pitting_temperature_C": ("pitting temperature", "°C"), "d [µm]": ("d", "µm"),
    }  # fmt: skip
    assert {h: (quantity_in_header(h), unit_of(h)) for h in known} == known


def test_cells_as_certificates_write_them():
    plain, table = read(sheet(), terms=["C", "N", "Mo"]), sheet().astype(object)
    table["Cr"] = [f"{v} %".replace(".", ",") for v in table["Cr"]]
    table[TARGET] = [f"{v} MPa".replace(".", ",") for v in table[TARGET]]
    table["N"] = [str(v).replace(".", ",") for v in table["N"]]
    table.loc[3, "Mo"] = "<0,01"
    found = read(table, terms=["C", "N", "Mo"])
    assert found.y == pytest.approx(plain.y)
    assert found.columns["N"] == pytest.approx(plain.columns["N"])
    assert found.columns["Mo"][3] == 0.01
    assert any("upper end: Mo 1" in note for note in found.notes)


def test_parts_per_million_give_the_same_and_are_said():
    plain = read(sheet())
    table = sheet().rename(columns={"N": "N ppm"})
    table["N ppm"] *= 1e4
    for term in ("N", "N ppm"):
        found = read(table, terms=["C", term])
        assert found.terms == ["C", "N"]
        assert found.x == pytest.approx(plain.x)
        assert any("read as ppm" in note for note in found.notes)
    bare = sheet()
    bare.loc[:1, "N"] *= 1e4
    assert "N: 2 values of a size that only ppm can have" in notes_of(bare)


def test_blank_cells_rows_and_summaries_are_left_out_and_said():
    table = sheet().astype(object)
    table.loc[4, TARGET] = "  "
    table.loc[5, "N"] = "n.d."
    table.loc[len(table)] = ["mean", None, *sheet().iloc[:, 2:].mean()]
    table.loc[len(table)] = [None] * table.shape[1]
    found = read(table)
    assert len(found.y) == 46
    words = " | ".join(found.notes)
    assert "1 row without Rp0.2 (MPa)" in words
    assert "1 row left out: N not known there" in words
    assert "1 row left out: a mean or limit" in words


def test_rows_pasted_twice_are_named():
    assert "3 rows the same" in notes_of(pd.concat([sheet(), sheet().iloc[:3]], ignore_index=True))


@pytest.mark.parametrize("kind", ["csv", "cp1252", "xlsx", "titles", "second sheet"])
def test_files_give_what_the_frame_gives(tmp_path, kind):
    table, plain = sheet(), read(sheet())
    path = tmp_path / ("t.xlsx" if kind in ("xlsx", "titles", "second sheet") else "t.csv")
    if kind == "csv":
        path.write_text("# tests of the year\n" + table.to_csv(index=False), "utf-8")
    elif kind == "cp1252":
        table.to_csv(path, sep=";", decimal=",", index=False, encoding="cp1252")
    elif kind == "second sheet":
        with pd.ExcelWriter(path) as book:
            pd.DataFrame({"read me": ["tests"]}).to_excel(book, sheet_name="notes", index=False)
            table.to_excel(book, sheet_name="tests", index=False)
    else:
        table.to_excel(path, index=False, startrow=3 if kind == "titles" else 0)
        if kind == "titles":
            book = openpyxl.load_workbook(path)
            book.active["A1"], book.active["B1"] = "Table 1", TARGET
            book.save(path)
    found = read(path)
    assert found.y == pytest.approx(plain.y)
    assert found.x == pytest.approx(plain.x)
    assert list(found.groups) == list(plain.groups)


def test_units_may_stand_in_the_row_under_the_header(tmp_path):
    table = sheet()
    table["N"] = (table["N"] * 1e4).round(1)
    lines = table.to_csv(index=False).splitlines()
    under = ";".join({"N": "ppm", "C": "%", "Cr": "%", "Mo": "%"}.get(c, "") for c in table)
    path = tmp_path / "t.csv"
    path.write_text("\n".join([lines[0].replace('"Rm, N/mm²"', "Rm").replace(",", ";"), under,
                    *(row.replace(",", ";") for row in lines[1:])]), "utf-8")  # fmt: skip
    found = read(path)
    assert found.x == pytest.approx(read(sheet()).x)
    assert found.frame.index[0] == 3  # as a spreadsheet counts


def test_a_row_of_a_file_is_named_as_the_spreadsheet_counts(tmp_path):
    table = sheet().astype(object)
    table.loc[10, TARGET] = "> 300"
    table.to_excel(tmp_path / "t.xlsx", index=False, startrow=2)
    refused(r"row 14 .* in MPa · got '> 300'", tmp_path / "t.xlsx")


def test_a_stated_unit_is_taken_at_its_word():
    creep = sheet().rename(columns={TARGET: "creep_strength_MPa"})
    creep["creep_strength_MPa"] /= 5
    refused("unit='MPa' if it is MPa", creep, target="creep_strength_MPa")
    assert len(read(creep, target="creep_strength_MPa", unit="MPa").y) == len(creep)


# --------------------------------------------------------------------------- what is refused


def test_ksi_among_mpa_is_named_wherever_it_stands():
    table = sheet()
    some = table[TARGET].where(~table.index.isin([4, 9]), lambda v: v / 6.895)
    refused(r"2 of 48 values .* ksi among MPa \(row 4, 9", table.assign(**{TARGET: some}))
    alone = table.drop(columns="Rm, N/mm²")
    refused("a median of .* as in ksi", alone.assign(**{TARGET: table[TARGET] / 6.895}))
    other = table.assign(**{"Rm, N/mm²": table["Rm, N/mm²"] / 6.895})
    refused(r"column 'Rm, N/mm²', row 0 .* at least the proof strength", other)
    named = table.rename(columns={TARGET: "Rp0.2, ksi"})
    refused("ksi, by its name", named, target="Rp0.2, ksi")
    refused(
        "in MPa · got '45 ksi'",
        table.astype(object).replace({TARGET: {table[TARGET][0]: "45 ksi"}}),
    )


def test_kelvin_is_named_by_header_and_by_room_temperature():
    hot = {"temperature_C": "T (K)"}
    refused("K, by its name", sheet().assign(**{"T (K)": 293.0}), conditions=hot)
    mixed = sheet().assign(temperature_C=20.0)
    mixed.loc[7, "temperature_C"] = 293.0
    refused("got 293, as in K", mixed)


def test_files_that_are_no_tables_are_refused(tmp_path):
    refused("an existing file", tmp_path / "none.csv")
    (tmp_path / "t.pdf").write_text("x", "utf-8")
    refused("a CSV or XLSX file", tmp_path / "t.pdf")
    (tmp_path / "t.xlsx").write_bytes(b"PK\x03\x04 and no more")
    refused("a whole XLSX workbook", tmp_path / "t.xlsx")
    sheet().to_csv(tmp_path / "t.csv", index=False)
    refused(r"nearest Rp0\.2 \(MPa\)", tmp_path / "t.csv", target="Rp0.2 (mpa)")


def test_terms_and_columns_that_cannot_be_are_refused():
    refused("other columns than the target", sheet(), target="Mo", terms=["C", "Mo"])
    refused("terms · must be texts", sheet(), terms=["C", 5])
    assert read(sheet(), terms=["C", "N", "C"]).terms == ["C", "N"]
    twice = pd.concat([sheet(), sheet()[[TARGET]]], axis=1)
    refused("'Rp0.2 .*' twice", twice)
    hint = r'nearest conditions=\{"temperature_C": "test temperature"\}'
    refused(hint, sheet().assign(**{"test temperature": 20}), terms=["C", "temperature_C"])


def test_groups_may_not_tear_heats_apart():
    table = sheet().assign(specimen=range(48), pair=np.arange(48) // 2)
    refused('nearest groups="Heat"', table, groups="specimen")
    refused('16 values of .* nearest groups="Heat"', table, groups="pair")
    table["campaign"] = np.arange(48) % 13
    assert "known from the other groups" in notes_of(table, groups="campaign")
    table.loc[3, "Heat"] = None
    refused("known in every tested row · got blank: 3", table)


def test_without_a_name_analyses_within_their_scatter_are_one_heat():
    table = sheet().drop(columns=["Heat", "Lab"])
    rng = np.random.default_rng(3)
    for element, sd in {"C": 0.001, "Cr": 0.03, "Mo": 0.01, "N": 0.002}.items():
        table[element] = (table[element] + rng.normal(0, sd, len(table))).round(4)
    found = read(table, groups=None)
    assert found.group_name == "analysis"
    by_heat = pd.Series(found.groups).groupby(sheet()["Heat"].to_numpy())
    assert (by_heat.nunique() == 1).all() and len(set(found.groups)) == 16
    words = " | ".join(found.notes)
    assert "48 rows of 48 analyses are taken for 16 heats" in words and "Cr 0.17" in words
    unknown = table.assign(N=table["N"].where(table.index % 3 > 0))  # unknown is not alike
    assert len(set(read(unknown, terms=["C"], groups=None).groups)) == 32
    refused(
        "at least 12 .* got 1 group.*the heat of each row",
        table.assign(C=table["C"] / 100, Cr=18.0, Mo=0.1, N=0.05),
        terms=["C", "Cr"],
        groups=None,
    )


def test_coils_of_one_heat_know_each_other_and_it_is_said():
    coils = sheet().assign(coil=[f"{i // 3}{'abb'[i % 3]}" for i in range(48)])
    coils = coils.drop(columns=["Heat", "Lab"])
    assert "32 values of 'coil' have an analysis like that of another" in notes_of(
        coils, groups="coil"
    )
    own = sheet().rename(columns={"Heat": "coil"})  # a coil a heat
    assert "like that of another" not in notes_of(own, groups="coil")
    assert "48 values of 'groups'" in notes_of(coils.drop(columns="coil"), groups=range(48))


def test_the_column_of_heats_is_seen_under_its_names():
    for name in (
        "Heat No.", "heat id", "HeatID", "ID of heat", "melt", "Charge", "Charge-Nr", "Chargen-Nr.",
        "Schmelze", "Nr. der Schmelze", "cast no", "N° de coulée", "coil", "Coil number", "batch",
        "lot", "specimen set", "heatno", "Schmelzennummer", "cast_no.", "Melt_ID", "HEAT NUMBER",
    ):  # fmt: skip
        assert visible_group(pd.DataFrame({"x": [1, 2], name: ["A", "B"]})) == name
    for name in (
        "heat treatment", "casting temperature", "laboratory date", "ID", "Werkstoff", "batch size",
        "coil thickness", "lost weight", "heat affected zone", "closest", "specimen",
        "as cast", "cast or wrought", "mass loss", "melting code", "coil end", "Lab. condition",
        "heat-treatment", "heattreatment no", "workshop", "batch type",
    ):  # fmt: skip
        assert visible_group(pd.DataFrame({"x": [1, 2], name: ["A", "B"]})) is None


def test_a_heat_comes_before_its_coils_and_few_houses_hide_no_heats():
    table = pd.DataFrame(
        {"coil": list("abcdef"), "Schmelze": list("112233"), "works": list("aaabbb")}
    )
    assert visible_group(table) == "Schmelze"
    assert visible_group(table[["works", "coil"]]) == "coil"
    assert visible_group(table[["works"]]) is None
    for name in ("laboratory", "Source", "works", "Werk"):
        assert visible_group(pd.DataFrame({name: list("abcde")})) == name
    assert visible_group(pd.DataFrame({"heat": [71.0, np.nan, 72.0]})) == "heat"
    assert visible_group(pd.DataFrame({"heat_input": [0.71, 1.2]})) is None


def test_what_varies_unused_is_said():
    assert "'Lab' varies and is no term" in notes_of(sheet())
    assert "'Lab' varies" not in notes_of(sheet().assign(Lab="works"))
